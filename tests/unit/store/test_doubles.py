"""Doubles: names, dates, results, beginnings; groups do not depend on the order of sifting."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.store.made_up import MadeUpGame, random_games, sift_in
from variorum.board import Line, Position
from variorum.store import Mode, Tally, open_store
from variorum.store.doubles import Candidate, compatible_dates, group_doubles
from variorum.store.names import compatible_among, compatible_names, words_of

LONG = random_games(1, seed=11, plies=90)[0].line.moves
assert len(LONG) >= 40

NAMES = st.lists(st.sampled_from(["aldous", "Pia", "Paul", "P", "A", "Åke", "Brix"]), max_size=4).map(
    " ".join
)


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


@given(st.text(max_size=20) | NAMES, st.text(max_size=20) | NAMES)
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


DATES = st.sampled_from([0, 20240000, 20240100, 20240105, 20240106, 20230105, 20230000, 105])
PACKED = Line(Position.start(), LONG).packed().tobytes()
LINES = st.sampled_from(
    [
        *(PACKED[: 2 * plies] for plies in (9, 30, 31, 33, 36)),
        *(PACKED[:60] + PACKED[62:end] for end in (64, 70)),
    ]
)
"""Packed moves: one game in five lengths, and another one from ply 31 on in two."""


@st.composite
def made_up_candidates(draw: st.DrawFn, most: int = 24) -> list[Candidate]:
    """Games of one set of equal beginnings with many near spellings."""
    count = draw(st.integers(1, most))
    some_names = draw(st.lists(NAMES, min_size=1, max_size=6))
    return [
        Candidate(
            index,
            draw(st.sampled_from("ab")),
            index,
            "",
            draw(LINES),
            draw(st.sampled_from(some_names)),
            draw(st.sampled_from(some_names)),
            draw(st.integers(0, 3)),
            draw(DATES),
            1,
        )
        for index in range(count)
    ]


def are_doubles(longer: Candidate, game: Candidate) -> bool:
    """The definition, as it stands at the head of `doubles`."""
    if longer.moves == game.moves:
        long_enough = len(game.moves) >= 60 or (words_of(game.white) != () != words_of(game.black))
    else:
        long_enough = len(game.moves) >= 60 and longer.moves.startswith(game.moves)
    return (
        long_enough
        and (longer.result == game.result or 0 in (longer.result, game.result))
        and compatible_dates(longer.date, game.date)
        and compatible_names(longer.white, game.white)
        and compatible_names(longer.black, game.black)
    )


@given(made_up_candidates())
@settings(max_examples=300)
def test_groups_are_those_of_comparing_each_with_each(candidates: list[Candidate]) -> None:
    groups: list[list[Candidate]] = []
    for game in sorted(candidates, key=lambda one: (-len(one.moves), one.source, one.game_number)):
        home = next((group for group in groups if all(are_doubles(other, game) for other in group)), None)
        if home is None:
            groups.append([game])
        else:
            home.append(game)
    expected = {frozenset(one.game for one in group) for group in groups if len(group) > 1}
    found: dict[int, set[int]] = {}
    for double in group_doubles(candidates):
        found.setdefault(double.representative, set()).add(double.game)
    assert {frozenset(group) for group in found.values()} == expected
    assert set(found) == {group[0].game for group in groups if len(group) > 1}


@given(st.sets(NAMES.map(words_of), max_size=20))
def test_compatible_among_finds_what_comparing_each_with_each_finds(names: set[tuple[str, ...]]) -> None:
    assert compatible_among(names) == {
        one: {other for other in names if compatible_names(" ".join(one), " ".join(other))} for one in names
    }


@pytest.mark.parametrize(
    "white",
    ["Player{}, A", "Player, A{}", "Team A{} of Players"],
    ids=["own words", "a shared word", "shared words"],
)
def test_equal_games_of_many_players_do_not_hang(white: str) -> None:
    candidates = [
        Candidate(i, "a", i, "", PACKED, white.format(i % 15_000), "Brix, Tor", 1, 20240105, 1)
        for i in range(30_000)
    ]
    assert sum(1 for _ in group_doubles(candidates)) == 30_000
