"""The plans page: what games show from a place on, drawn on the board when it is pointed at."""

from __future__ import annotations

import re
from itertools import groupby
from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import Response

from variorum.board import Side
from variorum.build.plans import PlanWishes, plans_from
from variorum.desk.moves import address, name_of
from variorum.desk.pages.frame import edition_for, frame
from variorum.desk.render import page
from variorum.edition import resolve_place
from variorum.insight.plans_report import BodyPlans, PlanLine

__all__ = ["grouped_plans", "plans_page"]

_SQUARE: Final = re.compile(r"[a-h][1-8]")
_HEADINGS: Final = {
    "break": "Breaks",
    "itinerary": "Itineraries",
    "castling": "Castling",
    "pressure": "Pressure on isolated pawns",
    "exchange": "Exchanges, White’s unit first",
    "structure": "Structures that come about",
}


class Row(msgspec.Struct, frozen=True):
    """A plan, its letter on the board, and what the board draws for it ("" for what has no way)."""

    plan: PlanLine
    letter: str
    marks: str


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
        bodies=[(body, grouped_plans(body)) for body in report.bodies] if report else [],
        position=address(name, "position", at=at or called),
    )


def grouped_plans(body: BodyPlans) -> list[tuple[str, str, list[Row]]]:
    """The plans of a body by side and kind: whose, what, and the rows."""
    kinds = list(_HEADINGS)

    def order(line: PlanLine) -> tuple[int, int]:
        return (2 if line.side is None else line.side is Side.BLACK), kinds.index(line.kind.value)

    ordered = sorted(body.plans, key=order)
    rows = [
        Row(line, letter, _marks(line, letter))
        for line, letter in zip(ordered, _letters(len(ordered)), strict=True)
    ]
    found = []
    for (side, kind), some in groupby(rows, key=lambda row: (row.plan.side, row.plan.kind)):
        whose = "Both" if side is None else side.value.capitalize()
        found.append((whose, _HEADINGS[kind.value], list(some)))
    return found


def _letters(count: int) -> list[str]:
    return [chr(ord("a") + number % 26) for number in range(count)]


def _marks(line: PlanLine, letter: str) -> str:
    """A way over the board, as the board element reads it."""
    squares = _SQUARE.findall(line.plan)
    if line.side is None or len(squares) < 2:
        return f"key {squares[0]}" if squares else ""
    return f"itinerary {'-'.join(squares)} {letter}"
