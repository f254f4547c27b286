"""`variorum map`: roots, tabiyas, confluences with their orders, and the heaviest lines of an edition."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import msgspec

from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import exit_if_faulty, in_letters, print_diagnostics, show
from variorum.cli.progress import progress_for
from variorum.cli.values import SCALE, key_text, leads, order_texts, shortened, value_texts

if TYPE_CHECKING:
    from variorum.graph import Confluence, HeavyLine, MapReport, PlaceOnMap


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.graph import MapReport

    return MapReport


def command(edition: EditionFolder = None, as_json: AsJson = False) -> None:
    """Show where the lines of an edition lead and where they meet.

    Printed are roots and tabiyas, the confluences with the move orders that reach them, and the lines that most games take, each with what the voices think of it. Shares are of the traffic that starts at the roots.
    """
    from variorum.build.mapping import map_edition
    from variorum.build.opened import OpenEdition

    chosen, user = open_edition(edition), user_settings()
    with OpenEdition(chosen, user, progress=progress_for(as_json=as_json)) as opened:
        report, diagnostics = map_edition(opened)
    print_diagnostics(diagnostics)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)
    exit_if_faulty(diagnostics)


def _as_text(report: MapReport, letters: str) -> Iterable[str]:
    yield f"{report.title}: the map"
    yield (
        f"{_number(report.positions, 'position')}, {_number(report.moves, 'move')} between them, "
        f"{_number(report.confluence_count, 'confluence')}; {_games(report.games)}."
    )
    if report.min_games > 1:
        yield f"Positions of games are on it from {report.min_games} games on."
    yield f"Shares of the traffic: {report.mix}."
    if report.sigla:
        yield f"Voices: {key_text(report.sigla)}. {SCALE}"
    yield from _places("Roots", report.roots, letters)
    yield from _places("Tabiyas", report.names, letters)
    yield from _confluences(report, letters)
    yield from _lines(report, letters)
    if report.unreached_games:
        yield ""
        yield (
            f"{_number(report.unreached_games, 'position')} met often enough left out: every order to them is rarer "
            "than the map shows."
        )
    if report.unreached_verdicts:
        yield f"{_number(report.unreached_verdicts, 'position')} with a verdict left out: no line on the map leads there."


def _places(heading: str, places: Sequence[PlaceOnMap], letters: str) -> Iterable[str]:
    if not places:
        return
    yield ""
    yield heading
    for place in places:
        yield f"  {place.name}: {in_letters(place.line, letters) or 'the start position'}"
        if place.on_graph:
            yield f"    {place.flow:.1f} % of the traffic; {_games(place.games)}"
            yield from _values(place, letters)
        else:
            yield "    no line from a root leads there yet"


def _confluences(report: MapReport, letters: str) -> Iterable[str]:
    yield ""
    if not report.confluences:
        yield "No two lines meet yet."
        return
    yield "Confluences, those first where most traffic comes in by another order"
    for number, place in enumerate(report.confluences, start=1):
        yield from _confluence(number, place, (*report.roots, *report.names), letters)
    more = report.confluence_count - len(report.confluences)
    if more:
        yield f"  and {more:,} more, of less weight"


def _confluence(number: int, place: Confluence, places: Sequence[PlaceOnMap], letters: str) -> Iterable[str]:
    yield f"  {number}. {place.name or shortened(place.line, places, letters)}"
    yield (
        f"    {place.flow:.1f} % of the traffic, {place.merging:.1f} % by another last move than most; {_games(place.games)}"
    )
    yield from order_texts(
        place.orders,
        place.order_count,
        place.since and shortened(place.since, places, letters),
        letters,
        "    ",
    )
    yield from _values(place, letters)


def _lines(report: MapReport, letters: str) -> Iterable[str]:
    if not report.lines:
        return
    places = (*report.roots, *report.names)
    yield ""
    yield "Heaviest lines"
    for number, line in enumerate(report.lines, start=1):
        joins = f"; there it joins line {line.joins}" if line.joins else ""
        before = [place for place in places if leads(place.line, line.since)]
        yield f"  {number}. {shortened(line.line, before, letters)}"
        end = "" if line.end_flow == line.flow else f", {line.end_flow:.1f} % at its end"
        yield f"    begins with {line.flow:.1f} % of the traffic{end}{joins}"
        if not line.joins:
            yield from _values(line, letters)


def _values(place: PlaceOnMap | Confluence | HeavyLine, letters: str) -> Iterable[str]:
    return (f"    {text}" for text in value_texts(place.values, place.range, letters))


def _games(games: dict[str, int]) -> str:
    if not games:
        return "no games"
    words = {
        "practice": "of practice",
        "engine": "of engines",
        "correspondence": "by correspondence",
        "analysis": "of analysis",
    }
    return ", ".join(
        f"{_number(number, 'game')} {words.get(kind, kind)}" for kind, number in sorted(games.items())
    )


def _number(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"
