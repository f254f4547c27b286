from __future__ import annotations

import io
from collections import Counter

import chess
import chess.pgn
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_manuscripts import games

from variorum.base import InputError, UsageError
from variorum.board import Line
from variorum.edition.manuscript import Manuscript, Node, read_manuscript
from variorum.edition.manuscript_find import line_to
from variorum.edition.manuscript_merge import Merged, merge_games, merge_line
from variorum.edition.manuscript_move import move_subtree

OWN = '[Event "a"]\n\n1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. Nf3 Be7 $14 {solid} 5. Bg5 *\n'


def shown(node: Node) -> bool:
    del node
    return False


def merged(own: str, incoming: str) -> Merged:
    return merge_games(
        read_manuscript(own.encode()), read_manuscript(incoming.encode()), see="see", hides=shown
    )


def added(own: str, line: str) -> Merged:
    return merge_line(read_manuscript(own.encode()), Line.parse(line), see="see", hides=shown, title="The Q")


def test_new_moves_comments_and_signs_come_in_and_old_ones_do_not_twice() -> None:
    result = merged(
        OWN,
        '[Event "b"]\n\n1. d4 d5! 2. c4 (2. Nf3 {quiet} Nf6) e6 3. Nc3 Nf6 4. Nf3 Be7 {solid} 5. Bf4 $14 *\n',
    )
    assert result.data.decode() == OWN.replace(
        "d5 2. c4 e6", "d5 $1 2. c4 (2. Nf3 {quiet} 2... Nf6) 2... e6"
    ).replace("5. Bg5", "5. Bg5 (5. Bf4 $14)")
    assert (result.moves, result.comments, result.signs, result.games) == (3, 1, 2, 0)


def test_a_transposition_is_pointed_at_and_goes_on_where_the_position_is_treated() -> None:
    result = merged(OWN, "1. d4 Nf6 2. c4 e6 3. Nf3 d5 4. Nc3 Be7 5. Bf4 *")
    text = result.data.decode()
    assert "(1... Nf6 2. c4 e6 3. Nf3 d5 4. Nc3 {see 1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3})" in text
    assert "5. Bg5 (5. Bf4)" in text
    assert [one.order for one in result.transpositions] == ["1.d4 Nf6 2.c4 e6 3.Nf3 d5 4.Nc3"]


def test_a_sign_that_speaks_against_the_author_is_told_and_left_out() -> None:
    result = merged(OWN, "1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. Nf3 Be7 $16 *")
    assert result.data.decode() == OWN
    (conflict,) = result.conflicts
    assert (conflict.stands, conflict.incoming, conflict.line) == ("⩲", "±", 1)


def test_two_orders_with_two_signs_are_told() -> None:
    result = merged(OWN, "1. d4 Nf6 2. c4 e6 3. Nf3 d5 4. Nc3 Be7 $15 *")
    assert len(result.conflicts) == 1


def test_what_is_private_is_not_pointed_at() -> None:
    own = read_manuscript(OWN.encode())
    hidden = own.games[0].main_line[2]
    result = merge_games(
        own, read_manuscript(b"1. d4 e6 2. c4 d5 3. Nf3 *"), see="see", hides=lambda node: node == hidden
    )
    assert result.transpositions == ()
    assert b"1... e6 2. c4 d5 3. Nf3)" in result.data


def test_a_named_game_is_cited_where_its_moves_end() -> None:
    tags = '[Event "Spring Open"]\n[White "Orlo"]\n[Black "Vesk"]\n[Date "2019.03.01"]\n\n'
    text = merged(OWN, f"{tags}1. d4 d5 2. c4 e6 3. Nf3 1-0").data.decode()
    assert "(3. Nf3 {Orlo – Vesk, Spring Open, 2019, 1-0})" in text
    text = merged(OWN, f"{tags}1. d4 d5 2. c4 e6 3. Nf3 *").data.decode()
    assert "Orlo" not in text, "an analysis is nobody's game"


def test_a_game_from_a_position_that_is_not_there_is_appended_whole() -> None:
    ending = (
        '[Event "k"]\n[SetUp "1"]\n[FEN "8/8/8/4k3/8/4K3/4P3/8 w - - 0 1"]\n\n1. Kd3 {opposition} Kd5 1/2-1/2'
    )
    result = merged(OWN, ending)
    assert result.data.decode() == f"{OWN.strip()}\n\n{ending}\n"
    assert result.games == 1
    assert merged(result.data.decode(), ending).data == result.data


def test_a_game_from_a_position_on_the_way_is_merged_there() -> None:
    fen = read_manuscript(OWN.encode()).games[0].main_line[3].position.fen
    result = merged(OWN, f'[SetUp "1"]\n[FEN "{fen}"]\n\n3. Nf3 Nf6 *')
    assert "3. Nc3 (3. Nf3 Nf6) 3... Nf6" in result.data.decode()


@pytest.mark.parametrize(
    ("own", "line", "expected"),
    [
        (OWN, "1.d4 d5 2.c4 e6", OWN),
        ("1. e4 e5 (1... c6) *", "1.e4 e5 2.Nf3", "1. e4 e5 (1... c6) 2. Nf3 *"),
        ("1. e4 e5 ; usual\n*", "1.e4 e5 2.Nf3", "1. e4 e5 ; usual\n2. Nf3\n*"),
        ('[Event "x"]\n\n*\n', "1.e4 c6", '[Event "x"]\n\n1. e4 c6 *\n'),
        ("1. e4 c6 {x}*", "1.e4 c6 2.d4", "1. e4 c6 {x} 2. d4 *"),
    ],
)
def test_a_typed_line(own: str, line: str, expected: str) -> None:
    assert added(own, line).data.decode() == expected


