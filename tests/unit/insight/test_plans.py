from __future__ import annotations

from collections.abc import Iterator, Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plans_by_chess import told_by_chess

from variorum.board import Line, Position, Side
from variorum.insight.mirror import mirrored_line
from variorum.insight.plan_kinds import Plan, PlanKind, mirrored_plan
from variorum.insight.plan_order import order_pairs
from variorum.insight.plan_worth import Share, differing, lift_of, score_of, sure_of
from variorum.insight.plans import GamePlans, Trails, gather, listed_plans, merge_rows, model_games, trace
from variorum.insight.plans_report import body_plans, compare_bodies, compare_places, lifts
from variorum.store import GameColumns, GamesThrough

TABIYA = Line.parse(
    "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"
)
WHITE, BLACK = Side.WHITE, Side.BLACK


def trails_of(
    place: Position,
    lines: Sequence[Line],
    results: Sequence[int] = (),
    kind: str = "practice",
    batch: int = 3,
) -> Trails:
    """Games that begin in the place, as the store gives them, a few in each row group."""

    def trails() -> Iterator[GamesThrough]:
        for begin in range(0, len(lines), batch):
            packed = [line.packed() for line in lines[begin : begin + batch]]
            count = len(packed)
            offsets = np.cumsum([0, *(2 * len(moves) for moves in packed)]).astype(np.int32)
            data = np.concatenate([np.zeros(0, np.uint16), *packed]).astype("<u2").view(np.uint8)
            # Moves are read from the place on: that games begin there and not at the normal start does not matter.
            columns = GameColumns(
                begin,
                {name: np.zeros(count, np.uint16) for name in ("white_elo", "black_elo")},
                (np.zeros(count + 1, np.int32), np.zeros(0, np.uint8)),
                (offsets, data),
            )
            sift: Any = SimpleNamespace(kind=kind, voices=())
            told = (list(results) or [0] * len(lines))[begin : begin + batch]
            yield GamesThrough(
                sift,
                np.arange(begin, begin + count, dtype=np.uint32),
                np.zeros(count, np.uint16),
                np.array(told, np.uint8),
                np.arange(count, dtype=np.uint32),
                columns,
            )

    return trails


def read(
    place: Position,
    lines: Sequence[Line],
    results: Sequence[int] = (),
    *,
    kind: str = "practice",
    name: str = "practice",
    horizon: int = 30,
    looks: int = 0,
) -> GamePlans:
    body = gather(place, name, trails_of(place, lines, results, kind), horizon)
    return trace(body, body.rows, looks=looks, horizon=horizon)


def after(place: Position, *texts: str) -> list[Line]:
    return [Line.parse(text, place) for text in texts]


def shown(games: GamePlans, game: int = 0) -> dict[tuple[str, str], int]:
    """Side and text of what a game shows, and when."""
    return {
        (plan.side.value if plan.side else "", plan.text): int(plies[game])
        for plan, plies in games.first.items()
        if plies[game]
    }


# What one game shows


def test_a_game_of_the_isolated_pawn() -> None:
    line = "10...Nf6 11.a3 b6 12.Bg5 Bb7 13.Bc2 Rc8 14.Qd3 g6 15.d5 exd5 16.Nxd5 Nxd5 17.Bxe7 Ncxe7"
    place = TABIYA.end
    assert shown(read(place, after(place, line))) == {
        ("black", "Nd5–f6"): 1,
        ("black", "two units at d4"): 1,  # the queen sees it now, beside the knight from c6
        ("white", "a2–a3"): 2,
        ("black", "b7–b6"): 3,
        ("white", "Bc1–g5"): 4,
        ("black", "Bc8–b7"): 5,
        ("white", "Bd3–c2"): 6,
        ("black", "Ra8–c8"): 7,
        ("white", "Qd1–d3"): 8,
        ("black", "g7–g6"): 9,
        ("white", "d4–d5"): 10,  # both as the break and as the pawn's itinerary
        ("black", "e6xd5"): 11,
        ("white", "Nc3xd5"): 12,
        ("black", "Nd5–f6xd5"): 13,
        ("white", "Bc1–g5xe7"): 14,
        ("black", "Nc6xe7"): 15,
        ("", "isolani break on d5 (White's)"): 10,
        ("", "c-, d- and e-pawns exchanged"): 12,
        ("", "pawn for pawn"): 15,
        (
            "",
            "bishop for bishop",
        ): 15,  # what is left of this row of captures is White's knight, lost for nothing
    }


