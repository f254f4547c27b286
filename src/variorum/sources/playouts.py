"""Playouts of an edition, read into its store: games of a kind of their own, counted only where they are asked for.

They lie in `playouts/*.pgn`, a file for each pair of voices, and each game starts from its own position: nothing before
it was played by anybody.
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import msgspec

from variorum.base import InputError, Progress, VariorumError
from variorum.board import Position
from variorum.edition import Edition
from variorum.edition.folder import PLAYOUTS
from variorum.sources.collect import SUFFIXES, source_name
from variorum.sources.report import SourceReport
from variorum.sources.scan import READER_VERSION, ScanFilter, scan_file
from variorum.store import PLAYOUT, Store

__all__ = ["is_playout_file", "sift_playouts"]

_TAG = re.compile(rb'\[(FEN|White|Black) "((?:[^"\\]|\\.)*)"\]\s*')


def is_playout_file(edition: Edition, file: Path) -> bool:
    """Whether a file lies among the playouts of an edition."""
    return source_name(edition, file).startswith(f"{PLAYOUTS}/")


def sift_playouts(edition: Edition, store: Store, progress: Progress) -> list[SourceReport]:
    """Bring the store up to date with the playouts that lie in the edition's folder. Everything is durable.

    Raises:
        StoreError: The store cannot be written.
        Interrupted: The user stopped; the same call goes on from there.
    """
    folder = edition.path / PLAYOUTS
    files = sorted(
        path for path in folder.glob("*") if path.name.lower().endswith(SUFFIXES) and path.is_file()
    )
    there = {source_name(edition, file) for file in files}
    for record in store.sources():
        if record.kind == PLAYOUT and record.source not in there:
            store.forget(record.source)
    try:
        return [_sift(edition, store, file, progress) for file in files]
    finally:
        store.flush()


def _sift(edition: Edition, store: Store, file: Path, progress: Progress) -> SourceReport:
    source = source_name(edition, file)
    report = SourceReport(source=source, kind=PLAYOUT, voice="", state="faulty")
    try:
        key = hashlib.sha256(f"{READER_VERSION}\n{store.content_hash(source, file)}".encode()).hexdigest()
        if store.is_current(source, key):
            record = next(one for one in store.sources() if one.source == source)
            counts = {name: getattr(record, name) for name in _COUNTS}
            return msgspec.structs.replace(report, state="unchanged", voice=record.voice, **counts)
        starts, voices = _starts_and_voices(file)
    except OSError as error:
        return msgspec.structs.replace(report, fault=f"it cannot be read: {error.strerror or error}")
    counts = dict.fromkeys(_COUNTS, 0)
    voice = ", ".join(voices)
    intake = store.begin_sift(
        source, key, kind=PLAYOUT, voice=voice, settings={"roots": [], "starts": len(starts)}
    )
    try:
        for batch in scan_file(file, starts, ScanFilter(), progress, name=source):
            intake.add_batch(batch)
            for name in _COUNTS:
                counts[name] += batch.counts[name]
    except InputError as error:
        return msgspec.structs.replace(report, voice=voice, fault=error.message, **counts)
    intake.finish()
    return msgspec.structs.replace(report, voice=voice, state="sifted", **counts)


_COUNTS = ("sections", "untagged", "kept", "passed", "aside")


def _starts_and_voices(file: Path) -> tuple[list[Position], list[str]]:
    """The different positions from which the games of a file start, the normal one included, and who plays them."""
    fens: dict[str, None] = {}
    names: set[str] = set()
    with file.open("rb") as lines:
        for line in lines:
            if (tag := _TAG.fullmatch(line)) is None:
                continue
            value = tag[2].decode("utf-8", "replace").replace('\\"', '"').replace("\\\\", "\\")
            if tag[1] == b"FEN":
                fens[value] = None
            else:
                names.add(value)
    starts = [Position.start()]
    for fen in fens:
        try:
            starts.append(Position.from_fen(fen))
        except VariorumError:
            continue  # the scan sets the game aside, with the reason
    return starts, sorted(names)
