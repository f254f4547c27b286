"""`variorum manuscript tidy`: what the manuscript says in two ways."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.base import UsageError
from variorum.cli.manuscript import DryRun, change_text, finding_text, writing_of
from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import show

if TYPE_CHECKING:
    from variorum.edition.manuscript_reports import TidyReport

_HEADINGS = {
    "signs": "Two signs",
    "pointer": "Pointers that lead nowhere",
    "twice": "Treated more than once",
    "unpointed": "Ends where another order goes on, without a pointer",
}


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.edition.manuscript_reports import TidyReport

    return TidyReport


def command(
    edition: EditionFolder = None,
    point: Annotated[
        bool,
        typer.Option("--point", help="Put a pointer where a line ends that goes on under another order."),
    ] = False,
    dry_run: DryRun = False,
    as_json: AsJson = False,
) -> None:
    """Find where the manuscript contradicts or repeats itself, by its own moves and signs.

    The answer is no (exit code 1) when two signs speak against each other or a pointer leads nowhere.
    """
    from variorum.edition.manuscript_reports import tidy_report

    if dry_run and not point:
        raise UsageError("--dry-run is for --point", remedy="without --point nothing is written anyway")
    report = tidy_report(open_edition(edition), writing_of(dry_run) if point else None)
    letters = user_settings().pieces
    show(report, lambda one: _as_text(one, letters), as_json=as_json)
    if report.contradictions:
        raise typer.Exit(1)


def _as_text(report: TidyReport, letters: str) -> Iterable[str]:
    if report.change is not None:
        yield from change_text(report.change, letters)
    for kind, heading in _HEADINGS.items():
        found = [finding for finding in report.findings if finding.kind == kind]
        if found:
            yield heading
        for finding in found:
            yield from finding_text(finding, letters)
    repeated = len(report.findings) - report.contradictions
    yield (
        f"{report.contradictions} contradiction{'' if report.contradictions == 1 else 's'}, "
        f"{repeated} repetition{'' if repeated == 1 else 's'} or missing pointer{'' if repeated == 1 else 's'}."
    )
