"""Playouts in the store: read where they are asked for, and nowhere else."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.unit.store.made_up import MadeUpGame, random_games, sift_in
from variorum.board import Line, Position
from variorum.store import PLAYOUT, PRACTICE, Filter, Mode, Store, open_store

START = Position.start()
PLAYOUTS = Filter(kinds=frozenset({PLAYOUT}))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Forty games of practice, then thirty playouts by two voices, of which twenty are the same game."""
    folder = tmp_path_factory.mktemp("edition") / ".variorum"
    with open_store(folder, mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", random_games(40))
        same = MadeUpGame(Line.parse("1.h4 h5 2.Rh3 Rh6 3.a4 a5"), "resident", "guest", 3)
        for name, voice, games in (
            ("playouts/guest-resident.pgn", "guest, resident", [same] * 20),
            ("playouts/resident.pgn", "resident", random_games(10, 7)),
        ):
            sift_in(store, name, games, kind=PLAYOUT, voice=voice)
    return folder


@pytest.fixture
def store(folder: Path) -> Store:
    return open_store(folder)


def test_nothing_counts_them_that_does_not_ask(store: Store) -> None:
    with store:
        assert store.count == 40
        assert sum(len(rows) for rows, _ in store.all_games()) == 40
        assert store.statistics(START).tally.games == 40
        assert sum(order.tally.games for order in store.orders(START).orders) == 40
        assert sum(len(one.ids) for one in store.games_through(START)) == 40
        assert store.balance().games == sum(
            bool(g.result and g.white_elo and g.black_elo) for g in random_games(40)
        )
        assert store.double_count == 0
        only_there = Line.parse("1.h4 h5 2.Rh3 Rh6").end
        assert not store.reaches(only_there.key)
        assert store.reaches(START.key)
        assert store.statistics(only_there).tally.games == 0


def test_they_are_there_for_whoever_asks(store: Store) -> None:
    def count(wanted: Filter) -> int:
        ids = [game for one in store.games_through(START, wanted) for game in one.ids.tolist()]
        assert len(set(ids)) == len(ids) == store.statistics(START, wanted).tally.games
        return len(ids)

    with store:
        assert count(PLAYOUTS) == 30
        assert count(Filter(kinds=PRACTICE)) == 40
        assert count(Filter(kinds=PRACTICE | {PLAYOUT})) == 70
        assert count(Filter(kinds=frozenset({PLAYOUT}), voice="guest")) == 20
        assert count(Filter(kinds=frozenset({PLAYOUT}), voice="resident")) == 30
        assert count(Filter(kinds=frozenset({PLAYOUT}), voice="gues")) == 0


def test_games_through_a_position_are_those_games(store: Store) -> None:
    with store:
        position = random_games(10, 7)[3].line.positions()[2]
        for wanted in (Filter(), PLAYOUTS):
            seen = 0
            for one in store.games_through(position, wanted):
                offsets, moves = one.columns.moves
                for game, row, ply, result in zip(
                    store.games(one.ids.tolist()), one.rows, one.plies, one.results, strict=True
                ):
                    assert game.line.positions()[ply] == position
                    assert position not in game.line.positions()[:ply]
                    assert moves[offsets[row] : offsets[row + 1]].tobytes() == game.moves.tobytes()
                    assert result == game.result
                    assert (game.provenance.kind == PLAYOUT) == (wanted is PLAYOUTS)
                    assert game.provenance.source == one.sift.source
                    seen += 1
            assert seen == store.statistics(position, wanted).tally.games > 0
