"""`variorum playouts export`: playouts as one PGN file."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.base import UsageError
from variorum.cli.options import AsJson, edition_and_rest, user_settings
from variorum.cli.output import show
from variorum.cli.progress import progress_for

if TYPE_CHECKING:
    from variorum.build.playout_export import PlayoutExport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.build.playout_export import PlayoutExport

    return PlayoutExport


def command(
    arguments: Annotated[
        list[str],
        typer.Argument(metavar="[EDITION] FILE", help="The PGN file to write; what was in it is replaced."),
    ],
    voice: Annotated[
        str, typer.Option("--voice", metavar="NAME", help="Only games in which this voice plays.")
    ] = "",
    at: Annotated[str, typer.Option("--at", metavar="PLACE", help="Only those from this position.")] = "",
    as_json: AsJson = False,
) -> None:
    """Write the playouts of an edition into one PGN file, with score and effort in words behind each move.

    Nothing is lost in it: put into the folder playouts/ of another edition, it gives the same playouts. What you call the positions is in it too, private names not left out.
    """
    from variorum.build.playout_export import export_playouts

    edition, words = edition_and_rest(arguments)
    if len(words) != 1:
        raise UsageError("one FILE is needed", remedy="for instance: variorum playouts export games.pgn")
    report = export_playouts(
        edition, user_settings(), Path(words[0]), progress_for(as_json=as_json), voice=voice, at=at
    )
    show(report, _as_text, as_json=as_json)


def _as_text(report: PlayoutExport) -> Iterable[str]:
    games = "1 playout" if report.games == 1 else f"{report.games:,} playouts"
    places = "1 position" if report.positions == 1 else f"{report.positions:,} positions"
    yield f"{games} from {places}, by {', '.join(report.voices)}, are in {report.path}."
