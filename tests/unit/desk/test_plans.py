"""Plans on the page: each way has a letter of its own, each row a sentence that says in the digest what is looked up there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from invented_build import GAMES, make_edition

from variorum.base.settings import UserSettings
from variorum.board import Side
from variorum.build.opened import OpenEdition
from variorum.build.plans import PlanWishes, plans_from
from variorum.claims.spans import digest_faults
from variorum.cli import main
from variorum.desk.pages.plans import differences, grouped_plans, plans_in_short
from variorum.edition import load_edition, resolve_place
from variorum.edition.digest_reader import read_digest
from variorum.insight.plan_kinds import PlanKind
from variorum.insight.plan_worth import Share
from variorum.insight.plans_report import BodyPlans, BodyResults, ComparedPlan, PlanLine


def body(*plans: PlanLine) -> BodyPlans:
    results = BodyResults(wins=1, draws=0, losses=0, unknown=0)
    return BodyPlans(
        name="practice", games=40, clusters=40, scored=0, results=results, plans=plans, sentences=()
    )


def line(kind: PlanKind, side: Side | None, plan: str) -> PlanLine:
    return PlanLine(kind=kind, side=side, plan=plan, count=1_200, games=4_000, move=14, ply=8)


def test_each_way_has_a_letter_of_its_own_and_what_is_not_drawn_has_none() -> None:
    ways = [
        line(PlanKind.ITINERARY, side, f"N{file}3–{file}{rank}")
        for side in Side
        for file in "abcdefgh"
        for rank in (4, 5)
    ]
    rest = [
        line(PlanKind.EXCHANGE, None, "knight for knight"),
        line(PlanKind.CASTLING, Side.WHITE, "castles short"),
        line(PlanKind.PRESSURE, Side.BLACK, "two units at d4"),
    ]
    rows = [row for _, _, rows in grouped_plans(body(*ways, *rest), "iqp") for row in rows]
    letters = [row.letter for row in rows if row.letter]
    assert letters == [*"abcdefghijklmnopqrstuvwxyz", "aa", "ab", "ac", "ad", "ae", "af"]
    assert all(
        re.fullmatch(rf"itinerary [a-h]3-[a-h][45] {row.letter}", row.marks) for row in rows if row.letter
    )
    assert {row.plan.plan: row.marks for row in rows if not row.letter} == {
        "knight for knight": "",
        "castles short": "",
        "two units at d4": "key d4",
    }


def test_in_short_each_side_has_a_break_and_its_most_frequent_ways() -> None:
    def way(kind: PlanKind, side: Side | None, plan: str, count: int) -> PlanLine:
        return PlanLine(kind=kind, side=side, plan=plan, count=count, games=99, move=14, ply=8)

    ways = [way(PlanKind.ITINERARY, Side.WHITE, f"Na3–b{count}", 10 * count) for count in range(1, 7)]
    rest = [
        way(PlanKind.BREAK, Side.WHITE, "d4–d5", 4),
        way(PlanKind.BREAK, Side.WHITE, "e4–e5", 3),
        way(PlanKind.EXCHANGE, None, "knight for knight", 98),
        way(PlanKind.ITINERARY, Side.BLACK, "Bc8–d7", 1),
    ]
    ((_, white), (_, black)), ((_, again), _) = (
        sides for _, sides in plans_in_short([body(*ways, *rest), body(*ways, *rest)], "iqp")
    )
    assert [(row.letter, row.plan.plan) for row in white] == [
        ("a", "d4–d5"), ("b", "Na3–b6"), ("c", "Na3–b5"), ("d", "Na3–b4"),
    ]  # fmt: skip
    assert [(row.letter, row.plan.plan, row.marks) for row in black] == [("e", "Bc8–d7", "itinerary c8-d7 e")]
    assert [row.letter for row in again] == ["f", "g", "h", "i"]


def test_a_sentence_cites_a_plan_with_its_figures() -> None:
    ((_, _, (row,)),) = grouped_plans(body(line(PlanKind.BREAK, Side.WHITE, "d4–d5")), "iqp")
    fact = '{.fact kind=plan at="iqp" plan="d4-d5" side=white of=practice'
    assert row.sentence == (
        f"White's break d4–d5 is seen in [1200 of 4000]{fact}}} games of practice, "
        f"in the middle of them at move [14]{fact} show=move}}."
    )


def test_where_bodies_differ_the_larger_difference_comes_first() -> None:
    def compared(plan: str, here: int, there: int) -> ComparedPlan:
        mine, theirs = (Share(one, 100, one, 100) for one in (here, there))
        return ComparedPlan(
            kind=PlanKind.BREAK, side=Side.WHITE, plan=plan, here=mine, there=theirs, sentence=""
        )

    here, there = differences(
        [compared("d4–d5", 10, 40), compared("e4–e5", 30, 20), compared("a3–a4", 0, 90)]
    )
    assert [(row.whose, row.plan, row.here, row.there) for row in there] == [
        ("White", "a3–a4", 0, 90),
        ("White", "d4–d5", 10, 40),
    ]
    assert [row.plan for row in here] == ["e4–e5"]


def test_every_sentence_says_what_the_digest_looks_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("VARIORUM_HOME", str(tmp_path / "home"))
    folder = make_edition(tmp_path / "edition")
    (folder / "sources" / "more.pgn").write_text(GAMES.replace("Birch", "Cade"))
    assert main(["sift", str(folder)]) == 0
    edition, _ = load_edition(folder)
    assert edition is not None
    with OpenEdition(edition, UserSettings()) as opened:
        report, _ = plans_from(opened, resolve_place(edition, "panov"), PlanWishes())
        rows = [row for one in report.bodies for _, _, some in grouped_plans(one, "panov") for row in some]
        assert len(rows) > 3
        file = tmp_path / "digest.md"
        file.write_text("# Plans\n\n" + "\n\n".join(row.sentence for row in rows) + "\n")
        digest, faults = read_digest(file)
        assert faults == []
        assert len(list(digest.spans())) == 2 * len(rows)
        assert digest_faults(digest, opened.evidence) == []
