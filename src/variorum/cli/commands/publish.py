"""`variorum publish`: both texts with their evidence."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.claim_text import reach_text
from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import exit_if_faulty, print_diagnostics, show

if TYPE_CHECKING:
    from variorum.build.publishing import PublishReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.build.publishing import PublishReport

    return PublishReport


def command(
    edition: EditionFolder = None,
    caution: Annotated[
        list[str] | None, typer.Option(help="A sentence for the end of the page; may be repeated.")
    ] = None,
    changes_since: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Tell readers what changed since an earlier publication: a copy of its out/ as you gave it to them.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Write both texts with what voices and games say into out/: HTML, PDF, PGN, and the verdicts as EPD.

    The digest becomes out/digest.html and out/digest.pdf, the manuscript out/manuscript.pdf and out/manuscript.pgn. What is marked private is left out and listed.
    """
    from variorum.build.opened import OpenEdition
    from variorum.build.publishing import publish_edition

    today = datetime.datetime.now(datetime.UTC).date()
    with OpenEdition(open_edition(edition), user_settings()) as opened:
        report, diagnostics = publish_edition(
            opened, made_on=today, cautions=tuple(caution or ()), earlier=changes_since
        )
    print_diagnostics(diagnostics)
    show(report, _as_text, as_json=as_json)
    exit_if_faulty(diagnostics)


def _as_text(report: PublishReport) -> Iterable[str]:
    yield from (f"Written: {path}" for path in report.written)
    yield from (f"Left out: {what}" for what in report.left_out)
    yield from reach_text(report.reach)
    if not report.written:
        yield "There is no digest.md and no manuscript.pgn yet."
