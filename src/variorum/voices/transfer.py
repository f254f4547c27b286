"""Verdicts that travel between people: as standard EPD out of an edition, and from anybody's EPD into one."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import msgspec

from variorum.base import Diagnostic, InputError
from variorum.board import Position, Verdict
from variorum.edition.files import atomic_write, hash_on_disk
from variorum.voices.verdict_files import append_verdicts, read_verdicts, verdict_path, verdict_records

__all__ = ["ExportReport", "ImportReport", "export_verdicts", "import_verdicts"]


class ExportReport(msgspec.Struct, frozen=True, kw_only=True):
    """Where verdicts were written, how many, and whose."""

    path: str
    verdicts: int
    positions: int
    voices: tuple[str, ...]


class ImportReport(msgspec.Struct, frozen=True, kw_only=True):
    """How many verdicts a file holds, how many of them are new here, and whose they are."""

    path: str
    verdicts: int
    new: int
    voices: tuple[str, ...]


def export_verdicts(
    folder: Path, target: Path, *, voices: Iterable[str] = (), position: Position | None = None
) -> tuple[ExportReport, list[Diagnostic]]:
    """Write the verdicts of an edition into one EPD file, in the order in which they were given.

    Args:
        folder: The edition's folder of verdicts.
        target: The file; what was there is replaced.
        voices: Whose; everybody's where none is named.
        position: On what; on everything where it is `None`.

    Raises:
        InputError: A voice has said nothing, there is nothing to write, or a file cannot be read or written.
    """
    found, diagnostics = _read_folder(folder)
    known = {verdict.voice for verdict in found}
    for voice in voices:
        if voice not in known:
            said = ", ".join(sorted(known)) or "nobody"
            raise InputError(f"there is no verdict of {voice!r}", remedy=f"who has spoken: {said}")
    wanted = set(voices) or known
    chosen = [
        verdict
        for verdict in found
        if verdict.voice in wanted and (position is None or verdict.epd == position.epd)
    ]
    if not chosen:
        raise InputError("there are no verdicts to write", remedy="ask for some first: variorum build")
    text = "".join(verdict_records(verdict) for verdict in chosen)
    atomic_write(target, text.encode(), expected_hash=hash_on_disk(target))
    report = ExportReport(
        path=str(target),
        verdicts=len(chosen),
        positions=len({verdict.epd for verdict in chosen}),
        voices=tuple(sorted({verdict.voice for verdict in chosen})),
    )
    return report, diagnostics


def import_verdicts(folder: Path, source: Path, *, voice: str = "") -> ImportReport:
    """Take the verdicts of an EPD file into an edition, each under its voice, all of them or none.

    Records that name no voice in Variorum's key (see `verdict_files`) are the verdicts of a voice named as the file.
    A verdict that is there already is not written twice. Where a verdict was read is kept with it.

    Args:
        folder: The edition's folder of verdicts.
        source: The EPD file.
        voice: The name under which all of them are kept, instead of their own.

    Raises:
        InputError: A line of the file cannot be read, or a voice of the same name and another version spoke here.
    """
    read = read_verdicts(source)
    if read.diagnostics:
        first, *rest = read.diagnostics
        more = f" (and {len(rest)} more faults)" if rest else ""
        raise InputError(
            f"{first.message}{more}",
            path=source,
            line=first.line,
            remedy="nothing was taken in; mend the file or take the line out",
        )
    if not read.verdicts:
        raise InputError("there are no verdicts in it", path=source)
    found, _ = _read_folder(folder)
    here = {_content(verdict) for verdict in found}
    versions: dict[str, set[str]] = {}
    for verdict in found:
        versions.setdefault(verdict.voice, set()).add(verdict.version)
    new: dict[str, list[Verdict]] = {}
    for verdict in read.verdicts:
        name = voice or verdict.voice
        if not voice and verdict.version not in versions.get(name, {verdict.version}):
            raise InputError(
                f"a voice {name!r} has spoken in this edition already, in version {', '.join(sorted(versions[name]))}",
                path=source,
                remedy="give the new one a name of its own: --voice NAME",
            )
        taken = msgspec.structs.replace(verdict, voice=name, origin=verdict.origin or source.name)
        if _content(taken) not in here:
            here.add(_content(taken))
            new.setdefault(name, []).append(taken)
    for name, verdicts in new.items():
        append_verdicts(verdict_path(folder, name), verdicts)
    return ImportReport(
        path=str(source),
        verdicts=len(read.verdicts),
        new=sum(map(len, new.values())),
        voices=tuple(sorted({voice or verdict.voice for verdict in read.verdicts})),
    )


def _content(verdict: Verdict) -> bytes:
    """What makes two verdicts the same, wherever they were read."""
    return msgspec.json.encode(msgspec.structs.replace(verdict, origin=""))


def _read_folder(folder: Path) -> tuple[list[Verdict], list[Diagnostic]]:
    files = [read_verdicts(path) for path in sorted(folder.glob("*.epd"))]
    return [verdict for file in files for verdict in file.verdicts], [
        fault for file in files for fault in file.diagnostics
    ]
