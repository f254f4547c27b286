from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from variorum.desk.reconcile import pieces_of

TEXTS = st.lists(st.sampled_from(["a\n", "b\n", "c\n", "\n", "d"]), max_size=8).map("".join)


def kinds(base: str | None, mine: str, theirs: str) -> list[str]:
    return [piece.kind for piece in pieces_of(base, mine, theirs)]


def test_each_difference_has_its_owner() -> None:
    base = "one\ntwo\nthree\nfour\nfive\n"
    mine = "one\nTWO\nthree\nfour\nfive\n"
    theirs = "one\ntwo\nthree\nFOUR\nfive\n"
    assert kinds(base, mine, theirs) == ["same", "mine", "same", "theirs", "same"]
    assert kinds(base, mine, mine) == ["same"]
    assert kinds(base, mine, "one\n2\nthree\nfour\nfive\n") == ["same", "clash", "same"]
    assert kinds(None, mine, theirs) == ["same", "clash", "same", "clash", "same"]


def test_what_only_one_side_took_out_is_its_own() -> None:
    assert kinds("a\nb\nc\n", "a\nc\n", "a\nb\nc\n") == ["same", "mine", "same"]
    assert kinds("a\nb\nc\n", "a\nb\nc\n", "a\nc\n") == ["same", "theirs", "same"]


@given(st.none() | TEXTS, TEXTS, TEXTS)
def test_nothing_is_lost(base: str | None, mine: str, theirs: str) -> None:
    pieces = pieces_of(base, mine, theirs)
    assert "".join(one.mine for one in pieces) == mine
    assert "".join(one.theirs for one in pieces) == theirs
    assert all((one.mine == one.theirs) == (one.kind == "same") for one in pieces)


@given(TEXTS, TEXTS)
def test_a_change_of_one_side_alone_is_taken_whole(base: str, changed: str) -> None:
    merged = "".join(
        one.theirs if one.kind == "theirs" else one.mine for one in pieces_of(base, base, changed)
    )
    assert merged == changed
    assert "clash" not in kinds(base, base, changed)
