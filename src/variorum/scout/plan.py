"""The next round of inquiries: who waits for a first verdict, then whose verdict must be deeper (methods.md 15)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Final

import msgspec

from variorum.board import Position
from variorum.scout.wishes import Doubt, Reason, Wish

__all__ = ["DEEPEST", "Inquiry", "next_round", "settled", "within"]

DEEPEST: Final = 2
"""How often a verdict is deepened, four times each: to the 16 times by which noise is defined, and no further."""

_RANK: Final = {reason: rank for rank, reason in enumerate(Reason)}

Said = Callable[[Position], int]
"""Nodes of the deepest verdict that counts on a position, 0 without one."""


class Inquiry(msgspec.Struct, frozen=True):
    """A position to ask with so many nodes, and why; where the nodes are 0, to a depth in plies or for so many seconds."""

    position: Position
    reason: Reason
    nodes: int
    depth: int = 0
    seconds: float = 0.0


def next_round(wishes: Iterable[Wish], doubts: Iterable[Doubt], said: Said, nodes: int) -> list[Inquiry]:
    """What to ask next, in order; empty when nothing is left that a budget could buy.

    First everything wished that has no verdict of `nodes` yet. Only when that is done, each doubt is taken one step
    further: all its positions to four times the least effort among them, at most `DEEPEST` steps above `nodes`.
    The same input gives the same inquiries. A position is asked once, for its most important reason.
    """
    first: dict[Position, Inquiry] = {}
    for wish in sorted(wishes, key=_order):
        if wish.position.outcome is None and said(wish.position) < nodes:
            first.setdefault(wish.position, Inquiry(wish.position, wish.reason, nodes))
    if first:
        return list(first.values())
    deeper: dict[Position, Inquiry] = {}
    for doubt in sorted(doubts, key=lambda doubt: _RANK[doubt.reason]):
        level = _level(doubt, said, nodes)
        if level >= DEEPEST:
            continue
        target = nodes * 4 ** (level + 1)
        for position in doubt.positions:
            known = deeper.get(position)
            if said(position) < target and (known is None or known.nodes < target):
                deeper[position] = Inquiry(position, known.reason if known else doubt.reason, target)
    return list(deeper.values())


def settled(doubt: Doubt, said: Said, nodes: int) -> bool:
    """Whether a doubt was taken as far as it goes: what is open now stays open."""
    return _level(doubt, said, nodes) >= DEEPEST


def within(inquiries: Sequence[Inquiry], budget: int | None) -> list[Inquiry]:
    """The first inquiries that a budget of nodes pays for, counted as asked; all without one."""
    chosen = []
    spent = 0
    for inquiry in inquiries:
        spent += inquiry.nodes
        if budget is not None and spent > budget:
            break
        chosen.append(inquiry)
    return chosen


def _order(wish: Wish) -> tuple[int, float, int]:
    """Of equal weight the order is that of keys: the same in each run, whatever came first."""
    return _RANK[wish.reason], -round(wish.weight, 12), wish.position.key


def _level(doubt: Doubt, said: Said, nodes: int) -> int:
    """How many times four the least effort is above `nodes`; -1 below it."""
    least = min((said(position) for position in doubt.positions), default=nodes * 4**DEEPEST)
    level = -1
    while level < DEEPEST and least >= nodes * 4 ** (level + 1):
        level += 1
    return level
