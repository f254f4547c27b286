"""What merging, tidying and splitting do to the manuscript of an edition, as values to print."""

from __future__ import annotations

import re
from functools import partial
from pathlib import Path

import msgspec

from variorum.base import Diagnostic, InputError, UsageError
from variorum.edition.comment_words import hides_line
from variorum.edition.edition import Edition
from variorum.edition.files import ChangedOutsideError, atomic_write, hash_on_disk
from variorum.edition.folder import MANUSCRIPT
from variorum.edition.manuscript import read_manuscript
from variorum.edition.manuscript_change import (
    ManuscriptChange,
    Writing,
    keep_change,
    open_manuscript,
    tidy_manuscript,
)
from variorum.edition.manuscript_merge import Conflict, Transposition, merge_games
from variorum.edition.manuscript_split import REST, split
from variorum.edition.manuscript_tidy import Finding, point_out

__all__ = [
    "MergeReport",
    "SplitFile",
    "SplitReport",
    "TidyReport",
    "merge_file",
    "split_manuscript",
    "tidy_report",
]

REST_FILE = "rest"
"""The name of the file for what reaches no root."""


class MergeReport(msgspec.Struct, frozen=True, kw_only=True):
    """What came in: new moves, comments, signs and whole games; where it points elsewhere; signs that speak against another."""

    change: ManuscriptChange
    moves: int
    comments: int
    signs: int
    games: int
    transpositions: tuple[Transposition, ...]
    conflicts: tuple[Conflict, ...]


class TidyReport(msgspec.Struct, frozen=True, kw_only=True):
    """What the manuscript says in two ways; `contradictions` of them are wrong as they stand.

    `change` tells which pointers were written, where that was asked.
    """

    path: str
    findings: tuple[Finding, ...]
    contradictions: int
    change: ManuscriptChange | None = None


class SplitFile(msgspec.Struct, frozen=True, kw_only=True):
    """The text of one root (`None` for what reaches none)."""

    root: str | None
    path: str
    games: int
    moves: int


class SplitReport(msgspec.Struct, frozen=True, kw_only=True):
    """The files, relative to the edition, and whether they were written."""

    files: tuple[SplitFile, ...]
    written: bool


def merge_file(
    edition: Edition, file: Path, writing: Writing = Writing.WRITE
) -> tuple[MergeReport, tuple[Diagnostic, ...]]:
    """Merge a PGN file into the manuscript; the diagnostics tell what of the file could not be read and was left out.

    Raises:
        ChangedOutsideError: The manuscript was changed meanwhile; nothing was written.
        InputError: A file cannot be read, or the manuscript's encoding lacks a character of the file.
    """
    incoming = read_manuscript(file)
    manuscript = open_manuscript(edition)
    hides = partial(hides_line, settings=edition.settings)
    merged = merge_games(manuscript, incoming, see=edition.settings.words.see, hides=hides)
    what = f"merge {file.name}"
    report = MergeReport(
        change=keep_change(edition, manuscript, merged.data, what=what, writing=writing),
        moves=merged.moves,
        comments=merged.comments,
        signs=merged.signs,
        games=merged.games,
        transpositions=merged.transpositions,
        conflicts=merged.conflicts,
    )
    return report, incoming.diagnostics


def tidy_report(edition: Edition, pointing: Writing | None = None) -> TidyReport:
    """What the manuscript says in two ways; with `pointing`, a `see` is put where a line ends that goes on elsewhere.

    Raises:
        ChangedOutsideError, InputError: As `keep_change`.
    """
    manuscript = open_manuscript(edition)
    change = None
    if pointing is not None:
        see = edition.settings.words.see
        data, done = point_out(manuscript, see=see, hides=partial(hides_line, settings=edition.settings))
        what = f"point to {len(done)} other order{'' if len(done) == 1 else 's'}"
        change = keep_change(edition, manuscript, data, what=what, writing=pointing)
        manuscript = read_manuscript(data, path=manuscript.path)
    findings = tidy_manuscript(edition, manuscript)
    return TidyReport(
        path=MANUSCRIPT,
        findings=findings,
        contradictions=sum(finding.contradicts for finding in findings),
        change=change,
    )


def split_manuscript(edition: Edition, into: str = "split", writing: Writing = Writing.WRITE) -> SplitReport:
    """Write the lines of each root into a file of their own; the manuscript stays as it is.

    Args:
        edition: The edition.
        into: The folder inside the edition.
        writing: Whether to write.

    Raises:
        ChangedOutsideError: A file is there already and holds something else; none was written then.
        InputError: A game cannot be divided without loss, or a file cannot be written.
    """
    manuscript = open_manuscript(edition)
    roots = {root.name or root.text: root.position for root in edition.roots}
    texts = split(manuscript, roots)
    names: dict[str, str] = {}
    for name in texts:
        stem = _file_stem(name) if name != REST else REST_FILE
        while stem in names.values():
            stem += "-2"
        names[name] = stem
    paths = {name: edition.place_to_write(*Path(into).parts, f"{stem}.pgn") for name, stem in names.items()}
    if not paths:
        raise UsageError("the manuscript has no game to split", remedy="write one first")
    for name, path in paths.items():
        found = hash_on_disk(path)
        if found is not None and path.read_bytes() != texts[name]:
            raise ChangedOutsideError(path, expected_hash=None, found_hash=found)
    if writing is Writing.WRITE:
        for name, path in paths.items():
            _write(path, texts[name])
    files = []
    for name, path in paths.items():
        part = read_manuscript(texts[name], path=path)
        files.append(
            SplitFile(
                root=name if name != REST else None,
                path=path.relative_to(edition.path).as_posix(),
                games=len(part.games),
                moves=sum(len(game.nodes) - 1 for game in part.games),
            )
        )
    return SplitReport(files=tuple(files), written=writing is Writing.WRITE)


def _write(path: Path, data: bytes) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        message = f"the folder cannot be made: {error.strerror or error}"
        raise InputError(message, remedy="choose another with --into", path=path.parent) from error
    atomic_write(path, data, expected_hash=hash_on_disk(path))


def _file_stem(name: str) -> str:
    """A root's name as the name of a file on any system."""
    return re.sub(r"[^\w-]+", "-", name).strip("-").casefold()[:60] or "root"