def test_a_line_in_an_empty_manuscript_begins_a_game() -> None:
    text = added("", "1.d4 d5").data.decode()
    game = chess.pgn.read_game(io.StringIO(text))
    assert game is not None
    assert game.errors == []
    assert [move.uci() for move in game.mainline_moves()] == ["d2d4", "d7d5"]
    assert game.headers["Event"] == "The Q"


def test_nothing_is_put_behind_what_cannot_be_read() -> None:
    with pytest.raises(InputError, match="could not be read"):
        added("1. e4 e5 2. Ke7 Nf6 *", "1.e4 e5 2.Nf3")


def test_a_comment_with_a_brace_stays_a_comment_to_the_end_of_its_line() -> None:
    result = merged("1. e4 c6 2. d4 *", "1. e4 ; a } b\n1... c6 2. Nc3 ; c } d\n*")
    after = read_manuscript(result.data)
    assert [comment.text for comment in after.games[0].comments] == ["a } b", "c } d"]
    assert merged(result.data.decode(), "1. e4 ; a } b\n1... c6 2. Nc3 ; c } d\n*").data == result.data


def test_a_comment_that_would_begin_a_game_keeps_its_words() -> None:
    result = merged("1. e4 c6 *", '1. e4 c6 {a { b [Event "x"]} *')
    assert result.data == b'1. e4 c6 {a ( b [Event "x"]} *'


def test_moving_a_continuation_to_the_other_order() -> None:
    text = b"1. d4 d5 (1... Nf6 2. c4 e6 3. Nf3 d5 4. Nc3 Be7 5. Bf4 (5. Qc2) O-O) 2. c4 e6 3. Nc3 Nf6 4. Nf3 {tabiya} *"
    manuscript = read_manuscript(text)
    here, there = (
        next(one for one in manuscript.games[0].nodes if one.san_text == san and one.ply == 7)
        for san in ("Nc3", "Nf3")
    )
    assert move_subtree(here, there, see="see").data == (
        b"1. d4 d5 (1... Nf6 2. c4 e6 3. Nf3 d5 4. Nc3 {see 1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3}) 2. c4 e6 3. Nc3 Nf6 "
        b"4. Nf3 {tabiya} 4... Be7 5. Bf4 (5. Qc2) 5... O-O *"
    )


def test_moving_a_variation_that_stood_at_the_wrong_move() -> None:
    manuscript = read_manuscript(b"1. d4 d5 2. c4 (2. Bf4 {early} c5) e6 3. Nc3 *")
    node = next(one for one in manuscript.games[0].nodes if one.san_text == "Bf4")
    to = manuscript.games[0].main_line[3]
    assert move_subtree(node, to, see="see").data == b"1. d4 d5 2. c4 e6 3. Nc3 (3. Bf4 {early} 3... c5) *"
    with pytest.raises(InputError, match="Bf4 is not legal there"):
        move_subtree(node, manuscript.games[0].main_line[0], see="see")
    with pytest.raises(InputError, match="behind itself"):
        move_subtree(manuscript.games[0].main_line[0], to, see="see")
    with pytest.raises(UsageError, match="start position"):
        move_subtree(manuscript.games[0].root, to, see="see")


def positions(manuscript: Manuscript) -> set[str]:
    return {node.position.epd for game in manuscript.games for node in game.nodes}


def words(text: str) -> Counter[str]:
    game = chess.pgn.read_game(io.StringIO(text))
    assert game is not None
    found: Counter[str] = Counter()
    pending: list[chess.pgn.GameNode] = [game]
    while pending:
        one = pending.pop()
        found.update(one.comment.split())
        pending += one.variations
    return found


@settings(max_examples=60, deadline=None)
@given(games(), games())
def test_laws_of_merging(own: str, incoming: str) -> None:
    """Every position of both is there; nothing of the author's is lost; merging once more changes nothing."""
    one, other = read_manuscript(own.encode()), read_manuscript(incoming.encode())
    result = merge_games(one, other, see="see", hides=shown)
    after = read_manuscript(result.data)
    assert after.diagnostics == ()
    assert positions(after) == positions(one) | positions(other)
    lines = {line_to(node).san() for node in after.games[0].nodes}
    assert {line_to(node).san() for node in one.games[0].nodes} <= lines
    assert not words(own) - words(result.data.decode())
    again = merge_games(after, other, see="see", hides=shown)
    assert again.data == result.data
    reference = chess.pgn.read_game(io.StringIO(result.data.decode()))
    assert reference is not None
    assert reference.errors == []


@settings(max_examples=40, deadline=None)
@given(games(), st.data())
def test_bytes_outside_of_what_is_put_in_stay(own: str, data: st.DataObject) -> None:
    board = chess.Board()
    moves = []
    for _ in range(data.draw(st.integers(1, 6))):
        moves.append(data.draw(st.sampled_from(sorted(board.legal_moves, key=str))))
        board.push(moves[-1])
    text = chess.Board().variation_san(moves)
    result = merge_line(read_manuscript(own.encode()), Line.parse(text), see="see", hides=shown)
    left, pieces = own, result.data.decode()
    while left and pieces:  # the old text is a subsequence of the new one
        if left[0] == pieces[0]:
            left = left[1:]
        pieces = pieces[1:]
    assert not left
