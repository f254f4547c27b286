"""`variorum manuscript sign`: put a sign behind a move."""

from __future__ import annotations

from typing import Annotated

import msgspec
import typer

from variorum.base import UsageError
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
    sign: Annotated[
        list[str] | None,
        typer.Option("--sign", metavar="SIGN", help="As it is typed, or $14; may be given several times."),
    ] = None,
    remove: Annotated[
        list[str] | None, typer.Option("--remove", metavar="SIGN", help="A sign to take out.")
    ] = None,
    game: GameNumber = None,
    file_line: FileLine = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
) -> None:
    """Put a sign behind a move, or take one out.

    A new sign takes the place of one that answers the same question: what the move is worth, or how the position stands.
    """
    from variorum.edition import apply_edits, set_nags
    from variorum.edition.manuscript_change import keep_change
    from variorum.edition.manuscript_edits import sign_number, signs_with
    from variorum.edition.manuscript_find import order_to

    new, gone = [sign_number(one) for one in sign or ()], [sign_number(one) for one in remove or ()]
    if not new and not gone:
        raise UsageError("no sign is given", remedy='for instance --sign "⩲", or --remove "!"')
    edition, manuscript, node = place_in_manuscript(place, game, file_line)
    data = apply_edits(manuscript.data, set_nags(node, signs_with(node, new, gone)))
    what = ", ".join([*(sign or ()), *(f"no {one}" for one in remove or ())])
    change = keep_change(
        edition, manuscript, data, what=f"sign {order_to(node)}: {what}", writing=writing_of(dry_run)
    )
    show_change(change, as_json=as_json)
