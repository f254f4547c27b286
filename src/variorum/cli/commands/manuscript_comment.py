"""`variorum manuscript comment`: comment on a position."""

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
    text: Annotated[str | None, typer.Option("--text", metavar="WORDS", help="What to say.")] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="In place of the comments that stand there.")
    ] = False,
    remove: Annotated[bool, typer.Option("--remove", help="Take the comments out that stand there.")] = False,
    game: GameNumber = None,
    file_line: FileLine = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
) -> None:
    """Comment on a position, behind what is said there already; or replace or remove what is said."""
    from variorum.edition import add_comment, apply_edits
    from variorum.edition.manuscript_change import keep_change
    from variorum.edition.manuscript_edits import with_comment
    from variorum.edition.manuscript_find import order_to

    if remove == (text is not None) or (text is not None and not text.strip()):
        raise UsageError(
            "say either --text WORDS or --remove", remedy='for instance --text "Before the break."'
        )
    edition, manuscript, node = place_in_manuscript(place, game, file_line)
    edits = with_comment(node, text) if text is None or replace else add_comment(node, text)
    change = keep_change(
        edition,
        manuscript,
        apply_edits(manuscript.data, edits),
        what=f"{'remove comments' if remove else 'comment'} after {order_to(node)}",
        writing=writing_of(dry_run),
    )
    show_change(change, as_json=as_json)
