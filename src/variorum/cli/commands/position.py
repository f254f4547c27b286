"""`variorum position`: what is known of a position."""

from __future__ import annotations

import datetime
import enum
from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Literal

import msgspec
import typer

from variorum.cli.options import AsJson, edition_and_place, user_settings
from variorum.cli.output import columns, show

if TYPE_CHECKING:
    from variorum.graph.position_games import GameEntry, PositionReport, Results

Arguments = Annotated[
    list[str],
    typer.Argument(
        metavar="[EDITION] PLACE", help="A name of the edition, a typed line, or a FEN.", show_default=False
    ),
]


class Kind(enum.StrEnum):
    """Kinds of sources, as the option takes them."""

    PRACTICE = "practice"
    CORRESPONDENCE = "correspondence"
    ENGINE = "engine"
    ANALYSIS = "analysis"


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.graph.position_games import PositionReport

    return PositionReport


def command(
    arguments: Arguments,
    kind: Annotated[
        list[Kind] | None,
        typer.Option(
            metavar="KIND", help="Count only practice, correspondence, engine or analysis; may be repeated."
        ),
    ] = None,
    pace: Annotated[
        Literal["classical", "rapid", "blitz"] | None,
        typer.Option(metavar="PACE", help="Count only classical, rapid or blitz."),
    ] = None,
    min_rating: Annotated[int, typer.Option(min=0, help="Count only games with both ratings from here.")] = 0,
    since: Annotated[
        datetime.datetime | None,
        typer.Option(
            metavar="DATE", formats=["%Y-%m-%d"], help="Count only games from this day on (2024-05-31)."
        ),
    ] = None,
    until: Annotated[
        datetime.datetime | None,
        typer.Option(metavar="DATE", formats=["%Y-%m-%d"], help="Count only games up to this day."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show what the games say of a position: orders that reach it, moves, results with their intervals."""
    from variorum.graph.position_games import position_games
    from variorum.store import Filter, Pace, open_store

    edition, place = edition_and_place(arguments)
    wanted = Filter(
        kinds=frozenset(one.value for one in kind) if kind else None,
        paces=frozenset({Pace[pace.upper()]}) if pace else None,
        min_rating=min_rating,
        since=int(f"{since:%Y%m%d}") if since else 0,
        until=int(f"{until:%Y%m%d}") if until else 0,
    )
    with open_store(edition.store_folder(user_settings())) as store:
        report = position_games(store, place, wanted, few=edition.settings.thresholds.few_games)
    show(report, _as_text, as_json=as_json)


def _as_text(report: PositionReport) -> Iterable[str]:
    if report.name:
        yield report.name
    yield f"{report.fen}    {report.to_move.capitalize()} to move"
    yield ""
    if not report.results.games:
        yield "No game of the edition reached this position."
        return
    yield f"{_counted(report.results)}{_share(report.results)}."
    if report.against_rating is not None:
        points = f"{report.against_rating:+.1f}".replace("-", "−")
        yield (
            f"Ratings counted, White scored {points} points of 100 against the edition's games as a whole, "
            f"over {report.rated:,} games."
        )
    yield from _section(
        "What was played", [(entry.move, entry.results, entry.latest) for entry in report.moves]
    )
    yield from _section("By kind and pace", [(f"{k.kind}, {k.pace}", k.results, "") for k in report.kinds])
    shown, different = len(report.orders), report.different_orders
    heading = "By which orders it was reached" + (
        f" (the {shown} of {different} most frequent)" if shown < different else ""
    )
    yield ""
    yield heading
    for order in report.orders:
        yield f"  {order.results.games:,} × {order.line or 'from the start of the game'}"
    yield from _games("First games", report.first)
    yield from _games("Latest games", report.latest)


def _section(heading: str, entries: list[tuple[str, Results, str]]) -> Iterable[str]:
    if entries:
        yield ""
        yield heading
        rows = [
            (f"  {name}", f"{results.games:,}", _wdl(results), _score(results).removeprefix(", "), latest)
            for name, results, latest in entries
        ]
        yield from columns(rows, right=[1])


def _games(heading: str, games: Iterable[GameEntry]) -> Iterable[str]:
    rows = [
        (f"  {g.date}", f"{g.white} – {g.black}", g.result, f"{g.source}, game {g.number}") for g in games
    ]
    if rows:
        yield ""
        yield heading
        yield from columns(rows)


def _counted(results: Results) -> str:
    return f"{results.games:,} game{'' if results.games == 1 else 's'}: {_wdl(results)}"


def _wdl(results: Results) -> str:
    unknown = f" ?{results.unknown}" if results.unknown else ""
    return f"+{results.wins} ={results.draws} −{results.losses}{unknown}"


def _share(results: Results) -> str:
    if results.score is None:
        return ""
    return f"; White scored {results.score:.1f} of 100 (95 % interval {results.low:.0f}–{results.high:.0f})"


def _score(results: Results) -> str:
    if results.score is None:
        return ""
    return f", {results.score:.1f} ({results.low:.0f}–{results.high:.0f})"
