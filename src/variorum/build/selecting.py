"""What the short text should contain: the lines and diagrams of greatest reach, and what the present text reaches."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
import numpy as np

from variorum.base import InputError
from variorum.board import Line, Move, Position
from variorum.build.off_graph import cited_places
from variorum.build.opened import OpenEdition
from variorum.build.report import Reach
from variorum.choice.reach import beginnings, reach_of
from variorum.choice.selection import Selection, greatest_reach
from variorum.claims.lines import read_line
from variorum.edition import Place, resolve_place
from variorum.edition.digest import SpanKind
from variorum.graph import TEXT_KIND, Certainty, NodeValue, VoiceValues, Why
from variorum.publish.private import names_in
from variorum.scout.wishes import HEAVY

__all__ = ["ChosenDiagram", "ChosenLine", "Reached", "Selector", "Unreached", "digest_reach"]

_UNREACHED = 8
_PLIES = 8
"""Half-moves of a root's own verdict that count as the line that decides its value."""


class ChosenLine(msgspec.Struct, frozen=True, kw_only=True):
    """A line for the short text: its moves from the place `of`, and where it ends.

    `flow` is the share of the traffic that passes its end, `adds` what it adds to the reach of the lines chosen for theirs, both
    in percent. `decides` names the root whose value its end decides, empty where it was chosen for its reach.
    """

    of: str
    moves: str
    end: str
    flow: float
    adds: float
    decides: str = ""


class ChosenDiagram(msgspec.Struct, frozen=True, kw_only=True):
    """A diagram for the short text; `flow` and `adds` as for a line, `orders` how many orders of moves lead there."""

    place: str
    named: bool
    flow: float
    adds: float
    orders: int


class Unreached(msgspec.Struct, frozen=True, kw_only=True):
    """Where a line could end that a text does not have, with the share of the traffic, in percent, that it would answer more."""

    place: str
    flow: float


class Reached(msgspec.Struct, frozen=True, kw_only=True):
    """What a digest reaches: the share of the traffic, in percent, by how many places, and the line ends that would add most."""

    reach: float
    places: int
    left_out: tuple[Unreached, ...]


def digest_reach(opened: OpenEdition) -> Reach | None:
    """What the digest of an edition reaches, `None` where it has none.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
        Interrupted: The user stopped.
    """
    if opened.digest is None:
        return None
    answers = Selector(opened).answers()
    return Reach(100.0 * reach_of(opened.traffic, answers), len(answers), opened.traffic.words)


