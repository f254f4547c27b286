"""`variorum manuscript add`: put a line into the manuscript."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import msgspec
import typer

from variorum.base import UsageError
from variorum.cli.manuscript import DryRun, GameNumber, show_change, writing_of
from variorum.cli.options import AsJson, edition_and_place


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.edition.manuscript_change import ManuscriptChange

    return ManuscriptChange


def command(
    line: Annotated[
        list[str],
        typer.Argument(
            metavar="[EDITION] LINE", help="The whole line: 1.e4 c6 2.d4, or a name and moves behind it."
        ),
    ],
    game: GameNumber = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
) -> None:
    """Put a line into the manuscript, as far as it is not there yet.

    Where it reaches a position that is treated under another order, a comment points there ("see 1.d4 d5 2.c4"), and what follows is put there.
    """
    from variorum.edition import hides_line
    from variorum.edition.manuscript_change import keep_change, open_manuscript
    from variorum.edition.manuscript_find import games_named
    from variorum.edition.manuscript_merge import merge_line

    edition, place = edition_and_place(line)
    if place.line is None or not place.line.moves:
        raise UsageError("the line has no moves", remedy="type moves behind the position")
    manuscript = open_manuscript(edition)
    merged = merge_line(
        manuscript,
        place.line,
        see=edition.settings.words.see,
        hides=partial(hides_line, settings=edition.settings),
        game=None if game is None else games_named(manuscript, game)[0],
        title=edition.title,
    )
    notes = tuple(f"{one.order} is treated elsewhere: see {one.see}" for one in merged.transpositions)
    change = keep_change(
        edition,
        manuscript,
        merged.data,
        what=f"add {place.line.san()}",
        writing=writing_of(dry_run),
        notes=notes,
    )
    show_change(change, as_json=as_json)
