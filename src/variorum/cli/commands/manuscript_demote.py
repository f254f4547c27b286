"""`variorum manuscript demote`: lower a line."""

from __future__ import annotations

import msgspec

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
    game: GameNumber = None,
    file_line: FileLine = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
) -> None:
    """Let a move give its place to the next one beside it.

    The move of a line becomes a variation of the first one beside it; a variation goes behind the next. PLACE is the position after the move.
    """
    from variorum.edition.manuscript_change import keep_change
    from variorum.edition.manuscript_find import order_to
    from variorum.edition.manuscript_order import demote

    edition, manuscript, node = place_in_manuscript(place, game, file_line)
    change = keep_change(
        edition, manuscript, demote(node), what=f"demote {order_to(node)}", writing=writing_of(dry_run)
    )
    show_change(change, as_json=as_json)
