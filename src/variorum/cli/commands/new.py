"""`variorum new`: the folder of a new edition."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import msgspec
import typer

from variorum.cli.options import AsJson, user_settings
from variorum.cli.output import show

if TYPE_CHECKING:
    from variorum.edition import EditionReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.edition import EditionReport

    return EditionReport


def command(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The folder to make, or an empty one.")],
    title: Annotated[str, typer.Option("--title", help="The edition's title.")],
    root: Annotated[
        list[str],
        typer.Option(
            "--root",
            metavar="PLACE",
            help='Where the graph starts: a line or a FEN, with a name as in "panov: 1.e4 c6 2.d4". May be repeated.',
        ),
    ],
    side: Annotated[
        Literal["white", "black", "both"], typer.Option("--side", help="For whom moves are recommended.")
    ],
    as_json: AsJson = False,
) -> None:
    """Make the folder of a new edition.

    It holds small commented files to begin with. Nothing that is there already is overwritten.
    """
    from variorum.edition import describe_edition, new_edition

    edition = new_edition(folder, title, root, side)
    show(describe_edition(edition.path, user_settings()), _as_text, as_json=as_json)


def _as_text(report: EditionReport) -> Iterable[str]:
    yield f"Made the edition {report.title!r} in {report.path}"
    yield ""
    yield "  edition.toml    title, side, roots, names: your settings"
    yield "  manuscript.pgn  the detailed text, one game for each root"
    yield "  digest.md       the short explanation"
    yield "  sources/        put PGN and EPD files here"
