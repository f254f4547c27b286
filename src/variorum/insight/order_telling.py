"""The order audit put into the values that are printed (`orders_report.py`)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from variorum import _core
from variorum.board import Line, Position, Side
from variorum.insight.deviations import Exit
from variorum.insight.orders import Audit, Condition, SideAudit, heaviest_orders, where_avoided
from variorum.insight.orders_report import (
    AuditedOrder,
    BestOrder,
    Deviation,
    Figure,
    ForSide,
    Guidance,
    OrderForSide,
    OrderRisk,
    OrdersReport,
    OrderTurn,
    StaysOpen,
    Taken,
)
from variorum.insight.passage import MOST_COUNTED, Way
from variorum.insight.risks import Risks
from variorum.insight.takes import Span

__all__ = ["orders_report"]


def orders_report(
    title: str,
    audited: Audit,
    *,
    limit: int = 12,
    avoid: Sequence[Condition] = (),
    keep: Sequence[Condition] = (),
    legal: bool = False,
    missing: int = 0,
) -> OrdersReport:
    """Describe an audit; at most `limit` orders are listed, the heaviest.

    Raises:
        UsageError: A condition says nothing that is known on the way.
    """
    ways, met = heaviest_orders(audited, limit, avoid, keep)
    teller = _Teller(audited, tuple(ways))
    node = audited.node
    line = audited.tell.way(node)
    return OrdersReport(
        edition=title,
        name=audited.tell.name_of(node),
        line=line.san(),
        fen=line.end.fen,
        mix=audited.traffic.words,
        legal=legal,
        avoid=tuple(one.text for one in avoid),
        keep=tuple(one.text for one in keep),
        order_count=_counted(audited.passage.count),
        met=_counted(met),
        values=audited.tell.values(node),
        range=audited.tell.value_range(node),
        orders=tuple(teller.order(number, way) for number, way in enumerate(ways, 1)),
        sides=tuple(teller.side(side, avoid) for side in audited.sides),
        missing=missing,
    )


def _counted(count: int) -> int | None:
    return None if count == MOST_COUNTED else count


def _figure(span: Span) -> Figure:
    least, most = span.as_known
    return Figure(at_least=least, at_most=most)


@dataclass(frozen=True)
class _Teller:
    audited: Audit
    ways: tuple[Way, ...]

    def order(self, number: int, way: Way) -> AuditedOrder:
        line = self.audited.line_of(way)
        return AuditedOrder(
            number=number,
            root=self.audited.tell.root_name(int(self.audited.passage.nodes[way.stations[0]])),
            moves=line.san(),
            walked=self.audited.is_walked(way),
            share=100.0 * way.share,
            turns=tuple(
                turn
                for station, edge, position in zip(way.stations, way.edges, line.positions(), strict=False)
                if (turn := self._turn(station, edge, position)) is not None
            ),
        )

    def _turn(self, station: int, edge: int, position: Position) -> OrderTurn | None:
        passage, graph = self.audited.passage, self.audited.graph
        others = [int(passage.edges[move]) for move in passage.moves_of(station)]
        if len(others) < 2:
            return None
        others.sort(key=lambda one: (-float(self.audited.traffic.edges[one]), one))
        return OrderTurn(
            side=position.turn.value,
            move=Line(position, (graph.move(edge),)).san(),
            instead=tuple(position.san(graph.move(one)) for one in others if one != edge),
        )

    def side(self, side: SideAudit, avoid: Sequence[Condition]) -> ForSide:
        numbers = self._numbers(side)
        options = _by_move(side.options)
        met = [self._met(way, options) for way in self.ways]
        # What only orders from another root meet is no loss of this one: that was decided at the root.
        from_root: dict[int, set[str]] = {}
        for way, keeps in zip(self.ways, met, strict=True):
            from_root.setdefault(way.stations[0], set()).update(keeps)
        return ForSide(
            side=side.side.value,
            orders=tuple(
                OrderForSide(
                    order=number,
                    risks=tuple(
                        self._risk(side, voice, risks, way, numbers) for voice, risks in side.risks.items()
                    ),
                    keeps=tuple(keeps),
                    shuts=tuple(one for one in options if one in from_root[way.stations[0]] - set(keeps)),
                    open_until=tuple(self._open_until(way)),
                )
                for number, (way, keeps) in enumerate(zip(self.ways, met, strict=True), 1)
            ),
            deviations=tuple(
                self._deviation(side, index, number)
                for index, number in sorted(numbers.items(), key=lambda pair: pair[1])
            ),
            best=tuple(
                self._best(side, voice, root) for voice in side.risks for root in self.audited.passage.roots
            ),
            avoidable=self._avoidable(side, avoid),
        )

    def _numbers(self, side: SideAudit) -> dict[int, int]:
        """The deviations by index, numbered from what takes most, then by games and traffic."""
        first = next(iter(side.risks.values()), None)
        nodes, flow = self.audited.passage.nodes, self.audited.traffic.nodes

        def rank(index: int) -> tuple[float, int, float, int]:
            one = side.deviations[index]
            taken = -math.inf if first is None else first.takes[index].low
            return (
                -taken if taken > 0 else 0.0,
                -sum(one.games.values()),
                -float(flow[nodes[one.station]]),
                index,
            )

        order = sorted(range(len(side.deviations)), key=rank)
        return {index: number for number, index in enumerate(order, 1)}

    @cached_property
    def _passers(self) -> dict[int, tuple[int, ...]]:
        """The listed orders by the stations they pass."""
        found: dict[int, list[int]] = {}
        for number, way in enumerate(self.ways, 1):
            for station in way.stations:
                found.setdefault(station, []).append(number)
        return {station: tuple(numbers) for station, numbers in found.items()}

    def _deviation(self, side: SideAudit, index: int, number: int) -> Deviation:
        audited, one = self.audited, side.deviations[index]
        root, after = self._told(one.station)
        line = audited.line_to(one.station)
        return Deviation(
            number=number,
            root=root,
            after=after,
            fen=line.end.fen,
            move=Line(line.end, (one.move,)).san(),
            unit_to=one.plain.replace("x", "") if one.plain[0].isupper() else one.plain,
            side=side.side.other.value,
            values=tuple(self._taken(voice, risks, one, index) for voice, risks in side.risks.items()),
            games=one.games,
            manuscript="answered" if one.answered else "mentioned" if one.written else "no",
            may_return=None if audited.beside is None else one.after in audited.beside,
            orders=self._passers.get(one.station, ()),
            in_every_order=one.station in audited.passage.shared,
            of_orders=_counted(int(audited.passage.passing[one.station])),
            flow=100.0 * float(audited.traffic.nodes[audited.passage.nodes[one.station]]),
        )

    def _told(self, station: int) -> tuple[str | None, str]:
        """The root of the heaviest order to a station, by name, and the moves from there."""
        audited = self.audited
        start, edges = audited.passage.way_to(station)
        root = int(audited.passage.nodes[start])
        begin = audited.tell.root_line(root).end
        return audited.tell.root_name(root), Line(begin, tuple(map(audited.graph.move, edges))).san()

    def _taken(self, voice: str, risks: Risks, one: Exit, index: int) -> Taken:
        audited = self.audited
        worth = audited.worths[voice].of_move(int(audited.passage.nodes[one.station]), one.packed, one.child)
        span = risks.takes[index]
        known = not (math.isinf(span.low) or math.isinf(span.high))
        if worth is None:
            expected, certainty = None, "unknown"
        elif worth.expected.is_exact:
            expected, certainty = worth.expected.low, "value"
        elif worth.expected.high == 100.0:
            expected, certainty = worth.expected.low, "at least"
        else:
            expected, certainty = worth.expected.high, "at most"
        return Taken(
            voice=voice,
            expected=expected,
            certainty=certainty,
            takes=Figure(at_least=span.low, at_most=span.high) if known else None,
            noise=risks.noise[index],
        )

    def _risk(
        self, side: SideAudit, voice: str, risks: Risks, way: Way, numbers: dict[int, int]
    ) -> OrderRisk:
        shared = self.audited.passage.shared
        on_way = [index for station in way.stations for index in side.by_station.get(station, ())]
        apart = [index for index in on_way if side.deviations[index].station not in shared]

        def worst(indices: Sequence[int]) -> int | None:
            taking = [index for index in indices if risks.takes[index].low > 0]
            return max(taking, key=lambda index: (risks.takes[index].low, -index), default=None)

        first, second = worst(on_way), worst(apart)
        return OrderRisk(
            voice=voice,
            risk=_figure(risks.along(way.stations)),
            price=_figure(risks.price(station for station in way.stations if station not in shared)),
            worst=None if first is None else numbers[first],
            worst_apart=None if second is None else numbers[second],
            noise=None if first is None else risks.noise[first],
            unknown=sum(math.isinf(risks.takes[index].high) for index in on_way),
            unwatched=sum(math.isinf(risks.rest[station]) for station in way.stations),
        )

    def _met(self, way: Way, options: dict[str, set[int]]) -> list[str]:
        on_way = set(way.stations)
        return [option for option, stations in options.items() if stations & on_way]

    def _open_until(self, way: Way) -> list[StaysOpen]:
        positions, graph = self.audited.line_of(way).positions(), self.audited.graph
        found = []
        for name, basin in self._basins.items():
            inside = [int(self.audited.passage.nodes[station]) in basin for station in way.stations]
            if inside[0] and not inside[-1]:
                last = max(at for at, is_in in enumerate(inside) if is_in)
                move = Line(positions[last], (graph.move(way.edges[last]),)).san()
                found.append(StaysOpen(name=name, until=move, side=positions[last].turn.value))
        return found

    @cached_property
    def _basins(self) -> dict[str, set[int]]:
        """From where each named place can be reached by moves that were played or written; the target's own name aside."""
        graph = self.audited.graph
        walked = np.unique(graph.edge_counts.places)
        offsets = np.searchsorted(walked, graph.offsets).astype(np.uint32)
        core = _core.GraphCore(offsets, np.ascontiguousarray(graph.targets[walked]))
        nodes = {name: graph.node_of(place.position) for name, place in self.audited.tell.names.items()}
        return {
            name: set(core.basin(node).tolist())
            for name, node in nodes.items()
            if node is not None and node != self.audited.node
        }

    def _best(self, side: SideAudit, voice: str, root: int) -> BestOrder:
        audited, passage = self.audited, self.audited.passage
        risks = side.risks[voice]
        flow = audited.traffic.edges
        edges: list[int] = []
        station = root
        while station != passage.target:
            own = side.best_move(voice, station)
            if _turn_of(audited, station) is not side.side:
                own = max(
                    passage.moves_of(station), key=lambda move: (float(flow[passage.edges[move]]), -move)
                )
            assert own is not None
            edges.append(int(passage.edges[own]))
            station = int(passage.targets[own])
        line = audited.tell.root_line(int(passage.nodes[root]))
        return BestOrder(
            root=audited.tell.root_name(int(passage.nodes[root])) or line.san(),
            voice=voice,
            guaranteed=_figure(risks.guaranteed(root)),
            moves=Line(line.end, tuple(map(audited.graph.move, edges))).san(),
            choices=tuple(self._choices(side, voice, root)),
        )

    def _choices(self, side: SideAudit, voice: str, root: int) -> list[Guidance]:
        """What to play at each fork of the side that can come about when it plays so."""
        audited, passage = self.audited, self.audited.passage
        met, open_, found = {root}, [root], []
        while open_:
            station = open_.pop()
            moves = list(passage.moves_of(station))
            if _turn_of(audited, station) is side.side and moves:
                best = side.best_move(voice, station)
                assert best is not None
                if len(moves) > 1:
                    found.append((station, best, [move for move in moves if move != best]))
                moves = [best]
            for move in moves:
                target = int(passage.targets[move])
                if target not in met:
                    met.add(target)
                    open_.append(target)
        flow = audited.traffic.nodes
        found.sort(key=lambda one: (-float(flow[passage.nodes[one[0]]]), one[0]))
        return [self._guidance(*one) for one in found]

    def _guidance(self, station: int, best: int, others: Sequence[int]) -> Guidance:
        graph, passage = self.audited.graph, self.audited.passage
        _, after = self._told(station)
        end = self.audited.line_to(station).end
        return Guidance(
            after=after,
            move=Line(end, (graph.move(int(passage.edges[best])),)).san(),
            instead=tuple(end.san(graph.move(int(passage.edges[move]))) for move in others),
        )

    def _avoidable(self, side: SideAudit, avoid: Sequence[Condition]) -> bool | None:
        if not avoid:
            return None
        stations: set[int] = set()
        for condition in avoid:
            found, edges = where_avoided(self.audited, condition)
            played = [
                int(source)
                for source, edge in zip(self.audited.passage.sources, self.audited.passage.edges, strict=True)
                if int(edge) in edges
            ]
            stations |= found | set(played)
        return side.can_avoid(stations)


def _turn_of(audited: Audit, station: int) -> Side:
    return Side.WHITE if audited.graph.white[audited.passage.nodes[station]] else Side.BLACK


def _by_move(exits: Sequence[Exit]) -> dict[str, set[int]]:
    """The stations of a side's own alternatives by unit and destination, those with most games first."""
    weights: dict[str, int] = {}
    stations: dict[str, set[int]] = {}
    for one in exits:
        weights[one.plain] = weights.get(one.plain, 0) + sum(one.games.values())
        stations.setdefault(one.plain, set()).add(one.station)
    return {move: stations[move] for move in sorted(stations, key=lambda move: (-weights[move], move))}