class Selector:
    """Looks for lines and diagrams in an open edition. A private name is never used."""

    def __init__(self, opened: OpenEdition) -> None:
        self._opened = opened
        edition = opened.edition
        self.names = {
            name: place for name, place in edition.names.items() if not names_in(name, edition.settings)
        }
        self.known = {
            name: place for name, place in edition.places.items() if not names_in(name, edition.settings)
        }

    @property
    def voice(self) -> tuple[str, VoiceValues] | None:
        """The edition's first voice that has judged anything, and its values."""
        values = self._opened.values
        asked = [name for name in self._opened.edition.settings.budget.voices if name in values]
        name = next(iter([*asked, *values]), None)
        return None if name is None else (name, values[name])

    # Lines and diagrams

    def lines(self, count: int) -> tuple[list[ChosenLine], Selection]:
        """At most `count` lines; those that decide the value of a root are always among them, the others are of greatest reach."""
        traffic = self._opened.traffic
        deciding = self._deciding()
        # Apart: a line that decides may end on the main road, and would leave nothing to what goes on from there.
        ends = [node for node in self._ends() if node not in deciding]
        rest = greatest_reach(traffic, ends, max(0, count - len(deciding)))
        lines = [self._chosen(node, line, 0.0, root) for node, (root, line) in deciding.items()]
        for node, adds in zip(rest.nodes, rest.adds, strict=True):
            lines.append(self._chosen(node, self._opened.tell.way(node), adds, ""))
        nodes = (*deciding, *rest.nodes)
        reach = reach_of(traffic, nodes)
        return lines, Selection(nodes=nodes, adds=(), reach=reach, bound=min(1.0, reach + rest.gap))

    def _chosen(self, node: int, line: Line, adds: float, root: str) -> ChosenLine:
        of, moves = self.divided(line)
        return ChosenLine(
            of=of,
            moves=moves,
            end=f"{of} {moves}".strip(),
            flow=100.0 * float(self._opened.traffic.nodes[node]),
            adds=100.0 * adds,
            decides=root,
        )

    def _deciding(self) -> dict[int, tuple[str, Line]]:
        """By the leaf that decides the value of a root: the root, and the best play to it."""
        if self.voice is None:
            return {}
        found: dict[int, tuple[str, Line]] = {}
        for root in self._opened.edition.roots:
            node = self._opened.graph.node_of(root.position)
            if node is None:
                continue
            path = self._deciding_path(node)
            if len(path) > 1 and path[-1] not in found:
                line = root.line or Line(root.position)
                for child in path[1:]:
                    line = line.play(self.move_to(line.end, child))
                found[path[-1]] = (root.name or root.text, line)
        return found

    def _deciding_path(self, node: int) -> list[int]:
        """Best play to the leaf that decides a value, and where that is the position itself, along its verdict on the graph."""
        assert self.voice is not None
        voice, values = self.voice
        path = self.best_play(node, values)
        if len(path) == 1:
            position = self._opened.graph.position(node)
            verdict = self._opened.verdicts.on(position).get(voice)
            for uci in verdict.lines[0].moves[:_PLIES] if verdict is not None and verdict.lines else ():
                position = position.play(Move(uci))
                child = self._opened.graph.node_of(position)
                if child is None or child in path:
                    break
                path.append(child)
        return path

    def best_play(self, node: int, values: VoiceValues) -> list[int]:
        """The nodes from one to the leaf that decides its value, itself first."""
        graph = self._opened.graph
        path = [node]
        found: NodeValue = values.at(graph, node)
        while (
            found.certainty is Certainty.VALUE
            and found.leaf not in (None, path[-1])
            and found.via is not None
        ):
            child = graph.node_of(graph.position(path[-1]).play(found.via))
            if child is None or child in path:
                break
            path.append(child)
            found = values.at(graph, child)
        return path

    def move_to(self, position: Position, child: int) -> Move:
        """The move from a position to a node."""
        target = self._opened.graph.position(child)
        return next(move for move in position.legal_moves() if position.play(move) == target)

    def _ends(self) -> list[int]:
        """Where lines may end: the ends of the manuscript's lines, and where the traffic thins out."""
        graph, traffic = self._opened.graph, self._opened.traffic
        written = graph.edge_counts.totals(graph.edges, graph.channels_of(TEXT_KIND)) > 0
        goes_on = np.bincount(graph.sources[written], minlength=graph.nodes) > 0
        text = (graph.why & Why.TEXT) != 0
        heavy = traffic.nodes >= HEAVY
        heavy_after = (
            np.bincount(graph.sources[heavy[graph.targets] & ~traffic.returns], minlength=graph.nodes) > 0
        )
        ends = (text & ~goes_on) | (heavy & ~heavy_after)
        return [int(node) for node in np.flatnonzero(ends & ~beginnings(traffic))]

    def diagrams(self, count: int) -> tuple[list[ChosenDiagram], Selection]:
        """At most `count` diagrams: the author's own tabiyas first, then positions where played or written orders meet."""
        graph, traffic = self._opened.graph, self._opened.traffic
        own = {
            node: name
            for name, place in self.names.items()
            if (node := graph.node_of(place.position)) is not None
        }
        first = greatest_reach(traffic, own, count)
        # A tabiya behind another adds nothing to the reach, and is a tabiya all the same.
        left = sorted(own.keys() - set(first.nodes), key=lambda node: (-traffic.nodes[node], node))
        always = [*first.nodes, *left[: max(0, count - len(first.nodes))]]
        selection = greatest_reach(traffic, self._meetings(), count, always)
        diagrams = [
            ChosenDiagram(
                place=own.get(node) or self.said(self._opened.tell.way(node)),
                named=node in own,
                flow=100.0 * float(traffic.nodes[node]),
                adds=100.0 * adds,
                orders=traffic.orders_to(node, 1).count,
            )
            for node, adds in zip(selection.nodes, selection.adds, strict=True)
        ]
        return diagrams, selection

    def _meetings(self) -> list[int]:
        graph, traffic = self._opened.graph, self._opened.traffic
        walked = np.zeros(graph.edges, np.bool_)
        walked[graph.edge_counts.places] = True
        came_in = np.bincount(graph.targets[walked & ~traffic.returns], minlength=graph.nodes)
        meetings = (came_in >= 2) & (traffic.nodes >= HEAVY) & ~beginnings(traffic)
        return [int(node) for node in np.flatnonzero(meetings)]

    # How places are said

    def divided(self, line: Line) -> tuple[str, str]:
        """A line as the last named place on it and the moves from there; the start of chess where it passes none."""
        positions = line.positions()
        for ply in range(len(positions) - 1, -1, -1):
            for name, place in self.known.items():
                if place.position == positions[ply]:
                    return name, Line(place.position, line.moves[ply:]).san()
        if line.start == Position.start():
            return "start", line.san()
        return line.start.fen, line.san()

    def said(self, line: Line) -> str:
        """A place by the last name on the way to it and moves."""
        of, moves = self.divided(line)
        return f"{of} {moves}".strip()

    # What a digest reaches

    def reached(self) -> Reached:
        """What the edition's digest reaches; nothing where there is none."""
        answers = self.answers()
        return Reached(
            reach=100.0 * reach_of(self._opened.traffic, answers),
            places=len(answers),
            left_out=tuple(self._left_out(answers)),
        )

    def answers(self) -> list[int]:
        """The nodes at which the edition's digest answers what comes there."""
        graph, empty = self._opened.graph, beginnings(self._opened.traffic)
        nodes = {graph.node_of(position) for position in self._treated()}
        return sorted(node for node in nodes if node is not None and not empty[node])

    def place(self, text: str) -> Place:
        """The place that a text says."""
        return resolve_place(self._opened.edition, text)

    def _treated(self) -> Iterator[Position]:
        """Positions that the digest treats: of diagrams, other blocks, facts and claims; and ends of its lines."""
        digest = self._opened.digest
        if digest is None:
            return
        for span in digest.spans():
            if span.kind is SpanKind.LINE:
                line, _ = read_line(span, self, digest.path)
                if line is not None:
                    yield line.end
        for text in (*digest.shown_places(), *(text for text, _ in cited_places(digest))):
            try:
                yield self.place(text).position
            except InputError:
                continue  # `check` tells of it

    def _left_out(self, answers: list[int]) -> Iterator[Unreached]:
        """The line ends at which most traffic ends that has met nothing of the text."""
        opened = self._opened
        more = greatest_reach(opened.traffic, self._ends(), len(answers) + _UNREACHED, answers)
        for node, adds in zip(more.nodes[len(answers) :], more.adds[len(answers) :], strict=True):
            if adds > 0:
                yield Unreached(place=self.said(opened.tell.way(node)), flow=100.0 * adds)
