"""What is in an edition, as values to print."""

from __future__ import annotations

from pathlib import Path

import msgspec

from variorum.base import Diagnostic, Severity
from variorum.base.settings import UserSettings
from variorum.edition.edition import load_edition
from variorum.edition.folder import DIGEST, MANUSCRIPT
from variorum.edition.place import Place

__all__ = ["EditionReport", "PlaceEntry", "describe_edition", "describe_place"]


class PlaceEntry(msgspec.Struct, frozen=True, kw_only=True):
    """A named place: as it was written, the line in SAN (`None` for a bare FEN), the position, plies from the start."""

    name: str
    text: str
    line: str | None
    fen: str
    key: str
    ply: int


class EditionReport(msgspec.Struct, frozen=True, kw_only=True):
    """An edition: `usable` is false when nothing can be done with it until its errors are mended."""

    path: str
    usable: bool
    title: str | None = None
    side: str | None = None
    roots: tuple[PlaceEntry, ...] = ()
    names: tuple[PlaceEntry, ...] = ()
    missing: tuple[str, ...] = ()
    store: str | None = None
    errors: int = 0
    warnings: int = 0
    diagnostics: tuple[Diagnostic, ...] = ()


def describe_edition(folder: Path, user: UserSettings) -> EditionReport:
    """What is in the edition in `folder`, and what is wrong with its settings.

    Raises:
        InputError: There is no edition.
        OSError: It cannot be read.
    """
    edition, faults = load_edition(folder)
    report = EditionReport(
        path=str(folder),
        usable=edition is not None,
        errors=sum(fault.severity is Severity.ERROR for fault in faults),
        warnings=sum(fault.severity is Severity.WARNING for fault in faults),
        diagnostics=tuple(faults),
    )
    if edition is None:
        return report
    return msgspec.structs.replace(
        report,
        title=edition.title,
        side=edition.side,
        roots=tuple(describe_place(place) for place in edition.roots),
        names=tuple(describe_place(place) for place in edition.names.values()),
        missing=tuple(name for name in (MANUSCRIPT, DIGEST) if not (edition.path / name).is_file()),
        store=str(edition.store_folder(user)),
    )


def describe_place(place: Place) -> PlaceEntry:
    """A named place as a value to print."""
    return PlaceEntry(
        name=place.name or place.text,
        text=place.text,
        line=place.line.san() if place.line else None,
        fen=place.position.fen,
        key=f"{place.position.key:016x}",
        ply=place.position.ply,
    )
