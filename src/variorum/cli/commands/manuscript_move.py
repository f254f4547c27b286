"""`variorum manuscript move`: move what follows a position to another place."""

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
    to: Annotated[str, typer.Option("--to", metavar="PLACE", help="Where it goes.")],
    game: GameNumber = None,
    file_line: FileLine = None,
    to_game: Annotated[
        int | None,
        typer.Option("--to-game", metavar="N", help="The game of --to, where several begin alike."),
    ] = None,
    to_file_line: Annotated[
        int | None, typer.Option("--to-file-line", metavar="L", help="The line of the file of --to.")
    ] = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
) -> None:
    """Move what follows PLACE to where the same position stands by another order, and point there.

    From another position the move itself goes along; all of it must be legal there.
    """
    from variorum.edition import resolve_place
    from variorum.edition.manuscript_change import keep_change
    from variorum.edition.manuscript_find import node_at, order_to
    from variorum.edition.manuscript_move import move_subtree

    edition, manuscript, node = place_in_manuscript(place, game, file_line)
    target = node_at(manuscript, resolve_place(edition, to), game=to_game, file_line=to_file_line)
    moved = move_subtree(node, target, see=edition.settings.words.see)
    notes = tuple(
        f"{one.order}: {one.stands} stands, and {one.incoming} was left out" for one in moved.conflicts
    )
    change = keep_change(
        edition,
        manuscript,
        moved.data,
        what=f"move {order_to(node)} to {order_to(target)}",
        writing=writing_of(dry_run),
        notes=notes,
    )
    show_change(change, as_json=as_json)
