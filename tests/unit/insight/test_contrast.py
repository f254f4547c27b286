from __future__ import annotations

import itertools
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from variorum.board import DEFAULT_BANDS, Line, Position, Score, Verdict, VerdictLine
from variorum.edition import Place
from variorum.insight.contrast import changed_units, changes_in_words, contrast_marks
from variorum.insight.contrast_report import Colours, ContrastReport, contrast_report
from variorum.insight.distance import is_dark, piece_moves
from variorum.insight.mirror import mirrored_position
from variorum.voices.verdicts import Verdicts

START = Position.start()


def place(text: str, name: str | None = None) -> Place:
    if text.count("/") == 7:
        return Place(text=text, position=Position.from_fen(text), line=None, name=name)
    line = Line.parse(text)
    return Place(text=text, position=line.end, line=line, name=name)


def report(
    here: str, there: str, colours: Colours = Colours.KEPT, verdicts: Verdicts | None = None
) -> ContrastReport:
    return contrast_report(
        place(here), place(there), verdicts or Verdicts(), {"invented": "A"}, DEFAULT_BANDS, colours
    )


@pytest.mark.parametrize(
    ("here", "there", "words"),
    [
        ("1.a3 h6", "1.e4 e5 2.Nf3 Nc6 3.Ng1 Nb8", "with a3 and …h6 put in, without e4 and …e5"),
        ("1.e4 c5", "1.e4 c6", "with …c5 instead of …c6"),
        ("1.e4 e5 2.Nf3 Nc6 3.Bc4", "1.e4 e5 2.Nf3 Nc6", "with Bc4 put in"),
        ("1.e4 e5 2.Nf3 Nc6", "1.e4 e5 2.Nf3 Nc6 3.Bc4", "without Bc4"),
        ("1.e4 e5 2.Nf3 Nc6 3.Be2", "1.e4 e5 2.Nf3 Nc6 3.Bc4", "with White's bishop on e2 instead of c4"),
        ("1.e4 d5 2.exd5", "1.e4 d5", "with White's pawn on d5 instead of e4, without Black's pawn on d5"),
        ("1.e4 e5 2.Nf3 Nc6 3.Bc4 Bc5 4.O-O", "1.e4 e5 2.Nf3 Nc6 3.Bc4 Bc5", "with White castled short"),
        (
            "1.e4 e5 2.Nf3 Nc6 3.Bc4 Bc5",
            "1.e4 e5 2.Nf3 Nc6 3.Bc4 Bc5 4.O-O",
            "with White not castled yet (short there)",
        ),
        (
            "1.d4 d5 2.Nc3 Nf6 3.Bf4 Bf5 4.Qd2 e6 5.O-O-O",
            "1.d4 d5 2.Nc3 Nf6 3.Bf4 Bf5 4.Qd2 e6",
            "with White castled long",
        ),
    ],
)
def test_words(here: str, there: str, words: str) -> None:
    changes = changed_units(Line.parse(here).end, Line.parse(there).end)
    assert changes_in_words(changes) == words


positions = st.lists(st.integers(0, 10_000), max_size=24)


def wander(choices: list[int]) -> Position:
    position = START
    for choice in choices:
        legal = position.legal_moves()
        if not legal:
            break
        position = position.play(legal[choice % len(legal)])
    return position


@settings(max_examples=80, deadline=None)
@given(positions, positions)
def test_the_changes_lead_from_one_to_the_other(one: list[int], other: list[int]) -> None:
    here, there = wander(one), wander(other)
    changes = changed_units(here, there)
    board = dict(there.pieces())
    for change in changes:
        if change.there is not None:
            del board[change.there]
    for change in changes:
        if change.here is not None:
            letter = change.letter if change.side.value == "white" else change.letter.lower()
            assert change.here not in board
            board[change.here] = letter
    assert board == here.pieces()
    back = changed_units(there, here)
    assert Counter((c.side, c.letter, c.here is None, c.there is None) for c in changes) == Counter(
        (c.side, c.letter, c.there is None, c.here is None) for c in back
    )


@settings(max_examples=40, deadline=None)
@given(positions, positions)
def test_pieces_are_matched_at_least_cost(one: list[int], other: list[int]) -> None:
    """Against every permutation."""
    here, there = wander(one), wander(other)
    changes = changed_units(here, there)
    for letter, dark, side in itertools.product("NBRQ", (False, True), ("white", "black")):
        own = [
            c
            for c in changes
            if (c.letter, c.side.value) == (letter, side)
            and (letter != "B" or is_dark(str(c.here or c.there)) is dark)
        ]
        moved = [(c.here, c.there) for c in own if c.here and c.there]
        mine = [str(c.here) for c in own if c.here]
        theirs = [str(c.there) for c in own if c.there]
        assert len(moved) == min(len(mine), len(theirs))
        if not moved:
            continue
        cost = sum(piece_moves(letter, str(a), str(b)) for a, b in moved)
        long, short = (mine, theirs) if len(mine) >= len(theirs) else (theirs, mine)
        least = min(
            sum(piece_moves(letter, a, b) for a, b in zip(chosen, short, strict=True))
            for chosen in itertools.permutations(long, len(short))
        )
        assert cost == least


