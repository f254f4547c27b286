"""Where the places of a chart stand on the sheet, where its lines run level, and where the words go.

Layers and a first order by Sugiyama's method (igraph, `map_runs`), a better order by `map_order`, widths by what the moves need, heights by
`map_heights`.

Sugiyama, Tagawa, Toda: Methods for visual understanding of hierarchical system structures, IEEE Trans. SMC 11(2), 1981.
"""

from __future__ import annotations

import functools
from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import Final, Literal

import msgspec

from variorum.desk.map_heights import Box, Pull, settled
from variorum.desk.map_runs import Run, orders
from variorum.graph.chart import Chart, ChartPlace

__all__ = ["LINE", "Sheet", "SheetFlow", "SheetPlace", "Side", "lay_out"]

LINE: Final = 16.0
"""Pixels of a line of words."""
_LETTER: Final = 6.5
"""Pixels of a letter of the moves, at 13 px."""
_BENDS: Final = 52.0
"""Pixels that a line needs to bend off and in, as `map.js` draws it."""
_LEVEL: Final = 30.0
"""Pixels beside the moves of a line that runs level."""
_LABEL: Final = 18.0
"""Pixels of moves above or below a flow."""
_MARGIN: Final = (40.0, 12.0)
_MOST_LINES: Final = 10
_APART: Final = 84.0
"""Pixels from one layer of places to the next, where the moves need less."""
_NAME_LETTER: Final = 9.5
"""Pixels of a letter of the names of roots, which stand left of them."""
_STEEP: Final = 7.0
"""Pixels from which a line that bends off is in the way of words beside a place."""
_AT_THE_END: Final = 1.05
"""How much more a line would be level with where it leads than with where it leaves: there it bends anyway, beside the others."""
_ALONE: Final = 20.0
"""And how much more with a place to which it leads alone, and from which nothing goes on."""
_TURNS: Final = 6

Side = Literal["below", "above", "below left", "above left", "below right", "above right", "left", "root"]
_SIDES: Final[tuple[Side, ...]] = (
    "below", "above", "below left", "above left", "below right", "above right", "left",
)  # fmt: skip


class SheetPlace(msgspec.Struct, frozen=True, kw_only=True):
    """A place of the chart, its radius, and on which side of it its words stand."""

    number: int
    x: float
    y: float
    radius: float
    side: Side
    half: float
    """Half of the height that its lines take."""


class SheetFlow(msgspec.Struct, frozen=True, kw_only=True):
    """A flow of the chart: how many lines are drawn, at which height they run level, and the moves in two halves."""

    start: int
    end: int
    lines: int
    level: float
    x: float
    """Middle of the moves; of a line that leads to no place, where they begin."""
    up: str
    down: str
    noted: bool
    """Whether what stands below is a note and no moves."""


class Sheet(msgspec.Struct, frozen=True, kw_only=True):
    """A chart on paper, in pixels. One line stands for `unit` percent of the traffic."""

    width: float
    height: float
    unit: float
    places: tuple[SheetPlace, ...]
    flows: tuple[SheetFlow, ...]


def lay_out(
    chart: Chart, moves: Sequence[str], words: Sequence[Sequence[str]], notes: Sequence[str]
) -> Sheet:
    """Lay out a chart.

    Args:
        chart: Places and flows.
        moves: The moves of its flows as they are printed.
        words: The lines of words beside each of its places.
        notes: What stands under the moves of each flow, where they need no second line.
    """
    return _laid_out(chart, tuple(moves), tuple(map(tuple, words)), tuple(notes))


