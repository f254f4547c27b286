"""`variorum manuscript merge`: take another PGN file into the manuscript."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.base import UsageError
from variorum.cli.manuscript import DryRun, change_text, writing_of
from variorum.cli.options import AsJson, edition_and_rest, user_settings
from variorum.cli.output import exit_if_faulty, in_letters, print_diagnostics, show

if TYPE_CHECKING:
    from variorum.edition.manuscript_reports import MergeReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.edition.manuscript_reports import MergeReport

    return MergeReport


def command(
    arguments: Annotated[
        list[str],
        typer.Argument(metavar="[EDITION] FILE", help="A PGN file with variations, comments, signs."),
    ],
    dry_run: DryRun = False,
    as_json: AsJson = False,
) -> None:
    """Take the lines, comments and signs of another PGN file into the manuscript.

    What is there already is not added twice. Where a line reaches a position that is treated under another order, a comment points there. Where two signs speak against each other, yours stands and the other is told.
    """
    from variorum.edition.manuscript_reports import merge_file

    edition, words = edition_and_rest(arguments)
    if len(words) != 1:
        raise UsageError("one FILE is needed", remedy="for instance: variorum manuscript merge notes.pgn")
    report, diagnostics = merge_file(edition, Path(words[0]), writing_of(dry_run))
    print_diagnostics(diagnostics)
    letters = user_settings().pieces
    show(report, lambda one: _as_text(one, letters), as_json=as_json)
    exit_if_faulty(diagnostics)


def _as_text(report: MergeReport, letters: str) -> Iterable[str]:
    yield from change_text(report.change, letters)
    counted = {
        "move": report.moves,
        "comment": report.comments,
        "sign": report.signs,
        "whole game": report.games,
    }
    new = [f"{count:,} {what}{'' if count == 1 else 's'}" for what, count in counted.items() if count]
    yield f"New: {', '.join(new) or 'nothing'}."
    for one in report.transpositions:
        yield f"  {in_letters(one.order, letters)}: see {in_letters(one.see, letters)}"
    if report.conflicts:
        yield "Signs that speak against yours, left out:"
    for conflict in report.conflicts:
        order = in_letters(conflict.order, letters)
        yield f"  {order}: {conflict.stands} stands, line {conflict.line} of the file says {conflict.incoming}"
