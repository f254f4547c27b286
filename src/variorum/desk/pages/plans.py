"""The plans page: what games show from a place on, drawn on the board when it is pointed at."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import groupby, product
from string import ascii_lowercase
from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import Response

from variorum.board import Side
from variorum.build.plans import PlanWishes, plans_from
from variorum.claims.facts import grouped
from variorum.desk.moves import address, name_of
from variorum.desk.pages.frame import edition_for, frame
from variorum.desk.render import page
from variorum.edition import resolve_place
from variorum.insight.plan_kinds import Plan, PlanKind
from variorum.insight.plans_report import BodyPlans, ComparedPlan, PlanLine, owned

__all__ = ["differences", "grouped_plans", "plans_in_short", "plans_page"]

_SQUARE: Final = re.compile(r"[a-h][1-8]")
_IN_SHORT: Final = 3
"""Ways of each side in the margin of a position, beside a break."""
_HEADINGS: Final = {
    "break": "Breaks",
    "itinerary": "Itineraries",
    "castling": "Castling",
    "pressure": "Pressure on isolated pawns",
    "exchange": "Exchanges, White’s unit first",
    "structure": "Structures that come about",
}


class Row(msgspec.Struct, frozen=True):
    """A plan, the letter of its way on the board ("" where it has none), what the board draws for it, and a sentence that cites it in the digest."""

    plan: PlanLine
    letter: str
    marks: str
    sentence: str


class Difference(msgspec.Struct, frozen=True):
    """A plan that one of two bodies of games shows more often: whose, which, and in how many percent of each."""

    whose: str
    plan: str
    here: float
    there: float


def plans_page(request: Request, sent: Any) -> Response:
    """The plans from one place; with `against`, what differs from another."""
    del sent
    name, asked = request.path_params["name"], request.query_params
    at, against = asked.get("at", "").strip(), asked.get("against", "").strip()
    with edition_for(request) as opened:
        edition = opened.edition
        places = list(edition.places)
        place = resolve_place(edition, at) if at else (*edition.names.values(), *edition.roots)[0]
        other = resolve_place(edition, against) if against else None
        called = name_of(edition, place)
        report = None if opened.store is None else plans_from(opened, place, PlanWishes(against=other))[0]
    return page(
        "plans.html.j2",
        **frame(request, "plans", f"Plans from {called}" if called else "Plans"),
        report=report,
        called=called,
        at=at or called,
        against=against,
        places=places,
        mover=place.position.turn.value.capitalize(),
        bodies=[(body, grouped_plans(body, called or at)) for body in report.bodies] if report else [],
        differing_plans=differences(report.disagree) if report else ([], []),
        position=address(name, "position", at=at or called),
    )


def grouped_plans(body: BodyPlans, at: str) -> list[tuple[str, str, list[Row]]]:
    """The plans of a body, as games show them from a place on, by side and kind: whose, what, and the rows."""
    kinds = list(_HEADINGS)

    def order(line: PlanLine) -> tuple[int, int]:
        return (2 if line.side is None else line.side is Side.BLACK), kinds.index(line.kind.value)

    letters, rows = _letters(), []
    for line in sorted(body.plans, key=order):
        way = _marks(line)
        letter = next(letters) if way.startswith("itinerary") else ""
        rows.append(Row(line, letter, f"{way} {letter}".strip(), _sentence(line, body, at)))
    found = []
    for (side, kind), some in groupby(rows, key=lambda row: (row.plan.side, row.plan.kind)):
        whose = "Both" if side is None else side.value.capitalize()
        found.append((whose, _HEADINGS[kind.value], list(some)))
    return found


def plans_in_short(
    bodies: Iterable[BodyPlans], at: str
) -> list[tuple[BodyPlans, list[tuple[str, list[Row]]]]]:
    """Of each body and side the break and the ways that most games show, for the margin of a position; each has a letter of its own."""
    letters, told = _letters(), []
    for body in bodies:
        sides = []
        for side in Side:
            ways = [one for one in body.plans if one.side is side and _marks(one).startswith("itinerary")]
            ways.sort(key=lambda one: -one.count)
            breaks = [one for one in ways if one.kind is PlanKind.BREAK][:1]
            rows = []
            for line in [*breaks, *[one for one in ways if one not in breaks][:_IN_SHORT]]:
                letter = next(letters)
                rows.append(Row(line, letter, f"{_marks(line)} {letter}", _sentence(line, body, at)))
            if rows:
                sides.append((side.value.capitalize(), rows))
        if sides:
            told.append((body, sides))
    return told


def _letters() -> Iterator[str]:
    """`a` to `z`, then `aa`, `ab` and so on."""
    for length in (1, 2):
        yield from map("".join, product(ascii_lowercase, repeat=length))


def _sentence(line: PlanLine, body: BodyPlans, at: str) -> str:
    """A plan as a sentence of the digest: its figures are looked up whenever the text is built."""
    called = owned(Plan(kind=line.kind, side=line.side, text=line.plan))
    side = f" side={line.side.value}" if line.side is not None else ""
    fact = f'{{.fact kind=plan at="{at}" plan="{line.plan.replace("–", "-")}"{side} of={body.name}'
    return (
        f"{called[0].upper()}{called[1:]} is seen in [{grouped(line.count)} of {grouped(line.games)}]{fact}}} "
        f"games of {body.name}, in the middle of them at move [{line.move}]{fact} show=move}}."
    )


def differences(
    found: Iterable[ComparedPlan],
) -> tuple[list[Difference], list[Difference]]:
    """Where two bodies of games differ: what the first shows more often, and what the second does, the largest difference first."""
    rows = [
        Difference(
            "" if one.side is None else one.side.value.capitalize(),
            one.plan,
            100 * one.here.rate,
            100 * one.there.rate,
        )
        for one in found
    ]
    rows.sort(key=lambda row: -abs(row.here - row.there))
    return [row for row in rows if row.here > row.there], [row for row in rows if row.here <= row.there]


def _marks(line: PlanLine) -> str:
    """A way over the board, as the board element reads it."""
    squares = _SQUARE.findall(line.plan)
    if line.side is None or len(squares) < 2:
        return f"key {squares[0]}" if squares else ""
    return f"itinerary {'-'.join(squares)}"