@functools.lru_cache(maxsize=32)
def _laid_out(
    chart: Chart, moves: tuple[str, ...], words: tuple[tuple[str, ...], ...], notes: tuple[str, ...]
) -> Sheet:
    layers = _layers(chart)
    halves = [
        (text, "") if chart.places[flow.end].kind == "end" else _halves(text)
        for flow, text in zip(chart.flows, moves, strict=True)
    ]
    noted = [not down and note != "" for (_, down), note in zip(halves, notes, strict=True)]
    halves = [(up, down or note) for (up, down), note in zip(halves, notes, strict=True)]
    radii = [_radius(place) for place in chart.places]
    wide = [_LETTER * max(map(len, lines), default=0) for lines in words]
    letters = [_LETTER * max(len(up), len(down)) for up, down in halves]
    xs = _columns(chart, layers, words, [2 * _BENDS + text for text in letters])
    unit = max((flow.flow for flow in chart.flows), default=1.0) / _MOST_LINES
    flows = _flows(chart, xs, halves, unit)
    thick = _thick(len(chart.places), flows)
    sides: list[Side] = [
        "root" if place.kind == "root" and layers[place.number] == 0 else "below" for place in chart.places
    ]
    met = Counter(place for flow in flows for place in (flow.start, flow.end))
    pulls = [pull for flow in flows for pull in _pulls(flow, met[flow.end] == 1)]
    # Where words can stand depends on where the lines lie, and that on the words; what runs level needs less room along.
    boxes = _boxes(chart, xs, flows, radii, thick, words, sides)
    order = _calmest(orders(chart, layers, xs, flows), boxes, pulls)
    heights: list[float] = []
    best: tuple[float, _Try] | None = None
    for _ in range(_TURNS):
        rooms = [_rooms(flow, heights, radii, wide, sides) for flow in flows]
        needs = [sum(room) + text for room, text in zip(rooms, letters, strict=True)]
        xs = _columns(chart, layers, words, needs)
        flows = _flows(chart, xs, halves, unit)
        boxes = _boxes(chart, xs, flows, radii, thick, words, sides)
        heights = settled(order, boxes, pulls, _MARGIN[1])
        loads = [_loads(number, flows, heights) for number in range(len(sides))]
        load = sum(one.get(side, 0.0) for one, side in zip(loads, sides, strict=True))
        if best is None or load < best[0]:
            best = load, (xs, flows, boxes, heights, sides, rooms)
        free: list[Side] = [
            side if side == "root" else min(_SIDES, key=lambda one: known[one])
            for side, known in zip(sides, loads, strict=True)
        ]
        if free == sides:
            break
        sides = free
    assert best is not None
    xs, flows, boxes, heights, sides, rooms = best[1]
    for flow in flows:
        if flow.ends:
            heights[flow.end] = heights[flow.run]
    deepest = max(
        (heights[mark] + box.below for mark, box in enumerate(boxes) if box.right > box.left), default=0.0
    )
    return Sheet(
        width=max([*xs, *(box.right for box in boxes)], default=0.0) + _MARGIN[1],
        height=deepest + _MARGIN[1],
        unit=unit,
        places=tuple(
            SheetPlace(
                number=place.number,
                x=xs[place.number],
                y=heights[place.number],
                radius=radii[place.number],
                side=sides[place.number],
                half=thick[place.number],
            )
            for place in chart.places
        ),
        flows=tuple(
            SheetFlow(
                start=flow.start, end=flow.end, lines=flow.lines, level=heights[flow.run],
                x=_middle(flow, xs, room), up=flow.up, down=flow.down, noted=note
            )
            for flow, room, note in zip(flows, rooms, noted, strict=True)
        ),
    )  # fmt: skip


def _radius(place: ChartPlace) -> float:
    return {"confluence": 18.0, "name": 11.0, "end": 0.0}.get(place.kind, 4.0)


def _flows(
    chart: Chart,
    xs: list[float],
    halves: Sequence[tuple[str, str]],
    unit: float,
) -> list[Run]:
    found = []
    for number, (flow, (up, down)) in enumerate(zip(chart.flows, halves, strict=True)):
        left, right, ends = xs[flow.start], xs[flow.end], chart.places[flow.end].kind == "end"
        bend = min(_BENDS, (right - left) / 2)
        found.append(
            Run(
                start=flow.start,
                end=flow.end,
                run=len(chart.places) + number,
                lines=max(1, round(flow.flow / unit)),
                weight=flow.flow,
                ends=ends,
                up=up,
                down=down,
                bends=(left + bend, right if ends else right - bend),
            )
        )
    return found


