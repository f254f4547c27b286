"""Laws of the sheet on invented charts: nothing covers anything, lines run to the right, few cross, what is heavier is thicker."""

from __future__ import annotations

from itertools import combinations, pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from variorum.desk.layout import LINE, Sheet, SheetPlace, lay_out
from variorum.graph.chart import Chart, ChartFlow, ChartPlace

LETTER = 6.0
"""Pixels of a letter of the moves as Chromium sets them in the font of the page, measured: 5.8 on average."""
BEND = 52.0
Rectangle = tuple[float, float, float, float]


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    inner = draw(st.integers(2, 10))
    pairs = draw(
        st.lists(
            st.tuples(st.integers(0, inner - 2), st.integers(1, inner - 1)).filter(
                lambda pair: pair[0] < pair[1]
            ),
            min_size=1,
            max_size=16,
            unique=True,
        )
    )
    ends = draw(st.lists(st.integers(0, inner - 1), max_size=6))
    pairs += [(start, inner + number) for number, start in enumerate(ends)]
    kinds = [
        "root",
        *draw(
            st.lists(st.sampled_from(["confluence", "name", "fork"]), min_size=inner - 1, max_size=inner - 1)
        ),
    ]
    kinds += ["end"] * len(ends)
    places = tuple(
        ChartPlace(
            number=number, key=f"{number:016x}", kind=kind, name="x", line="", flow=1.0, games=0, values=()
        )
        for number, kind in enumerate(kinds)
    )
    flows = tuple(
        ChartFlow(start=start, end=end, flow=draw(st.floats(0.5, 60.0)), moves="", more=0)
        for start, end in pairs
    )
    return Chart(places=places, flows=flows)


MOVES = st.sampled_from(["6 e4", "9…♗e7 10 O-O", "7 cxd5 ♘xd5 8 ♗d3 ♘c6 9 O-O O-O 10 ♖e1"])


def words_of(chart: Chart) -> list[list[str]]:
    said = {"root": ["the root", "120 games"], "end": ["R 54.2 ± 9.4"], "fork": ["R 54.2 ± 9.4"]}
    return [said.get(place.kind, ["iqp", "R 56.3 ± 6.7", "341 games"]) for place in chart.places]


def runs(chart: Chart, sheet: Sheet) -> list[tuple[float, float]]:
    """From where to where along each flow runs level, as the page draws it."""
    found = []
    for flow in sheet.flows:
        a, b = sheet.places[flow.start], sheet.places[flow.end]
        half = (b.x - a.x) / 2
        bends = [min(BEND, 14 + abs(flow.level - at.y) * 0.9, half) for at in (a, b)]
        ends = chart.places[flow.end].kind == "end"
        found.append((a.x + bends[0], b.x if ends else b.x - bends[1]))
    return found


def labels(chart: Chart, sheet: Sheet, words: list[list[str]]) -> list[tuple[str, Rectangle]]:
    """Where words are printed, as the page prints them: left, top, right, bottom."""
    found: list[tuple[str, Rectangle]] = []
    for number, flow in enumerate(sheet.flows):
        half = flow.lines * 3.1 / 2
        ends = chart.places[flow.end].kind == "end"
        for text, top in ((flow.up, flow.level - half - 16), (flow.down, flow.level + half + 3)):
            wide = LETTER * len(text)
            at = flow.x if ends else flow.x - wide / 2
            if text:
                found.append((f"flow {number}", (at, top, at + wide, top + 12)))
    for place, lines in zip(sheet.places, words, strict=True):
        if chart.places[place.number].kind != "end":
            found.append((f"place {place.number}", beside(place, lines)))
    return found


def beside(place: SheetPlace, lines: list[str]) -> Rectangle:
    wide, tall, over = LETTER * max(map(len, lines)), LINE * len(lines), max(place.radius, place.half)
    if place.side == "root":
        return place.x - 14 - wide, place.y - 12, place.x - 14, place.y + 18
    if place.side == "left":
        return (
            place.x - place.radius - 9 - wide,
            place.y - tall / 2,
            place.x - place.radius - 9,
            place.y + tall / 2,
        )
    left = place.x - wide / 2
    if place.side.endswith("left"):
        left = place.x + 8 - wide
    elif place.side.endswith("right"):
        left = place.x - 8
    top = place.y + over + 4 if place.side.startswith("below") else place.y - over - 3 - tall
    return left, top, left + wide, top + tall


