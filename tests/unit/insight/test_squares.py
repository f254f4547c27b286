"""Square language against positions read by hand, and against a slow plain reading of the definitions with `chess`."""

from __future__ import annotations

import random
from typing import Any

import chess
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.board import Line, Position, Side
from variorum.graph import TextLine, grow_graph
from variorum.insight.mirror import mirrored_position, mirrored_square
from variorum.insight.squares import FEATURES, SideSquares, square_columns, square_language

LINES = {
    "start": "",
    "isolani": "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1 Nf6",
    "pair": "1.d4 Nf6 2.c4 e6 3.Nc3 Bb4 4.e3 c5 5.Bd3 d5 6.Nf3 O-O 7.O-O cxd4 8.exd4 dxc4 9.Bxc4 b6 10.Bg5 Bb7 11.Rc1 Nbd7 12.Re1 Bxc3 13.bxc3",
    "tarrasch": "1.d4 d5 2.c4 e6 3.Nc3 c5 4.cxd5 exd5 5.Nf3 Nc6 6.g3 Nf6 7.Bg2 Be7 8.O-O O-O 9.dxc5 Bxc5",
    "french": "1.e4 e6 2.d4 d5 3.e5 c5 4.c3 Nc6 5.Nf3 Qb6",
    "carlsbad": "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.cxd5 exd5 5.Bg5 c6 6.e3 Be7 7.Bd3 Nbd7 8.Qc2 O-O 9.Nf3 Re8 10.O-O Nf8",
    "hole": "1.e4 c5 2.Nf3 Nc6 3.d4 cxd4 4.Nxd4 Nf6 5.Nc3 d6 6.Be2 e5 7.Nb3 Be7 8.O-O O-O",
    "stonewall": "1.d4 f5 2.c4 Nf6 3.g3 e6 4.Bg2 d5 5.Nf3 c6 6.O-O Bd6",
    "hedgehog": "1.c4 c5 2.Nf3 Nf6 3.g3 b6 4.Bg2 Bb7 5.O-O e6 6.Nc3 Be7 7.d4 cxd4 8.Qxd4 d6 9.e4 a6",
    "benoni": "1.d4 Nf6 2.c4 c5 3.d5 e6 4.Nc3 exd5 5.cxd5 d6 6.e4",
    "doubled": "1.d4 Nf6 2.c4 e6 3.Nc3 Bb4 4.a3 Bxc3+ 5.bxc3",
    "berlin": "1.e4 e5 2.Nf3 Nc6 3.Bb5 Nf6 4.O-O Nxe4 5.d4 Nd6 6.Bxc6 dxc6 7.dxe5 Nf5 8.Qxd8+ Kxd8",
    "spanish": "1.e4 e5 2.Nf3 Nc6 3.Bb5 a6 4.Bxc6 dxc6 5.d4 exd4 6.Qxd4 Qxd4 7.Nxd4",
    "exchange": "1.d4 d5 2.c4 c6 3.cxd5 cxd5",
    "symmetry": "1.d4 d5 2.c4 dxc4 3.e3 e6 4.Bxc4 Nf6 5.Nf3 c5 6.O-O a6 7.dxc5 Bxc5",
}

