"""The map as a running list, for a narrow page: the lines with their forks, and what comes to a place from elsewhere as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import msgspec

from variorum.desk.moves import printed
from variorum.graph.chart import ChartPlace
from variorum.graph.telling import MapValue

if TYPE_CHECKING:
    from variorum.desk.pages.map_sheet import Drawing

__all__ = ["Forks", "Row", "Telling"]


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """A line of the running list: moves to a place, or to where a line ends that leads to none."""

    moves: str
    share: float
    lines: int
    author: bool
    name: str
    sig: str
    line: str
    """The moves to the place where a list begins."""
    value: MapValue | None
    games: int
    href: str
    unfold: str
    joins: str = ""
    """Where the place is told elsewhere: what it is called there."""
    also: tuple[str, ...] = ()
    """Other ways that come to the place, as text."""
    key: str = ""


class Forks(msgspec.Struct, frozen=True):
    """Lists that leave the place of the row before them; the list that holds them goes on by the main line."""

    branches: tuple[tuple[Row | Forks, ...], ...]


class Telling:
    """The chart as a running list: each place is told once, where most of its traffic comes from."""

    def __init__(self, drawing: Drawing, lines: Sequence[int]) -> None:
        self.drawing, self.lines = drawing, lines
        flows = drawing.chart.flows
        self.out: dict[int, list[int]] = {}
        self.told_by: dict[int, int] = {}
        self.into: dict[int, list[int]] = {}
        for number, flow in enumerate(flows):
            self.out.setdefault(flow.start, []).append(number)
            self.into.setdefault(flow.end, []).append(number)
            known = self.told_by.get(flow.end)
            if known is None or flow.flow > flows[known].flow:
                self.told_by[flow.end] = number
        self.seen: set[int] = set()

    def rows(self) -> tuple[tuple[Row | Forks, ...], ...]:
        """One running list for each place where the chart begins."""
        chart_ = self.drawing.chart
        begins = [
            place for place in chart_.places if place.kind == "root" and place.number not in self.told_by
        ]
        return tuple((self._row(place, None), *self._onward(place.number)) for place in begins)

    def _row(self, place: ChartPlace, number: int | None) -> Row:
        drawing = self.drawing
        flow = None if number is None else drawing.chart.flows[number]
        joins = flow is not None and self.told_by[place.number] != number
        also = (
            ()
            if joins
            else tuple(self._also(one) for one in self.into.get(place.number, ()) if one != number)
        )
        return Row(
            moves="" if flow is None else printed(flow.moves),
            share=place.flow if flow is None else flow.flow,
            lines=0 if number is None else self.lines[number],
            author=flow is not None and flow.author,
            name=place.name,
            sig=drawing.marks.get(place.number, ""),
            line=printed(place.line) if flow is None else "",
            value=drawing.value(place),
            games=place.games,
            href=drawing.href(place),
            unfold="" if flow is None else drawing.unfold(flow),
            joins=drawing.short(place) if joins else "",
            also=also,
            key=place.key,
        )

    def _also(self, number: int) -> str:
        flow = self.drawing.chart.flows[number]
        start = self.drawing.short(self.drawing.chart.places[flow.start])
        return f"{printed(flow.moves)} out of {start}"

    def _onward(self, place: int) -> list[Row | Forks]:
        """What follows a place: branches hang on the row before which they leave, the heaviest goes on as the list does."""
        rows: list[Row | Forks] = []
        while place not in self.seen:
            self.seen.add(place)
            flows = self.drawing.chart.flows
            ways = sorted(self.out.get(place, ()), key=lambda one: -flows[one].flow)
            # The list goes on by the heaviest way to a place that is told here; all others are branches of this one.
            main = next(
                (
                    one
                    for one in ways
                    if self.drawing.chart.places[flows[one].end].kind != "end" and self._tells(one)
                ),
                ways[0] if len(ways) == 1 else None,
            )
            branches = tuple(tuple(self._branch(one)) for one in ways if one != main)
            if branches:
                rows.append(Forks(branches))
            if main is None:
                break
            rows.append(self._row(self.drawing.chart.places[flows[main].end], main))
            if not self._tells(main):
                break
            place = flows[main].end
        return rows

    def _tells(self, number: int) -> bool:
        return self.told_by[self.drawing.chart.flows[number].end] == number

    def _branch(self, number: int) -> list[Row | Forks]:
        flow = self.drawing.chart.flows[number]
        row = self._row(self.drawing.chart.places[flow.end], number)
        return [row, *self._onward(flow.end)] if self._tells(number) else [row]
