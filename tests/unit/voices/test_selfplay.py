from __future__ import annotations

import pytest

from variorum.base import Interrupted, Silent
from variorum.board import Line
from variorum.voices.selfplay import Adjudication, Seat, Variety, play_games

OPENINGS = [Line.parse("1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"), Line.parse("1.d4 d5 2.c4 e6 3.Nc3 c5")]
PLANS = [(index % 2, Seat(60, 10), Seat(90), 7 + index) for index in range(6)]


def test_games_do_not_depend_on_the_number_of_threads() -> None:
    one = play_games(OPENINGS, PLANS, progress=Silent(), threads=1, max_plies=60)
    two = play_games(OPENINGS, PLANS, progress=Silent(), threads=2, max_plies=60)
    assert one == two
    assert len({tuple(game.line.moves) for game in one}) == len(PLANS)


def test_games_begin_with_their_opening_and_carry_a_score_for_each_move_after_it() -> None:
    for game in play_games(OPENINGS, PLANS, progress=Silent(), max_plies=60, variety=Variety(4, 30, 60)):
        opening = OPENINGS[PLANS[game.plan][0]]
        assert game.line.moves[: game.opening_plies] == opening.moves
        assert len(game.scores) == len(game.depths) == len(game.line) - game.opening_plies
        assert game.result in ("1-0", "0-1", "1/2-1/2", "*")


def test_agreement_ends_a_game() -> None:
    win = Adjudication(score=1, plies=2, earliest=10)
    (game,) = play_games(OPENINGS, [(0, Seat(60), Seat(60), 1)], progress=Silent(), win=win, draw=None)
    assert game.ending == "agreed"
    assert all(abs(score.cp or 100) > 1 for score in game.scores[-2:])


def test_the_user_stops() -> None:
    progress = Silent()
    progress.stop = True
    with pytest.raises(Interrupted):
        play_games(OPENINGS, PLANS * 20, progress=progress, max_plies=300)
