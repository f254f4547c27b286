"""An edition looked at before its graph is grown: by a graph of some of its games, which is there in a moment."""

from __future__ import annotations

from contextlib import suppress
from typing import Final

import msgspec

from variorum.base import InputError, Progress, StoreError
from variorum.base.settings import UserSettings
from variorum.build.opened import OpenEdition
from variorum.edition import Edition
from variorum.graph import Cutoff, Graph, edition_graph

__all__ = ["FirstLook", "GamesTaken", "grow_ahead", "is_worth_a_first_look"]

_GAMES: Final = 5_000
"""So many games show where the lines run: a share of the traffic to 1.96 · √(¼ / 5,000), less than one and a half percent."""
_MIN_GAMES: Final = 2
"""What a single one of them plays is no line yet."""


class GamesTaken(msgspec.Struct, frozen=True):
    """From which games a first look is grown: one in so many of all."""

    one_in: int
    all: int


def is_worth_a_first_look(opened: OpenEdition) -> bool:
    """Whether a first look is there much earlier than the whole graph.

    Raises:
        StoreError: The store is damaged.
    """
    return opened.store is not None and opened.store.count > _GAMES


def grow_ahead(edition: Edition, user: UserSettings, progress: Progress) -> None:
    """Have the graph of an edition kept, where it takes long to grow, for whoever opens the edition next.

    What hinders it is told when the graph is asked for.

    Raises:
        Interrupted: The user stopped.
    """
    with (
        suppress(InputError, StoreError),
        progress.task("the map, for later", total=None, unit="steps"),
        OpenEdition(edition, user, progress=progress) as opened,
    ):
        if is_worth_a_first_look(opened) and not opened.graph_is_kept:
            assert opened.graph.nodes


class FirstLook(OpenEdition):
    """An edition whose graph has all its texts and verdicts, but of its games only some, at even distances."""

    @property
    def taken(self) -> GamesTaken:
        """From which games the graph is grown."""

        def taken() -> GamesTaken:
            games = 0 if self.store is None else self.store.count
            return GamesTaken(max(1, -(-games // _GAMES)), games)

        return self._own("taken", taken)

    @property
    def graph(self) -> Graph:
        """Positions and the moves between them, as far as these games show them."""
        return self._own(
            "first graph",
            lambda: edition_graph(
                self.edition,
                manuscript=self.manuscript,
                store=self.store,
                verdicts=self.said,
                cutoff=Cutoff(min_games=_MIN_GAMES),
                one_in=self.taken.one_in,
            ),
        )
