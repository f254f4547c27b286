"""The page of games: the files under sources/, what they are and what was kept of them, and files added from the browser."""

from __future__ import annotations

import os
import re
import secrets
import time
from collections.abc import Iterator
from contextlib import suppress
from itertools import islice
from pathlib import Path
from typing import Any, Final

import anyio
import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.base import InputError, UsageError
from variorum.desk.moves import address
from variorum.desk.pages.frame import edition_for, editions_of, frame
from variorum.desk.pages.sources import KINDS, form_of, said_of
from variorum.desk.pages.words import texts_of
from variorum.desk.render import page
from variorum.edition import Edition
from variorum.edition.folder import SETTINGS, SOURCES, TAKEN_OUT
from variorum.edition.history import History
from variorum.edition.settings import Kind, SourceRule
from variorum.edition.source_rules import is_own_rule, rule_number, say_file
from variorum.edition.taken_out import taken_out
from variorum.sources.collect import SUFFIXES
from variorum.store import PLAYOUT, SiftRecord, Store

__all__ = ["games_page", "receive"]

_NAME: Final = re.compile(r"[^\W_](?:[\w .()+-]{0,118})")
_PART: Final = re.compile(r"\.[0-9a-f]{12}\.part")
_ABANDONED: Final = 3600.0
"""Seconds without a byte more."""
_MOST: Final = 16 << 30
"""Bytes of one file."""
_SHOWN: Final = 500
_ASIDE: Final = 100
"""Games set aside that are listed."""
_HEAD: Final = 4_096
"""Characters at the beginning of a game among which its players are looked for."""
_SPOKEN: Final = ("engine", "analysis")
"""Kinds of games in which a voice speaks."""


class FileRow(msgspec.Struct, frozen=True, kw_only=True):
    """A file of games: what it is, and what was kept of it, passed over and set aside when it was brought in (`None`: not yet).

    `part`: it was brought in in part only. `changed`: what is said of it now was said later. `rule` is what its form begins
    with, `meaning` where that is written. `confirm` asks before it is taken out.
    """

    name: str
    said: str
    kept: int | None
    passed: int = 0
    aside: int = 0
    part: bool = False
    changed: bool = False
    aside_at: str = ""
    rule: str
    confirm: str


_REASONS: Final = {
    "illegal-move": "a move is illegal",
    "ambiguous-move": "a move can be meant in two ways",
    "unreadable-move": "a move cannot be read",
    "unclosed-comment": "a comment is not closed",
    "unclosed-variation": "a variation is not closed",
    "unclosed-tag": "a tag is not closed",
    "bad-fen": "its FEN cannot be used",
    "unknown-variant": "it is played by other rules",
    "overlong": "too long to be a game",
    "too-many-moves": "it has more moves than can be numbered",
}
_TAG: Final = re.compile(r'\[(White|Black)\s+"((?:[^"\\]|\\.)*)"')


class AsideRow(msgspec.Struct, frozen=True, kw_only=True):
    """A game that was set aside: whose, which of its file, at which line, at which half-move (0: none), and why."""

    source: str
    players: str
    game: int
    line: int
    ply: int
    reason: str


def games_page(request: Request, sent: Any) -> Response:
    """The files of games."""
    del sent
    name, wanted = request.path_params["name"], request.query_params.get("aside") or None
    with edition_for(request) as opened:
        edition = opened.edition
        store = opened.store
        sifted = {} if store is None else {one.source: one for one in store.sources() if one.kind != PLAYOUT}
        count = 0 if store is None else store.count
        doubles = 0 if store is None else store.double_count
        aside = [] if store is None else list(islice(_set_aside(store, wanted), _ASIDE + 1))
    files = _files(edition.path / SOURCES)
    there = [file.relative_to(edition.path).as_posix() for file in files]
    steps = History(edition.path / SETTINGS).done
    return page(
        "games.html.j2",
        **frame(request, "games", "Games"),
        rows=[_row(edition, one, sifted.get(one), name) for one in there[:_SHOWN]],
        more=max(0, len(files) - _SHOWN),
        count=count,
        doubles=doubles,
        aside=aside[:_ASIDE],
        aside_more=len(aside) > _ASIDE,
        aside_of=wanted,
        absent=[
            record
            for source, record in sifted.items()
            if record.kept and source.startswith(f"{SOURCES}/") and source not in there
        ],
        out=taken_out(edition, SUFFIXES)[:_SHOWN],
        kinds=KINDS,
        hash=edition.settings_hash,
        last=steps[-1].what if steps else "",
        undo_at=address(name, "settings/undo"),
        act_at=address(name, "games/act"),
        folder=str(edition.path / SOURCES),
        suffixes=",".join((*SUFFIXES, ".gz", ".zst", ".bz2")),
        add_at=address(name, "games/add"),
        work=address(name, "begin"),
    )


