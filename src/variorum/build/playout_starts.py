"""Where playouts start: the positions that an author means by a place or by the word for a group of them."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Final

from variorum.base import Progress, UsageError
from variorum.base.settings import UserSettings
from variorum.board import Position
from variorum.edition import Edition, resolve_place
from variorum.store import Store

__all__ = ["GROUPS", "starts_of"]

GROUPS: Final = ("leaves", "tabiyas", "confluences", "disputed")
"""Words for many positions at once."""


def starts_of(
    edition: Edition, user: UserSettings, store: Store, at: str, progress: Progress
) -> tuple[list[tuple[Position, str]], tuple[str, ...]]:
    """The positions that are meant, with what the author calls them, and those among them where the game is over."""
    found = list(_meant(edition, user, store, at, progress))
    over = tuple(place for position, place in found if _is_over(position))
    going = list(
        {position: (position, place) for position, place in found if not _is_over(position)}.values()
    )
    if not going:
        if over:
            raise UsageError("the game is over there: there is nothing to play")
        raise UsageError(f"the edition has no {at}", remedy="give a name, a line or a FEN")
    return going, over


def _is_over(position: Position) -> bool:
    return position.outcome is not None or position.halfmove_clock >= 100


def _meant(
    edition: Edition, user: UserSettings, store: Store, at: str, progress: Progress
) -> Iterator[tuple[Position, str]]:
    if at == "tabiyas":
        for name, place in edition.places.items():
            yield place.position, name
        return
    if at not in GROUPS:
        place = resolve_place(edition, at)
        yield place.position, place.name or place.text
        return
    from variorum.build.asking import Study
    from variorum.build.groups import disputed, wished
    from variorum.scout.wishes import Reason

    study = Study(edition, user, store, datetime.datetime.now(datetime.UTC).date(), progress)
    match at:
        case "leaves":
            group = wished(study, Reason.LEAF)
        case "confluences":
            group = wished(study, Reason.CONFLUENCE)
        case _:
            group = disputed(study)
    for position, _ in group:
        yield study.standing(position), study.line_to(position)
