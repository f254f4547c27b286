"""`variorum position`: what is known of a position."""

from __future__ import annotations

import datetime
import enum
from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Literal

import msgspec
import typer

from variorum.cli.options import AsJson, edition_and_place, user_settings
from variorum.cli.output import (
    columns,
    exit_if_faulty,
    in_letters,
    print_diagnostics,
    show,
    words_in_letters,
)
from variorum.cli.progress import progress_for
from variorum.cli.values import SCALE, order_texts, value_texts, voice_texts

if TYPE_CHECKING:
    from variorum.build.position import Mention, Passage, PositionReport
    from variorum.graph.position_games import GameEntry, PositionGames, Results
    from variorum.insight.near_report import NearReport

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
    from variorum.build.position import PositionReport

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
    """Show what is known of a position, by whatever order it came about.

    Printed are what each voice says, its value when what follows is counted, your own words on it (also private ones: this is not published), the orders that lead there, and the games.
    """
    from variorum.build.opened import OpenEdition
    from variorum.build.position import position_report
    from variorum.store import Filter, Pace

    edition, place = edition_and_place(arguments)
    wanted = Filter(
        kinds=frozenset(one.value for one in kind) if kind else None,
        paces=frozenset({Pace[pace.upper()]}) if pace else None,
        min_rating=min_rating,
        since=int(f"{since:%Y%m%d}") if since else 0,
        until=int(f"{until:%Y%m%d}") if until else 0,
    )
    user = user_settings()
    progress = progress_for(as_json=as_json)
    with OpenEdition(edition, user, progress=progress) as opened:
        report, diagnostics = position_report(opened, place, wanted, progress=progress)
    print_diagnostics(diagnostics)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)
    exit_if_faulty(diagnostics)


def _as_text(report: PositionReport, letters: str) -> Iterable[str]:
    heading = ": ".join(filter(None, [report.name, in_letters(report.line, letters)]))
    if heading:
        yield heading
    end = f"the game is over, {report.result}" if report.result else f"{report.to_move.capitalize()} to move"
    yield f"{report.fen}    {end}"
    yield from _pawns(report)
    if report.voices or report.values:
        yield ""
        yield f"What the voices say. {SCALE}"
        for voice in report.voices:
            yield from voice_texts(voice, letters)
    said = {voice.siglum: voice.expected for voice in report.voices}
    # Moves that were looked at on the map may be worth less there; then the next best one of the verdict decides.
    if any(value.expected != said.get(value.siglum) for value in report.values):
        yield ""
        yield "With what follows on the map"
        yield from (f"  {text}" for text in value_texts(report.values, report.range, letters))
    yield ""
    yield "Your own words"
    if not report.passages and not report.mentions:
        yield "  None: neither manuscript.pgn nor digest.md has the position."
    for passage in report.passages:
        yield from _passage(passage, letters)
    for mention in report.mentions:
        yield _mention(mention)
    yield ""
    yield "How the lines of the edition lead there"
    since = report.since and in_letters(report.since, letters)
    orders = list(order_texts(report.orders, report.order_count, since, letters, "  "))
    nowhere = "  It is a root." if report.on_graph else "  No line from a root leads there yet."
    yield from orders or [nowhere]
    if report.ledger is not None:
        yield ""
        yield "Tempi, by the line that was given"
        yield from (f"  {words_in_letters(sentence, letters)}" for sentence in report.ledger.sentences)
    if report.near is not None and report.near.groups:
        yield ""
        yield from _near(report.near, letters)
    yield ""
    yield "What the games say"
    if report.games is None:
        yield "  None were sifted yet: put them into sources/ and give `variorum sift`."
    elif not report.games.results.games:
        yield "  No game of the edition reached this position."
    else:
        yield from (f"  {line}".rstrip() for line in _as_games(report.games, letters))


def _pawns(report: PositionReport) -> Iterable[str]:
    if report.structure:
        yield f"Structure: {report.structure}"
    yield from report.squares.sentences


def _near(near: NearReport, letters: str) -> Iterable[str]:
    shown = [group.pairs[0] for group in near.groups]
    more = f", {len(shown)} of {near.group_count:,}" if len(shown) < near.group_count else ""
    yield f"Near positions and reversed twins{more}; the first is this one"
    for pair in shown:
        name = f"{pair.second.name}: " if pair.second.name else ""
        yield f"  {words_in_letters(' '.join(pair.sentences), letters)}"
        yield f"      The second: {name}{in_letters(pair.second.line, letters)} ({pair.second.flow:.1f} % of the traffic)"


def _passage(passage: Passage, letters: str) -> Iterable[str]:
    signs = " ".join(passage.signs)
    by = in_letters(passage.by, letters) or "its first position"
    private = "  (private line)" if passage.private else ""
    yield f"  manuscript.pgn:{passage.line}:{passage.column}: {by}{f' {signs}' if signs else ''}{private}"
    for remark in passage.remarks:
        kept_back = f"  ({remark.kept_back}, not published)" if remark.kept_back else ""
        yield f"      “{remark.text}”{kept_back}"
    if passage.moves:
        yield f"      then {'; '.join(in_letters(move, letters) for move in passage.moves)}"


def _mention(mention: Mention) -> str:
    section = f" under “{mention.section}”" if mention.section else ""
    private = "  (not published)" if mention.private else ""
    text = f": {mention.text}" if mention.text else ""
    return f"  digest.md:{mention.line}:{mention.column}: {mention.what}{section}{text}{private}"


def _as_games(report: PositionGames, letters: str) -> Iterable[str]:
    yield f"{_counted(report.results)}{_share(report.results)}."
    if report.against_rating is not None:
        points = f"{report.against_rating:+.1f}".replace("-", "−")
        yield (
            f"Ratings counted, White scored {points} points of 100 against the edition's games as a whole, "
            f"over {report.rated:,} games."
        )
    yield from _section(
        "What was played",
        [(in_letters(entry.move, letters), entry.results, entry.latest) for entry in report.moves],
    )
    yield from _section("By kind and pace", [(f"{k.kind}, {k.pace}", k.results, "") for k in report.kinds])
    shown, different = len(report.orders), report.different_orders
    heading = "By which orders it was reached" + (
        f" (the {shown} of {different} most frequent)" if shown < different else ""
    )
    yield ""
    yield heading
    for order in report.orders:
        yield f"  {order.results.games:,} × {in_letters(order.line, letters) or 'from the start of the game'}"
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
