"""`variorum manuscript split`: each root's lines as a file of their own."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.manuscript import DryRun, writing_of
from variorum.cli.options import AsJson, EditionFolder, open_edition
from variorum.cli.output import show

if TYPE_CHECKING:
    from variorum.edition.manuscript_reports import SplitReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.edition.manuscript_reports import SplitReport

    return SplitReport


def command(
    edition: EditionFolder = None,
    into: Annotated[
        str, typer.Option("--into", metavar="FOLDER", help="The folder inside the edition.")
    ] = "split",
    dry_run: DryRun = False,
    as_json: AsJson = False,
) -> None:
    """Write the lines of each root into a file of their own; the manuscript stays as it is.

    A line belongs to the first root on it; what reaches no root goes into rest.pgn. Comments and signs go along.
    """
    from variorum.edition.manuscript_reports import split_manuscript

    show(split_manuscript(open_edition(edition), into, writing_of(dry_run)), _as_text, as_json=as_json)


def _as_text(report: SplitReport) -> Iterable[str]:
    for file in report.files:
        games = f"{file.games} game{'' if file.games == 1 else 's'}"
        yield f"{file.path}: {file.root or 'what reaches no root'}, {games}, {file.moves:,} moves"
    if not report.written:
        yield "Not written: a dry run."
