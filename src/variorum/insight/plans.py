"""Plans that games show from one place on, with counts, timing and worth (methods.md 9). The reading itself is the core's."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.board import Position, Score, Side
from variorum.insight.distance import SQUARES
from variorum.insight.plan_kinds import HORIZON, Plan, PlanKind, PlanRows, other_takers, plans_of
from variorum.insight.structures import catalogue, structure_of
from variorum.insight.wording import NUMBERS
from variorum.store import PLAYOUT, GamesThrough

__all__ = [
    "ALIKE",
    "FEWEST",
    "VARIETY",
    "GamePlans",
    "Gathered",
    "Trails",
    "gather",
    "listed_plans",
    "merge_rows",
    "model_games",
    "trace",
]

Trails = Callable[[], Iterable[GamesThrough]]
"""Goes through games by row group, in the same order whenever it is called; nothing else is held."""

FEWEST: Final = 3
"""A plan that fewer games show is not listed, in a body of ten games or more."""
_SHARE: Final = 0.1
"""Nor one that a smaller part of the games shows; settings, common practice, no source."""
_MOST_ROWS: Final = 400
"""So many rows of a body are traced at most, those of most games."""
ALIKE: Final = 0.8
"""Where so many of its games go on in one way, an itinerary is not listed beside the longer one."""
VARIETY: Final = 8
"""Playouts that play the same first plies from a place are one cluster."""
_NO_ROW: Final = 2**32 - 1
_TO_THE_END: Final = 2**16
_MOST_CP: Final = 2000
"""Beyond this E is as good as 0 or 100."""


class GamePlans(msgspec.Struct, frozen=True):
    """The games of one body through one place, and when each showed each plan: (n,) columns.

    `first` maps a plan to the ply after the place at which each game first showed it, 0 for never. `lengths` tells how many
    plies were read of each game, `plies` how many were played before the place, `results` are 0 unknown, 1 White won, 2 Black won, 3 drawn. Games of one number in
    `clusters` (small numbers from 0) are not independent of each other (methods.md 2). `expected` is E for White after each ply, the place first:
    (n, horizon + 1), NaN for games that were not looked at.
    """

    place: Position
    name: str
    games: NDArray[np.uint32]
    plies: NDArray[np.uint16]
    results: NDArray[np.uint8]
    elos: NDArray[np.uint16]
    lengths: NDArray[np.uint8]
    clusters: NDArray[np.int64]
    first: dict[Plan, NDArray[np.uint8]]
    expected: NDArray[np.float32] | None = None

    def __len__(self) -> int:
        return len(self.games)

    @property
    def cluster_count(self) -> int:
        """How many clusters."""
        return int(np.count_nonzero(np.bincount(self.clusters)))

    @property
    def looked(self) -> int:
        """Of how many games the positions were looked at."""
        return 0 if self.expected is None else int(np.isfinite(self.expected[:, 0]).sum())

    def count(self, plan: Plan) -> int:
        """How many games show a plan."""
        return int(np.count_nonzero(self.shows(plan)))

    def shows(self, plan: Plan) -> NDArray[np.bool_]:
        """Which games show a plan; none where it was not looked for."""
        found = self.first.get(plan)
        return np.zeros(len(self), np.bool_) if found is None else found > 0

    def clusters_with(self, plan: Plan) -> int:
        """In how many clusters at least half of the games show it."""
        sizes = np.bincount(self.clusters)
        shown = np.bincount(self.clusters, weights=self.shows(plan))
        return int(np.count_nonzero((sizes > 0) & (2 * shown >= sizes)))

    def median_ply(self, plan: Plan) -> int:
        """The middle one of the plies at which games first show it (the lower of two)."""
        plies = np.sort(self.first[plan][self.shows(plan)])
        return int(plies[(len(plies) - 1) // 2])

    def move_number(self, ply: int) -> int:
        """The number of the move that is played as ply `ply` after the place."""
        return (self.place.ply + ply - 1) // 2 + 1

    def only(self, chosen: NDArray[np.bool_]) -> GamePlans:
        """Those games of a mask."""
        columns = ("games", "plies", "results", "elos", "lengths", "clusters")
        return msgspec.structs.replace(
            self,
            **{name: getattr(self, name)[chosen] for name in columns},
            first={plan: plies[chosen] for plan, plies in self.first.items()},
            expected=None if self.expected is None else self.expected[chosen],
        )


class Gathered(msgspec.Struct, frozen=True):
    """The games of one body before plans are traced: (n,) columns as in `GamePlans`, and the plans they show often enough.

    `counts` tells which games count: of playouts that are alike to their end, the first.
    """

    place: Position
    name: str
    trails: Trails
    games: NDArray[np.uint32]
    plies: NDArray[np.uint16]
    results: NDArray[np.uint8]
    elos: NDArray[np.uint16]
    clusters: NDArray[np.int64]
    counts: NDArray[np.bool_]
    rows: PlanRows


def gather(place: Position, name: str, trails: Trails, horizon: int = HORIZON) -> Gathered:
    """What games there are through a place, and which plans are worth tracing.

    Playouts that begin alike are one cluster; other games are where they are alike over the whole horizon (methods.md 2, 9).

    Args:
        place: The position that the games pass.
        name: What the body is called.
        trails: The games.
        horizon: Plies after the place that are read.
    """
    none = np.zeros(0, np.uint32)
    table = _core.PlanTable(place.core, horizon, catalogue().core, none, none)
    columns: list[tuple[NDArray[Any], ...]] = []
    for batch in trails():
        moves = batch.columns.starts, batch.columns.moves, batch.rows, batch.plies
        table.collect(*moves)
        played = batch.sift.kind == PLAYOUT
        beginning = _core.trail_prints(*moves, VARIETY if played else horizon)
        whole = _core.trail_prints(*moves, _TO_THE_END)
        elos = np.maximum(*(batch.columns.facts[side][batch.rows] for side in ("white_elo", "black_elo")))
        columns.append(
            (batch.ids, batch.plies, batch.results, elos, beginning, whole, np.full(len(whole), played))
        )
    if not columns:
        columns = [tuple(none.astype(kind) for kind in ("u4", "u2", "u1", "u2", "u8", "u8", "?"))]
    ids, plies, results, elos, beginning, whole, is_playout = (
        np.concatenate(column) for column in zip(*columns, strict=True)
    )
    first = ~is_playout
    alike = np.flatnonzero(is_playout)
    first[alike[np.unique(whole[alike], return_index=True)[1]]] = True
    parents, codes, counts = table.columns()
    rows = np.flatnonzero(counts >= max(1, round(_SHARE * len(ids) / 2)))
    rows = rows[np.argsort(-counts[rows].astype(np.int64), kind="stable")[:_MOST_ROWS]]
    rows = np.union1d(rows, other_takers(codes, rows))
    return Gathered(
        place,
        name,
        trails,
        ids,
        plies,
        results,
        elos,
        np.unique(beginning, return_inverse=True)[1],
        first,
        plans_of(parents, codes, rows.tolist()),
    )


def merge_rows(bodies: Sequence[PlanRows]) -> PlanRows:
    """The plans of several bodies of games as rows of one table."""
    parents: list[int] = []
    codes: list[int] = []
    known: dict[tuple[int, int], int] = {}
    plans: dict[Plan, tuple[int, ...]] = {}
    for body in bodies:
        renamed = {_NO_ROW: _NO_ROW}
        for row, (parent, code) in enumerate(zip(body.parents.tolist(), body.codes.tolist(), strict=True)):
            key = (renamed[parent], code)
            if key not in known:
                known[key] = len(parents)
                parents.append(key[0])
                codes.append(code)
            renamed[row] = known[key]
        for plan, rows in body.plans.items():
            plans[plan] = tuple(sorted({*plans.get(plan, ()), *(renamed[row] for row in rows)}))
    return PlanRows(np.array(parents, np.uint32), np.array(codes, np.uint32), plans)


def trace(body: Gathered, rows: PlanRows, *, looks: int = 0, horizon: int = HORIZON) -> GamePlans:
    """When each game of a body first showed each plan.

    Args:
        body: The games.
        rows: The plans. Those that none of these games shows and that cannot well come about from this place are left out.
        looks: Of how many games, evenly spread, the positions are looked at (`expected`).
        horizon: Plies after the place that are read.
    """
    own = body.rows.plans
    foreign = _possible(body.place, [plan for plan in rows.plans if plan not in own])
    plans = {plan: rows.plans[plan] for plan in rows.plans if plan in own or plan in foreign}
    count = len(body.games)
    table = _core.PlanTable(body.place.core, horizon, catalogue().core, rows.parents, rows.codes)
    first = {plan: np.zeros(count, np.uint8) for plan in plans}
    lengths = np.zeros(count, np.uint8)
    expected = np.full((count, horizon + 1), np.nan, np.float32) if looks else None
    looked = np.zeros(count, np.bool_)
    looked[np.linspace(0, count - 1, min(count, looks)).round().astype(np.int64)] = True
    begin = 0
    for batch in body.trails():
        where = slice(begin, begin + len(batch.ids))
        begin = where.stop
        starts, moves = batch.columns.starts, batch.columns.moves
        shown, lengths[where] = table.trace(starts, moves, batch.rows, batch.plies)
        for plan, columns in plans.items():
            first[plan][where] = _earliest([shown[:, column] for column in columns])
        if expected is not None and (at := np.flatnonzero(looked[where])).size:
            cp = _core.first_looks(
                body.place.core, starts, moves, batch.rows[at], batch.plies[at], horizon, os.cpu_count() or 1
            )
            expected[begin - len(batch.ids) + at] = _expected(cp)
    games = GamePlans(
        body.place,
        body.name,
        body.games,
        body.plies,
        body.results,
        body.elos,
        lengths,
        body.clusters,
        first,
        expected,
    )
    return games if body.counts.all() else games.only(body.counts)


def _possible(place: Position, plans: Iterable[Plan]) -> set[Plan]:
    """The plans that games from a place may well show: the unit is there to carry them out, and it is not so already."""
    units = place.pieces()
    pressure = dict(zip(SQUARES, _core.pressure_on(place.core), strict=True))
    structure = structure_of(place)
    rights = place.epd.split()[2]

    def has_pawn(square: str, *, white: bool) -> bool:
        """Whether a pawn of the file stands there or has not gone past."""
        behind = range(2, int(square[1]) + 1) if white else range(int(square[1]), 8)
        return any(units.get(f"{square[0]}{rank}") == ("P" if white else "p") for rank in behind)

    def can(plan: Plan) -> bool:
        white = plan.side is Side.WHITE
        match plan.kind:
            case PlanKind.ITINERARY:
                letter = plan.unit[0] if len(plan.unit) == 3 else "P"
                return plan.castled or units.get(plan.unit[-2:]) == (letter if white else letter.lower())
            case PlanKind.BREAK:
                return has_pawn(plan.text[:2], white=white)
            case PlanKind.CASTLING:
                return any(right.isupper() == white for right in rights if right != "-")
            case PlanKind.PRESSURE:
                pawn, fewer = plan.text[-2:], NUMBERS.index(plan.text.split()[0])
                return has_pawn(pawn, white=not white) and pressure[pawn] < fewer
            case PlanKind.STRUCTURE:
                return structure is None or structure.words != plan.text
        return True

    return {plan for plan in plans if can(plan)}


def _earliest(plies: Sequence[NDArray[np.uint8]]) -> NDArray[np.uint8]:
    """The least of several plies, of which 0 is never."""
    least = plies[0]
    for other in plies[1:]:
        least = np.where((least == 0) | ((other > 0) & (other < least)), other, least)
    return least


def _expected(cp: NDArray[np.int16]) -> NDArray[np.float32]:
    """E for White of centipawns."""
    scale = np.array([Score.of_cp(value).expected() for value in range(-_MOST_CP, _MOST_CP + 1)], np.float32)
    return scale[np.clip(cp, -_MOST_CP, _MOST_CP).astype(np.int64) + _MOST_CP]


def listed_plans(games: GamePlans) -> list[Plan]:
    """The plans worth telling, the most frequent first: an itinerary does not stand beside its own beginning or a break."""
    fewest = FEWEST if len(games) >= 10 else min(2, len(games))
    least = max(fewest, _SHARE * len(games))
    counts = {plan: games.count(plan) for plan in games.first}
    often = {plan: count for plan, count in counts.items() if count >= least}
    kept = [plan for plan in often if not _is_told(plan, often)]
    return sorted(kept, key=lambda plan: (-often[plan], games.median_ply(plan), plan.text))


def _is_told(plan: Plan, often: Mapping[Plan, int]) -> bool:
    """Whether another plan tells the same: the itinerary goes on so in most of its games, or it is a break."""
    if plan.kind is PlanKind.PRESSURE:
        # More units on the same pawn tell of fewer.
        return any(
            other.kind is PlanKind.PRESSURE
            and other.side is plan.side
            and other.text[-2:] == plan.text[-2:]
            and other != plan
            and ALIKE * often[plan] <= count < often[plan]
            for other, count in often.items()
        )
    if plan.kind is not PlanKind.ITINERARY:
        return False
    for other, count in often.items():
        if other.side is not plan.side or count < ALIKE * often[plan]:
            continue
        goes_on = (
            other.kind is PlanKind.ITINERARY
            and other.castled == plan.castled
            and other.text.startswith(plan.text)
            and other != plan
        )
        is_break = other.kind is PlanKind.BREAK and len(plan.unit) == 2 and plan.text.endswith(other.text)
        if goes_on or is_break:
            return True
    return False


def model_games(games: GamePlans, plans: Sequence[Plan], most: int) -> list[tuple[int, list[Plan]]]:
    """Games that together show as many of the heavy plans as so many games can, by greedy cover.

    Each with the plans that it shows and those before it do not. The weight of a plan is the share of games that show it; of
    games that add the same, the one that shows more in all, then the higher rated, then the earlier in the store. Greedy
    cover reaches at least 1 − 1/e of the best possible (G. Nemhauser, L. Wolsey, M. Fisher, "An analysis of
    approximations for maximizing submodular set functions", Mathematical Programming 14, 1978).

    Returns:
        Place of the game in the columns, and the plans that it adds.
    """
    if not plans or not len(games):
        return []
    shown = np.array([games.shows(plan) for plan in plans])
    weights = shown.mean(axis=1)
    whole = weights @ shown
    uncovered = np.ones(len(plans), np.bool_)
    chosen: list[tuple[int, list[Plan]]] = []
    for _ in range(most):
        gain = np.round((weights * uncovered) @ shown, 9)
        ranked = np.lexsort((games.games, -games.elos.astype(np.int64), -np.round(whole, 9), -gain))
        best = int(ranked[0])
        if gain[best] <= 0:
            break
        added = np.flatnonzero(shown[:, best] & uncovered)
        chosen.append((best, [plans[index] for index in added.tolist()]))
        uncovered[added] = False
    return chosen
