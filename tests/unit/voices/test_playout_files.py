"""Playouts as text: whole, durable game by game, read back without loss, readable by an independent library."""

from __future__ import annotations

import datetime
import io
import sys
from pathlib import Path

import chess.pgn
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from variorum.base import InputError, Silent
from variorum.board import Line, Position, Score
from variorum.edition import ScorePattern, load_edition
from variorum.sources import sift_playouts
from variorum.store import PLAYOUT, Filter, Mode, open_store
from variorum.voices.playing import play_playouts
from variorum.voices.playout import Ending, Playout, PlayoutPlan, Recipe, Thought
from variorum.voices.playout_files import (
    KeptPlayout,
    append_playout,
    cut_torn_end,
    kept_playout,
    playout_path,
    playout_text,
)

DAY = datetime.date(2024, 5, 1)
RECIPE = Recipe(nodes=50, plies=4, margin=100, longest=60)
STARTS = [Position.start(), Line.parse("1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6").end, Line.parse("1.d4").end]


@pytest.fixture(scope="module")
def games() -> list[KeptPlayout]:
    found: list[Playout] = []
    plans = [PlayoutPlan(start, n, "resident", "resident") for n in range(1, 8) for start in STARTS]
    play_playouts(
        plans,
        RECIPE,
        {},
        workers=2,
        deadline=None,
        progress=Silent(),
        keep=lambda one: found.append(one) is None,
    )
    return [KeptPlayout(playout=one, versions=("3", "3"), recipe=RECIPE.words) for one in found]


@pytest.fixture
def edition(tmp_path: Path) -> Path:
    (tmp_path / "edition.toml").write_text('title = "x"\nside = "white"\n[roots]\nr = "1.e4 c6"\n')
    return tmp_path


def read_back(edition: Path) -> list[KeptPlayout | None]:
    opened, _ = load_edition(edition)
    assert opened is not None
    with open_store(edition / ".variorum", mode=Mode.WRITE) as store:
        sift_playouts(opened, store, Silent())
        found = []
        for _, rows, columns in store.games_by_source(Filter(kinds=frozenset({PLAYOUT}))):
            found += store.games((rows + columns.first).tolist())
        return [kept_playout(game) for game in found]


def test_what_is_written_is_read_back(edition: Path, games: list[KeptPlayout]) -> None:
    file = playout_path(edition / "playouts", ("resident",))
    assert file.name == "resident.pgn"
    for game in games:
        append_playout(file, playout_text(game, "somewhere", DAY))
    assert read_back(edition) == games
    assert not cut_torn_end(file)
    assert read_back(edition) == games


def test_an_independent_library_reads_it(games: list[KeptPlayout]) -> None:
    for kept in games:
        text = playout_text(kept, "the first place", DAY)
        game = chess.pgn.read_game(io.StringIO(text))
        assert game is not None and not game.errors
        playout = kept.playout
        assert game.board() == chess.Board(playout.plan.start.fen)
        assert game.headers["Event"] == "Playout from the first place"
        assert game.headers["Result"] == playout.result
        assert [move.uci() for move in game.mainline_moves()] == [move.uci for move in playout.line.moves]
        said = [node.comment for node in game.mainline()]
        thought = playout.thoughts[0]
        assert said[0].startswith(f"{thought.score.pawns_text.replace('−', '-')} at {thought.nodes} nodes")
        assert len(said) == len(playout.thoughts)
        assert max(map(len, text.split("\n\n")[1].splitlines())) <= 79


def test_a_long_line_keeps_its_end(games: list[KeptPlayout]) -> None:
    text = playout_text(games[0], "1.d4 " * 60 + "31.Kh1", DAY)
    event = text.splitlines()[0]
    assert event.endswith('1.d4 31.Kh1"]') and "…" in event
    assert len(event) < 255


