"""Laws that hold for every line: what is written is read back."""

from __future__ import annotations

import pickle

from hypothesis import given
from hypothesis import strategies as st

from variorum.board import (
    DEFAULT_BANDS,
    Epd,
    EpdError,
    FenError,
    Line,
    Move,
    MoveError,
    Position,
    Score,
    Side,
    band_of,
    ce_of_score,
    expected_score,
    score_of_ce,
    sign_named,
    sign_of,
)

STARTS = (
    Position.start(),
    Position.from_fen("r3k2r/1Ppp1pb1/bn2pnp1/3PN3/1p2P3/2N2Q1p/P1PBBPpP/R3K2R w KQkq - 0 1"),
    Position.from_fen("rnbqkb1r/pp2pppp/5n2/3p4/2PP4/8/PP3PPP/RNBQKBNR w KQkq - 0 5"),
    Position.from_fen("4k3/P1P3PP/8/pP2pP2/8/8/p1p3pp/4K3 b - - 3 41"),
    Position.from_fen("bqnb1rkr/pp3ppp/3ppn2/2p5/5P2/P2P4/NPP1P1PP/BQ1BNRKR w HFhf - 2 9"),
)


@st.composite
def lines(draw: st.DrawFn, longest: int = 30) -> Line:
    """A line of legal moves from one of the starts; now and then a null move."""
    start = draw(st.sampled_from(STARTS))
    position, moves = start, []
    for choice in draw(st.lists(st.integers(0, 10_000), max_size=longest)):
        legal = position.legal_moves()
        if not legal:
            break
        passes = choice % 50 == 49 and not position.is_check
        move = Move.null() if passes else legal[choice % len(legal)]
        position = position.play(move)
        moves.append(move)
    return Line(start, tuple(moves))


@given(lines())
def test_san_is_read_back(line: Line) -> None:
    assert Line.parse(line.san(), line.start) == line
    assert Line.parse(line.san(numbers=False), line.start) == line
    assert Line.parse(line.uci(), line.start) == line


@given(lines())
def test_a_fen_in_front_is_read_back(line: Line) -> None:
    read = Line.parse(f"{line.start.fen} {line.san()}")
    assert read == line
    assert read.end.fen == line.end.fen


@given(lines(), st.sampled_from(["…", "..."]), st.sampled_from(["", " "]), st.booleans())
def test_any_style_of_numbers_is_read(line: Line, dots: str, gap: str, always: bool) -> None:
    words = []
    for position, move in zip(line.positions(), line.moves, strict=False):
        white = position.turn is Side.WHITE
        number = f"{position.fullmove}{'.' if white else dots}{gap}" if white or always else ""
        words.append(number + position.san(move))
    assert Line.parse(" ".join(words), line.start) == line


@given(lines())
def test_packed_moves_are_read_back(line: Line) -> None:
    packed = line.packed()
    assert packed.dtype == "uint16"
    assert len(packed) == len(line)
    assert Line.unpack(packed, line.start) == line
    assert line.start.replay(packed) == line.end


@given(lines())
def test_positions_are_values(line: Line) -> None:
    for position in line.positions():
        again = Position.from_fen(position.fen, chess960=position.chess960)
        assert again == position
        assert (hash(again), again.key, again.fen) == (hash(position), position.key, position.fen)
        assert pickle.loads(pickle.dumps(position)) == position
        assert position.ply == 2 * (position.fullmove - 1) + (position.turn is Side.BLACK)


@given(lines(12))
def test_epd_is_read_back(line: Line) -> None:
    position = line.start
    best = tuple(move for move in line.moves[:1] if not move.is_null)
    epd = Epd(
        position,
        {
            "pv": line.moves,
            "bm": best,
            "fmvn": position.fullmove,
            "hmvc": position.halfmove_clock,
            "c0": ("semicolons; and - dashes",),
            "draw_offer": (),
            "Own": ("bare", "two words", "", "x;y"),
        },
    )
    read = Epd.parse(str(epd), chess960=position.chess960)
    assert read == epd
    assert read.position.fen == position.fen


@given(st.text(max_size=60))
def test_any_text_is_a_line_or_an_error(text: str) -> None:
    try:
        line = Line.parse(text)
    except (MoveError, FenError):
        return
    assert Line.parse(line.san()) == line


@given(st.text(alphabet="abcdefgh12345678NBRQKOx0-–+#=(). …", max_size=40))
def test_anything_like_a_line_is_a_line_or_an_error(text: str) -> None:
    try:
        Line.parse(text)
    except MoveError as error:
        assert error.ply is not None and error.ply >= 1
        assert error.token in text


@given(st.text(max_size=80))
def test_any_text_behind_a_position_is_an_epd_or_an_error(text: str) -> None:
    try:
        epd = Epd.parse(f"{Position.start().epd} {text}")
    except (FenError, EpdError, MoveError):
        return
    try:
        written = str(epd)
    except EpdError:  # a control character in a string
        return
    assert str(Epd.parse(written)) == written


@given(st.integers(-32_000, 32_000), st.sampled_from(Side))
def test_scores_in_epd_are_read_back(cp: int, side: Side) -> None:
    score = Score.of_cp(cp)
    assert score_of_ce(ce_of_score(score, side), side) == score
    assert score.seen_from(side).seen_from(side) == score


@given(st.integers(1, 383), st.sampled_from([1, -1]), st.sampled_from(Side))
def test_mates_in_epd_are_read_back(moves: int, sign: int, side: Side) -> None:
    score = Score.of_mate(sign * moves)
    assert score_of_ce(ce_of_score(score, side), side) == score


@given(st.floats(-3000, 3000), st.floats(50, 1000))
def test_expected_score_rises_and_is_mirrored(cp: float, slope: float) -> None:
    expected = expected_score(cp, slope)
    assert 0 <= expected <= 100
    assert abs(expected + expected_score(-cp, slope) - 100) < 1e-9
    assert expected_score(cp + 1, slope) >= expected
    assert abs(expected - 100 / (1 + 10 ** (-cp / slope))) < 1e-9


@given(st.floats(0, 100))
def test_signs_lie_in_their_bands(expected: float) -> None:
    sign = sign_of(expected)
    low, high = band_of(sign)
    assert low <= expected <= high
    assert sign_named(sign.words) == sign_named(sign.glyph) == sign_named(f"${sign.nag}") == sign
    mirrored = sign_of(100 - expected, DEFAULT_BANDS)
    assert (mirrored.side is None) == (sign.side is None)
    assert mirrored.side != sign.side or sign.side is None
