from __future__ import annotations

import itertools
import random

import chess
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum import _core
from variorum.board import Line, Position
from variorum.graph import TextLine, grow_graph
from variorum.insight.mirror import mirrored_position
from variorum.insight.structures import (
    NO_STRUCTURE,
    Catalogue,
    Holder,
    Structure,
    catalogue,
    structure_codes,
    structure_of,
)


def slow_holds(words: str, pawns: set[str]) -> bool:
    """The words of one side, read plainly."""
    for word in words.split():
        squares = word.removeprefix("-").split("/")
        there = any(any(pawn.startswith(square) for pawn in pawns) for square in squares)
        if there is word.startswith("-"):
            return False
    return True


def slow_matches(board: chess.Board) -> set[tuple[str, str]]:
    """Every structure of a board, by name, and the side whose it is."""
    found = set()
    for turned in (False, True):
        seen = board.mirror() if turned else board
        pawns = {
            color: {chess.square_name(square) for square in seen.pieces(chess.PAWN, color)}
            for color in chess.COLORS
        }
        for one in catalogue().structures:
            if slow_holds(one.white, pawns[chess.WHITE]) and slow_holds(one.black, pawns[chess.BLACK]):
                white = (one.side is Holder.WHITE) is not turned
                found.add((one.name, "white" if white else "black"))
    return found


def boards(seed: int, plies: int) -> chess.Board:
    """A board after random moves, of pawns and captures where there are any."""
    chance = random.Random(seed)
    board = chess.Board()
    for _ in range(plies):
        moves = list(board.legal_moves)
        if not moves:
            break
        changes = [move for move in moves if board.is_zeroing(move)]
        board.push(chance.choice(changes or moves))
    return board


@given(st.integers(0, 10**9), st.integers(4, 40))
def test_recognised_is_one_of_those_that_match_and_none_only_where_none_does(seed: int, plies: int) -> None:
    board = boards(seed, plies)
    found = structure_of(Position.from_fen(board.fen()))
    matches = slow_matches(board)
    if found is None:
        assert not matches
        return
    sides = ["white", "black"] if found.holder is Holder.BOTH else [found.holder.value]
    assert {(found.structure.name, side) for side in sides} <= matches


@given(st.integers(0, 10**9), st.integers(4, 40))
def test_colours_reversed_give_the_structure_of_the_other_side(seed: int, plies: int) -> None:
    position = Position.from_fen(boards(seed, plies).fen())
    found, turned = structure_of(position), structure_of(mirrored_position(position))
    assert (found and found.structure) == (turned and turned.structure)
    if found and turned:
        other = {Holder.WHITE: Holder.BLACK, Holder.BLACK: Holder.WHITE, Holder.BOTH: Holder.BOTH}
        assert turned.holder is other[found.holder]


def test_codes_of_many_are_those_of_each() -> None:
    line = Line.parse(
        "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3 Nc6 7.Bd3 Be7 8.O-O cxd4 9.exd4 O-O"
    )
    graph = grow_graph([line.start], texts=[TextLine(line.start, line.start.pack(line.moves))])
    known = [catalogue().of_code(code) for code in structure_codes(graph.packed).tolist()]
    assert known == [structure_of(graph.position(node)) for node in range(graph.nodes)]
    assert [one and one.words for one in known[-2:]] == ["isolated queen's pawn (White's)"] * 2


def test_precedence_is_that_of_the_methods() -> None:
    """An example of each of the three rules: implication, number of words, order in the file."""

    def names(*rows: tuple[str, str]) -> list[int]:
        return _core.StructureCatalogue([(white, black, True) for white, black in rows]).order()

    assert names(("d4", ""), ("d4 -c", "")) == [1, 0]
    assert names(("d4", ""), ("", "d5 -c")) == [1, 0]  # implied with colours reversed
    assert names(("d4", ""), ("e4 e3", "")) == [1, 0]
    assert names(("d3/d4", "d/e5 d/e6"), ("d4", "d6")) == [1, 0]  # it implies more words than it has
    assert names(("d4", "d5"), ("e4", "e5")) == [0, 1]


def test_every_structure_of_the_file_is_named_once_and_can_be_recognised() -> None:
    known = catalogue().structures
    names = [name.casefold() for name in catalogue().names()]
    assert len(names) == len(set(names))
    assert len(known) >= 30
    assert sorted(catalogue().core.order()) == list(range(len(known)))
    for one, other in itertools.combinations(known, 2):
        assert (one.white, one.black) != (other.white, other.black), (one.name, other.name)


def test_a_structure_is_called_by_its_name_in_these_colours() -> None:
    exchange = structure_of(Line.parse("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.cxd5 exd5 5.e3").end)
    assert exchange is not None
    assert exchange.words == "Queen's Gambit Exchange (White's)"
    assert exchange.is_called("queen's gambit exchange")
    assert exchange.is_called("Queen's Gambit Exchange (White's)")
    assert not exchange.is_called("Queen's Gambit Exchange (Black's)")
    assert not exchange.is_called("Caro-Kann Exchange")
    slav = structure_of(Line.parse("1.d4 d5 2.c4 c6 3.cxd5 cxd5").end)
    assert slav is not None
    assert slav.words == "Slav Exchange"
    assert slav.is_called("Slav Exchange (Black's)")


def test_bad_words_are_refused_with_the_word() -> None:
    one = Structure(name="x", reversed_name="x", side=Holder.WHITE, white="d9", black="", sources=())
    with pytest.raises(ValueError, match="'d9' says no pawn"):
        Catalogue((one,))


def test_bytes_that_are_no_positions_are_refused() -> None:
    with pytest.raises(ValueError, match="packed"):
        structure_codes(np.zeros(31, np.uint8))
    assert structure_of(Position.start()) is None
    assert catalogue().of_code(NO_STRUCTURE) is None
