"""`variorum edition`: what is in an edition, and what is wrong with its settings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import msgspec
import typer

from variorum.cli.options import AsJson, EditionFolder, edition_folder, user_settings
from variorum.cli.output import columns, in_letters, show

if TYPE_CHECKING:
    from variorum.edition import EditionReport, PlaceEntry

SIDES = {"white": "White", "black": "Black", "both": "both sides"}


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.edition import EditionReport

    return EditionReport


def command(edition: EditionFolder = None, as_json: AsJson = False) -> None:
    """Show what is in an edition, and what is wrong.

    Printed are roots and names with their lines, and each fault of the settings with its line and column. The answer is no (exit code 1) when the settings have errors.
    """
    from variorum.edition import describe_edition

    user = user_settings()
    report = describe_edition(edition_folder(edition), user)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)
    if report.errors:
        raise typer.Exit(1)


def _as_text(report: EditionReport, letters: str) -> Iterable[str]:
    if report.usable:
        yield f"{report.title}, for {SIDES[report.side or 'both']}"
        yield report.path
        yield from _places("Roots", report.roots, letters)
        yield from _places("Names", report.names, letters)
        yield ""
        for name in report.missing:
            yield f"There is no {name} yet."
    for fault in report.diagnostics:
        yield str(fault)
    yield _summary(report)


def _places(heading: str, places: Sequence[PlaceEntry], letters: str) -> Iterable[str]:
    if places:
        yield ""
        yield heading
        yield from columns(
            [
                (f"  {place.name}", place.fen if place.line is None else in_letters(place.line, letters))
                for place in places
            ]
        )


def _summary(report: EditionReport) -> str:
    if not report.diagnostics:
        return "The settings are in order."
    counts = ((report.errors, "error"), (report.warnings, "warning"))
    words = [f"{count} {word}{'' if count == 1 else 's'}" for count, word in counts if count]
    return f"{' and '.join(words)} in the settings."