READ = """
holes             white d5  isolani    yes   no pawn on the c- or e-file
holes             black d5  hole       yes   no c-pawn, the e-pawn has gone by
holes             black e5  stonewall  yes   the d- and f-pawns have gone by
holes             black e5  isolani    no    ...f7-f6 guards it
holes             black e5  carlsbad   no    ...f7-f6 guards it
holes             white d4  hole       no    c2-c3 guards it
outposts          white d5  hole       yes   e4 guards it
outposts          white e5  stonewall  yes   d4 guards it
outposts          black d5  isolani    yes   ...e6 guards it
outposts          white e5  isolani    no    ...f7-f6 would drive a knight away
outposts          black e4  stonewall  no    f2-f3 would
outposts          black d4  hole       no    c2-c3 would
isolated          white d4  isolani    yes
isolated          white a2  pair       yes   the b-pawn has taken on c3
isolated          black d5  tarrasch   yes
isolated          white d4  pair       no    c3 is its neighbour
isolated          white d4  carlsbad   no    e3 is its neighbour
isolated          white e5  berlin     no    f2 is its neighbour
backward          black d6  hole       yes   ...d5 runs into e4; no friend behind it
backward          black e6  stonewall  yes   d5 and f5 are ahead of it, d4 guards e5
backward          black d6  benoni     yes   c5 is ahead of it, e4 guards d5
backward          black c6  carlsbad   no    b7 is behind it
backward          black e6  french     no    f7 is behind it
backward          black d6  hedgehog   no    e6 is beside it
doubled           white c3  doubled    yes
doubled           black c7  berlin     yes
doubled           black c6  spanish    yes
doubled           white d4  isolani    no
doubled           white c3  french     no
doubled           black c6  carlsbad   no
half_open_files   white e   isolani    yes
half_open_files   white d   hole       yes
half_open_files   white c   carlsbad   yes
half_open_files   white c   isolani    no    nobody has a pawn there: open
half_open_files   black c   benoni     no    he has a pawn there
half_open_files   white e   start      no
bad_bishops       black c8  french     yes   d5 and e6 are fixed
bad_bishops       black c8  stonewall  yes   d5, e6 and f5
bad_bishops       black e7  hole       yes   d6 and e5
bad_bishops       black c8  isolani    no    one pawn of two is fixed
bad_bishops       white g5  carlsbad   no    it stands outside of d4 and e3
bad_bishops       white f1  french     no    his pawns stand on dark squares
levers            white d4-d5  isolani    yes
levers            white e3-e4  carlsbad   yes
levers            black f7-f6  french     yes
levers            white b2-b4  carlsbad   no    it attacks nothing yet
levers            white f2-f4  isolani    no
levers            black a7-a5  french     no
"""
"""Term, side, what is looked at, line, whether it is so; read by hand."""

OPEN = [
    ("isolani", "c", True),
    ("exchange", "c", True),
    ("symmetry", "d", True),
    ("hole", "c", False),
    ("start", "e", False),
    ("pair", "c", False),
]

SPACE = [
    ("start", 0, 0),
    ("isolani", 2, 1),  # d2 d3; e7
    ("french", 5, 4),  # c2 d2 d3 e2 e3, for e4 is attacked; c6 c7 d7 e7, for d6 is
    ("hole", 2, 3),  # e2 e3; d7 e6 e7
    ("stonewall", 4, 6),  # c2 c3 d2 d3; c7 d6 d7 e7 f6 f7
    ("benoni", 4, 2),  # d2 d3 e2 e3, for d4 is attacked; c7 d7, for c6 is
]


def position(name: str) -> Position:
    return Line.parse(LINES[name]).end if LINES[name] else Position.start()


def said(side: SideSquares, term: str) -> tuple[str, ...]:
    if term == "outposts":
        return tuple(outpost.square for outpost in side.outposts)
    found: tuple[str, ...] = getattr(side, term)
    return found


@pytest.mark.parametrize("row", READ.strip().splitlines())
def test_positions_read_by_hand(row: str) -> None:
    term, side, what, line, verdict, *_ = row.split()
    language = square_language(position(line))
    assert (what in said(getattr(language, side), term)) is (verdict == "yes")


def test_three_positions_speak_for_each_term_and_three_against() -> None:
    rows = [row.split() for row in READ.strip().splitlines()]
    for term in {row[0] for row in rows}:
        assert [row[4] for row in rows if row[0] == term] == ["yes"] * 3 + ["no"] * 3, term


@pytest.mark.parametrize(("line", "file", "is_open"), OPEN)
def test_open_files_read_by_hand(line: str, file: str, is_open: bool) -> None:
    assert (file in square_language(position(line)).open_files) is is_open


@pytest.mark.parametrize(("line", "white", "black"), SPACE)
def test_space_counted_by_hand(line: str, white: int, black: int) -> None:
    language = square_language(position(line))
    assert (language.white.space, language.black.space) == (white, black)


@pytest.mark.parametrize(
    ("line", "side", "square", "nearest"),
    [
        ("hole", "white", "d5", ("knight", "c3", 1)),
        ("stonewall", "white", "e5", ("knight", "f3", 1)),
        ("isolani", "black", "d5", ("knight", "f6", 1)),
        ("hedgehog", "black", "d4", ("knight", "b8", 2)),
        ("pair", "white", "c6", ("knight", "f3", 2)),
        ("benoni", "black", "d3", ("knight", "f6", 3)),
    ],
)
def test_who_reaches_an_outpost(line: str, side: str, square: str, nearest: tuple[str, str, int]) -> None:
    outposts = {one.square: one for one in getattr(square_language(position(line)), side).outposts}
    first = outposts[square].ways[0]
    assert (first.piece, first.square, first.moves) == nearest


