"""The order audit: by which move orders a target is reached, and what each one allows on the way (methods.md 4)."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum.base import UsageError
from variorum.board import DEFAULT_BANDS, Bands, Line, Position, Side, Verdict
from variorum.edition import Place
from variorum.graph import (
    Graph,
    Teller,
    Traffic,
    VoiceValues,
    back_up_values,
    deepest_verdicts,
)
from variorum.insight.deviations import Exit, exits_of
from variorum.insight.passage import Passage, Way, passage_to
from variorum.insight.risks import Risks, own_stations, risks_of
from variorum.insight.takes import Worth, Worths

__all__ = [
    "Audit",
    "AuditGround",
    "Condition",
    "Missing",
    "SideAudit",
    "audit",
    "audit_ground",
    "heaviest_orders",
    "where_avoided",
]


class Condition(msgspec.Struct, frozen=True):
    """What orders are held to: the words of the author, and the position they name where they name one."""

    text: str
    position: Position | None = None


class Missing(msgspec.Struct, frozen=True):
    """A position to be judged before the audit is complete, with how many lines; `weight` is its share of the traffic."""

    position: Position
    multipv: int
    weight: float


@dataclass(frozen=True, eq=False)
class Audit:
    """The orders to a target with everything that is known on the way, for one side or both."""

    graph: Graph
    traffic: Traffic
    tell: Teller
    passage: Passage
    worths: Mapping[str, Worths]
    verdicts: Mapping[str, Mapping[int, Verdict]]
    sides: tuple[SideAudit, ...]
    beside: frozenset[Position] | None = None
    """Positions on legal orders of the same moves; `None` where they were too many to look at."""

    @property
    def node(self) -> int:
        """The target."""
        return int(self.passage.nodes[self.passage.target])

    def line_to(self, station: int) -> Line:
        """The heaviest order to a station, after the line of its root."""
        start, edges = self.passage.way_to(station)
        line = self.tell.root_line(int(self.passage.nodes[start]))
        return Line(line.start, (*line.moves, *map(self.graph.move, edges)))

    def line_of(self, way: Way) -> Line:
        """The moves of an order, from its root."""
        start = self.tell.root_line(int(self.passage.nodes[way.stations[0]])).end
        return Line(start, tuple(map(self.graph.move, way.edges)))

    def is_walked(self, way: Way) -> bool:
        """Whether each move of an order was played or written."""
        return all(self.graph.edge_counts.at(edge) for edge in way.edges)

    def stations_along(self, line: Line) -> tuple[int, ...] | None:
        """The stations that a line passes from the first root on it; `None` where it is no order to the target."""
        nodes = [self.graph.node_of(position) for position in line.positions()]
        stations = [None if node is None else self.passage.station_of(node) for node in nodes]
        first = next((at for at, station in enumerate(stations) if station in self.passage.roots), None)
        on_way = [] if first is None else [station for station in stations[first:] if station is not None]
        whole = first is not None and len(on_way) == len(stations) - first
        return tuple(on_way) if whole and on_way[-1] == self.passage.target else None

    def missing(self, voice: str, nodes: int) -> list[Missing]:
        """What a voice is to be asked so that each value rests on so many nodes: the target first, then by traffic.

        A position where the opponent is to move is asked for three lines, which may show a deviation that nobody knew.
        """
        found: dict[Position, Missing] = {}
        worths, own = self.worths.get(voice), self.verdicts.get(voice, {})

        def want(position: Position, multipv: int, weight: float) -> None:
            if position.outcome is None:
                found.setdefault(position, Missing(position, multipv, weight))

        target = None if worths is None else worths.of_node(self.node)
        if not _is_settled(target, nodes):
            want(self.graph.position(self.node), 1, math.inf)
        for side in self.sides:
            opponents = [
                station
                for station in range(self.passage.size)
                if station != self.passage.target
                and bool(self.graph.white[self.passage.nodes[station]]) != (side.side is Side.WHITE)
            ]
            for station in opponents:
                node = int(self.passage.nodes[station])
                verdict = own.get(node)
                if verdict is None or verdict.allowed < nodes:
                    want(self.graph.position(node), _LINES, float(self.traffic.nodes[node]))
            for leaving in side.deviations:
                node = int(self.passage.nodes[leaving.station])
                worth = None if worths is None else worths.of_move(node, leaving.packed, leaving.child)
                if not _is_settled(worth, nodes):
                    # Below the position it leaves, so that a verdict there may settle it first.
                    want(leaving.after, 1, float(self.traffic.nodes[node]) / 2)
        return sorted(found.values(), key=lambda one: -one.weight)


_LINES = 3


def _is_settled(worth: Worth | None, nodes: int) -> bool:
    """Whether a value rests on so many nodes; a mate, or the rules, need none."""
    if worth is None or not worth.expected.is_exact:
        return False
    return worth.nodes == 0 or worth.nodes >= nodes or worth.expected.low in (0.0, 100.0)


@dataclass(frozen=True, eq=False)
class SideAudit:
    """What the orders mean for one side."""

    side: Side
    passage: Passage
    deviations: tuple[Exit, ...]
    """The opponent's moves that leave the orders."""
    options: tuple[Exit, ...]
    """The side's own moves, played or written, that leave the orders."""
    risks: Mapping[str, Risks]
    """By voice that judges the target."""

    @cached_property
    def by_station(self) -> dict[int, list[int]]:
        """The deviations at each station, as indices."""
        found: dict[int, list[int]] = {}
        for index, leaving in enumerate(self.deviations):
            found.setdefault(leaving.station, []).append(index)
        return found

    def can_avoid(self, stations: set[int]) -> bool:
        """Whether the side can come to the target past these stations whatever the opponent does, from some root."""
        marks = np.zeros(self.passage.size)
        marks[list(stations)] = 1.0
        stays = np.full(len(self.passage.edges), math.inf)
        least = self.passage.course.guarantee(self._own, marks, stays, list(self.passage.back))
        return bool((least[list(self.passage.roots)] == 0.0).any())

    @property
    def _own(self) -> NDArray[np.bool_]:
        return own_stations(self.passage, self.side)

    def best_move(self, voice: str, station: int) -> int | None:
        """The move (index into the passage's edges) by which the side risks least from a station of its own."""
        risks, passage = self.risks[voice], self.passage
        flow = passage.traffic.edges

        def rank(move: int) -> tuple[float, float, float, int]:
            target = int(passage.targets[move])
            return (
                float(risks.guaranteed_high[target]),
                -float(flow[passage.edges[move]]),
                float(risks.guaranteed_low[target]),
                move,
            )

        return min(passage.moves_of(station), key=rank, default=None)


