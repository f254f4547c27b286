"""`variorum verdicts import`: somebody's EPD file as verdicts."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.base import UsageError
from variorum.cli.options import AsJson, edition_and_rest
from variorum.cli.output import show

if TYPE_CHECKING:
    from variorum.voices.transfer import ImportReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.voices.transfer import ImportReport

    return ImportReport


def command(
    arguments: Annotated[
        list[str], typer.Argument(metavar="[EDITION] FILE", help="The EPD file; it is only read.")
    ],
    voice: Annotated[
        str, typer.Option("--voice", metavar="NAME", help="Keep them under this name instead of their own.")
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Take the verdicts of an EPD file into an edition, each voice for itself.

    Records without a voice in our key are those of a voice named as the file. All are taken in, or with one fault none.
    """
    from variorum.edition.folder import VERDICTS
    from variorum.voices.transfer import import_verdicts

    edition, words = edition_and_rest(arguments)
    if len(words) != 1:
        raise UsageError(
            "one FILE is needed", remedy="for instance: variorum verdicts import from-a-friend.epd"
        )
    report = import_verdicts(edition.place_to_write(VERDICTS), Path(words[0]), voice=voice)
    show(report, _as_text, as_json=as_json)


def _as_text(report: ImportReport) -> Iterable[str]:
    known = report.verdicts - report.new
    there = f"; {known} were here already" if known else ""
    yield f"{report.new} verdicts of {', '.join(report.voices)} were taken in{there}."
