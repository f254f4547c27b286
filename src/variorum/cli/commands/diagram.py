"""`variorum diagram`: a position as a picture."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.board import Side
from variorum.cli.options import AsJson, edition_and_place
from variorum.cli.output import show

if TYPE_CHECKING:
    from variorum.publish.picture import Picture


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.publish.picture import Picture

    return Picture


def command(
    arguments: Annotated[
        list[str],
        typer.Argument(
            metavar="[EDITION] PLACE",
            help="The edition's folder, and a name of it, a typed line, or a FEN.",
            show_default=False,
        ),
    ],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The picture: FILE.svg or FILE.png.")],
    side: Annotated[Side, typer.Option(help="From whose side the board is seen.")] = Side.WHITE,
    size: Annotated[int, typer.Option(metavar="PIXELS", help="Pixels across, 80 to 4096.")] = 480,
    marks: Annotated[
        str, typer.Option(metavar="MARKS", help="As in the digest: 'ring d5; route Nf3-e5 a; changed d3!'.")
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Draw a position as an SVG or PNG picture, as it stands in the publications, from either side."""
    from variorum.publish.diagram import Diagram, describe
    from variorum.publish.picture import Picture, read_marks, write_picture
    from variorum.publish.wording import wording_of

    edition, place = edition_and_place(arguments)
    words = wording_of(edition.settings.language)
    mover = words.white_to_move if place.position.turn is Side.WHITE else words.black_to_move
    drawn = Diagram(
        position=place.position,
        label=mover.removesuffix("."),
        marks=read_marks(marks, place),
        view=side,
    )
    write_picture(drawn, out, size, words)
    picture = Picture(
        path=str(out), fen=place.position.fen, side=side.value, width=size, said=describe(drawn, words)
    )
    show(picture, _as_text, as_json=as_json)


def _as_text(picture: Picture) -> Iterable[str]:
    yield f"Written: {picture.path}"
    yield picture.said