@dataclass(frozen=True, eq=False)
class AuditGround:
    """What all audits of one graph stand on: traffic, and what each voice is known to think."""

    traffic: Traffic
    tell: Teller
    worths: Mapping[str, Worths]
    verdicts: Mapping[str, Mapping[int, Verdict]]


def audit_ground(
    traffic: Traffic,
    verdicts: Sequence[Verdict],
    *,
    roots: Sequence[Place],
    names: Mapping[str, Place],
    sigla: Mapping[str, str],
    bands: Bands = DEFAULT_BANDS,
) -> AuditGround:
    """Back up what was said over a graph.

    Args:
        traffic: The edition's graph with its traffic.
        verdicts: What voices said.
        roots: The edition's roots, for their lines.
        names: Its names, for their lines.
        sigla: The mark of each voice.
        bands: From which expected score a sign stands.
    """
    graph = traffic.graph
    own: dict[str, dict[int, Verdict]] = {}
    for (voice, at), verdict in deepest_verdicts(graph, verdicts).items():
        own.setdefault(voice, {})[at] = verdict
    values: dict[str, VoiceValues] = back_up_values(graph, verdicts)
    worths = {voice: Worths(graph, voiced, own.get(voice, {})) for voice, voiced in values.items()}
    return AuditGround(traffic, Teller(graph, traffic, values, sigla, roots, names, bands), worths, own)


def audit(ground: AuditGround, node: int, sides: Sequence[Side]) -> Audit:
    """Audit the orders to a node of the graph, for the edition's side or for both."""
    passage = passage_to(ground.traffic, node)
    return Audit(
        graph=ground.traffic.graph,
        traffic=ground.traffic,
        tell=ground.tell,
        passage=passage,
        worths=ground.worths,
        verdicts=ground.verdicts,
        sides=tuple(_side_audit(passage, node, side, ground.worths, ground.verdicts) for side in sides),
    )


def _side_audit(
    passage: Passage,
    node: int,
    side: Side,
    worths: Mapping[str, Worths],
    own: Mapping[str, Mapping[int, Verdict]],
) -> SideAudit:
    deviations = tuple(exits_of(passage, side.other, own))
    options = tuple(one for one in exits_of(passage, side, {}) if one.games or one.written)
    risks = {}
    for voice, values in worths.items():
        target = values.of_node(node)
        if target is not None:
            risks[voice] = risks_of(passage, side, deviations, values, target)
    return SideAudit(side, passage, deviations, options, risks)


