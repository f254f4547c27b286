"""The parts of the position page that take longer than the page may: each a section of it, made in the background.

A new part is a function here that makes its section (or "" for none), its name in `PARTS`, and `{{ later("name", "Label") }}` where the
page has its place. What it shows of the texts as they are this moment, where the graph may be a little older, is named in `_NOW`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from variorum.base import Progress, UsageError
from variorum.board import Line
from variorum.build.checking import check_position
from variorum.build.opened import OpenEdition
from variorum.build.position import position_orders
from variorum.desk.later import not_yet, parts_of
from variorum.desk.moves import address, name_of, spelled
from variorum.desk.pages.claims import margin_claim
from variorum.desk.pages.frame import edition_for, editions_of
from variorum.desk.pages.games_here import samples_at
from variorum.desk.pages.onward import onward_with_values, written_at
from variorum.desk.pages.plans import plans_in_short
from variorum.desk.progress import Recorder
from variorum.desk.render import fragment
from variorum.edition import Place, resolve_place
from variorum.graph.position_games import position_counts
from variorum.insight.near import find_near
from variorum.insight.near_report import near_report
from variorum.store import Filter

__all__ = ["PARTS", "answer", "part_address", "parts_at_hand", "place_of"]

_NEAR: Final = 6
_ORDERS: Final = 6
_MOST_COUNTED: Final = 20_000
"""Games whose plans are counted without being asked for."""


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """What a part is asked about. `edition` is its name in addresses; `opened` has its graph, `now` its texts as they are."""

    edition: str
    opened: OpenEdition
    now: OpenEdition
    place: Place
    line: Line
    progress: Progress


def place_of(opened: OpenEdition, text: str) -> Place:
    """The place that a page is asked for, the first root where it is asked for none.

    Raises:
        InputError: There is no such place.
    """
    return resolve_place(opened.edition, text) if text.strip() else opened.edition.roots[0]


def part_address(edition: str, part: str, at: str) -> str:
    """Where a part is had."""
    return address(edition, f"part/{part}", at=at)


def parts_at_hand(request: Request, opened: OpenEdition, line: Line) -> dict[str, tuple[str, str | None]]:
    """Where each part of a position is had, and its text where it is made already."""
    name, at = request.path_params["name"], spelled(line)
    keys = {part: _key(request, part, opened, line) for part in PARTS}
    made = parts_of(request).at_hand(name, keys.values())
    return {part: (part_address(name, part, at), made.get(key)) for part, key in keys.items()}


def _key(request: Request, part: str, now: OpenEdition, line: Line) -> str:
    """What a part is made from beside the edition with its graph."""
    name = request.path_params["name"]
    made_from = _NOW[part](request, now, line) if part in _NOW else ""
    return f"{part_address(name, part, spelled(line))} {made_from}"


def answer(request: Request, sent: Any) -> Response:
    """One part; while it is being made, how far that is."""
    del sent
    name, part = request.path_params["name"], request.path_params["part"]
    if part not in PARTS:
        raise UsageError(f"no part of the position page is called {part!r}")
    with edition_for(request) as now:
        place = place_of(now, request.query_params.get("at", ""))
    line = place.line or Line(place.position)

    def make(opened: OpenEdition, recorder: Recorder) -> str:
        asked = Asked(edition=name, opened=opened, now=now, place=place, line=line, progress=recorder)
        return PARTS[part](asked).strip()

    made = parts_of(request).get(name, _key(request, part, now, line), make)
    if made.error is not None:
        raise made.error
    if made.text is None:
        return not_yet(request, made)
    return HTMLResponse(made.text, headers={"cache-control": "no-store"})


def _claims(asked: Asked) -> str:
    """The claims about the position, how each stands and by what."""
    found = check_position(asked.now, asked.line.end, counted=asked.opened)
    rows = [margin_claim(claim, asked.edition) for claim in found]
    return fragment("margin.html.j2", rows=rows, sigla=asked.now.sigla)


def _onward(asked: Asked) -> str:
    """The moves from here, with what the first voice thinks behind each."""
    opened, few = asked.opened, asked.opened.edition.settings.thresholds.few_games
    games = None
    if opened.store is not None:
        games = position_counts(opened.store, asked.place, Filter(), few=few)
    rows = onward_with_values(
        opened, asked.edition, asked.line, games.moves if games else (), written_at(asked.now, asked.line.end)
    )
    return fragment("onward.html.j2", onward=rows)


def _values(asked: Asked) -> str:
    """What each voice thinks when the graph behind the position is counted."""
    node = asked.opened.graph.node_of(asked.place.position)
    return fragment("behind.html.j2", values=() if node is None else asked.opened.tell.values(node))


def _orders(asked: Asked) -> str:
    """The heaviest orders by which one comes here."""
    node = asked.opened.graph.node_of(asked.place.position)
    if node is None:
        return ""
    called = name_of(asked.opened.edition, asked.place)
    return fragment(
        "orders_part.html.j2",
        ways=position_orders(asked.opened, node, _ORDERS),
        orders_page=address(asked.edition, "orders", at=called or spelled(asked.line)),
    )


def _games(asked: Asked) -> str:
    """What came of the games of each kind, and some of them."""
    opened = asked.opened
    if opened.store is None:
        return ""
    at = name_of(opened.edition, asked.place) or spelled(asked.line)
    few = opened.edition.settings.thresholds.few_games
    samples = samples_at(opened.store, asked.edition, asked.line, at, few=few)
    return fragment("games_part.html.j2", samples=samples, all_at=address(asked.edition, "games/here", at=at))


def _plans(asked: Asked) -> str:
    """What the games show most from here; of very many games that takes its time, and the page of plans is pointed to."""
    opened, place = asked.opened, asked.place
    if opened.store is None:
        return ""
    games = opened.store.statistics(place.position, examples=0).tally.games
    at = name_of(opened.edition, place) or spelled(asked.line)
    few = 0 < games <= _MOST_COUNTED
    bodies = plans_in_short(opened.evidence.plans(place, ""), at) if few else []
    all_at = address(asked.edition, "plans", at=at)
    return fragment("plans_part.html.j2", bodies=bodies, games=games, few=few, all_at=all_at)


def _near(asked: Asked) -> str:
    """Near positions and reversed twins."""
    opened = asked.opened
    node = opened.graph.node_of(asked.place.position)
    if node is None:
        return ""
    found = find_near(
        opened.graph, opened.traffic, opened.values, node=node, limit=_NEAR, progress=asked.progress
    )
    report = near_report(opened.edition.title, opened.tell, found, node)
    pairs = [group.pairs[0] for group in report.groups]
    links = [address(asked.edition, "position", at=pair.second.line or pair.second.fen) for pair in pairs]
    return fragment("near.html.j2", pairs=list(zip(pairs, links, strict=True)))


PARTS: Final[dict[str, Callable[[Asked], str]]] = {
    "onward": _onward,
    "values": _values,
    "orders": _orders,
    "near": _near,
    "claims": _claims,
    "games": _games,
    "plans": _plans,
}
_NOW: Final[dict[str, Callable[[Request, OpenEdition, Line], str]]] = {
    "onward": lambda request, now, line: " ".join(sorted(written_at(now, line.end))),
    "claims": lambda request, now, line: editions_of(request).mark(request.path_params["name"]),
}
