"""The store as its users see it: sifts in, look-ups, statistics, orders and games out."""

from __future__ import annotations

import os
import random
import shutil
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from tests.unit.store.made_up import MadeUpGame, batch_of, random_games, sift_in
from variorum.base import StoreError, UsageError
from variorum.board import Line, Move, Position, Score, Verdict, VerdictLine
from variorum.store import Filter, Hashing, Mode, Pace, Tally, open_store

START = Position.start()


def tally_of(games: list[MadeUpGame]) -> Tally:
    results = Counter(game.result for game in games)
    return Tally(results[1], results[3], results[2], results[0])


@pytest.fixture(scope="module")
def games() -> list[MadeUpGame]:
    return random_games(400)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, games: list[MadeUpGame]) -> Path:
    folder = tmp_path_factory.mktemp("edition") / ".variorum"
    with open_store(folder, mode=Mode.WRITE) as store:
        sift_in(store, "one.pgn", games[:250])
        sift_in(store, "two.pgn", games[250:], kind="engine")
    return folder


def test_lookup_finds_every_occurrence_and_no_other(folder: Path, games: list[MadeUpGame]) -> None:
    expected: dict[int, list[tuple[int, int, int]]] = {}
    for number, game in enumerate(games, 1):
        packed = [*game.line.packed().tolist(), 0]
        for ply, position in enumerate(game.line.positions()):
            expected.setdefault(position.key, []).append((number, ply, packed[ply]))
    with open_store(folder) as store:
        for key in [*random.Random(3).sample(sorted(expected), 300), START.key]:
            found = store.lookup(key)
            columns = (found.games.tolist(), found.plies.tolist(), found.moves.tolist())
            assert list(zip(*columns, strict=True)) == sorted(expected[key])
        assert len(store.lookup(12345)) == 0


def test_statistics_are_those_of_the_games(folder: Path, games: list[MadeUpGame]) -> None:
    with open_store(folder) as store:
        for ply in (0, 1, 2, 4, 9):
            position = games[5].line.positions()[ply]
            through = [game for game in games if position in game.line.positions()]
            found = store.statistics(position)
            assert found.tally == tally_of(through)
            assert found.refuted == 0
            played: dict[Move, list[MadeUpGame]] = {}
            for game in through:
                walk = zip(game.line.positions(), game.line.moves, strict=False)
                for move in {move for here, move in walk if here == position}:
                    played.setdefault(move, []).append(game)
            assert {entry.move: entry.tally for entry in found.moves} == {
                move: tally_of(some) for move, some in played.items()
            }
            for entry in found.moves:
                assert entry.latest == max(game.date for game in played[entry.move])
                assert sum(tally.games for tally in entry.by.values()) == entry.tally.games
            assert [head.date for head in found.first] == sorted(game.date for game in through)[:5]
            assert [head.date for head in found.latest] == sorted(
                (game.date for game in through), reverse=True
            )[:5]


def test_filters(folder: Path, games: list[MadeUpGame]) -> None:
    kinds = ["practice"] * 250 + ["engine"] * 150
    rated = [g for g in games if min(g.white_elo, g.black_elo) >= 2300]
    dated = [g for g in games if 20200105 <= g.date <= 20200110]
    with open_store(folder) as store:

        def tally(wanted: Filter) -> Tally:
            return store.statistics(START, wanted).tally

        assert tally(Filter(kinds=frozenset({"engine"}))) == tally_of(
            [game for game, kind in zip(games, kinds, strict=True) if kind == "engine"]
        )
        assert tally(Filter(paces=frozenset({Pace.BLITZ, Pace.RAPID}))) == tally_of(
            [game for game in games if game.pace in (2, 3)]
        )
        assert tally(Filter(min_rating=2300)) == tally_of(rated)
        assert tally(Filter(since=20200105, until=20200110)) == tally_of(dated)
        assert tally(Filter(kinds=frozenset())) == Tally()


def test_dates_with_unknown_parts_are_in_when_they_can_be(tmp_path: Path) -> None:
    line = Line.parse("e4 c6")
    dates = [0, 20230000, 20230600, 20230615, 20221231]
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        made = [MadeUpGame(line, white=f"Single{i}, X", date=date, result=1) for i, date in enumerate(dates)]
        sift_in(store, "a.pgn", made)
        found = store.statistics(START, Filter(since=20230601, until=20230610))
        assert found.tally.games == 2
        assert [head.date for head in found.first] == [20230000, 20230600]