_NUMBERED = re.compile(r"(?P<number>\d+)?\s*(?P<dots>[.…]*)\s*(?P<san>\S+)")


def heaviest_orders(
    audited: Audit, limit: int, avoid: Sequence[Condition] = (), keep: Sequence[Condition] = ()
) -> tuple[list[Way], int]:
    """The heaviest orders that meet the conditions, for any of the sides, and how many there are.

    `avoid` means orders in which the opponent never gets the chance to leave by that move, or for that position; `keep`
    orders that pass a position where the side could play that move, or turn to that position.

    Raises:
        UsageError: A condition says nothing that is known on the way.
    """
    without: set[int] = set()
    unplayed: set[int] = set()
    for condition in avoid:
        stations, edges = where_avoided(audited, condition)
        without |= stations
        unplayed |= edges
    through = [where_kept(audited, condition) for condition in keep]
    try:
        return audited.passage.heaviest(limit, without=without, unplayed=unplayed, through=through)
    except ValueError as error:
        raise UsageError(str(error), remedy="give fewer --keep") from None


def where_avoided(audited: Audit, condition: Condition) -> tuple[set[int], set[int]]:
    """Places that an order must not pass to avoid something, and edges that it must not play."""
    leaving = [one for side in audited.sides for one in side.deviations]
    stations = {one.station for one in _named(audited, condition, leaving)}
    edges = {
        int(audited.passage.edges[move])
        for side in audited.sides
        for move in _played(audited, condition, side.side.other)
    }
    if condition.position is not None:
        node = audited.graph.node_of(condition.position)
        station = None if node is None else audited.passage.station_of(node)
        stations |= set() if station is None or station == audited.passage.target else {station}
    if not stations and not edges:
        known = dict.fromkeys(one.plain for one in leaving)
        raise UsageError(
            f"{condition.text!r} is nothing that is known to happen on the way",
            remedy=f"what can be avoided: {', '.join(known)}" if known else "no deviation is known at all",
        )
    return stations, edges


def where_kept(audited: Audit, condition: Condition) -> set[int]:
    """Places of which an order must pass one to keep something open."""
    options = [one for side in audited.sides for one in side.options]
    stations = {one.station for one in _named(audited, condition, options)}
    stations |= {
        int(audited.passage.sources[move])
        for side in audited.sides
        for move in _played(audited, condition, side.side)
    }
    if condition.position is not None:
        node = audited.graph.node_of(condition.position)
        station = None if node is None else audited.passage.station_of(node)
        stations |= set() if station is None else {station}
    if not stations:
        known = dict.fromkeys(one.plain for one in options)
        raise UsageError(
            f"{condition.text!r} is no option that is known on the way",
            remedy=f"what can be kept open: {', '.join(known)}" if known else "no option is known at all",
        )
    return stations


def _named(audited: Audit, condition: Condition, exits: Iterable[Exit]) -> list[Exit]:
    """The exits that a condition names: the move itself, or those from which its position can be reached."""
    if condition.position is None:
        return [one for one in exits if _is_move(audited, condition.text, one.station, one.plain)]
    node = audited.graph.node_of(condition.position)
    above = set() if node is None else set(audited.graph.basin(node).tolist())
    return [one for one in exits if one.child in above or one.after == condition.position]


def _played(audited: Audit, condition: Condition, side: Side) -> list[int]:
    """The moves of a side on the way that a condition names, as indices into the passage's edges."""
    if condition.position is not None:
        return []
    passage, graph = audited.passage, audited.graph
    own = own_stations(passage, side)
    return [
        move
        for move in range(len(passage.edges))
        if own[passage.sources[move]]
        and _is_move(
            audited,
            condition.text,
            int(passage.sources[move]),
            graph.position(int(passage.nodes[passage.sources[move]]))
            .san(graph.move(int(passage.edges[move])))
            .rstrip("+#"),
        )
    ]


def _is_move(audited: Audit, text: str, station: int, plain: str) -> bool:
    match = _NUMBERED.fullmatch(text.strip())
    if match is None or match["san"].rstrip("+#!?").replace("0", "O") != plain:
        return False
    position = audited.line_to(station).end
    dots = match["dots"]
    if position.turn is Side.WHITE and ("…" in dots or len(dots) > 1):
        return False
    return match["number"] is None or int(match["number"]) == position.fullmove
