"""The games that came to a position: some of them on the page of the position, all of them on a page of their own."""

from __future__ import annotations

from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import Response

from variorum.base import InputError
from variorum.board import Line, Position
from variorum.build.opened import OpenEdition
from variorum.desk.moves import address, line_steps, name_of, printed, spelled
from variorum.desk.pages.frame import edition_for, frame
from variorum.desk.render import page
from variorum.edition import resolve_place
from variorum.graph.practice import PracticeScore, practice_score
from variorum.sources import date_text
from variorum.store import PLAYOUT, PRACTICE, GameAt, GameHead, Listing, Ranking, Store, Tally

__all__ = ["Sample", "games_here_page", "printed_result", "row_of", "samples_at"]

_RESULTS: Final = ("no result", "1–0", "0–1", "½–½")
_KINDS: Final = {
    "practice": ("practice", PRACTICE),
    "engines": ("engine games", frozenset({"engine"})),
    "analysis": ("analysis", frozenset({"analysis"})),
}
"""The kinds of games that are told apart: what they are called, and which of the store's kinds they are."""
_STRONGEST, _LATEST = 3, 3
"""Games shown on the page of a position, of each kind."""
_LISTED: Final = 100
"""Games on one page of the list."""
_PACES: Final = ("", "classical", "rapid", "blitz")


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """A game in a list: where it is opened, who played, with which ratings ("" where unknown), when, and what it played on."""

    href: str
    white: str
    black: str
    ratings: str
    result: str
    date: str
    event: str
    kind: str
    next: str


class Sample(msgspec.Struct, frozen=True, kw_only=True):
    """Games of one kind through a position: what came of them (E for White, 0 to 100), the strongest and the latest ones, where all are listed."""

    called: str
    tally: Tally
    score: PracticeScore | None
    strongest: tuple[Row, ...]
    more_rated: bool
    latest: tuple[Row, ...]
    all_at: str


def printed_result(result: int) -> str:
    """A result as it is printed."""
    return _RESULTS[result]


def row_of(name: str, game: GameAt, position: Position, at: str) -> Row:
    """A game that passes a position as a row of a list."""
    head = game.head
    elos = (head.white_elo, head.black_elo)
    return Row(
        href=address(name, f"game/{head.id}", at=at),
        white=head.white or "?",
        black=head.black or "?",
        ratings=" – ".join(str(elo or "?") for elo in elos) if any(elos) else "",
        result=_RESULTS[head.result],
        date=date_text(head.date),
        event=_event(head),
        kind=", ".join(filter(None, (head.provenance.kind, head.provenance.voice, _PACES[head.pace]))),
        next="" if game.move is None else printed(Line(position, (game.move,)).san()),
    )


def _event(head: GameHead) -> str:
    return ", ".join(one for one in (head.event, head.site) if one and one != "?")


def samples_at(store: Store, name: str, line: Line, at: str, *, few: int) -> list[Sample]:
    """Of each kind of games through a position the strongest by rating and, of the others, the latest; no score under `few` games."""
    position, samples = line.end, []
    by = store.statistics(position, examples=0).by
    for key, (called, kinds) in _KINDS.items():
        tally = _together([one for (kind, _), one in by.items() if kind in kinds])
        if not tally.games:
            continue
        strongest = store.list_games(
            position, Listing(kinds=kinds, ranking=Ranking.STRONGEST, limit=_STRONGEST + 1)
        )
        every = [game for game in strongest.games if game.head.white_elo and game.head.black_elo]
        rated = every[:_STRONGEST]
        known = {game.head.id for game in rated}
        latest = store.list_games(position, Listing(kinds=kinds, limit=_STRONGEST + _LATEST))
        others = [game for game in latest.games if game.head.id not in known][:_LATEST]
        samples.append(
            Sample(
                called=called,
                tally=tally,
                score=practice_score(tally, few),
                strongest=tuple(row_of(name, game, position, at) for game in rated),
                more_rated=len(every) > len(rated),
                latest=tuple(row_of(name, game, position, at) for game in others),
                all_at=address(name, "games/here", at=at, of=key),
            )
        )
    return samples


def _together(tallies: list[Tally]) -> Tally:
    return Tally(
        *(sum(getattr(one, name) for one in tallies) for name in ("wins", "draws", "losses", "unknown"))
    )


def games_here_page(request: Request, sent: Any) -> Response:
    """All games through a position, a hundred at a time."""
    del sent
    name, asked = request.path_params["name"], request.query_params
    at, of, player = asked.get("at", "").strip(), asked.get("of", ""), asked.get("player", "").strip()
    ranking = Ranking.LATEST if asked.get("first") == "latest" else Ranking.STRONGEST
    start = int(text) if (text := asked.get("start", "")).isdecimal() and len(text) < 10 else 0
    if of and of not in _KINDS:
        raise InputError(f"no games are called {of!r}", remedy=f"ask for {', '.join(_KINDS)}, or for all")
    with edition_for(request) as opened:
        place = resolve_place(opened.edition, at) if at else opened.edition.roots[0]
        line, called = place.line or Line(place.position), name_of(opened.edition, place)
        at = called or spelled(line)
        found = None
        if opened.store is not None:
            kinds = _KINDS[of][1] if of else None
            wish = Listing(kinds=kinds, player=player, ranking=ranking, start=start, limit=_LISTED)
            found = opened.store.list_games(place.position, wish)
        kinds_there = _kinds_of(opened)

    def link(start: int) -> str:
        more = {"start": str(start)} if start else {}
        return address(name, "games/here", at=at, of=of, player=player, first=asked.get("first", ""), **more)

    total = found.total if found else 0
    return page(
        "games_here.html.j2",
        **frame(request, "games", f"Games that came to {called}" if called else "Games of a position"),
        called=called,
        at=at,
        of=of,
        player=player,
        first=ranking.value,
        total=total,
        start=start,
        rows=[row_of(name, game, line.end, at) for game in found.games] if found else [],
        kinds=[(key, words) for key, (words, some) in _KINDS.items() if some & kinds_there],
        before=link(max(0, start - _LISTED)) if start else "",
        behind=link(start + _LISTED) if start + _LISTED < total else "",
        here_at=address(name, "games/here"),
        position_at=address(name, "position", at=at),
        steps=line_steps(name, line),
    )


def _kinds_of(opened: OpenEdition) -> set[str]:
    """The kinds of games that the edition has."""
    return set() if opened.store is None else {one.kind for one in opened.store.sources()} - {PLAYOUT}
