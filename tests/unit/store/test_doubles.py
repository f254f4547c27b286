"""Doubles: names, dates, results, beginnings; groups do not depend on the order of sifting."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.store.made_up import MadeUpGame, random_games, sift_in
from variorum.board import Line, Position
from variorum.store import Mode, Tally, open_store
from variorum.store.doubles import Candidate, compatible_dates, group_doubles
from variorum.store.names import compatible_names

LONG = random_games(1, seed=11, plies=90)[0].line.moves
assert len(LONG) >= 40


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Lindqvist, Åke", "ake lindqvist"),
        ("Lindqvist, Åke", "Lindqvist, A."),
        ("Lindqvist,A", "A Lindqvist"),
        ("Lindqvist, Åke Jon", "Lindqvist, A J"),
        ("LINDQVIST, ÅKE", "Lindqvist Åke"),
        ("Lindqvist", "Lindqvist, Åke"),
        ("O'Malt, Séan", "OMalt, Sean"),
        ("Stöß-Røl, Ida", "Stoss Rol, Ida"),
        ("李", "李"),
        ("?", ""),
    ],
)
def test_compatible_names(one: str, other: str) -> None:
    assert compatible_names(one, other)
    assert compatible_names(other, one)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Lindqvist, Åke", "Lindqvist, Erik"),
        ("Lindqvist, A", "Lindgren, A"),
        ("Lindqvist, Åke", "?"),
        ("A", "B"),
        ("Lindqvist, A B", "Lindqvist, A C"),
        ("Lindqvist, A", "Lindqvist, B"),
    ],
)
def test_incompatible_names(one: str, other: str) -> None:
    assert not compatible_names(one, other)
    assert not compatible_names(other, one)


@given(st.text(max_size=20), st.text(max_size=20))
def test_names_are_compatible_with_themselves_and_symmetrically(one: str, other: str) -> None:
    assert compatible_names(one, one)
    assert compatible_names(one, other) == compatible_names(other, one)


def test_dates() -> None:
    assert compatible_dates(20240105, 20240105)
    assert compatible_dates(20240105, 20240000)
    assert compatible_dates(0, 20240105)
    assert not compatible_dates(20240105, 20240106)
    assert not compatible_dates(20240105, 20230000)


def game(moves: int, **changes: object) -> MadeUpGame:
    return MadeUpGame(Line(Position.start(), LONG[:moves]), **changes)  # type: ignore[arg-type]


CASES = [
    ("equal", game(40), game(40), True),
    ("equal and short", game(9), game(9), True),
    ("equal and short, players unknown", game(9, white="?", black="?"), game(9, white="?", black="?"), False),
    ("a beginning of thirty plies", game(40), game(30), True),
    ("a beginning of twenty-nine", game(40), game(29), False),
    ("result unknown", game(40, result=1), game(40, result=0), True),
    ("other result", game(40, result=1), game(40, result=2), False),
    ("other day", game(40, date=20240105), game(40, date=20240106), False),
    ("day unknown", game(40, date=20240105), game(40, date=20240100), True),
    ("other spelling", game(40), game(36, white="P. ALDOUS", black="Tor Brix"), True),
    ("another player", game(40), game(40, white="Aldous, Max"), False),
    ("colours exchanged", game(40), game(40, white="Brix, Tor", black="Aldous, Pia"), False),
    ("no moves", game(0), game(0), False),
]


@pytest.mark.parametrize(
    ("one", "other", "expected"), [case[1:] for case in CASES], ids=[case[0] for case in CASES]
)
def test_what_is_a_double(tmp_path: Path, one: MadeUpGame, other: MadeUpGame, expected: bool) -> None:
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", [one])
        sift_in(store, "b.pgn", [other])
        assert store.doubles() == (((1, 2),) if expected else ())
        assert store.statistics(Position.start()).tally.games == (1 if expected else 2)


def test_the_longest_stands_for_its_group_with_what_any_of_them_knows(tmp_path: Path) -> None:
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", [game(34, result=1, date=20240000)])
        sift_in(store, "b.pgn", [game(40, result=0, date=20240100)], kind="engine")
        sift_in(store, "c.pgn", [game(36, result=1, date=20240105)])
        assert store.doubles() == ((2, 1, 3),)
        found = store.statistics(Line(Position.start(), LONG[:33]).end)
        assert found.tally == Tally(wins=1)
        assert [head.id for head in found.first] == [2]
        # The double that the filter lets through counts when the representative does not pass.
        from variorum.store import Filter

        assert store.statistics(Position.start(), Filter(kinds=frozenset({"practice"}))).tally == Tally(
            wins=1
        )
        # Only one of them got so far.
        assert store.statistics(Line(Position.start(), LONG[:38]).end).tally.games == 1


def test_groups_follow_when_a_game_goes(tmp_path: Path) -> None:
    with open_store(tmp_path / "s", mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", [game(40)])
        sift_in(store, "b.pgn", [game(36)])
        sift_in(store, "c.pgn", [game(34)])
        assert store.doubles() == ((1, 2, 3),)
        store.forget("a.pgn")
        store.settle()
        assert store.doubles() == ((2, 3),)
        store.forget("c.pgn")
        store.settle()
        assert store.doubles() == ()
        assert store.statistics(Position.start()).tally.games == 1


MEMBERS = [
    game(40, white="Aldous, Pia"),
    game(40, white="Aldous, P"),
    game(38, white="Aldous, Paul", result=0),
    game(38, white="Aldous", date=0),
    game(33, white="P Aldous", date=20240000),
    game(33, white="Aldous, Pia", date=20240106),
]


def test_groups_do_not_depend_on_the_order_of_sifting(tmp_path: Path) -> None:
    expected = None
    for number, order in enumerate(itertools.islice(itertools.permutations(range(6)), 0, 720, 97)):
        with open_store(tmp_path / str(number), mode=Mode.WRITE) as store:
            for index in order:
                sift_in(store, f"{index}.pgn", [MEMBERS[index]])
            groups = {
                tuple(store.heads([one])[0].provenance.source for one in group[:1])
                + tuple(sorted(store.heads([one])[0].provenance.source for one in group[1:]))
                for group in store.doubles()
            }
        expected = expected or groups
        assert groups == expected


@given(st.lists(st.integers(0, 5), min_size=1, max_size=6, unique=True))
def test_every_two_of_a_group_are_doubles(chosen: list[int]) -> None:
    candidates = [
        Candidate(
            index,
            str(index),
            1,
            "",
            one.line.packed().tobytes(),
            one.white,
            one.black,
            one.result,
            one.date,
            1,
        )
        for index, one in enumerate(MEMBERS)
        if index in chosen
    ]
    groups: dict[int, list[Candidate]] = {}
    for double in group_doubles(candidates):
        groups.setdefault(double.representative, []).append(
            next(c for c in candidates if c.game == double.game)
        )
    for group in groups.values():
        for one, other in itertools.combinations(group, 2):
            assert one.moves.startswith(other.moves) or other.moves.startswith(one.moves)
            assert compatible_names(one.white, other.white)
            assert compatible_dates(one.date, other.date)
            assert one.result == other.result or 0 in (one.result, other.result)


def test_a_hundred_thousand_equal_games_do_not_hang() -> None:
    moves = Line(Position.start(), LONG).packed().tobytes()
    candidates = [
        Candidate(i, "a", i, "", moves, f"Player{i % 50_000}, A", "Brix, Tor", 1, 20240105, 1)
        for i in range(100_000)
    ]
    assert sum(1 for _ in group_doubles(candidates)) == 100_000