def test_identical_positions() -> None:
    found = report("1.e4 e5 2.Nf3", "1.Nf3 e5 2.e4")
    assert found.unit_count == 0
    assert found.sentences[0] == "The first and the second are the same position."


def test_different_structures_are_said_to_be_so_and_not_listed() -> None:
    found = report("1.e4 c5 2.Nf3 d6 3.d4 cxd4 4.Nxd4 Nf6 5.Nc3 a6", "1.d4")
    assert found.units == ()
    assert found.unit_count == 8
    assert found.sentences[0] == "These are different structures: eight units differ, five of them pawns."


def test_rights_and_passing_are_told() -> None:
    found = report("r3k2r/8/8/8/8/8/8/R3K2R w Kq - 0 1", "r3k2r/8/8/8/8/8/8/R3K2R w KQ - 0 1")
    assert "White may castle long in the second only." in found.sentences
    assert "Black may castle long in the first only." in found.sentences
    found = report("1.e4 a6 2.e5 d5", "1.e3 d6 2.e4 a6 3.e5 d5")
    assert "A pawn may be taken in passing on d6 in the first only." in found.sentences


def test_a_position_without_a_line_has_no_tempi() -> None:
    found = report("1.e4 e5", "rnbqkbnr/pppp1ppp/8/4p3/4P3/3P4/PPP2PPP/RNBQKBNR b KQkq - 0 2")
    assert found.tempo is None
    assert any("No line leads to the second" in sentence for sentence in found.sentences)


def verdict(position: Position, cp: int, *moves: str, nodes: int = 300_000) -> Verdict:
    return Verdict(
        key=position.key,
        epd=position.epd,
        voice="invented",
        version="1",
        lines=tuple(VerdictLine((position.parse(move).uci,), Score.of_cp(cp)) for move in moves),
        nodes=nodes,
    )


def test_verdicts_are_compared_with_their_noise() -> None:
    here, there = "1.e4 e5 2.Nf3 Nc6 3.h3 h6", "1.e4 e5 2.Nf3 Nc6"
    one, other = Line.parse(here).end, Line.parse(there).end
    close = report(here, there, verdicts=Verdicts([verdict(one, 20, "Bb5"), verdict(other, 30, "Bb5")]))
    assert [pair.differs for pair in close.voices] == [False]
    assert any("no more than noise" in sentence for sentence in close.sentences)
    assert "A plays Bb5 in both." in close.sentences
    far = report(here, there, verdicts=Verdicts([verdict(one, -200, "Bb5"), verdict(other, 30, "h3")]))
    assert [pair.differs for pair in far.voices] == [True]
    assert any("is better for Black by" in sentence for sentence in far.sentences)
    assert "A plays Bb5 in the first, h3 in the second (h3 is not possible in the first)." in far.sentences


def test_reversed_turns_the_verdict_round() -> None:
    here, there = "1.c4 e5", "1.e4 c5"
    one, other = Line.parse(here).end, Line.parse(there).end
    found = report(
        here, there, Colours.REVERSED, Verdicts([verdict(one, 20, "Nc3"), verdict(other, 30, "Nf3")])
    )
    (pair,) = found.voices
    assert pair.there is not None and pair.here is not None
    assert pair.there.expected < 50 < pair.here.expected
    assert pair.there.best == ("Nf6",)
    assert found.tempo is None


def test_marks() -> None:
    changes = changed_units(Line.parse("1.e4 c5").end, Line.parse("1.e4 c6").end)
    assert [(mark.kind.value, mark.squares) for mark in contrast_marks(changes)] == [
        ("changed", ("c5",)),
        ("vacated", ("c6",)),
    ]


@settings(max_examples=40, deadline=None)
@given(positions, positions)
def test_a_contrast_of_mirrored_positions_is_mirrored(one: list[int], other: list[int]) -> None:
    here, there = wander(one), wander(other)
    plain = changed_units(here, there)
    turned = changed_units(mirrored_position(here), mirrored_position(there))
    assert Counter((c.side, c.letter, c.here is None, c.there is None) for c in plain) == Counter(
        (c.side.other, c.letter, c.here is None, c.there is None) for c in turned
    )