def _thick(places: int, flows: Sequence[Run]) -> list[float]:
    """Half of what the lines of each place take, on the side where they are more."""
    ins, outs = [0.0] * places, [0.0] * places
    for flow in flows:
        outs[flow.start] += flow.half
        ins[flow.end] += flow.half
    return [max(both) for both in zip(ins, outs, strict=True)]


def _pulls(flow: Run, alone: bool) -> list[Pull]:
    pulls = [Pull(flow.start, flow.run, flow.weight)]
    at_end = _ALONE if alone else _AT_THE_END
    return pulls if flow.ends else [*pulls, Pull(flow.run, flow.end, at_end * flow.weight)]


def _boxes(
    chart: Chart,
    xs: list[float],
    flows: Sequence[Run],
    radii: Sequence[float],
    thick: Sequence[float],
    words: Sequence[Sequence[str]],
    sides: Sequence[Side],
) -> list[Box]:
    """What takes room: places with their words, then level runs with their moves."""
    boxes = []
    for place in chart.places:
        number, x = place.number, xs[place.number]
        if place.kind == "end":
            boxes.append(Box(x, x, 0.0, 0.0))
            continue
        half = max(radii[number], thick[number])
        tall = LINE * len(words[number]) + 4.0
        wide = _LETTER * max(map(len, words[number]), default=0)
        side = sides[number]
        if side == "root":
            boxes.append(Box(0.0, x + 8.0, max(half, 15.0), max(half, 22.0)))
            continue
        if side == "left":
            middle = max(half, tall / 2)
            boxes.append(Box(x - radii[number] - 12.0 - wide, x + radii[number], middle, middle))
            continue
        left, right = {
            "below": (x - wide / 2, x + wide / 2), "above": (x - wide / 2, x + wide / 2),
            "below left": (x + 8.0 - wide, x + 8.0), "above left": (x + 8.0 - wide, x + 8.0),
            "below right": (x - 8.0, x - 8.0 + wide), "above right": (x - 8.0, x - 8.0 + wide),
        }[side]  # fmt: skip
        left, right = min(left, x - radii[number] - 3.0), max(right, x + radii[number] + 3.0)
        over, under = (half + tall, half) if side.startswith("above") else (half, half + tall)
        boxes.append(Box(left, right, over, under))
    boxes += [
        Box(
            xs[flow.start] + 20.0,
            xs[flow.end] + (14.0 if flow.ends else -20.0),
            flow.half + (_LABEL if flow.up else 4.0),
            flow.half + (_LABEL if flow.down else 4.0),
            frozenset((flow.start, flow.end)),
        )
        for flow in flows
    ]
    return boxes


_Try = tuple[list[float], list[Run], list[Box], list[float], list[Side], list[tuple[float, float]]]


def _calmest(tried: Sequence[list[int]], boxes: Sequence[Box], pulls: Sequence[Pull]) -> list[int]:
    """The order in which the lines climb and fall least."""

    def climb(order: list[int]) -> float:
        heights = settled(order, boxes, pulls, _MARGIN[1])
        return sum(pull.weight * abs(heights[pull.one] - heights[pull.other]) for pull in pulls)

    return min(tried, key=climb) if len(tried) > 1 else tried[0]


def _loads(place: int, flows: Sequence[Run], heights: Sequence[float]) -> dict[Side, float]:
    """How much words on each side of a place are in the way of its lines."""
    load: dict[str, float] = defaultdict(float)
    for flow in flows:
        if place not in (flow.start, flow.end):
            continue
        way = "out" if flow.start == place else "in"
        climb = heights[flow.run] - heights[place]
        where = "level" if abs(climb) < _STEEP else "below" if climb > 0 else "above"
        load[f"{way} {where}"] += flow.lines
        if where == "level":
            load[f"{way} up"] += 0.5 * bool(flow.up)
            load[f"{way} down"] += 0.5 * bool(flow.down)
    both = load["in above"] > 0 and load["in below"] > 0
    return {
        "below": load["in below"] + load["out below"],
        "above": load["in above"] + load["out above"],
        "below left": load["in below"] + load["in down"],
        "above left": load["in above"] + load["in up"],
        "below right": load["out below"] + load["out down"],
        "above right": load["out above"] + load["out up"],
        "left": load["in level"] if both else 1e9,
    }