def test_the_sentences_say_the_most_telling_in_words() -> None:
    assert square_language(position("hole")).sentences == (
        "White: outpost d5, one move for the knight on c3; half-open: the d-file; lever f2-f4.",
        "Black: backward pawn on d6; the bishop on e7 is bad; half-open: the c-file; lever d6-d5.",
    )
    assert square_language(position("symmetry")).sentences[-1] == "Open: the c- and d-files."
    assert square_language(position("start")).sentences == ()
    more = Line.parse("1.e4 e6 2.d4 d6 3.f4 Be7 4.c4 Nf6").end
    assert "White has more space: 8 safe squares" in square_language(more).sentences[-1]


# The same definitions, read plainly.


def wander(seed: int, plies: int) -> chess.Board:
    chance = random.Random(seed)
    board = chess.Board()
    for _ in range(plies):
        moves = list(board.legal_moves)
        if not moves:
            break
        pawns = [move for move in moves if board.is_zeroing(move)]
        board.push(chance.choice(pawns if pawns and chance.random() < 0.6 else moves))
    return board


def plain(board: chess.Board) -> dict[str, Any]:
    """White's words on a board, square by square."""

    def pawns(color: chess.Color) -> set[tuple[int, int]]:
        return {(chess.square_file(one), chess.square_rank(one)) for one in board.pieces(chess.PAWN, color)}

    def name(square: tuple[int, int]) -> str:
        return chess.square_name(chess.square(*square))

    own, their = pawns(chess.WHITE), pawns(chess.BLACK)
    guarded_by_them = {(file + side, rank - 1) for file, rank in their for side in (-1, 1)}

    def holes(mine: set[tuple[int, int]], other: set[tuple[int, int]], up: int) -> set[tuple[int, int]]:
        found = set()
        ranks = (2, 3, 4) if up == 1 else (5, 4, 3)
        for file in range(1, 7):
            for rank in ranks:
                if (file, rank) in mine | other or (file, rank + up) in mine:
                    continue
                reached = False
                for start in mine:
                    if abs(start[0] - file) != 1:
                        continue
                    place = start[1]
                    while True:  # the pawn goes forward until an enemy pawn stands before it
                        reached |= place == rank - up
                        place += up
                        if not 0 < place < 7 or (start[0], place) in other:
                            break
                if not reached:
                    found.add((file, rank))
        return found

    def empty(square: tuple[int, int]) -> bool:
        return board.piece_at(chess.square(*square)) is None

    steps = {}
    for file, rank in own:
        if rank < 7 and empty((file, rank + 1)):
            steps[(file, rank + 1)] = (file, rank)
            if rank == 1 and empty((file, 3)):
                steps[(file, 3)] = (file, rank)
    covered = {(file + side, rank + 1) for file, rank in own | set(steps) for side in (-1, 1)}
    near = {pawn: [one for one in own if abs(one[0] - pawn[0]) == 1] for pawn in own}
    isolated = {pawn for pawn in own if not near[pawn]}
    fixed = {
        (file, rank)
        for file, rank in own
        if 2 <= file <= 5 and ((file, rank + 1) in their or (file, rank + 1) in guarded_by_them)
    }
    bad = set()
    for bishop in board.pieces(chess.BISHOP, chess.WHITE):
        square = chess.square_file(bishop), chess.square_rank(bishop)
        alike = [pawn for pawn in fixed if sum(pawn) % 2 == sum(square) % 2]
        central = [pawn for pawn in own if 2 <= pawn[0] <= 5]
        if len(alike) >= 2 and 2 * len(alike) >= len(central) and square[1] < max(rank for _, rank in alike):
            bad.add(square)
    files = {file for file, _ in own}
    their_files = {file for file, _ in their}
    return {
        "holes": {name(one) for one in holes(own, their, 1)},
        "outposts": {name(one) for one in holes(their, own, -1) & covered},
        "isolated": {name(one) for one in isolated},
        "backward": {
            name(pawn)
            for pawn in own - isolated
            if not any(rank <= pawn[1] for _, rank in near[pawn])
            and (pawn[0], pawn[1] + 1) in guarded_by_them
        },
        "doubled": {name(pawn) for pawn in own if sum(one[0] == pawn[0] for one in own) > 1},
        "bad_bishops": {name(one) for one in bad},
        "levers": {f"{name(start)}-{name(end)}" for end, start in steps.items() if end in guarded_by_them},
        "half_open_files": {"abcdefgh"[file] for file in their_files - files},
        "space": sum(
            any(one[0] == file and one[1] > rank for one in own)
            and (file, rank) not in own
            and (file, rank) not in guarded_by_them
            for file in range(2, 6)
            for rank in (1, 2, 3)
        ),
    }


