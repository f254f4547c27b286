"""The order of inquiries and how far a doubt is taken (methods.md 15; the rule is our own)."""

from __future__ import annotations

from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st

from variorum.board import Line, Position
from variorum.scout.plan import DEEPEST, Inquiry, next_round, settled, within
from variorum.scout.wishes import Doubt, Reason, Wish

NODES = 1_000
PLACES = [
    Line.parse(text).end
    for text in (
        "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4",
        "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6",
        "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3",
        "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6",
        "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 Nc6",
    )
]
A, B, C, D, E = PLACES
OVER = Line.parse("1.f3 e5 2.g4 Qh4#").end


def of(effort: dict[Position, int]) -> Callable[[Position], int]:
    return lambda position: effort.get(position, 0)


def test_the_order_is_that_of_reasons_then_of_weight() -> None:
    wishes = [
        Wish(E, Reason.FLOW, 0.9),
        Wish(D, Reason.LEAF, 0.1),
        Wish(C, Reason.LEAF, 0.2),
        Wish(B, Reason.NAME),
        Wish(A, Reason.ROOT),
        Wish(A, Reason.FLOW, 1.0),
    ]
    asked = next_round(wishes, [], of({}), NODES)
    assert [inquiry.position for inquiry in asked] == [A, B, C, D, E]
    assert [inquiry.reason for inquiry in asked][:3] == [Reason.ROOT, Reason.NAME, Reason.LEAF]
    assert {inquiry.nodes for inquiry in asked} == {NODES}
    assert next_round(wishes[::-1], [], of({}), NODES) == asked


def test_what_has_its_verdict_and_what_is_over_is_not_asked() -> None:
    wishes = [Wish(A, Reason.ROOT), Wish(B, Reason.NAME), Wish(OVER, Reason.CLAIM)]
    assert [one.position for one in next_round(wishes, [], of({A: NODES, B: NODES - 1}), NODES)] == [B]


def test_doubts_wait_until_every_wish_has_a_verdict() -> None:
    wishes = [Wish(A, Reason.ROOT), Wish(B, Reason.LEAF)]
    doubts = [Doubt((A,), Reason.UNDECIDED)]
    assert [one.position for one in next_round(wishes, doubts, of({A: NODES}), NODES)] == [B]
    asked = next_round(wishes, doubts, of({A: NODES, B: NODES}), NODES)
    assert asked == [Inquiry(A, Reason.UNDECIDED, 4 * NODES)]


def test_all_positions_of_a_doubt_come_to_the_same_effort_first() -> None:
    doubt = Doubt((A, B), Reason.CONTRADICTED)
    asked = next_round([], [doubt], of({A: 4 * NODES, B: NODES}), NODES)
    assert asked == [Inquiry(B, Reason.CONTRADICTED, 4 * NODES)]
    asked = next_round([], [doubt], of({A: 4 * NODES, B: 4 * NODES}), NODES)
    assert [one.nodes for one in asked] == [16 * NODES, 16 * NODES]


def test_open_claims_come_before_leaves_and_close_moves() -> None:
    doubts = [
        Doubt((A,), Reason.CLOSE),
        Doubt((B,), Reason.DECIDES),
        Doubt((C,), Reason.CONTRADICTED),
        Doubt((D,), Reason.UNDECIDED),
    ]
    asked = next_round([], doubts, of(dict.fromkeys(PLACES, NODES)), NODES)
    assert [one.position for one in asked] == [D, C, B, A]


def test_after_sixteen_times_a_doubt_stays() -> None:
    doubt = Doubt((A, B), Reason.UNDECIDED)
    said = of({A: 16 * NODES, B: 16 * NODES})
    assert next_round([], [doubt], said, NODES) == []
    assert settled(doubt, said, NODES)
    assert not settled(doubt, of({A: 16 * NODES, B: NODES}), NODES)


@given(
    st.lists(st.tuples(st.sampled_from(PLACES), st.sampled_from(list(Reason)[:7]), st.floats(0, 1))),
    st.lists(
        st.tuples(
            st.lists(st.sampled_from(PLACES), min_size=1, max_size=3), st.sampled_from(list(Reason)[7:])
        )
    ),
    st.dictionaries(st.sampled_from(PLACES), st.integers(0, 50 * NODES)),
)
def test_asking_comes_to_an_end_and_asks_nothing_twice(
    wishes: list[tuple[Position, Reason, float]],
    doubts: list[tuple[list[Position], Reason]],
    effort: dict[Position, int],
) -> None:
    """Also where no answer settles anything."""
    wanted = [Wish(*wish) for wish in wishes]
    doubted = [Doubt(tuple(places), reason) for places, reason in doubts]
    seen: set[tuple[Position, int]] = set()
    for _ in range(DEEPEST + 3):
        asked = next_round(wanted, doubted, of(effort), NODES)
        for inquiry in asked:
            assert inquiry.nodes > effort.get(inquiry.position, 0)
            assert (inquiry.position, inquiry.nodes) not in seen
            assert NODES <= inquiry.nodes <= NODES * 4**DEEPEST
            seen.add((inquiry.position, inquiry.nodes))
            effort[inquiry.position] = inquiry.nodes
        if not asked:
            break
    else:
        raise AssertionError("there is always something left to ask")
    assert all(settled(doubt, of(effort), NODES) for doubt in doubted)


@given(st.lists(st.integers(1, 100)), st.integers(0, 500))
def test_a_budget_is_kept_and_begun_from_the_front(nodes: list[int], budget: int) -> None:
    inquiries = [Inquiry(A, Reason.FLOW, count) for count in nodes]
    chosen = within(inquiries, budget)
    assert chosen == inquiries[: len(chosen)]
    assert sum(one.nodes for one in chosen) <= budget
    if len(chosen) < len(inquiries):
        assert sum(one.nodes for one in chosen) + inquiries[len(chosen)].nodes > budget
    assert within(inquiries, None) == inquiries