def _layers(chart: Chart) -> list[int]:
    """The layer of each place: one behind the last that leads to it. Flows go down the order of places but for rare cycles."""
    layers = [0] * len(chart.places)
    for _ in chart.places:
        changed = False
        for flow in chart.flows:
            if layers[flow.end] <= layers[flow.start] < len(chart.places):
                layers[flow.end], changed = layers[flow.start] + 1, True
        if not changed:
            break
    return layers


def _rooms(
    flow: Run,
    heights: Sequence[float],
    radii: Sequence[float],
    wide: Sequence[float],
    sides: Sequence[Side],
) -> tuple[float, float]:
    """Pixels that a line needs on both sides of its moves: to bend, and for the words of the places that it joins."""

    def beside(place: int, toward: str) -> float:
        level = bool(heights) and abs(heights[flow.run] - heights[place]) < _STEEP
        side = sides[place]
        if side == "root":
            reach = 0.0
        elif side == "left":
            reach = wide[place] + radii[place] + 12.0 if toward == "left" else 0.0
        elif side.endswith(("left", "right")):
            reach = wide[place] - 8.0 if side.endswith(toward) else 8.0
        else:
            reach = wide[place] / 2
        return max(_LEVEL if level else _BENDS, reach + 8.0)

    start = beside(flow.start, "right")
    return (max(start, _BENDS), _LEVEL) if flow.ends else (start, beside(flow.end, "left"))


def _middle(flow: Run, xs: Sequence[float], rooms: tuple[float, float]) -> float:
    if flow.ends:
        return xs[flow.start] + rooms[0] - 4.0
    return (xs[flow.start] + rooms[0] + xs[flow.end] - rooms[1]) / 2


def _named(chart: Chart, layers: list[int], words: Sequence[Sequence[str]]) -> float:
    """Pixels of the words left of the places where the chart begins: names in small capitals, then numbers."""
    begins = [
        words[place.number] for place in chart.places if place.kind == "root" and not layers[place.number]
    ]
    return max(
        (
            letter * len(line)
            for lines in begins
            for letter, line in zip((_NAME_LETTER, _LETTER), lines, strict=False)
        ),
        default=0.0,
    )


def _columns(
    chart: Chart, layers: list[int], words: Sequence[Sequence[str]], needs: Sequence[float]
) -> list[float]:
    """Place along of every place: each layer as far right as the lines that lead to it need."""
    at = [_MARGIN[0] + _named(chart, layers, words)] * (max(layers, default=0) + 1)
    ends = {place.number for place in chart.places if place.kind == "end"}
    for layer in range(1, len(at)):
        at[layer] = at[layer - 1] + _APART
        for flow, need in zip(chart.flows, needs, strict=True):
            if layers[flow.end] == layer and flow.end not in ends:
                at[layer] = max(at[layer], at[layers[flow.start]] + need)
    xs = [at[layer] for layer in layers]
    for flow, need in zip(chart.flows, needs, strict=True):
        if flow.end in ends:
            xs[flow.end] = xs[flow.start] + need - _LEVEL
    return xs


def _halves(text: str) -> tuple[str, str]:
    """Moves in two halves of like length, cut between a move of Black and one of White where that is possible."""
    words = text.split(" ")
    if len(text) < 26 or len(words) < 3:
        return text, ""
    cuts = range(1, len(words))

    def cost(cut: int) -> tuple[float, int]:
        first = " ".join(words[:cut])
        breaks_a_pair = 0 if "\u00a0" in words[cut] else 6
        return abs(2 * len(first) - len(text)) + breaks_a_pair, cut

    cut = min(cuts, key=cost)
    return " ".join(words[:cut]), " ".join(words[cut:])
