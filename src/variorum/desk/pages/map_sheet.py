"""The map as it is drawn and as it is told: one chart, laid out for `map.js`, and the same lines as a running list."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import msgspec
import numpy as np

from variorum.board import Line
from variorum.build.opened import OpenEdition
from variorum.desk.layout import Sheet, lay_out
from variorum.desk.map_find import Finding, disputed, find, unanswered
from variorum.desk.moves import address, printed
from variorum.desk.pages.map_asked import MapAsked
from variorum.desk.pages.map_list import Forks, Row, Telling
from variorum.desk.render import share
from variorum.edition import resolve_place
from variorum.graph.chart import Chart, ChartFlow, ChartPlace, chart
from variorum.graph.landmarks import inside, landmarks, reached_from
from variorum.graph.telling import MapValue

__all__ = ["Concord", "Drawing", "Drawn", "draw_map"]

_LETTERS: Final = "KLMNOPQSTUVWXYZABCDEFHIJ"
"""Marks of the places on the sheet, in this order, then again with a number; G and R would be read as games and the resident."""
_LEAST: Final = 0.2
"""A flow is drawn from this share of the traffic on, divided by the number of places."""
_MARKED: Final = 24
"""Places found that are drawn; all others are listed."""
_LISTED: Final = 60
_LONG: Final = 12
"""Moves of a line that are printed on the sheet; of a longer one the first and the last."""


class Concord(msgspec.Struct, frozen=True, kw_only=True):
    """A place with a mark: by which moves it is reached from which other places, its games, what each voice says."""

    number: int
    sig: str
    name: str
    href: str
    orders: str
    ways: tuple[tuple[str, str], ...]
    more: int
    """Other orders on the same ways."""
    thinner: bool
    """Whether it is a confluence: where one way is drawn, there are others."""
    games: int
    flow: float
    values: dict[str, MapValue]


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """A place that was found: whether it is on the sheet (by number), how it is reached, why it was found."""

    number: int | None
    name: str
    moves: str
    words: str
    flow: float
    href: str


class Folded(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch that is unfolded, in words, and the address without it."""

    words: str
    href: str


class Drawn(msgspec.Struct, frozen=True, kw_only=True):
    """What the template and `map.js` need. `data` is JSON; `unit` is the percent of the traffic that one line stands for."""

    data: str
    unit: float
    places: int
    concordance: tuple[Concord, ...]
    sigla: tuple[tuple[str, str], ...]
    """Mark and name of the voices with a value on the sheet."""
    rows: tuple[tuple[Row | Forks, ...], ...]
    found: tuple[Found, ...]
    found_count: int
    unfolded: tuple[Folded, ...]
    author: bool


def draw_map(opened: OpenEdition, name: str, asked: MapAsked) -> Drawn | None:
    """The map that was asked for; `None` where no line leads anywhere yet.

    Args:
        opened: The edition.
        name: Its name on the shelf.
        asked: What the reader asked.

    Raises:
        InputError: The place it is to begin at is none of the edition's.
    """
    begins = _begins(opened, asked)
    among = None if begins is None else reached_from(opened.graph, begins[0])
    findings = _findings(opened, asked)
    if among is not None:
        findings = [one for one in findings if among[one.node]]
    wanted = [one.node for one in findings[:_MARKED]]
    least = _LEAST / max(asked.places, 8)
    marked = landmarks(opened.tell, asked.places, least=least, among=among)
    first = len(marked)
    roots = [int(root) for root in np.unique(opened.graph.roots)] if begins is None else begins
    unfolded = []
    for stretch in asked.open:
        inner = _inside(opened, stretch, {*roots, *marked, *wanted})
        if inner is not None:
            start, nodes = inner
            unfolded.append(
                Folded(words=_called(opened, start, nodes), href=asked.folding(_map(name), stretch))
            )
            marked += nodes
    drawn = chart(
        opened.tell,
        [*marked, *wanted],
        roots=begins,
        wanted={*wanted, *marked[first:]},
        author=_author(opened),
        least=least,
        ends=max(6, round(0.6 * (asked.places + len(marked) - first))),
    )
    if not drawn.flows:
        return None
    return Drawing(opened, name, asked, drawn).drawn(findings, tuple(unfolded))


def _map(name: str) -> str:
    return address(name, "map")


def _begins(opened: OpenEdition, asked: MapAsked) -> list[int] | None:
    return [opened.node(resolve_place(opened.edition, asked.under))] if asked.under else None


def _findings(opened: OpenEdition, asked: MapAsked) -> list[Finding]:
    found = find(opened, asked.find) if asked.find else None
    if asked.only:
        chosen = unanswered(opened) if asked.only == "unanswered" else disputed(opened)
        both = None if found is None else {one.node for one in found}
        return [one for one in chosen if both is None or one.node in both]
    return found or []


def _inside(opened: OpenEdition, stretch: str, marked: set[int]) -> tuple[int, list[int]] | None:
    """Where an unfolded stretch begins, and the nodes that it shows; `None` where the edition no longer has it."""
    keys = opened.graph.keys
    ends = [np.flatnonzero(keys == np.uint64(int(part, 16))) for part in stretch.split("-")]
    if any(len(one) != 1 for one in ends):
        return None
    start, end = (int(one[0]) for one in ends)
    nodes = [node for node in inside(opened.tell, start, end, marked) if node not in marked]
    return (start, nodes) if nodes else None


