"""The drift page: what changed since an earlier build, and where the author should look first."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import Response

from variorum.base import InputError, UsageError
from variorum.build.drift import drift_of
from variorum.build.drift_report import ClaimDrift, DriftReport, Matter, News, NewsMove, VerdictDrift
from variorum.build.drift_words import drift_title, results_in_words, was_before
from variorum.desk.moves import address, printed, text_address
from variorum.desk.pages.frame import edition_for, editions_of, frame
from variorum.desk.render import page
from variorum.desk.replay import Replay, line_from, replay_of_text
from variorum.edition.build_log import read_build_log
from variorum.edition.folder import MANUSCRIPT

__all__ = ["drift_page", "found_part"]

_SHOWN: Final = 30
"""Rows under a heading."""
_LONG: Final = 6
"""Words of a line that is called by its last move."""
_CLAIMS: Final = {
    Matter.CONTRADICTED: ("†", "Contradicted now", "what the evidence says against since then"),
    Matter.LOST: ("○", "Hold no more", "the evidence does not reach any more"),
    Matter.SETTLED: ("*", "Settled", "decided now, or not contradicted any more"),
}


class DriftRow(msgspec.Struct, frozen=True, kw_only=True):
    """One thing to look at: what it is, links, what is told of it, games, the position with its moves for the diagram, a line to play through."""

    said: str
    is_claim: bool = False
    links: tuple[tuple[str, str], ...] = ()
    told: tuple[str, ...] = ()
    games: tuple[str, ...] = ()
    fen: str = ""
    marks: str = ""
    caption: str = ""
    against: Replay | None = None


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """A heading with its rows; `more` are left out."""

    mark: str
    heading: str
    meaning: str
    rows: tuple[DriftRow, ...]
    more: int


def drift_page(request: Request, sent: Any) -> Response:
    """The builds that can be compared with; what changed comes as a part, since it takes longer."""
    del sent
    name = request.path_params["name"]
    edition, _ = editions_of(request).settings(name)
    changes, faults = read_build_log(edition.path)
    since = request.query_params.get("since", "").strip()
    builds = [
        (str(one.build), f"build {one.build}, {one.made[:16].replace('T', ' ')}") for one in changes[:-1]
    ]
    return page(
        "drift.html.j2",
        **frame(request, "drift", "Drift"),
        builds=list(reversed(builds)),
        built=bool(changes),
        faults=[str(one) for one in faults],
        since=since,
        part=address(name, "drift/found", since=since, built=changes[-1].made if changes else ""),
        work=address(name, "begin"),
    )


def found_part(request: Request, sent: Any) -> Response:
    """What changed since a build: a part of the page."""
    del sent
    name = request.path_params["name"]
    since = request.query_params.get("since", "").strip() or None
    try:
        with edition_for(request) as opened:
            report, _ = drift_of(opened, since)
            sigla = opened.sigla
    except (InputError, UsageError) as error:
        return page("drift_found.html.j2", fault=str(error.message))
    title = drift_title(report)
    return page(
        "drift_found.html.j2",
        fault="",
        report=report,
        title=title[0].upper() + title[1:],
        parts=list(_parts(report, name)),
        news=report.news,
        stayed=report.news.stayed,
        sigla=sigla,
        open_at=address(name, "position") + "?at=",
        work=address(name, "begin"),
    )


def _parts(report: DriftReport, name: str) -> Iterator[Part]:
    """In the order in which the author should look."""
    places = [_value(one, name) for one in report.places]
    verdicts = [_verdict(one, name) for one in report.verdicts]

    def claims(matter: Matter) -> Iterator[Part]:
        rows = [_claim(one, name) for one in report.claims if one.matter is matter]
        yield from _part(*_CLAIMS[matter], rows)

    yield from claims(Matter.CONTRADICTED)
    yield from _part(
        "", "Roots and tabiyas whose value moved", "with what follows; by more than chance", places
    )
    yield from claims(Matter.LOST)
    yield from _part("", "Verdicts that moved, best moves that changed", "the heaviest first", verdicts)
    yield from claims(Matter.SETTLED)
    news = [_news(one, name) for one in report.news.moves]
    yield from _part("", "Where new games leave the manuscript", _came(report.news), news)


def _part(mark: str, heading: str, meaning: str, rows: list[DriftRow]) -> Iterator[Part]:
    if rows:
        shown = tuple(rows[:_SHOWN])
        yield Part(mark=mark, heading=heading, meaning=meaning, rows=shown, more=len(rows) - len(shown))


def _came(news: News) -> str:
    files = ", ".join(f"{one.games:,} in {one.source}" for one in news.sources)
    return f"{news.games:,} {'game' if news.games == 1 else 'games'} came: {files}"


def _claim(one: ClaimDrift, name: str) -> DriftRow:
    in_manuscript = one.path == MANUSCRIPT
    text = text_address(name, one.path, one.line, one.column)
    links = [(one.subject if not in_manuscript else "the position", address(name, "position", at=one.place))]
    where = f"{'manuscript' if in_manuscript else 'digest'}, line {one.line}"
    told = [was_before(one)]
    told += [f"Then {one.old}" if one.old else "", f"Now {one.new}" if one.new else ""]
    return DriftRow(
        said=f"{printed(one.subject)} {one.says}" if in_manuscript else one.says,
        is_claim=True,
        links=(*(links if one.epd else ()), (where, text)),
        told=tuple(filter(None, told)),
        fen=one.epd,
        caption=one.subject,
        against=replay_of_text(one.against, one.against_from) if one.against_from else None,
    )


def _value(one: VerdictDrift, name: str) -> DriftRow:
    leaves = [(one.old_move, "then"), (one.new_move, "now")]
    told = [_scores(one)]
    if any(leaf not in ("", one.place) for leaf, _ in leaves):
        own = "its own verdict"
        told += [
            "; ".join(
                f"decided {when} by {own if leaf == one.place else leaf}" for leaf, when in leaves if leaf
            )
        ]
    return DriftRow(
        said=_short(one.place),
        links=(_to(one.place, name),),
        told=tuple(told),
        fen=one.epd,
        caption=one.place,
    )


def _verdict(one: VerdictDrift, name: str) -> DriftRow:
    told, marks = [_scores(one)], ""
    if one.gap is not None:
        gap = f"{'at least ' if one.gap_is_least else ''}{one.gap:.1f} points"
        told.append(f"best is {one.new_move}, not {one.old_move} any more; the difference is {gap}")
        marks = f"{_way(one.epd, one.old_move)}; {_way(one.epd, one.new_move)}!"
    if one.decides:
        told.append(f"it decides the value of {' and '.join(one.decides)}")
    told += [f"on it hangs {claim}" for claim in one.claims]
    return DriftRow(
        said=_short(one.place),
        links=(_to(one.place, name),),
        told=tuple(told),
        fen=one.epd,
        marks=marks,
        caption=f"{one.place}. In red the best move now." if marks else one.place,
    )


def _to(place: str, name: str) -> tuple[str, str]:
    words = "the position" if _short(place) == place else place
    return words, address(name, "position", at=place)


def _short(place: str) -> str:
    """A long line by its last move; the whole of it stands below."""
    words = place.split()
    if len(words) < _LONG or "/" in words[0]:
        return place
    number, dot, _ = words[-2].partition(".")
    alone = words[-1] if "." in words[-1] or not dot else f"{number}...{words[-1]}"
    return f"After {alone}"


def _scores(one: VerdictDrift) -> str:
    noise = f"{'beyond' if one.moved else 'within'} the noise of {one.noise:.1f}"
    old, new = (
        f"{score:.1f} at {nodes:,} nodes"
        for score, nodes in ((one.old, one.old_nodes), (one.new, one.new_nodes))
    )
    return f"{one.voice} had {old}, has {new}, {noise}"


def _news(one: NewsMove, name: str) -> DriftRow:
    games = f"{one.count:,} {'game' if one.count == 1 else 'games'}"
    ever = f"Never played before; {games}" if one.first_ever else f"Leaves the manuscript in {games}"
    results = results_in_words(one)
    after = line_from(one.epd, one.move).end
    return DriftRow(
        said=one.move,
        links=(
            (f"from {one.place}", address(name, "position", at=one.place)),
            ("the position behind it", address(name, "position", at=after.fen)),
        ),
        told=(f"{ever}: {results}" if results else ever,),
        games=tuple(map(printed_game, one.examples)),
        fen=one.epd,
        marks=f"{_way(one.epd, one.move)}!",
        caption=f"{one.place}: {one.move}",
    )


def printed_game(cited: str) -> str:
    """A game as it is cited, its result as it is printed.

    >>> printed_game("Ash, B. – Cedar, D., 2021-09-03, 1/2-1/2")
    'Ash, B. – Cedar, D., 2021-09-03, ½–½'
    """
    game, comma, result = cited.rpartition(", ")
    printed = {"1-0": "1–0", "0-1": "0–1", "1/2-1/2": "½–½"}.get(result, result)
    return f"{game}{comma}{printed}"


def _way(epd: str, san: str) -> str:
    """A move as the board draws it."""
    (move,) = line_from(epd, san).moves
    return f"itinerary {move.uci[:2]}-{move.uci[2:4]}"
