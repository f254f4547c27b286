"""Making a new edition: a folder with small, commented files to begin with."""

from __future__ import annotations

import os
import textwrap
from collections.abc import Sequence
from pathlib import Path

import msgspec
import tomlkit
from tomlkit.items import SingleKey

from variorum.base import InputError, Severity, UsageError
from variorum.edition.edition import Edition, read_edition
from variorum.edition.folder import DIGEST, MANUSCRIPT, OUT, SETTINGS, SOURCES, STORE
from variorum.edition.place import Place, name_fault, parse_place, same_name
from variorum.edition.settings import EditionSide

__all__ = ["new_edition"]


def new_edition(folder: Path, title: str, roots: Sequence[str], side: EditionSide) -> Edition:
    """Make the files of a new edition in `folder`, which is made if need be; nothing that is there is touched.

    Each root is a place, or `NAME: PLACE`; a root without a name is called `root`, `root 2` and so on, and a place may go
    on from a root before it.

    Raises:
        UsageError: There is no root, or no title.
        InputError: A root cannot be used, or one of the files is there already.
        OSError: The folder cannot be written.
    """
    title = " ".join(title.split())
    if not title:
        raise UsageError("the title is empty", remedy="give one with --title")
    if not roots:
        raise UsageError(
            "an edition needs a root", remedy='give one with --root, for instance --root "1.e4 c6 2.d4 d5"'
        )
    named = _named_roots(roots)
    texts = {
        SETTINGS: _settings_text(title, named, side),
        MANUSCRIPT: "\n".join(_skeleton_game(title, root) for root in named.values()),
        DIGEST: _digest_text(title, named),
        f"{SOURCES}/README.txt": _SOURCES_TEXT,
        ".gitignore": f"# Made by Variorum and made again at any time.\n{STORE}/\n{OUT}/\n",
    }
    edition, faults = read_edition(folder.absolute() / SETTINGS, texts[SETTINGS].encode())
    errors = [fault for fault in faults if fault.severity is Severity.ERROR]
    if edition is None or errors:  # every fault that leaves no edition is an error
        raise InputError(f"the edition would be faulty: {errors[0].message}", remedy=errors[0].hint)
    _write_all(folder, texts)
    return edition


def _named_roots(roots: Sequence[str]) -> dict[str, Place]:
    named: dict[str, Place] = {}
    for number, given in enumerate(roots, 1):
        name, colon, text = given.partition(":")
        if not colon:
            name, text = "root" if number == 1 else f"root {number}", given
        name = " ".join(name.split())
        fault = name_fault(name)
        if fault is None and any(same_name(name) == same_name(other) for other in named):
            fault = "is given to two roots"
        if fault:
            raise InputError(f"the name {name!r} {fault}", remedy="choose another name for this root")
        try:
            place = parse_place(text, named)
        except InputError as error:
            at = f"at ply {error.ply}, " if error.ply else ""
            raise InputError(
                f"the root {given!r} is no place: {at}{error.message}",
                remedy=error.remedy or "correct the line (as in 1.d4 d5 2.c4) or the FEN",
            ) from None
        named[name] = msgspec.structs.replace(place, text=" ".join(text.split()), name=name)
    return named


def _write_all(folder: Path, texts: dict[str, str]) -> None:
    """Write new files, all or none: what was written is taken away again when one cannot be."""
    for name in texts:
        if os.path.lexists(folder / name):
            raise InputError(
                "is there already, and nothing is overwritten",
                path=folder / name,
                remedy="choose another folder, or work on in this one",
            )
    made: list[Path] = []
    try:
        for name, text in texts.items():
            path = folder / name
            _make_folder(path.parent, made)
            with path.open("x", encoding="utf-8", newline="\n") as file:
                made.append(path)
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
    except BaseException:
        for path in reversed(made):
            path.rmdir() if path.is_dir() else path.unlink()
        raise


def _make_folder(folder: Path, made: list[Path]) -> None:
    missing = [path for path in (folder, *folder.parents) if not path.exists()]
    for path in reversed(missing):
        path.mkdir()
        made.append(path)


def _settings_text(title: str, roots: dict[str, Place], side: EditionSide) -> str:
    root_lines = "\n".join(f"{_key(name)} = {_text(root.text)}" for name, root in roots.items())
    return _SETTINGS_TEXT.format(title=_text(title), side=_text(side), roots=root_lines)


def _text(text: str) -> str:
    return tomlkit.item(text).as_string()


def _key(name: str) -> str:
    return SingleKey(name).as_string()


def _skeleton_game(title: str, root: Place) -> str:
    """A game of the manuscript that leads to a root and waits to be gone on with."""
    tags = {
        "Event": title,
        "Site": "?",
        "Date": "????.??.??",
        "Round": "?",
        "White": root.name or root.text,
        "Black": "?",
        "Result": "*",
    }
    line = root.line
    start = line.start if line else root.position
    if start.ply or line is None:
        tags |= {"SetUp": "1", "FEN": start.fen}
    moves = line.san() if line else ""
    body = textwrap.fill(
        f"{moves} {{TODO go on from here: moves, variations, comments, signs}} *".strip(),
        79,
        break_on_hyphens=False,
        break_long_words=False,
    )
    return "".join(f'[{name} "{_escaped(value)}"]\n' for name, value in tags.items()) + f"\n{body}\n"


def _escaped(value: str) -> str:
    return value.replace("\\", "\\\\").replace('"', '\\"')


def _digest_text(title: str, roots: dict[str, Place]) -> str:
    parts = [f"# {title}\n", _DIGEST_HINT]
    for name, root in roots.items():
        caption = root.line.san() if root.line else "The position to begin with"
        parts.append(f"## {name}\n\n:::diagram {name}\ncaption: {caption}.\n:::\n")
    return "\n".join(parts)


_SETTINGS_TEXT = """\
# An edition of Variorum. This file is yours: it is changed by the program only when you ask for it.
# Every setting with its meaning and default: docs/reference/edition.md of Variorum.

title = {title}
side = {side}  # for whom moves are recommended: "white", "black" or "both"

# Positions from which the graph starts: name = a typed line or a FEN.
[roots]
{roots}

# Your tabiyas. A line may go on from a name above it, and each name can be used wherever a position is asked for.
[names]

# What the files under sources/ are. The first table whose path fits counts; without one they are games of practice.
# [[sources]]
# path = "sources/engine/*"
# kind = "engine"  # "practice", "correspondence", "engine" or "analysis"
# voice = "my engine"

# Comments of the manuscript that begin with one of these words never reach what is published.
[private]
comments = ["private"]
lines = ["private line"]  # the move and everything after it

# Comments that begin with these words are questions to yourself, or claim a novelty.
[words]
questions = ["todo", "?"]
novelty = "N"
"""

_DIGEST_HINT = """\
<!-- The short explanation. Each time it is built, its diagrams, lines and figures are brought in step with the evidence.
Delete this note. -->
"""

_SOURCES_TEXT = """\
Put PGN files here, also in folders; plain, or compressed as .gz, .zst or .bz2.
Verdicts of others (EPD) are taken in with: variorum verdicts import FILE
They are read, never changed. What they are is said in edition.toml under [[sources]].
"""