def test_castling_stands_apart_and_is_where_king_and_rook_begin_anew() -> None:
    place = Line.parse("1.e4 e5 2.Nf3 Nc6 3.Bc4 Bc5").end
    games = read(place, after(place, "4.O-O Nf6 5.Re1 O-O 6.Kh1"))
    assert shown(games) == {
        ("white", "castles short"): 1,
        ("black", "Ng8–f6"): 2,
        ("white", "Rf1–e1"): 3,
        ("black", "castles short"): 4,
        ("white", "Kg1–h1"): 5,
    }
    assert all(plan.castled for plan in games.first if plan.unit in ("Rf1", "Kg1"))


def test_promotion_and_taking_in_passing() -> None:
    place = Position.from_fen("4k3/1p6/8/P7/8/8/8/4K3 b - - 0 1")
    assert shown(read(place, after(place, "1...b5 2.axb6 Kd7 3.b7 Kc7 4.b8=Q+"))) == {
        ("black", "b7–b5"): 1,
        ("white", "a5xb6"): 2,
        ("black", "Ke8–d7"): 3,
        ("white", "a5xb6–b7"): 4,
        ("black", "Ke8–d7–c7"): 5,
        ("white", "a5xb6–b7–b8=Q"): 6,
    }


# A second way, slow and from another library


PLACES = (
    TABIYA.end,
    Position.start(),
    Position.from_fen("r3k2r/p1ppqpb1/bn2pnp1/3PN3/1p2P3/2N2Q1p/PPPBBPPP/R3K2R w KQkq - 0 1"),
    Position.from_fen("4k3/PPP3pp/8/8/8/8/ppp3PP/4K3 b - - 0 1"),
)


def wander(place: Position, choices: Sequence[int]) -> Line:
    position, moves = place, []
    for choice in choices:
        legal = position.legal_moves()
        if not legal:
            break
        takes = [move for move in legal if "x" in position.san(move)]  # so that much is exchanged
        moves.append(
            (takes or list(legal))[choice % len(takes or legal)] if choice % 3 else legal[choice % len(legal)]
        )
        position = position.play(moves[-1])
    return Line(place, tuple(moves))


lines = st.lists(st.integers(0, 1 << 16), min_size=1, max_size=30)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(PLACES), st.lists(lines, min_size=1, max_size=4), st.integers(1, 30))
def test_another_library_tells_the_same(place: Position, choices: list[list[int]], horizon: int) -> None:
    games = [wander(place, one) for one in choices]
    read_plans = read(place, games, horizon=horizon)
    for number, line in enumerate(games):
        told = {plan: int(plies[number]) for plan, plies in read_plans.first.items() if plies[number]}
        assert told == told_by_chess(place, line, horizon)
        assert read_plans.lengths[number] == min(len(line), horizon)


@settings(max_examples=20, deadline=None)
@given(st.sampled_from(PLACES), lines)
def test_with_colours_reversed_the_plans_are_reversed(place: Position, choices: list[int]) -> None:
    line = wander(place, choices)
    turned = mirrored_line(line)
    here, there = read(place, [line]), read(turned.start, [turned])
    assert {mirrored_plan(plan): plies[0] for plan, plies in here.first.items()} == {
        plan: plies[0] for plan, plies in there.first.items()
    }


# Bodies of games


def test_what_is_told_of_a_body_is_not_told_twice() -> None:
    place = TABIYA.end
    texts = ["10...Bf6 11.Ne4 b6", "10...Bf6 11.Ne4 a6 12.Nxf6+", "10...Nf6 11.d5 exd5 12.Ne5"] + [
        "10...Nf6 11.d5"
    ] * 9
    told = {(plan.kind.value, plan.text) for plan in listed_plans(read(place, after(place, *texts)))}
    assert ("break", "d4–d5") in told
    assert ("itinerary", "d4–d5") not in told, "the break tells it"
    assert ("itinerary", "Nd5–f6") in told
    assert ("itinerary", "Nc3–e4") not in told, "two games of twelve are too few"


def test_playouts_that_are_alike_count_once_and_such_as_begin_alike_are_one_cluster() -> None:
    place = TABIYA.end
    same = "10...Nf6 11.a3 b6 12.Bg5 Bb7 13.Bc2 Rc8 14.Qd3 g6"
    games = after(place, same, same, f"{same} 15.Rad1", "10...Bf6 11.Ne4")
    playouts = read(place, games, kind="playout")
    assert (len(playouts), playouts.cluster_count) == (3, 2)
    practice = read(place, games)
    assert (len(practice), practice.cluster_count) == (4, 3)
    assert playouts.clusters_with(Plan(PlanKind.ITINERARY, WHITE, "a2–a3", "a2")) == 1