def words(side: SideSquares) -> dict[str, Any]:
    terms = (
        "holes",
        "outposts",
        "isolated",
        "backward",
        "doubled",
        "bad_bishops",
        "levers",
        "half_open_files",
    )
    return {**{term: set(said(side, term)) for term in terms}, "space": side.space}


@given(st.integers(0, 10**9), st.integers(0, 60))
def test_a_plain_reading_of_the_definitions_agrees(seed: int, plies: int) -> None:
    board = wander(seed, plies)
    language = square_language(Position.from_fen(board.fen()))
    assert words(language.white) == plain(board)
    turned = square_language(mirrored_position(Position.from_fen(board.fen())))
    assert words(turned.white) == plain(board.mirror())


@given(st.integers(0, 10**9), st.integers(0, 60))
def test_colours_reversed_give_the_mirrored_answer(seed: int, plies: int) -> None:
    here = Position.from_fen(wander(seed, plies).fen())
    language, turned = square_language(here), square_language(mirrored_position(here))
    own, other = words(language.white), words(turned.black)
    for term in ("holes", "outposts", "isolated", "backward", "doubled", "bad_bishops"):
        assert {mirrored_square(square) for square in own[term]} == other[term]
    assert {"-".join(map(mirrored_square, lever.split("-"))) for lever in own["levers"]} == other["levers"]
    assert (own["half_open_files"], own["space"]) == (other["half_open_files"], other["space"])
    assert language.open_files == turned.open_files
    ways = [
        (mirrored_square(one.square), way.piece, mirrored_square(way.square), way.moves)
        for one in language.white.outposts
        for way in one.ways
    ]
    assert sorted(ways) == sorted(
        (one.square, way.piece, way.square, way.moves) for one in turned.black.outposts for way in one.ways
    )


@given(st.integers(0, 10**9), st.integers(10, 50))
def test_ways_are_the_shortest_by_plain_search(seed: int, plies: int) -> None:
    board = wander(seed, plies)
    here = Position.from_fen(board.fen())
    for side, color in ((Side.WHITE, chess.WHITE), (Side.BLACK, chess.BLACK)):
        own = square_language(here).white if side is Side.WHITE else square_language(here).black
        for outpost in own.outposts:
            target = chess.parse_square(outpost.square)
            found = {(way.square, way.moves) for way in outpost.ways}
            assert found == {
                (chess.square_name(unit), moves)
                for kind in (chess.KNIGHT, chess.BISHOP)
                for unit in board.pieces(kind, color)
                if (moves := plain_way(board, unit, target, color)) is not None
            }


def plain_way(board: chess.Board, unit: int, target: int, color: chess.Color) -> int | None:
    """Moves of a unit to a square while nothing else moves, up to four."""
    level, met = {unit}, {unit}
    for moves in range(5):
        if target in level:
            return moves
        following = set()
        for square in level:
            moved = board.copy(stack=False)
            moved.set_piece_at(square, moved.remove_piece_at(unit))
            guarded = any(
                moved.piece_type_at(one) == chess.PAWN for one in moved.attackers(not color, square)
            )
            if square != unit and (guarded or board.piece_at(square)):
                continue
            following |= {one for one in moved.attacks(square) if board.color_at(one) is not color}
        level = following - met
        met |= level
    return None


def test_many_at_once_are_as_each() -> None:
    line = Line.parse(LINES["hole"])
    graph = grow_graph([line.start], texts=[TextLine(line.start, line.start.pack(line.moves))])
    found = square_columns(graph.packed)
    assert found.shape == (graph.nodes, 2, len(FEATURES))
    for node in range(graph.nodes):
        language = square_language(graph.position(node))
        for side, numbers in zip((language.white, language.black), found[node].tolist(), strict=True):
            of = dict(zip(FEATURES, numbers, strict=True))
            for term in ("holes", "outposts", "isolated", "backward", "doubled", "bad_bishops"):
                squares = {chess.square_name(one) for one in chess.SquareSet(of[term])}
                assert squares == set(said(side, term))
            assert of["space"] == side.space
    with pytest.raises(ValueError, match="packed"):
        square_columns(np.zeros((2, 31), np.uint8))
