"""`variorum verdicts export`: verdicts as one EPD file."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.base import UsageError
from variorum.cli.options import AsJson, edition_and_rest
from variorum.cli.output import print_diagnostics, show

if TYPE_CHECKING:
    from variorum.voices.transfer import ExportReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.voices.transfer import ExportReport

    return ExportReport


def command(
    arguments: Annotated[
        list[str],
        typer.Argument(metavar="[EDITION] FILE", help="The EPD file to write; what was in it is replaced."),
    ],
    voice: Annotated[
        list[str] | None,
        typer.Option(
            "--voice", metavar="NAME", help="Whose verdicts; may be given several times. Default: all."
        ),
    ] = None,
    at: Annotated[str, typer.Option("--at", metavar="PLACE", help="Only those on this position.")] = "",
    as_json: AsJson = False,
) -> None:
    """Write the verdicts of an edition into one file of standard EPD.

    Nothing is lost in it: read into another edition it gives the same verdicts. Positions of private lines are among them.
    """
    from variorum.edition import resolve_place
    from variorum.edition.folder import VERDICTS
    from variorum.voices.transfer import export_verdicts

    edition, words = edition_and_rest(arguments)
    if len(words) != 1:
        raise UsageError("one FILE is needed", remedy="for instance: variorum verdicts export verdicts.epd")
    position = resolve_place(edition, at).position if at else None
    report, diagnostics = export_verdicts(
        edition.path / VERDICTS, Path(words[0]), voices=voice or (), position=position
    )
    print_diagnostics(diagnostics)
    show(report, _as_text, as_json=as_json)


def _as_text(report: ExportReport) -> Iterable[str]:
    yield f"{report.verdicts} verdicts on {report.positions} positions, of {', '.join(report.voices)}, are in {report.path}."