def test_model_games_together_show_what_they_can() -> None:
    place = TABIYA.end
    games = read(
        place, after(place, *["10...Bf6"] * 3, "10...Nf6 11.a3", "10...Nf6 11.d5", "10...Nf6 11.a3 b6")
    )
    chosen = model_games(games, listed_plans(games), 2)
    assert [at for at, _ in chosen] == [3, 0]
    assert [plan.text for plan in chosen[0][1]] == ["two units at d4", "Nd5–f6", "a2–a3"]
    assert [plan.text for plan in chosen[1][1]] == ["Be7–f6"]
    assert model_games(games, [], 3) == []


def test_order_is_told_where_games_agree() -> None:
    place = TABIYA.end
    first = ["10...Nf6 11.a3 b6 12.d5"] * 8
    games = after(
        place,
        *(
            f"{text} {move}"
            for text, move in zip(
                first, ("exd5", "Nxd5", "Na5", "Nb8", "Ne5", "Nb4", "a6", "a5"), strict=True
            )
        ),
    )
    (pair, *_) = order_pairs(read(place, games), listed_plans(read(place, games)))
    assert (pair.first.text, pair.then.text, pair.before, pair.both) == ("Nd5–f6", "d4–d5", 8, 8)


def test_no_order_is_told_that_the_rules_leave_no_choice_in() -> None:
    """FIDE Laws of Chess 3.8.2: a king castles when nothing stands between him and the rook, and the rook then stands on f8."""
    place = Line.parse("1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4").end
    line = "4...Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"
    last = ("Bf6", "Nf6", "Bd7", "Ncb4", "a6", "b6", "Qd6", "Nxc3")
    games = read(place, after(place, *(f"{line} {move} 11.a3 Re8" for move in last)))
    pairs = order_pairs(games, listed_plans(games), 99)
    told = {(pair.first.text, pair.then.text) for pair in pairs if pair.first.side is pair.then.side}
    assert ("Nb8–c6", "castles short") in told
    assert not told & {("Ng8–f6", "castles short"), ("Bf8–e7", "castles short")}
    assert not told & {("Ng1–f3", "castles short"), ("castles short", "Rf1–e1")}
    # Pressure on d4 comes before d4–d5 in all of them, as it must.
    place = TABIYA.end
    last = ("exd5", "Nxd5", "Na5", "Nb8", "Ne5", "Nb4", "a6", "a5")
    games = read(place, after(place, *(f"10...Nf6 11.a3 b6 12.d5 {move}" for move in last)))
    pairs = order_pairs(games, listed_plans(games), 99)
    assert PlanKind.BREAK in {pair.then.kind for pair in pairs}
    assert PlanKind.PRESSURE not in {pair.first.kind for pair in pairs if pair.then.kind is PlanKind.BREAK}


def test_small_numbers_are_said_to_be_small() -> None:
    place = TABIYA.end
    body, models = body_plans(read(place, after(place, "10...Nf6 11.d5")), 5, 3)
    assert body.sentences == ("These are small numbers: only one game. What they show may be chance.",)
    assert body.results.score is None
    assert [line.score for line in body.plans] == [None] * 4
    shows = (
        "Black's Nd5–f6 at move 10",
        "Black's pressure of two units on d4 at move 10",
        "White's break d4–d5 at move 11",
        "the structure isolani break on d5 (White's) at move 11",
    )
    assert models == [(0, shows)]
    body, models = body_plans(read(place, after(place, "")), 5, 3)
    assert body.sentences[1] == "No plan is shown by enough of them to be told."
    assert models == []


# Statistics


def test_the_worked_example_of_benjamini_and_hochberg() -> None:
    """The 15 p-values of the 1995 paper (section 4.1): at 5 % the first four are rejected."""
    chances = [
        0.0001,
        0.0004,
        0.0019,
        0.0095,
        0.0201,
        0.0278,
        0.0298,
        0.0344,
        0.0459,
        0.3240,
        0.4262,
        0.5719,
        0.6528,
        0.7590,
        1.0,
    ]
    assert sure_of(chances) == [True] * 4 + [False] * 11
    assert sure_of([]) == []


def test_shares_differ_by_clusters_and_not_by_copies() -> None:
    few, many = Share(2, 40, 2, 40), Share(17, 44, 17, 44)
    assert differing([(few, many), (few, few)]) == [True, False]
    assert differing([(Share(20, 400, 1, 4), Share(170, 440, 2, 5))]) == [False]
    lift = lift_of(many, few)
    assert lift.ratio == pytest.approx((17.5 / 45) / (2.5 / 41))
    assert 1 < lift.low < lift.ratio < lift.high