def _called(opened: OpenEdition, start: int, nodes: Sequence[int]) -> str:
    """An unfolded stretch in words: its moves."""
    last = max(nodes, key=lambda node: opened.tell.way(node).end.ply)
    before, whole = opened.tell.way(start), opened.tell.way(last)
    ahead = len(before.moves)
    if whole.start != before.start or whole.moves[:ahead] != before.moves:
        return printed(opened.tell.short_way(last))
    return printed(Line(before.end, whole.moves[ahead:]).san())


def _author(opened: OpenEdition) -> set[int]:
    """Edges of the main text of the manuscript; what follows a null move is no play."""
    if opened.manuscript is None:
        return set()
    graph, columns = opened.graph, opened.manuscript.index.columns
    main = np.flatnonzero(columns.node_variation < 0)
    parents = columns.node_parent[main]
    nulls = np.cumsum((columns.node_move[main] == 0) & (parents >= 0))
    begins = nulls[parents < 0][np.cumsum(parents < 0) - 1]
    played = main[(parents >= 0) & (nulls == begins)]
    sources = graph.nodes_of(columns.node_key[columns.node_parent[played]])
    targets = graph.nodes_of(columns.node_key[played])
    there = (sources >= 0) & (targets >= 0)
    return set(graph.edges_between(sources[there], targets[there]).tolist())


