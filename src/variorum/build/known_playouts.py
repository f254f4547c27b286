"""The playouts that an edition has, by what was asked for: from where, by whom, by which recipe. For reading only."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from variorum.board import Position
from variorum.build.opened import OpenEdition
from variorum.build.playout_table import (
    PlayerScore,
    PositionPlayouts,
    different_games,
    player_scores,
    position_playouts,
)
from variorum.store import PLAYOUT, Filter
from variorum.voices.playout import Playout, Recipe
from variorum.voices.playout_files import kept_playout

__all__ = ["KnownGame", "PlayoutGroup", "known_playouts", "table_of"]

_BLOCK = 500


class KnownGame(msgspec.Struct, frozen=True):
    """A playout with its number in the store."""

    id: int
    playout: Playout


class PlayoutGroup(msgspec.Struct, frozen=True, kw_only=True):
    """Games of one recipe between the same voices from one position, in the order of their numbers; `words` are the recipe's."""

    place: str
    position: Position
    voices: tuple[str, ...]
    words: str
    recipe: Recipe
    games: tuple[KnownGame, ...]

    @property
    def both_ways(self) -> bool:
        """Whether two voices changed sides."""
        return len({game.playout.plan.white for game in self.games}) > 1


def known_playouts(opened: OpenEdition) -> list[PlayoutGroup]:
    """All groups, the position with most games first.

    Raises:
        StoreError: The store is damaged.
    """
    store = opened.store
    if store is None:
        return []
    found: dict[tuple[Position, tuple[str, ...], str], list[KnownGame]] = {}
    for _, rows, columns in store.games_by_source(Filter(kinds=frozenset({PLAYOUT}))):
        ids = (rows + columns.first).tolist()
        for first in range(0, len(ids), _BLOCK):
            for game in store.games(ids[first : first + _BLOCK]):
                kept = kept_playout(game)
                if kept is not None:
                    plan = kept.playout.plan
                    players = tuple(sorted({plan.white, plan.black}))
                    known = KnownGame(game.id, kept.playout)
                    found.setdefault((plan.start, players, kept.recipe), []).append(known)
    groups = [
        PlayoutGroup(
            place=opened.ways.line_to(position),
            position=position,
            voices=voices,
            words=words,
            recipe=Recipe.of_words(words) or Recipe(),
            games=tuple(sorted(games, key=lambda one: (one.playout.plan.number, one.id))),
        )
        for (position, voices, words), games in found.items()
    ]
    return sorted(groups, key=lambda group: (-len(group.games), group.place, group.voices, group.words))


def table_of(opened: OpenEdition, group: PlayoutGroup) -> tuple[PositionPlayouts, Sequence[PlayerScore]]:
    """What the games of a group came to, and each voice's own score where two play each other."""
    playouts = [game.playout for game in group.games]
    deepest = max(
        opened.verdicts.on(group.position).values(), key=lambda verdict: verdict.effort, default=None
    )
    row = position_playouts(
        group.position, group.place, playouts, group.recipe, missing=0, narrow=False, verdict=deepest
    )
    return row, player_scores(different_games(playouts), group.recipe)