def test_a_plan_is_scored_against_games_of_equal_expectation() -> None:
    plan = Plan(PlanKind.BREAK, WHITE, "d4–d5")
    count = 60
    shows = np.arange(count) < 20
    expected = np.full((count, 31), 50.0, np.float32)
    expected[40:] = 90.0  # the last twenty stood much better and are not compared
    results = np.array([1] * 20 + [3] * 20 + [1] * 20, np.uint8)
    numbers = np.arange(count)
    games = GamePlans(
        TABIYA.end, "practice", numbers.astype(np.uint32), numbers.astype(np.uint16), results, numbers.astype(np.uint16),
        np.full(count, 30, np.uint8), numbers, {plan: np.where(shows, 5, 0).astype(np.uint8)}, expected,
    )  # fmt: skip
    score = score_of(games, plan, WHITE, 5)
    assert score is not None
    assert (score.games, score.others, score.mean, score.without) == (20, 20, 100.0, 50.0)
    assert score.difference_low < score.difference == 50.0 <= score.difference_high
    black = score_of(games, plan, BLACK, 5)
    assert black is not None
    assert black.difference == -50.0
    assert score_of(games, plan, WHITE, 21) is None
    # Games that are copies are worth one: nothing is left to compare.
    copies = GamePlans(
        **{name: getattr(games, name) for name in games.__struct_fields__}
        | {"clusters": np.zeros(count, np.int64)}
    )
    assert score_of(copies, plan, WHITE, 5) is None


def test_places_bodies_and_siblings_are_compared() -> None:
    place = TABIYA.end
    replies = ("a6", "b6", "h6", "g6", "Qc7", "Qb6", "Bd7", "Re8", "a5", "h5", "Rb8", "Kh8")
    quiet = read(place, after(place, *(f"10...{reply}" for reply in replies)), name="playouts")
    sharp = read(place, after(place, *(f"10...{reply} 11.Ne5" for reply in replies)))
    rows = merge_rows([gather(place, "", trails_of(place, after(place, "10...a6 11.Ne5"))).rows])
    assert set(trace(gather(place, "", trails_of(place, after(place, "10...b6"))), rows).first) == set(
        rows.plans
    )
    knight = Plan(PlanKind.ITINERARY, WHITE, "Nf3–e5", "Nf3")
    without = GamePlans(
        **{name: getattr(quiet, name) for name in quiet.__struct_fields__}
        | {"first": {knight: np.zeros(12, np.uint8)}}
    )
    (plan,) = compare_bodies(sharp, without)
    assert (
        plan.sentence
        == "White's Nf3–e5 is seen in 12 of 12 games of practice, and in 0 of 12 games of voices."
    )
    (plan,) = compare_places(without, sharp, ("here", "there"))
    assert (
        plan.sentence
        == "In games of voices White's Nf3–e5 is hardly ever seen in here: 0 of 12, against 12 of 12 in there."
    )
    body, _ = body_plans(sharp, 5, 0)
    line = next(line for line in lifts(body, sharp, [without]).plans if line.plan == "Nf3–e5")
    assert line.lift is not None
    assert line.lift.low > 1
    assert all(line.lift is None for line in lifts(body, sharp, []).plans)


def test_what_cannot_come_about_is_not_looked_for() -> None:
    """So that a place is not said to lack what it has already."""
    here = TABIYA.end
    rows = gather(here, "", trails_of(here, after(here, "10...Nf6 11.a3 b6 12.Ne5 Bb7 13.d5 exd5"))).rows
    later = Line.parse("10...Nf6 11.a3 b6 12.Ne5 Bb7 13.d5 exd5", here).end
    traced = trace(gather(later, "", trails_of(later, after(later, "14.Nxd5"))), rows)
    texts = {plan.text for plan in traced.first}
    assert texts.isdisjoint({"two units at d4", "d4–d5", "Nf3–e5", "b7–b6"})
    early = Line.parse("1.e4 c6").end
    traced = trace(gather(early, "", trails_of(early, after(early, "2.d4"))), rows)
    assert {"two units at d4", "d4–d5", "b7–b6"} <= {plan.text for plan in traced.first}


def test_a_plan_of_a_unit_that_is_not_there_is_not_looked_for() -> None:
    here, there = TABIYA.end, Line.parse("1.e4").end
    rows = gather(here, "", trails_of(here, after(here, "10...Nf6 11.Ne5"))).rows
    traced = trace(gather(there, "", trails_of(there, after(there, "1...e5"))), rows)
    assert [plan.text for plan in traced.first if plan.unit] == []