def _row(edition: Edition, file: str, record: SiftRecord | None, name: str) -> FileRow:
    number = rule_number(edition, file)
    rule = SourceRule(path=file) if number is None else edition.settings.sources[number]
    meaning = "It is written into edition.toml, as a [[sources]] table."
    if number is not None and not is_own_rule(rule, file):
        meaning = (
            f"This is said of all files that fit {rule.path}. What you change here holds for this file alone."
        )
    form = {"rule": msgspec.to_builtins(form_of(rule)), "file": file, "meaning": meaning}
    kept = 0 if record is None else record.kept
    games = (
        f" Its {'game is' if kept == 1 else f'{kept:,} games are'} counted until games are brought in again."
    )
    confirm = {
        "question": f"Take {file} out? The file is moved to the folder {TAKEN_OUT} of this edition, and can be put back."
        f"{games if kept else ''}",
        "yes": "Take it out",
        "sent": {"act": "out", "file": file},
    }
    return FileRow(
        name=file,
        said=said_of(rule),
        kept=None if record is None else record.kept,
        passed=0 if record is None else record.passed,
        aside=0 if record is None else record.aside,
        part=record is not None and not record.finished,
        changed=record is not None and not _is_as_sifted(record, rule),
        aside_at=address(name, "games", aside=file) + "#aside",
        rule=msgspec.json.encode(form).decode(),
        confirm=msgspec.json.encode(confirm).decode(),
    )


def _is_as_sifted(record: SiftRecord, rule: SourceRule) -> bool:
    """Whether what is said of a file now was said when it was brought in."""
    said = {key: str(getattr(rule, key) or "") for key in ("min_rating", "since", "until", "pace")}
    then = {key: str(record.settings.get(key) or "") for key in said}
    return (record.kind, record.voice, then) == (rule.kind, rule.voice, said)


def _set_aside(store: Store, source: str | None) -> Iterator[AsideRow]:
    for sift, (_, _, number, line, reason, ply, text) in store.rejects(source):
        named = dict(_TAG.findall(text[:_HEAD]))
        yield AsideRow(
            source=sift.source,
            players=" – ".join(filter(None, (named.get("White", ""), named.get("Black", "")))),
            game=number,
            line=line,
            ply=ply or 0,
            reason=_REASONS.get(reason, reason),
        )


def _files(folder: Path) -> list[Path]:
    return sorted(
        file for file in folder.rglob("*") if file.name.lower().endswith(SUFFIXES) and file.is_file()
    )


async def receive(request: Request) -> Response:
    """Take in a file of games as it comes, and say in the settings what it is; one that is there already is not written over."""
    asked = request.query_params
    name, kind, voice = asked.get("file", ""), asked.get("kind", "practice"), asked.get("voice", "").strip()
    edition, _ = await anyio.to_thread.run_sync(editions_of(request).settings, request.path_params["name"])
    target = _target(edition, name)
    try:
        what = msgspec.convert(kind, Kind)
    except msgspec.ValidationError:
        raise UsageError(f"games cannot be {kind!r}") from None
    if kind in _SPOKEN and not voice:
        raise UsageError("it is not said who speaks in these games", remedy="name the engine or the author")
    part = target.with_name(f".{secrets.token_hex(6)}.part")
    await anyio.to_thread.run_sync(_remove_left_parts, target.parent)
    try:
        size = await _write(request, part)
        if not size:
            raise InputError("the file is empty", path=name)
        await anyio.to_thread.run_sync(_put, request, part, target, what, voice)
    except OSError as error:
        raise InputError(f"the file cannot be written: {error.strerror}", path=name) from None
    finally:
        part.unlink(missing_ok=True)
    return JSONResponse({"size": size})


def _put(request: Request, part: Path, target: Path, kind: Kind, voice: str) -> None:
    """Give the file its name, and say what it is: another may have come, and the settings be others, while it was copied."""
    with texts_of(request).writing:
        if os.path.lexists(target):
            raise InputError("the file is there already", path=target.name, remedy="give it another name")
        part.rename(target)
        edition, _ = editions_of(request).settings(request.path_params["name"])
        rule = edition.rule_for(target)
        if (rule.kind, rule.voice) != (kind, voice):
            say_file(
                edition, f"{SOURCES}/{target.name}", msgspec.structs.replace(rule, kind=kind, voice=voice)
            )


def _target(edition: Edition, name: str) -> Path:
    """Where a file of that name goes.

    Raises:
        InputError: The name cannot be used, or is there already.
    """
    if not _NAME.fullmatch(name) or not name.lower().endswith(SUFFIXES):
        raise InputError(
            f"{name!r} cannot be a file of games here",
            remedy=f"letters, digits, spaces and . ( ) + -, with one of {', '.join(SUFFIXES)} at the end",
        )
    target = edition.place_to_write(SOURCES, name)
    if os.path.lexists(target):
        raise InputError("the file is there already", path=name, remedy="give it another name")
    target.parent.mkdir(exist_ok=True)
    return target


def _remove_left_parts(folder: Path) -> None:
    """Remove what copies left behind whose desk was killed; a part that still grows is newer."""
    for part in folder.glob(".*.part"):
        with suppress(OSError):
            if _PART.fullmatch(part.name) and time.time() - part.stat().st_mtime > _ABANDONED:
                part.unlink()


async def _write(request: Request, part: Path) -> int:
    size = 0
    async with await anyio.open_file(part, "xb") as file:
        async for chunk in request.stream():
            size += len(chunk)
            if size > _MOST:
                raise InputError(f"the file has more than {_MOST >> 30} GB", remedy="divide it")
            await file.write(chunk)
    return size