def test_a_hit_that_is_not_the_position_is_refuted(tmp_path: Path) -> None:
    made = batch_of([MadeUpGame(Line.parse("e4 c6 d4")), MadeUpGame(Line.parse("d4 c6"), white="Other, B")])
    keys, rows, plies, moves = made.occurrences
    # A forged collision: the position after 1.d4 under the key of 1.e4.
    after_e4 = Line.parse("e4").end
    keys[(rows == 1) & (plies == 1)] = after_e4.key
    order = np.lexsort((moves, plies, rows, keys))
    made.occurrences = (keys[order], rows[order], plies[order], moves[order])
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        sift = store.begin_sift("a.pgn", "k", kind="practice")
        sift.add_batch(made)
        sift.finish()
        store.settle()
        assert len(store.lookup(after_e4.key)) == 2
        found = store.statistics(after_e4)
        assert (found.tally.games, found.refuted) == (1, 1)
        assert store.orders(after_e4).different == 1


def test_a_repeated_position_counts_its_game_once_and_each_move_once(tmp_path: Path) -> None:
    line = Line.parse("Nf3 Nf6 Ng1 Ng8 Nf3 Nf6 Ng1 Ng8 e4")
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", [MadeUpGame(line)])
        assert len(store.lookup(START.key)) == 3
        found = store.statistics(START)
        assert found.tally == Tally(wins=1)
        assert {entry.move.uci: entry.tally.games for entry in found.moves} == {"e2e4": 1, "g1f3": 1}
        assert [str(order.line) for order in store.orders(START).orders] == [""]


def test_orders_are_whole_prefixes_with_counts(tmp_path: Path) -> None:
    lines = ["e4 c6 d4 d5", "d4 c6 e4 d5", "e4 c6 d4 d5 exd5", "d4 d5 e4 c6", "d4 c6 Nf3 d5"]
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        sift_in(
            store, "a.pgn", [MadeUpGame(Line.parse(line), white=f"P{i}, X") for i, line in enumerate(lines)]
        )
        found = store.orders(Line.parse("e4 c6 d4 d5").end)
        assert found.different == 3
        counted = [(str(order.line), order.tally.games) for order in found.orders]
        assert counted[0] == ("1.e4 c6 2.d4 d5", 2)
        assert sorted(counted[1:]) == [("1.d4 c6 2.e4 d5", 1), ("1.d4 d5 2.e4 c6", 1)]
        assert len(store.orders(Line.parse("e4 c6 d4 d5").end, limit=1).orders) == 1


def test_games_come_back_whole_and_in_the_order_asked_for(folder: Path, games: list[MadeUpGame]) -> None:
    with open_store(folder) as store:
        found = store.games([300, 2, 2])
        assert [game.line for game in found] == [games[299].line, games[1].line, games[1].line]
        game = found[0]
        assert (game.id, game.white, game.result, game.date) == (
            300,
            "White299, Ina",
            games[299].result,
            games[299].date,
        )
        assert (game.provenance.source, game.provenance.kind, game.provenance.game_number) == (
            "two.pgn",
            "engine",
            50,
        )
        assert game.text.startswith('[White "White299, Ina"]')
        assert len(game.text.encode()) == game.provenance.file_length
        assert store.heads([2])[0].black == "Black1, Ole"
        for wrong in (0, 401, -1, 1 << 40):
            with pytest.raises(UsageError):
                store.games([wrong])


def test_start_positions_and_chess960_games(tmp_path: Path) -> None:
    fen = "bqnb1rkr/pp3ppp/3ppn2/2p5/5P2/P2P4/NPP1P1PP/BQ1BNRKR w HFhf - 2 9"
    start = Position.from_fen(fen)
    line = Line.parse("Nf3 Nd7", start)
    made = MadeUpGame(line, start_fen=fen)
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", [made])
        assert store.games([1])[0].line == line
        assert store.statistics(line.end).tally == Tally(wins=1)
        assert store.orders(line.end).orders[0].line == line


def test_balance_is_result_less_expectation(tmp_path: Path) -> None:
    # FIDE table 8.1.2: 100 points difference give .64 and .36, equal ratings .50.
    line = Line.parse("e4 c6")
    made = [
        MadeUpGame(line, white="A1, X", result=1, white_elo=2400, black_elo=2300),
        MadeUpGame(line, white="B1, X", result=3, white_elo=2300, black_elo=2300),
        MadeUpGame(line, white="C1, X", result=2, white_elo=2300, black_elo=2400),
        MadeUpGame(line, white="D1, X", result=1, white_elo=0, black_elo=2400),
        MadeUpGame(line, white="E1, X", result=0, white_elo=2400, black_elo=2400),
    ]
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", made)
        balance = store.statistics(START).balance
        assert balance.games == 3
        assert balance.mean == pytest.approx((36 + 0 - 36) / 3)
        assert store.balance() == balance


