"""What each build found, kept as text in the edition: `.history/builds.jsonl`, one JSON object a line.

A line says only what changed since the line before it (`null` for what is gone), so that many builds stay small. Unlike
the store it cannot be made again: a verdict file tells what is known now, and not what a text said of it a year ago.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final, TypeVar

import msgspec

from variorum.base import Diagnostic, InputError, Severity
from variorum.edition.files import atomic_write, hash_on_disk, ordinary_bytes

__all__ = [
    "BUILD_LOG",
    "BuildChange",
    "BuildFound",
    "KeptClaim",
    "KeptFigure",
    "KeptSource",
    "KeptValue",
    "KeptVerdict",
    "append_build",
    "read_build_log",
    "state_at",
]

BUILD_LOG: Final = (".history", "builds.jsonl")
MOST_BUILDS: Final = 2_000
"""Lines of the file; beyond, the older half becomes one. Setting without a source."""

V = TypeVar("V")


class KeptFigure(msgspec.Struct, frozen=True, array_like=True):
    """What one voice gave for a claim, in points ± noise, at so many nodes."""

    voice: str
    value: float
    noise: float
    nodes: int


class KeptClaim(msgspec.Struct, frozen=True, array_like=True):
    """How a claim stood."""

    standing: str
    figures: tuple[KeptFigure, ...] = ()


class KeptVerdict(msgspec.Struct, frozen=True, array_like=True):
    """A voice's verdict: nodes allowed, nodes searched, and first moves (UCI) with E for White, best first."""

    allowed: int
    nodes: int
    lines: tuple[tuple[str, float], ...]


class KeptValue(msgspec.Struct, frozen=True, array_like=True):
    """A voice's graph value of a root or tabiya: E for White, nodes of the deciding leaf, its EPD (empty without one)."""

    expected: float
    nodes: int
    leaf: str = ""


class KeptSource(msgspec.Struct, frozen=True, array_like=True):
    """A source: hash of its content with all that it was sifted by, and the games kept of it."""

    hash: str
    games: int


class BuildChange(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One line of the file: what a build found otherwise than the build before it.

    `made` is an instant (ISO 8601, UTC). Verdicts and values go by EPD, a space and the voice; claims by
    `variorum.build.recording.claim_name`; files and sources by their path in the edition.
    """

    build: int
    made: str
    version: str
    files: dict[str, str | None] = {}
    sources: dict[str, KeptSource | None] = {}
    claims: dict[str, KeptClaim | None] = {}
    values: dict[str, KeptValue | None] = {}
    verdicts: dict[str, KeptVerdict | None] = {}

    @property
    def is_empty(self) -> bool:
        """Whether it says nothing."""
        return not (self.files or self.sources or self.claims or self.values or self.verdicts)


class BuildFound(msgspec.Struct, frozen=True, kw_only=True):
    """All that a build found; `build` is 0 before the first."""

    build: int = 0
    made: str = ""
    version: str = ""
    files: dict[str, str] = {}
    sources: dict[str, KeptSource] = {}
    claims: dict[str, KeptClaim] = {}
    values: dict[str, KeptValue] = {}
    verdicts: dict[str, KeptVerdict] = {}

    def since(self, before: BuildFound) -> BuildChange:
        """What is otherwise than at an earlier build."""
        return BuildChange(
            build=self.build,
            made=self.made,
            version=self.version,
            files=_difference(before.files, self.files),
            sources=_difference(before.sources, self.sources),
            claims=_difference(before.claims, self.claims),
            values=_difference(before.values, self.values),
            verdicts=_difference(before.verdicts, self.verdicts),
        )

    def after(self, change: BuildChange) -> BuildFound:
        """What a later build found, by its line."""
        return BuildFound(
            build=change.build,
            made=change.made,
            version=change.version,
            files=_changed(self.files, change.files),
            sources=_changed(self.sources, change.sources),
            claims=_changed(self.claims, change.claims),
            values=_changed(self.values, change.values),
            verdicts=_changed(self.verdicts, change.verdicts),
        )


def read_build_log(edition: Path) -> tuple[list[BuildChange], list[Diagnostic]]:
    """The builds that are kept, the earliest first, and a warning for each line that cannot be read.

    Raises:
        InputError: The file cannot be read.
    """
    path = edition.joinpath(*BUILD_LOG)
    try:
        lines = ordinary_bytes(path).splitlines()
    except FileNotFoundError:
        return [], []
    except OSError as error:
        raise InputError(f"it cannot be read: {error.strerror or error}", path=path) from None
    decoder = msgspec.json.Decoder(BuildChange)
    found: list[BuildChange] = []
    faults = []
    for number, line in enumerate(lines, 1):
        try:
            if line.strip():
                found.append(decoder.decode(line))
        except msgspec.DecodeError:
            faults.append(
                Diagnostic(
                    code="build-log",
                    severity=Severity.WARNING,
                    path=path,
                    message="what a build found cannot be read; what changed in it is told as of the build after it",
                    line=number,
                )
            )
    return found, faults


def state_at(changes: Sequence[BuildChange], build: int) -> BuildFound:
    """What was found by the build of that number, or by the last one before it."""
    found = BuildFound()
    for change in changes:
        if change.build > build:
            break
        found = found.after(change)
    return found


def append_build(edition: Path, path: Path, change: BuildChange) -> None:
    """Write a line behind the others, durably; it stands alone on its line also behind a torn one.

    Args:
        edition: The edition's folder.
        path: The file, as one that may be written (`Edition.place_to_write`).
        change: The line.

    Raises:
        InputError: The file cannot be written.
    """
    try:
        path.parent.mkdir(exist_ok=True)
        with path.open("a+b") as file:
            end = file.tell()
            if end:
                file.seek(end - 1)
            torn = b"\n" if end and file.read(1) != b"\n" else b""
            file.write(torn + msgspec.json.encode(change) + b"\n")
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise InputError(f"it cannot be written: {error.strerror or error}", path=path) from None
    changes, _ = read_build_log(edition)
    if len(changes) > MOST_BUILDS:
        _thin(path, changes)


def _thin(path: Path, changes: Sequence[BuildChange]) -> None:
    """Let the older half be one line: comparing goes back no further than to its last build then."""
    half = len(changes) // 2
    first = state_at(changes, changes[half - 1].build).since(BuildFound())
    lines = [msgspec.json.encode(change) + b"\n" for change in (first, *changes[half:])]
    atomic_write(path, b"".join(lines), expected_hash=hash_on_disk(path))


def _difference(before: Mapping[str, V], now: Mapping[str, V]) -> dict[str, V | None]:
    changed: dict[str, V | None] = {name: value for name, value in now.items() if before.get(name) != value}
    return changed | dict.fromkeys(before.keys() - now.keys())


def _changed(before: Mapping[str, V], change: Mapping[str, V | None]) -> dict[str, V]:
    return {name: value for name, value in {**before, **change}.items() if value is not None}
