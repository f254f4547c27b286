"""Laws of the sheet on invented charts: nothing covers anything, lines run to the right, what is heavier is thicker."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from variorum.desk.layout import lay_out
from variorum.graph.chart import Chart, ChartFlow, ChartPlace


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    inner = draw(st.integers(2, 9))
    pairs = draw(
        st.lists(
            st.tuples(st.integers(0, inner - 2), st.integers(1, inner - 1)).filter(
                lambda pair: pair[0] < pair[1]
            ),
            min_size=1,
            max_size=14,
            unique=True,
        )
    )
    ends = draw(st.lists(st.integers(0, inner - 1), max_size=5))
    pairs += [(start, inner + number) for number, start in enumerate(ends)]
    kinds = ["root", *["confluence"] * (inner - 1), *["end"] * len(ends)]
    places = tuple(
        ChartPlace(number=number, kind=kind, name="x", line="", flow=1.0, games=0, values=())
        for number, kind in enumerate(kinds)
    )
    flows = tuple(
        ChartFlow(start=start, end=end, flow=draw(st.floats(0.5, 60.0)), moves="", more=0)
        for start, end in pairs
    )
    return Chart(places=places, flows=flows)


@given(charts(), st.text(alphabet="abc 1", max_size=40))
@settings(max_examples=60, deadline=None)
def test_lines_run_to_the_right_and_never_over_another(chart: Chart, moves: str) -> None:
    sheet = lay_out(chart, [moves] * len(chart.flows))
    at = {place.number: place for place in sheet.places}
    runs = []
    heaviest = max(flow.flow for flow in chart.flows)
    for flow, laid in zip(chart.flows, sheet.flows, strict=True):
        left, right = at[flow.start].x, at[flow.end].x
        assert left < right <= sheet.width
        assert 0 < laid.level < sheet.height
        assert laid.lines == max(1, round(10 * flow.flow / heaviest))
        assert f"{laid.up} {laid.down}".split() == moves.split()
        runs.append((left + 20, right - 20, laid.level, laid.lines * 3.1 / 2))
    for number, (left, right, level, half) in enumerate(runs):
        for other_left, other_right, other_level, other_half in runs[:number]:
            if other_left < right and left < other_right:
                assert abs(level - other_level) >= half + other_half
    for one in sheet.places:
        for other in sheet.places:
            if one.number < other.number and {chart.places[n.number].kind for n in (one, other)} == {
                "confluence"
            }:
                assert abs(one.x - other.x) > 28 or abs(one.y - other.y) > 28
