"""`variorum manuscript promote`: raise a variation."""

from __future__ import annotations

from typing import Annotated

import msgspec
import typer

from variorum.cli.manuscript import (
    DryRun,
    FileLine,
    GameNumber,
    PlaceWords,
    place_in_manuscript,
    show_change,
    writing_of,
)
from variorum.cli.options import AsJson


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.edition.manuscript_change import ManuscriptChange

    return ManuscriptChange


def command(
    place: PlaceWords,
    to_main: Annotated[bool, typer.Option("--main", help="Until it is the main line.")] = False,
    game: GameNumber = None,
    file_line: FileLine = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
) -> None:
    """Let the variation in which PLACE stands take the place of the line it departs from.

    That line becomes its first variation; comments and signs go along.
    """
    from variorum.edition.manuscript_change import keep_change
    from variorum.edition.manuscript_find import order_to
    from variorum.edition.manuscript_order import promote, promote_to_main

    edition, manuscript, node = place_in_manuscript(place, game, file_line)
    data = promote_to_main(node) if to_main else promote(node)
    change = keep_change(
        edition, manuscript, data, what=f"promote {order_to(node)}", writing=writing_of(dry_run)
    )
    show_change(change, as_json=as_json)