class Drawing:
    """One chart with marks and words for its places."""

    def __init__(self, opened: OpenEdition, name: str, asked: MapAsked, drawn: Chart) -> None:
        self.opened, self.name, self.asked, self.chart = opened, name, asked, drawn
        taken = {*opened.sigla.values()}
        letters = [letter for letter in _LETTERS if letter not in taken]
        marked = [place.number for place in drawn.places if place.kind in ("name", "confluence")]
        self.marks = {
            place: letters[rank % len(letters)]
            + (f"{rank // len(letters) + 1}" if rank >= len(letters) else "")
            for rank, place in enumerate(marked)
        }
        self.voice = self._voice()
        self.moves = [printed(flow.moves) for flow in drawn.flows]

    def _voice(self) -> str:
        """The voice that was asked for, else the one that has most to say here."""
        counts: dict[str, int] = {}
        for place in self.chart.places:
            for value in place.values:
                counts[value.voice] = counts.get(value.voice, 0) + 1
        for voice in counts:
            if self.asked.voice in (voice, self.opened.sigla[voice]):
                return voice
        return max(counts, key=lambda voice: counts[voice], default="") if not self.asked.voice else ""

    def value(self, place: ChartPlace) -> MapValue | None:
        """What the voice of the sheet thinks of a place."""
        return next((value for value in place.values if value.voice == self.voice), None)

    def href(self, place: ChartPlace) -> str:
        """The position page of a place."""
        return address(self.name, "position", at=place.line)

    def short(self, place: ChartPlace) -> str:
        """A place in a word or two: mark, name or moves."""
        return self.marks.get(place.number) or place.name or printed(_last_move(place.line))

    def words(self, place: ChartPlace) -> list[tuple[str, str]]:
        """The lines beside a place, each with the class it is set in."""
        lines = []
        if place.kind == "root":
            return [("name", place.name or "root"), ("sub", _games(place.games))]
        if place.name:
            lines.append(("called", place.name))
        value = self.value(place)
        if value is not None:
            lines.append(("value", _value(value)))
        if place.kind not in ("end", "fork"):
            lines.append(("sub", _games(place.games)))
        return lines

    def way(self, node: int) -> tuple[str, str]:
        """A node by the last name on its way and the moves behind it."""
        short = self.opened.tell.short_way(node)
        names = (name for name in self.opened.edition.places if f"{short} ".startswith(f"{name} "))
        name = max(names, key=len, default="")
        return name, printed(short[len(name) :].strip())

    def drawn(self, findings: Sequence[Finding], unfolded: tuple[Folded, ...]) -> Drawn:
        """All of it, laid out and told."""
        words = [self.words(place) for place in self.chart.places]
        sheet = lay_out(
            self.chart,
            [_shortened(moves) for moves in self.moves],
            [[text for _, text in lines] for lines in words],
            [self._note(flow) for flow in self.chart.flows],
        )
        numbers = {place.key: place.number for place in self.chart.places if place.kind != "end"}
        keys = self.opened.graph.keys
        found = []
        for one in findings[:_LISTED]:
            name, moves = self.way(one.node)
            line = self.opened.tell.way(one.node).san()
            found.append(
                Found(
                    number=numbers.get(f"{int(keys[one.node]):016x}"),
                    name=name,
                    moves=moves,
                    words=one.words,
                    flow=100.0 * float(self.opened.traffic.nodes[one.node]),
                    href=address(self.name, "position", at=line),
                )
            )
        spoken = {value.voice for place in self.chart.places for value in place.values}
        return Drawn(
            data=msgspec.json.encode(self._data(sheet, words, {one.number for one in found})).decode(),
            unit=sheet.unit,
            places=sum(place.kind != "end" for place in self.chart.places),
            concordance=self._concordance(),
            sigla=tuple((self.opened.sigla[voice], voice) for voice in self.opened.sigla if voice in spoken),
            rows=Telling(self, [flow.lines for flow in sheet.flows]).rows(),
            found=tuple(found),
            found_count=len(findings),
            unfolded=unfolded,
            author=any(flow.author for flow in self.chart.flows),
        )

    def _data(
        self, sheet: Sheet, words: list[list[tuple[str, str]]], found: set[int | None]
    ) -> dict[str, Any]:
        places = [
            {
                **msgspec.structs.asdict(at),
                "key": place.key,
                "kind": "tabiya" if place.kind == "name" else place.kind,
                "sig": self.marks.get(place.number, ""),
                "words": lines,
                "href": self.href(place),
                "found": place.number in found,
                "label": self._place_label(place),
            }
            for place, at, lines in zip(self.chart.places, sheet.places, words, strict=True)
        ]
        flows = [
            {
                **msgspec.structs.asdict(laid),
                "red": flow.author,
                "unfold": self.unfold(flow),
                "label": self._flow_label(flow, moves),
            }
            for flow, laid, moves in zip(self.chart.flows, sheet.flows, self.moves, strict=True)
        ]
        return {"width": sheet.width, "height": sheet.height, "places": places, "flows": flows}

    def unfold(self, flow: ChartFlow) -> str:
        """The address at which a flow is unfolded; "" where there is nothing inside."""
        start, end = self.chart.places[flow.start], self.chart.places[flow.end]
        if end.kind != "end" and not flow.more and len(flow.moves.split()) < 2:
            return ""
        return self.asked.unfolding(_map(self.name), f"{start.key}-{end.key}")

    def _note(self, flow: ChartFlow) -> str:
        """What stands under the moves of a flow: the score at its end where no place is, or how many other orders it has."""
        end = self.chart.places[flow.end]
        value = self.value(end) if end.kind == "end" else None
        if value is not None:
            return _value(value)
        return f"or {_orders(flow.more)}" if flow.more and end.kind != "end" else ""

    def _place_label(self, place: ChartPlace) -> str:
        """What else is said of a place to those who do not see the sheet, behind the words beside it."""
        value = self.value(place)
        ways = sum(flow.end == place.number for flow in self.chart.flows)
        said = [
            f"after {printed(place.line)}",
            f"expected score for White by {value.voice}" if value else "",
            f"{ways} lines come together here" if ways > 1 else "",
        ]
        return ", ".join(filter(None, said))

    def _flow_label(self, flow: ChartFlow, moves: str) -> str:
        """What else is said of a flow to those who do not see the sheet, behind its moves."""
        start, end = self.chart.places[flow.start], self.chart.places[flow.end]
        to = "" if end.kind == "end" else f" to {self.short(end)}"
        whole = f", in full {moves}" if moves != _shortened(moves) else ""
        more = f", {_orders(flow.more)}" if flow.more else ""
        own = ", your main line" if flow.author else ""
        return f"from {self.short(start)}{to}, {share(flow.flow)} % of the traffic{more}{own}{whole}"

    def _concordance(self) -> tuple[Concord, ...]:
        found = []
        for place in self.chart.places:
            if place.number not in self.marks:
                continue
            into = [flow for flow in self.chart.flows if flow.end == place.number]
            found.append(
                Concord(
                    number=place.number,
                    sig=self.marks[place.number],
                    name=place.name,
                    href=self.href(place),
                    orders=address(self.name, "orders", at=place.name or place.line),
                    ways=tuple(
                        (printed(_last_move(flow.moves)), self.short(self.chart.places[flow.start]))
                        for flow in into
                    ),
                    more=sum(flow.more for flow in into),
                    thinner=place.kind == "confluence",
                    games=place.games,
                    flow=place.flow,
                    values={value.siglum: value for value in place.values},
                )
            )
        return tuple(found)


def _last_move(line: str) -> str:
    """The last move of a line, with its number."""
    moves = line.split()
    if not moves:
        return "the start"
    last = moves[-1]
    if last[0].isdigit():
        return last
    number = next((word.partition(".")[0] for word in reversed(moves) if word[0].isdigit()), "")
    return f"{number}...{last}"


def _shortened(moves: str) -> str:
    words = moves.split(" ")
    if len(words) <= _LONG:
        return moves
    return " ".join([*words[: _LONG - 4], "…", *words[-2:]])


def _value(value: MapValue) -> str:
    sign = {"at least": "≥ ", "at most": "≤ "}.get(value.certainty, "")
    noise = "" if value.noise is None else f" ± {value.noise:.1f}"
    return f"{value.siglum} {sign}{value.expected:.1f}{noise}"


def _games(number: int) -> str:
    return f"{number:,} {'game' if number == 1 else 'games'}" if number else "no games"


def _orders(more: int) -> str:
    return f"{more} more {'order' if more == 1 else 'orders'}"
