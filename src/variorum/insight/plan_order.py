"""In which order plans come, where games agree on it (methods.md 9)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np

from variorum.board import Side
from variorum.insight.plan_kinds import Plan, PlanKind
from variorum.insight.plan_worth import sure_of
from variorum.insight.plans import GamePlans

__all__ = ["OrderPair", "order_pairs"]

_FEWEST = 5
"""Games that show both of two plans."""
_MOSTLY = 0.75
"""The part of them in which one comes first; both are settings, common practice, no source."""


class OrderPair(msgspec.Struct, frozen=True):
    """Two plans that games show both: in `before` of `both` games the first came earlier."""

    first: Plan
    then: Plan
    before: int
    both: int


def order_pairs(games: GamePlans, plans: Sequence[Plan], most: int = 4) -> list[OrderPair]:
    """The pairs of plans of which one comes first in most games, by binomial tests over clusters; breaks and castling first.

    Two itineraries are no pair: pieces come out in many orders. Nor are a plan and another that contains it: a break and the
    pawn that plays it or is taken for it, an exchange and a capture. Nor are castling and a unit that must have moved before,
    or that castling brought out, or pressure on a pawn and the break that brings it there or away: no other order is possible.
    """
    from scipy.stats import binomtest

    found, chances = [], []
    for index, one in enumerate(plans):
        for other in plans[index + 1 :]:
            if (
                {one.kind, other.kind} == {PlanKind.ITINERARY}
                or _contains(one, other)
                or _contains(other, one)
                or _ruled(one, other)
                or _ruled(other, one)
            ):
                continue
            plies = games.first[one], games.first[other]
            both = (plies[0] > 0) & (plies[1] > 0) & (plies[0] != plies[1])
            if np.count_nonzero(both) < _FEWEST:
                continue
            earlier = plies[0][both] < plies[1][both]
            where = games.clusters[both]
            sizes = np.bincount(where)
            ahead = np.bincount(where, weights=earlier) > sizes / 2
            chances.append(float(binomtest(int(ahead.sum()), int(np.count_nonzero(sizes))).pvalue))
            count = int(np.count_nonzero(earlier))
            pair = (one, other, count) if 2 * count >= len(earlier) else (other, one, len(earlier) - count)
            found.append(OrderPair(*pair, len(earlier)))
    kept = [
        pair
        for pair, is_sure in zip(found, sure_of(chances), strict=True)
        if is_sure and pair.before >= _MOSTLY * pair.both
    ]
    return sorted(kept, key=lambda pair: (-_weight(pair), -pair.both))[:most]


def _weight(pair: OrderPair) -> int:
    """How many of the two are breaks or castling: what the others are grouped around."""
    return sum(plan.kind in (PlanKind.BREAK, PlanKind.CASTLING) for plan in (pair.first, pair.then))


_BETWEEN: Final = {
    "castles short": {"B": "f", "N": "g"},
    "castles long": {"N": "b", "B": "c", "Q": "d"},
}
"""What stands between king and rook in the array."""


def _ruled(one: Plan, other: Plan) -> bool:
    """Whether one can only come before the other (FIDE Laws of Chess, 3.8.2: what stands between king and rook is gone before)."""
    if one.kind is PlanKind.BREAK:
        return other.kind is PlanKind.PRESSURE and other.side is not one.side and other.text[-2:] in one.text
    if one.kind is not PlanKind.CASTLING or other.side is not one.side:
        return False
    home = "1" if other.side is Side.WHITE else "8"
    unit, square = other.unit[:1], other.unit[1:]
    return other.castled or square == _BETWEEN[one.text].get(unit, "") + home


def _contains(one: Plan, other: Plan) -> bool:
    """Whether the second is part of the first: a capture of an exchange, the pawn of a break, or that pawn being taken."""
    if one.kind is PlanKind.EXCHANGE:
        return "x" in other.text and other.kind is PlanKind.ITINERARY
    if one.kind is not PlanKind.BREAK or other.kind is not PlanKind.ITINERARY:
        return False
    if one.side is not other.side:
        return other.text.endswith(f"x{one.text[-2:]}")
    return len(other.unit) == 2 and (one.text in other.text or other.unit == one.text[:2])