def overlap(one: Rectangle, other: Rectangle) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def crossings(chart: Chart, sheet: Sheet) -> int:
    """How often the middles of two flows cross, counted on the paper a pixel and a half apart."""
    courses = []
    for flow, (left, right) in zip(sheet.flows, runs(chart, sheet), strict=True):
        a, b = sheet.places[flow.start], sheet.places[flow.end]

        def height(x: float, a: SheetPlace = a, b: SheetPlace = b, level: float = flow.level, left: float = left, right: float = right) -> float:  # fmt: skip
            if x < left:
                return a.y + (level - a.y) * (x - a.x) / (left - a.x)
            return level if x <= right else level + (b.y - level) * (x - right) / (b.x - right)

        courses.append((a.x, b.x, height))
    count = 0
    for (a1, b1, h1), (a2, b2, h2) in combinations(courses, 2):
        begin, end = max(a1, a2), min(b1, b2)
        signs = []
        for step in range(1, int((end - begin) / 1.5)):
            gap = h1(begin + 1.5 * step) - h2(begin + 1.5 * step)
            if abs(gap) > 0.5:
                signs.append(gap > 0)
        count += sum(x != y for x, y in pairwise(signs))
    return count


@given(charts(), MOVES, st.sampled_from(["", "or 12 more orders"]))
@settings(max_examples=60, deadline=None)
def test_lines_run_to_the_right_and_no_label_covers_another(chart: Chart, moves: str, note: str) -> None:
    words = words_of(chart)
    notes = ["R 54.2 ± 9.4" if chart.places[flow.end].kind == "end" else note for flow in chart.flows]
    sheet = lay_out(chart, [moves] * len(chart.flows), words, notes)
    at = {place.number: place for place in sheet.places}
    heaviest = max(flow.flow for flow in chart.flows)
    level = []
    for flow, laid, (left, right) in zip(chart.flows, sheet.flows, runs(chart, sheet), strict=True):
        assert at[flow.start].x < at[flow.end].x <= sheet.width
        assert 0 < laid.level < sheet.height
        assert laid.lines == max(1, round(10 * flow.flow / heaviest))
        said = f"{laid.up} {'' if laid.noted else laid.down}"
        assert said.split() == moves.split()
        level.append((left, right, laid.level, laid.lines * 3.1 / 2))
    for one, other in combinations(level, 2):
        if one[0] < other[1] and other[0] < one[1]:
            assert abs(one[2] - other[2]) >= one[3] + other[3]
    printed = labels(chart, sheet, words)
    for (name, where), (other_name, elsewhere) in combinations(printed, 2):
        assert name == other_name or not overlap(where, elsewhere), (name, where, other_name, elsewhere)
    for _, (left, top, right, bottom) in printed:
        assert left >= 0 and top >= 0 and right <= sheet.width and bottom <= sheet.height


@st.composite
def trees(draw: st.DrawFn) -> Chart:
    size = draw(st.integers(2, 16))
    parents = [draw(st.integers(0, number - 1)) for number in range(1, size)]
    places = tuple(
        ChartPlace(
            number=number,
            key=f"{number:016x}",
            kind="fork" if number else "root",
            name="",
            line="",
            flow=1.0,
            games=0,
            values=(),
        )
        for number in range(size)
    )
    flows = tuple(
        ChartFlow(start=parent, end=number, flow=draw(st.floats(1.0, 9.0)), moves="", more=0)
        for number, parent in enumerate(parents, start=1)
    )
    return Chart(places=places, flows=flows)


@given(trees())
@settings(max_examples=40, deadline=None)
def test_lines_that_never_meet_never_cross(chart: Chart) -> None:
    sheet = lay_out(chart, ["6 e4"] * len(chart.flows), words_of(chart), [""] * len(chart.flows))
    assert crossings(chart, sheet) == 0


def test_a_line_is_level_with_the_place_where_it_ends() -> None:
    kinds = ["root"] + ["fork"] * 9
    places = tuple(
        ChartPlace(
            number=number, key=f"{number:016x}", kind=kind, name="", line="", flow=1.0, games=0, values=()
        )
        for number, kind in enumerate(kinds)
    )
    flows = tuple(ChartFlow(start=0, end=end, flow=20.0 / end, moves="", more=0) for end in range(1, 10))
    chart = Chart(places=places, flows=flows)
    sheet = lay_out(chart, ["6 e4"] * 9, words_of(chart), [""] * 9)
    for flow in sheet.flows:
        assert abs(flow.level - sheet.places[flow.end].y) < 0.01
