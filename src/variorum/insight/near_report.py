"""Near positions as a result to print: what differs, who passes there, what the voices say of both."""

from __future__ import annotations

import math
from collections.abc import Iterator

import msgspec

from variorum.board import Side
from variorum.graph import Certainty, MapValue, Teller
from variorum.insight.contrast import changed_units
from variorum.insight.contrast_report import unit_sentences
from variorum.insight.mirror import mirrored_position
from variorum.insight.near import Near, NearPair
from variorum.insight.wording import side_name

__all__ = ["NearGroupSaid", "NearPairSaid", "NearPlace", "NearReport", "near_report"]


class NearPlace(msgspec.Struct, frozen=True, kw_only=True):
    """A position of a pair: the edition's name and line, its share of the traffic in percent, games by kind, values.

    `short` says it in fewer words than the line: by its name, or by a name on the way and the moves after it.
    """

    name: str
    line: str
    short: str
    fen: str
    to_move: Side
    flow: float
    games: dict[str, int]
    values: tuple[MapValue, ...]


class NearPairSaid(msgspec.Struct, frozen=True, kw_only=True):
    """Two positions; the sentences call them the first and the second, or, where one was asked for, this one and the other."""

    first: NearPlace
    second: NearPlace
    sentences: tuple[str, ...]


class NearGroupSaid(msgspec.Struct, frozen=True, kw_only=True):
    """Pairs that differ in the same units; `twin`: the second of each has its colours reversed."""

    twin: bool
    unit_count: int
    count: int
    pairs: tuple[NearPairSaid, ...]


class NearReport(msgspec.Struct, frozen=True, kw_only=True):
    """The most interesting groups of `group_count`; `near` and `twins` count all pairs.

    `place` is the position whose neighbours these are, `None` for the whole edition. It is the first of each pair.
    """

    title: str
    positions: int
    place: NearPlace | None
    near: int
    twins: int
    group_count: int
    groups: tuple[NearGroupSaid, ...]


def near_report(title: str, tell: Teller, found: Near, node: int | None = None) -> NearReport:
    """Describe what `find_near` found, all of it or of one node."""
    return NearReport(
        title=title,
        positions=tell.graph.nodes,
        place=None if node is None else _place(tell, node),
        near=found.near,
        twins=found.twins,
        group_count=found.all_groups,
        groups=tuple(
            NearGroupSaid(
                twin=group.twin,
                unit_count=group.units,
                count=group.count,
                pairs=tuple(_pair(tell, pair, group.twin, node) for pair in group.pairs),
            )
            for group in found.groups
        ),
    )


def _place(tell: Teller, node: int) -> NearPlace:
    line = tell.way(node)
    return NearPlace(
        name=tell.name_of(node) or "",
        line=line.san(),
        short=tell.short_way(node),
        fen=line.end.fen,
        to_move=line.end.turn,
        flow=100.0 * float(tell.traffic.nodes[node]),
        games=tell.games(node),
        values=tell.values(node),
    )


def _pair(tell: Teller, pair: NearPair, twin: bool, node: int | None) -> NearPairSaid:
    """The position that was asked for, or else the one that more traffic passes, comes first."""
    one, other = pair.here, pair.there
    if node is None and tell.traffic.nodes[other] > tell.traffic.nodes[one]:
        one, other = other, one
    first, second = _place(tell, one), _place(tell, other)
    known, new = tell.graph.position(one), tell.graph.position(other)
    called = ("the second", "the first") if node is None else ("the other", "this one")
    if twin:
        known = mirrored_position(known)
    asked_for = f"{called[1]} with colours reversed" if twin else called[1]
    sentences = [
        *unit_sentences(new, known, (called[0], asked_for), changed_units(new, known), turned=twin),
        *_values(first, second, called[0], twin),
    ]
    return NearPairSaid(first=first, second=second, sentences=tuple(sentences))


def _values(first: NearPlace, second: NearPlace, called: str, twin: bool) -> Iterator[str]:
    """By which voices the two differ by more than noise."""
    theirs = {value.siglum: value for value in second.values}
    for one in first.values:
        other = theirs.get(one.siglum)
        if other is None or {one.certainty, other.certainty} != {Certainty.VALUE.name.lower()}:
            continue
        gap = other.expected - (100.0 - one.expected if twin else one.expected)
        noise = math.hypot(one.noise or 0.0, other.noise or 0.0)
        if abs(gap) > noise:
            better = Side.WHITE if gap > 0 else Side.BLACK
            yield (
                f"By {one.siglum} {called} is better for {side_name(better)} by {abs(gap):.1f} points, "
                f"more than noise ({noise:.1f})."
            )
