"""How often games show a plan: by an interval over games that are independent of each other."""

from __future__ import annotations

import datetime

import msgspec
import pytest

from variorum.base import InputError
from variorum.board import Side
from variorum.claims.by_rules import plan
from variorum.claims.ground import Ground
from variorum.edition import EditionSettings, Place
from variorum.edition.place import parse_place
from variorum.insight.plan_kinds import PlanKind
from variorum.insight.plans_report import BodyPlans, BodyResults, PlanLine
from variorum.voices.verdicts import Verdicts

PLACE = parse_place("1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4", {})
SETTINGS = msgspec.convert({"title": "x", "side": "white", "roots": {"panov": "1.e4 c6"}}, EditionSettings)


def ground(clusters: int) -> Ground:
    def plans(place: Place, of: str) -> tuple[BodyPlans, ...]:
        if of != "practice":
            raise InputError(f"there are no games of {of}")
        line = PlanLine(
            kind=PlanKind.BREAK, side=Side.WHITE, plan="d4–d5", count=50, games=100, move=15, ply=10
        )
        results = BodyResults(wins=30, draws=40, losses=30, unknown=0)
        return (
            BodyPlans(
                name=of,
                games=100,
                clusters=clusters,
                scored=100,
                results=results,
                plans=(line,),
                sentences=(),
            ),
        )

    today = datetime.date(2026, 5, 1)
    return Ground(settings=SETTINGS, verdicts=Verdicts(), practice=None, today=today, plans=plans)


@pytest.mark.parametrize(
    ("clusters", "share", "standing"),
    [
        (100, 40, "holds"),  # 40.4 to 59.6, as Wilson's interval of 50 of 100 is printed in textbooks
        (100, 41, "undecided"),
        (100, 59, "undecided"),
        (100, 60, "contradicted"),
        (4, 40, "undecided"),  # a hundred copies of four games say as little as four
        (4, 90, "contradicted"),
    ],
)
def test_the_interval_decides(clusters: int, share: int, standing: str) -> None:
    found = plan(PLACE, Side.WHITE, "d4-d5", share, "practice", ground(clusters))
    assert found.standing.value == standing
    assert bool(found.rewording) is (standing == "contradicted")
    assert bool(found.wanted) is (standing == "undecided")


def test_what_is_not_listed_or_has_no_games_is_open() -> None:
    other = plan(PLACE, Side.WHITE, "h2-h4", 20, "practice", ground(100))
    assert (other.standing.value, "variorum plans" in other.wanted) == ("undecided", True)
    none = plan(PLACE, Side.WHITE, "d4-d5", 20, "playouts", ground(100))
    assert (none.standing.value, none.remark) == ("undecided", "there are no games of playouts")