def test_sifting_again_replaces_in_one_step(tmp_path: Path) -> None:
    games = random_games(60)
    folder = tmp_path / "s"
    with open_store(folder, mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", games[:40], key="old")
        sift_in(store, "b.pgn", games[40:])
        assert store.is_current("a.pgn", "old")
        sift = store.begin_sift("a.pgn", "new", kind="practice")
        sift.add_batch(batch_of(games[:10]))
        store.flush()
        with open_store(folder) as reader:
            assert reader.count == 60
            assert len(reader.lookup(START.key)) == 60
            sift.finish()
            store.settle()
            assert reader.count == 60, "a reader keeps its snapshot"
            assert len(reader.lookup(START.key)) == 60
            reader.refresh()
            assert reader.count == 30
            assert len(reader.lookup(START.key)) == 30
        assert not store.is_current("a.pgn", "old")
        assert store.is_current("a.pgn", "new")


def test_an_interrupted_sift_goes_on_where_it_stopped(tmp_path: Path) -> None:
    games = random_games(90)
    batches = [batch_of(games[i : i + 30], first=i + 1) for i in range(0, 90, 30)]
    folder = tmp_path / "s"
    with open_store(folder, mode=Mode.WRITE) as store:
        sift = store.begin_sift("a.pgn", "k", kind="practice")
        sift.add_batch(batches[0])
    with open_store(folder, mode=Mode.WRITE) as store:
        assert store.count == 30
        assert not store.is_current("a.pgn", "k")
        sift = store.begin_sift("a.pgn", "k", kind="practice")
        assert sift.already_met == 30
        for batch in batches:
            sift.add_batch(batch)
        sift.finish()
        store.settle()
        assert store.count == 90
        assert store.sources()[0].kept == 90
        assert len(store.lookup(START.key)) == 90


def test_a_sift_that_does_not_fit_its_beginning_is_begun_anew(tmp_path: Path) -> None:
    games = random_games(40)
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        sift = store.begin_sift("a.pgn", "k", kind="practice")
        sift.add_batch(batch_of(games[:30]))
        store.flush()
        again = store.begin_sift("a.pgn", "k", kind="practice")
        with pytest.raises(StoreError, match="changed while it was read"):
            again.add_batch(batch_of(games[:35]))
        assert store.count == 0
        sift_in(store, "a.pgn", games)
        assert store.count == 40


def test_rejects_notes_and_counts(tmp_path: Path) -> None:
    reject = (700, 90, 3, 21, "illegal move", 7, '[White "?"]\n\n1.e5 *')
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        sift = store.begin_sift("a.pgn", "k", kind="practice", settings={"roots": ["x"]})
        sift.add_batch(
            batch_of(random_games(2), rejects=[reject], notes=[(0, 12, "text before the first game")])
        )
        sift.finish()
        store.settle()
        ((record, found),) = store.rejects("a.pgn")
        assert found == reject
        assert (record.kept, record.aside, record.sections, record.settings) == (2, 1, 3, {"roots": ["x"]})
        assert [note for _, note in store.notes()] == [(0, 12, "text before the first game")]
        assert list(store.rejects("other.pgn")) == []
        assert store.forget("a.pgn")
        assert not store.forget("a.pgn")
        assert list(store.rejects()) == []
        assert store.count == 0


def test_many_small_sources_share_files(tmp_path: Path) -> None:
    games = random_games(120, plies=12)
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        for number, game in enumerate(games):
            sift = store.begin_sift(f"{number:03}.pgn", "k", kind="practice")
            sift.add_batch(batch_of([game]))
            sift.finish()
        store.settle()
        assert len(list((tmp_path / "s" / "games").iterdir())) <= 2
        assert [store.games([i])[0].provenance.source for i in (1, 120)] == ["000.pgn", "119.pgn"]
        assert len(store.lookup(START.key)) == 120


def test_merged_runs_answer_as_before_and_their_files_go(tmp_path: Path) -> None:
    games = random_games(150)
    folder = tmp_path / "s"
    with open_store(folder, mode=Mode.WRITE) as store:
        for number in range(15):
            sift = store.begin_sift(f"{number}.pgn", "k", kind="practice")
            sift.add_batch(batch_of(games[number * 10 : number * 10 + 10]))
            sift.finish()
            store.flush()
        before = {game.line.positions()[8].key: store.lookup(game.line.positions()[8].key) for game in games}
        assert len(list((folder / "occurrences").iterdir())) == 15
        store.merge()
        assert len(list((folder / "occurrences").iterdir())) <= 8
        for key, expected in before.items():
            found = store.lookup(key)
            for name in ("games", "plies", "moves"):
                assert np.array_equal(getattr(found, name), getattr(expected, name))
        for number in range(10):
            store.forget(f"{number}.pgn")
        store.merge()
        assert len(list((folder / "games").iterdir())) == 5
        assert len(store.lookup(START.key)) == 50


def test_all_games_passes_over_doubles(tmp_path: Path) -> None:
    games = random_games(1300, plies=8)
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", games, size=700)
        sift_in(store, "b.pgn", games[:1], size=700)
        assert store.count == 1301
        assert len(store.doubles()) == 1
        seen = [columns.first + row for rows, columns in store.all_games() for row in rows.tolist()]
        assert len(seen) == 1300


def test_some_of_the_games_are_taken_at_even_distances(tmp_path: Path) -> None:
    games = random_games(60, plies=8)
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        for number in range(6):  # each a source, most in several commits
            sift_in(store, f"{number}.pgn", games[10 * number : 10 * number + 10], size=4)
        for one_in in (1, 3, 7, 100):
            seen = [
                columns.first + row
                for _, rows, columns in store.games_by_source(one_in=one_in)
                for row in rows.tolist()
            ]
            assert seen == list(range(1, 61))[::one_in]


def test_deleting_the_store_loses_nothing_but_time(tmp_path: Path) -> None:
    games = random_games(80)
    folder = tmp_path / "s"

    def state() -> tuple[object, ...]:
        with open_store(folder, mode=Mode.WRITE) as store:
            sift_in(store, "a.pgn", games[:50])
            sift_in(store, "b.pgn", games[40:])
            return store.statistics(START), store.doubles(), store.orders(games[0].line.positions()[6])

    first = state()
    shutil.rmtree(folder)
    assert state() == first


def test_content_is_hashed_again_only_when_the_file_may_have_changed(tmp_path: Path) -> None:
    path = tmp_path / "a.pgn"
    path.write_text("one")
    old = path.stat().st_mtime_ns - 10_000_000_000
    os.utime(path, ns=(old, old))
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        first = store.content_hash("a.pgn", path)
        # Same size, time and inode: the change goes unnoticed, as agreed, until hashing is asked for.
        with path.open("r+") as file:
            file.write("two")
        os.utime(path, ns=(old, old))
        assert store.content_hash("a.pgn", path) == first
        second = store.content_hash("a.pgn", path, Hashing.ALWAYS)
        assert second != first
        # A change of the time alone makes it look, and find the same.
        os.utime(path, ns=(old + 1, old + 1))
        assert store.content_hash("a.pgn", path) == second


def test_a_file_hashed_within_two_seconds_of_its_change_is_hashed_again(tmp_path: Path) -> None:
    path = tmp_path / "a.pgn"
    path.write_text("one")
    stamp = path.stat().st_mtime_ns
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        first = store.content_hash("a.pgn", path)
        with path.open("r+") as file:
            file.write("two")
        os.utime(path, ns=(stamp, stamp))
        assert store.content_hash("a.pgn", path) != first


def test_verdicts(tmp_path: Path) -> None:
    def verdict(voice: str, nodes: int, date: str, key: int = START.key) -> Verdict:
        line = VerdictLine(("e2e4",), Score.of_cp(nodes % 97))
        return Verdict(
            key=key, epd=START.epd, voice=voice, version="1", lines=(line,), nodes=nodes, date=date
        )

    given = [
        verdict("resident", 1000, "2026-01-02"),
        verdict("resident", 64000, "2026-01-01"),
        verdict("other", 500, "2026-01-03"),
        verdict("other", 500, "2026-01-03", key=(1 << 64) - 1),
    ]
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        assert store.add_verdicts(given) == 4
        assert store.add_verdicts(given) == 0
    with open_store(tmp_path / "s") as store:
        assert store.deepest_verdicts(START.key) == {"resident": given[1], "other": given[2]}
        assert store.verdict_history(START.key, "resident") == (given[1], given[0])
        assert store.verdict_history(START.key) == (given[1], given[0], given[2])
        assert store.verdict_history((1 << 64) - 1) == (given[3],)
        with pytest.raises(UsageError):
            store.add_verdicts(given)
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        store.clear_verdicts()
        assert store.deepest_verdicts(START.key) == {}
