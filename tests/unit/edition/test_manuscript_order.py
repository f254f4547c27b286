from __future__ import annotations

import io
from collections import Counter
from pathlib import Path

import chess.pgn
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_manuscripts import games

from variorum.base import InputError, UsageError
from variorum.edition.manuscript import Node, read_manuscript
from variorum.edition.manuscript_order import delete, demote, promote, promote_to_main, same_node, subtree

TEXT = "1. e4! e5 (1... c6 {solid} 2. d4 (2. c4)) (1... c5) 2. Nf3 Nc6 {then} *\r\n"
CASES = sorted((Path(__file__).parents[2] / "external" / "data" / "pgn_corner_cases").glob("*.pgn"))


def node(text: str, san: str) -> Node:
    return next(
        one for game in read_manuscript(text.encode()).games for one in game.nodes if one.san_text == san
    )


@pytest.mark.parametrize(
    ("text", "san", "expected"),
    [
        (
            TEXT,
            "d4",
            "1. e4! c6 {solid} (1... e5 2. Nf3 Nc6 {then}) (1... c5) 2. d4 (2. c4) *\r\n",
        ),
        (
            TEXT,
            "c5",
            "1. e4! c5 (1... e5 2. Nf3 Nc6 {then}) (1... c6 {solid} 2. d4 (2. c4)) *\r\n",
        ),
        (TEXT, "c4", TEXT.replace("2. d4 (2. c4)", "2. c4 (2. d4)")),
        # Black's move gets its number where the promoted line is parted from it, and the demoted one loses it.
        (
            "1. e4 (1. d4 d5 2. c4) 1... e5 2. Nf3 *",
            "c4",
            "1. d4 (1. e4 e5 2. Nf3) 1... d5 2. c4 *",
        ),
        # A comment to the end of a line keeps its line end; one before the variation's first move goes behind it.
        (
            "1. e4 e5 ; usual\n({solid} 1... c6 ; firm\n2. d4) 2. Nf3 *",
            "c6",
            "1. e4 c6 ; firm\n{solid} (1... e5 ; usual\n2. Nf3) 2. d4 *",
        ),
        ("1. e4 e5 (1... c6 ; firm\n)*", "c6", "1. e4 c6 ; firm\n(1... e5) *"),
    ],
)
def test_promoting(text: str, san: str, expected: str) -> None:
    assert promote(node(text, san)).decode() == expected


def test_promoting_to_the_main_line() -> None:
    assert (
        promote_to_main(node(TEXT, "c4")).decode()
        == "1. e4! c6 {solid} (1... e5 2. Nf3 Nc6 {then}) (1... c5) 2. c4 (2. d4) *\r\n"
    )
    with pytest.raises(InputError, match="main line already"):
        promote(node(TEXT, "Nf3"))


@pytest.mark.parametrize(
    ("san", "expected"),
    [
        ("e5", "1. e4! c6 {solid} (1... e5 2. Nf3 Nc6 {then}) (1... c5) 2. d4 (2. c4) *\r\n"),
        ("c6", "1. e4! e5 (1... c5) (1... c6 {solid} 2. d4 (2. c4)) 2. Nf3 Nc6 {then} *\r\n"),
    ],
)
def test_demoting(san: str, expected: str) -> None:
    assert demote(node(TEXT, san)).decode() == expected


@pytest.mark.parametrize("san", ["e4", "Nf3", "c5", "c4"])
def test_a_move_without_another_behind_it_cannot_be_demoted(san: str) -> None:
    with pytest.raises(InputError, match="cannot be demoted"):
        demote(node(TEXT, san))


@pytest.mark.parametrize(
    ("san", "expected"),
    [
        ("e5", "1. e4! c6 {solid} (1... c5) 2. d4 (2. c4) *\r\n"),
        ("Nf3", "1. e4! e5 (1... c6 {solid} 2. d4 (2. c4)) (1... c5) *\r\n"),
        ("c6", "1. e4! e5 (1... c5) 2. Nf3 Nc6 {then} *\r\n"),
        ("c4", "1. e4! e5 (1... c6 {solid} 2. d4) (1... c5) 2. Nf3 Nc6 {then} *\r\n"),
    ],
)
def test_deleting(san: str, expected: str) -> None:
    assert delete(node(TEXT, san)).decode() == expected


def test_a_variation_inside_a_deleted_one_stays_where_it_stands_beside_it() -> None:
    assert delete(node("1. e4 e5 (1... c6 (1... c5 2. Nf3) 2. d4) *", "c6")) == b"1. e4 e5 (1... c5 2. Nf3) *"


def test_what_cannot_be_changed() -> None:
    with pytest.raises(UsageError, match="start position"):
        delete(read_manuscript(TEXT.encode()).games[0].root)
    with pytest.raises(InputError, match="without loss"):
        promote(node("1. e4 e5 (1... c6 2. d4 2. Nf3 *", "d4"))
    with pytest.raises(InputError, match="inside a variation ends nothing"):
        promote(node("1. e4 e5 (1... c6 1-0 2. d4) 2. Nf3 *", "c6"))


def paths(text: bytes) -> Counter[tuple[object, ...]]:
    """What PyPI `chess` finds: every way with its signs and comment words."""
    found: Counter[tuple[object, ...]] = Counter()
    game = chess.pgn.read_game(io.StringIO(text.decode()))
    assert game is not None
    pending: list[tuple[tuple[str, ...], chess.pgn.GameNode]] = [((), game)]
    while pending:
        way, one = pending.pop()
        found[way, tuple(sorted(one.nags)), tuple(sorted(one.comment.split()))] += 1
        pending += [((*way, child.move.uci()), child) for child in one.variations]
    return found


@settings(max_examples=60, deadline=None)
@given(games(), st.data())
def test_orders_change_and_nothing_else(text: str, data: st.DataObject) -> None:
    """Independent reader: PyPI `chess` finds the same lines, signs and comments; the order is the one asked for."""
    manuscript = read_manuscript(text.encode())
    one = data.draw(st.sampled_from(manuscript.games[0].nodes[1:]))
    assert one.parent is not None
    variation = one.variation
    if variation is not None:
        after = promote(one)
        assert paths(after) == paths(text.encode())
        risen = same_node(variation.nodes[0], after)
        assert risen.variation == (None if variation.outer is None else risen.variation)
        assert risen.parent is not None
        assert [child.move for child in risen.parent.children].index(risen.move) < [
            child.move for child in variation.branch.children
        ].index(risen.move)
    beside = one.parent.children
    if one != beside[-1]:
        after = demote(one)
        assert paths(after) == paths(text.encode())
    gone = list(subtree(one))
    assert sum(paths(delete(one)).values()) == sum(paths(text.encode()).values()) - len(gone)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.stem)
def test_the_corner_cases_are_changed_without_loss_or_refused(case: Path) -> None:
    """Source: `tests/external/data/pgn_corner_cases`; bytes before the line and behind its end stay."""
    try:
        manuscript = read_manuscript(case)
    except InputError:
        return
    for game in manuscript.games:
        for one in game.nodes[1:40]:
            for change in (promote, demote, delete):
                try:
                    after = change(one)
                except InputError as error:
                    assert error.remedy
                    continue
                start, end = game.span
                assert after[:start] == manuscript.data[:start]
                assert after.endswith(manuscript.data[end:])
