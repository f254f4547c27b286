"""The order audit as a result to print: orders, deviations, prices, the best order."""

from __future__ import annotations

from typing import Literal

import msgspec

from variorum.graph import MapValue, ValueRange

__all__ = [
    "AuditedOrder",
    "BestOrder",
    "Deviation",
    "Figure",
    "ForSide",
    "Guidance",
    "OrderForSide",
    "OrderRisk",
    "OrderTurn",
    "OrdersReport",
    "StaysOpen",
    "Taken",
]


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """A number of points that may be known in part only: at least and at most; `at_most` is `None` where that is open."""

    at_least: float
    at_most: float | None


class Taken(msgspec.Struct, frozen=True, kw_only=True):
    """What a deviation takes by one voice: `expected` is E for White after it, `None` where it is not known.

    `takes` is the target's value less that, for the side, in points (negative: the deviation is a mistake); `None`
    where one of the two is unknown. `noise` is 1.96 σ of the difference.
    """

    voice: str
    expected: float | None
    certainty: str
    takes: Figure | None
    noise: float | None


class Deviation(msgspec.Struct, frozen=True, kw_only=True):
    """An opponent's move that leaves every order: after which moves from which root, and by whom.

    `unit_to` is the unit and its destination, by which rows may be grouped. `games` counts it by kind of source.
    `may_return` tells whether a legal order of
    the same moves leads from it to the target after all (`None`: not looked at). `orders` are the listed orders that allow it, `of_orders` counts all that do (`None`: more than can be counted),
    `flow` is the share of the traffic at that point, in percent.
    """

    number: int
    root: str | None
    after: str
    fen: str
    move: str
    unit_to: str
    side: str
    values: tuple[Taken, ...]
    games: dict[str, int]
    manuscript: Literal["answered", "mentioned", "no"]
    may_return: bool | None
    orders: tuple[int, ...]
    in_every_order: bool
    of_orders: int | None
    flow: float


class OrderRisk(msgspec.Struct, frozen=True, kw_only=True):
    """Risk and price of an order by one voice, in points, the deviation that makes the risk, and its noise.

    `worst` is the number of that deviation, `None` where none takes anything. `worst_apart` is the same among those
    that not every order allows: it makes the price. `unknown` counts the deviations on the way that the voice has not
    judged, so that risk and price are open upwards; `unwatched` the positions on the way with the opponent to move that it
    has not judged, where a move that nobody named may take more.
    """

    voice: str
    risk: Figure
    price: Figure
    worst: int | None
    worst_apart: int | None
    noise: float | None
    unknown: int
    unwatched: int


class OrderTurn(msgspec.Struct, frozen=True, kw_only=True):
    """A fork on an order: who chooses, the move of this order, and the others that lead to the target as well."""

    side: str
    move: str
    instead: tuple[str, ...]


class StaysOpen(msgspec.Struct, frozen=True, kw_only=True):
    """A named place that could still be reached on the way, as play goes: `until` is the move that shuts it, and who plays that."""

    name: str
    until: str
    side: str


class AuditedOrder(msgspec.Struct, frozen=True, kw_only=True):
    """One order: its moves from the root, its share of what arrives by any order, in percent.

    `walked` tells whether each of its moves was played or written.
    """

    number: int
    root: str | None
    moves: str
    walked: bool
    share: float
    turns: tuple[OrderTurn, ...]


class OrderForSide(msgspec.Struct, frozen=True, kw_only=True):
    """What an order means for a side: risks by voice, and the side's own alternatives, by unit and destination.

    `keeps` are those met on the way, `shuts` those that only other listed orders from the same root meet.
    """

    order: int
    risks: tuple[OrderRisk, ...]
    keeps: tuple[str, ...]
    shuts: tuple[str, ...]
    open_until: tuple[StaysOpen, ...]


class Guidance(msgspec.Struct, frozen=True, kw_only=True):
    """A choice of the best order: after which moves from the root, the move, and those that risk more or as much."""

    after: str
    move: str
    instead: tuple[str, ...]


class BestOrder(msgspec.Struct, frozen=True, kw_only=True):
    """What a side can guarantee from a root by one voice: that the opponent cannot take more than `guaranteed`.

    Moves that nobody named are counted with the most they could take; `at_most` is `None` where the voice has not judged
    all that can come about.

    `moves` is the order if the opponent takes the heaviest move at his forks; `choices` say what to play at every fork of
    the side that can come about.
    """

    root: str
    voice: str
    guaranteed: Figure
    moves: str
    choices: tuple[Guidance, ...]


class ForSide(msgspec.Struct, frozen=True, kw_only=True):
    """The audit for one side.

    `avoidable` tells whether the side can keep to what `--avoid` asks whatever the opponent plays, from some root; `None`
    where nothing was asked.
    """

    side: str
    orders: tuple[OrderForSide, ...]
    deviations: tuple[Deviation, ...]
    best: tuple[BestOrder, ...]
    avoidable: bool | None


class OrdersReport(msgspec.Struct, frozen=True, kw_only=True):
    """The orders to a place. `order_count` is `None` where there are more than can be counted; `met` of them meet the conditions.

    `legal` tells whether orders that nobody has put on the graph were added. `missing` counts the positions that are to
    be judged for a complete audit.
    """

    edition: str
    name: str | None
    line: str
    fen: str
    mix: str
    legal: bool
    avoid: tuple[str, ...]
    keep: tuple[str, ...]
    order_count: int | None
    met: int | None
    values: tuple[MapValue, ...]
    range: ValueRange | None
    orders: tuple[AuditedOrder, ...]
    sides: tuple[ForSide, ...]
    missing: int