def test_its_scores_speak_where_it_is_sifted_as_a_source() -> None:
    """With the `score_comment` of docs/how-to/playouts.md."""
    pattern = ScorePattern.compile(r"(?P<score>[+-]?\d+\.\d\d|#-?\d+) at [\d,]+ nodes, depth (?P<depth>\d+)")
    note = pattern.read("+0.36 at 20,000 nodes, depth 12")
    assert note is not None and (note.score, note.depth) == (Score.of_cp(36), 12)
    note = pattern.read("#-3 at 20,000 nodes, depth 12")
    assert note is not None and note.score == Score.of_mate(-3)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.builds(
            Thought,
            st.one_of(
                st.integers(-5000, 5000).map(Score.of_cp),
                st.integers(1, 60).map(Score.of_mate),
                st.integers(-60, -1).map(Score.of_mate),
            ),
            st.integers(0, 10**9),
            st.integers(0, 99),
        ),
        min_size=1,
        max_size=8,
    )
)
def test_every_score_and_effort_survives(thoughts: list[Thought]) -> None:
    from variorum.voices.playout_files import _COMMENT, _comment, _thought

    text = " ".join(f"{{{_comment(one)}}}" for one in thoughts)
    assert [_thought(match) for match in _COMMENT.finditer(text)] == thoughts


@pytest.mark.parametrize("cut", [1, 2, 3, 40, 300, 600])
def test_a_torn_end_is_taken_away_and_nothing_else(edition: Path, games: list[KeptPlayout], cut: int) -> None:
    file = edition / "playouts" / "resident.pgn"
    for game in games[:3]:
        append_playout(file, playout_text(game, "x", DAY))
    whole = file.read_bytes()
    file.write_bytes(whole[:-cut])
    torn = cut_torn_end(file)
    assert torn == (cut > 2)
    assert not cut_torn_end(file)
    append_playout(file, playout_text(games[3], "x", DAY))
    assert read_back(edition) == [*games[: 2 if torn else 3], games[3]]


def test_a_beginning_alone_is_taken_away(tmp_path: Path) -> None:
    file = tmp_path / "a.pgn"
    assert not cut_torn_end(file)
    file.write_bytes(b"")
    assert not cut_torn_end(file)
    file.write_bytes(b'[Event "x"]\n[Site')
    assert cut_torn_end(file)
    assert file.read_bytes() == b""


def test_what_is_no_playout_or_not_whole_is_none(edition: Path, games: list[KeptPlayout]) -> None:
    text = playout_text(games[0], "x", DAY)
    plies = f'[PlyCount "{len(games[0].playout.line)}"]'
    assert plies in text
    (edition / "playouts").mkdir()
    (edition / "playouts" / "a.pgn").write_text(
        "\n".join(
            [
                text,
                text.replace(plies, '[PlyCount "7"]'),
                text.replace("[Recipe ", "[Other "),
                text.replace('[Ending "', '[Ending "un'),
            ]
        )
    )
    assert read_back(edition) == [games[0], None, None, None]


def test_a_file_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "playouts").write_text("a file")
    with pytest.raises(InputError, match="the game cannot be written"):
        append_playout(tmp_path / "playouts" / "a.pgn", "x")


def test_a_broken_game_tells_its_fault(games: list[KeptPlayout]) -> None:
    plan = games[0].playout.plan
    broken = Playout(
        plan=plan,
        line=Line(plan.start),
        result="*",
        ending=Ending.FAULT,
        thoughts=(),
        fault="guest fell silent",
    )
    text = playout_text(KeptPlayout(playout=broken, versions=("3", "1"), recipe="r"), "x", DAY)
    assert '[Ending "fault: guest fell silent"]' in text
    assert '[Termination "abandoned"]' in text
    assert text.endswith("\n\n*\n")


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_nothing_is_written_or_cut_through_a_link_that_leads_out(tmp_path: Path) -> None:
    outside = tmp_path / "outside.pgn"
    outside.write_text('[Event "x"]\n\n1. e4 *\n\n[Event "torn"]\n\n1. e4')
    before = outside.read_bytes()
    folder = tmp_path / "playouts"
    folder.mkdir()
    (folder / "resident.pgn").symlink_to(outside)
    for act in (
        lambda: append_playout(folder / "resident.pgn", "x"),
        lambda: cut_torn_end(folder / "resident.pgn"),
    ):
        with pytest.raises(InputError, match="leads out of"):
            act()
    assert outside.read_bytes() == before
