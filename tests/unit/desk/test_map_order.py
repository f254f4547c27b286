"""The order of the marks of a map against plain counting of its crossings."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from variorum.desk.map_order import Bend, Crossings, Extent, best_orders


@st.composite
def maps(draw: st.DrawFn) -> tuple[list[Extent], list[Bend]]:
    layers = draw(st.lists(st.integers(0, 4), min_size=2, max_size=12))
    extents = [
        Extent(100.0 * layer, 100.0 * layer + 40.0, 1.0 + number % 3) for number, layer in enumerate(layers)
    ]
    pairs = [
        (one, other) for one, other in combinations(range(len(layers)), 2) if layers[one] + 1 == layers[other]
    ]
    chosen = draw(st.lists(st.sampled_from(pairs), max_size=14)) if pairs else []
    bends = [
        Bend(one, other, extents[one].right, extents[other].left, 1.0 + draw(st.integers(0, 4)))
        for one, other in chosen
    ]
    return extents, bends


def counted(order: list[int], extents: list[Extent], bends: list[Bend]) -> float:
    height = {mark: place for place, mark in enumerate(order)}
    total = 0.0
    for bend in bends:
        for mark, extent in enumerate(extents):
            if mark in (bend.start, bend.end) or extent.right <= bend.left or bend.right <= extent.left:
                continue
            if (
                min(height[bend.start], height[bend.end])
                < height[mark]
                < max(height[bend.start], height[bend.end])
            ):
                total += min(bend.cost, extent.cost) if extent.cost < 5 else extent.cost
    for one, other in combinations(bends, 2):
        if (
            {one.start, one.end} & {other.start, other.end}
            or one.right <= other.left
            or other.right <= one.left
        ):
            continue
        if (height[one.start] - height[other.start]) * (height[one.end] - height[other.end]) < 0:
            total += min(one.cost, other.cost)
    return total


@given(maps(), st.data())
@settings(max_examples=80, deadline=None)
def test_no_order_to_begin_with_is_better_than_the_one_that_is_found(
    drawn: tuple[list[Extent], list[Bend]], data: st.DataObject
) -> None:
    extents, bends = drawn
    starts = [list(range(len(extents))), data.draw(st.permutations(range(len(extents))))]
    blocks = [frozenset((bend.start, bend.end)) for bend in bends]
    costs = Crossings(extents, bends)
    for found in best_orders(starts, extents, bends, blocks):
        assert sorted(found) == list(range(len(extents)))
        for order in (found, *starts):
            assert costs.of(order) == counted(order, extents, bends)
        assert costs.of(found) <= min(costs.of(start) for start in starts)


@given(maps())
@settings(max_examples=40, deadline=None)
def test_no_single_mark_can_be_moved_to_where_less_is_crossed(drawn: tuple[list[Extent], list[Bend]]) -> None:
    extents, bends = drawn
    (found,) = best_orders([list(range(len(extents)))], extents, bends)
    least = counted(found, extents, bends)
    for mark in found:
        others = [one for one in found if one != mark]
        for place in range(len(found)):
            assert counted([*others[:place], mark, *others[place:]], extents, bends) >= least - 1e-9
