"""`variorum drift`: what changed since an earlier build, the most pressing first."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import print_diagnostics, show, words_in_letters
from variorum.cli.progress import progress_for

if TYPE_CHECKING:
    from variorum.build.drift_report import DriftReport

_LISTED = 12
"""Entries under a heading; the JSON has all."""


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.build.drift_report import DriftReport

    return DriftReport


def command(
    edition: EditionFolder = None,
    since: Annotated[
        str | None,
        typer.Option(
            metavar="DATE|BUILD",
            help="Compare with the last build before this day (2026-05-01), or with the build of this number; by default with the build before the last.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show what changed since an earlier build, what you should look at first at the top.

    Sentences and signs that stand otherwise, values and best moves that moved by more than chance, and the games that came since: where they leave the manuscript, and which moves were never played before. Each build keeps what it found in .history/builds.jsonl.
    """
    from variorum.build.drift import drift

    opened, user = open_edition(edition), user_settings()
    report, diagnostics = drift(opened, user, since, progress_for(as_json=as_json))
    print_diagnostics(diagnostics)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)


def _as_text(report: DriftReport, letters: str) -> Iterable[str]:
    from variorum.build.drift_words import drift_parts, drift_title

    yield f"{report.edition}: {drift_title(report)}."
    if report.changed_since:
        yield f"Changed since that build: {', '.join(report.changed_since)}; give `variorum build` to compare what they are now."
    if report.before == report.now:
        return
    for part in drift_parts(report, _LISTED):
        yield part.heading
        for first, *below in part.entries:
            yield f"  {words_in_letters(first, letters)}"
            yield from (f"      {words_in_letters(text, letters)}" for text in below)
        if part.more:
            yield f"  and {part.more} more (--json tells all)"
    if report.new_verdicts:
        positions = f"{report.new_verdicts:,} position{'' if report.new_verdicts == 1 else 's'}"
        yield f"Judged for the first time: {positions} of the texts."
    if report.is_empty:
        yield "Nothing changed that is larger than chance, and no game came."
