"""`variorum map`: roots, tabiyas, confluences with their orders, and the heaviest lines of an edition."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import msgspec

from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import in_letters, print_diagnostics, show
from variorum.cli.progress import progress_for

if TYPE_CHECKING:
    from variorum.graph import Confluence, HeavyLine, MapReport, MapValue, PlaceOnMap


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.graph import MapReport

    return MapReport


def command(edition: EditionFolder = None, as_json: AsJson = False) -> None:
    """Show where the lines of an edition lead and where they meet.

    Printed are roots and tabiyas, the confluences with the move orders that reach them, and the lines that most games take, each with what the voices think of it. Shares are of the traffic that starts at the roots.
    """
    from variorum.graph import map_edition

    opened, user = open_edition(edition), user_settings()
    report, diagnostics = map_edition(opened, user, progress=progress_for(as_json=as_json))
    print_diagnostics(diagnostics)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)


def _as_text(report: MapReport, letters: str) -> Iterable[str]:
    yield f"{report.title}: the map"
    yield (
        f"{_number(report.positions, 'position')}, {_number(report.moves, 'move')} between them, "
        f"{_number(report.confluence_count, 'confluence')}; {_games(report.games)}."
    )
    if report.min_games > 1:
        yield f"Positions of games are on it from {report.min_games} games on."
    yield f"Shares of the traffic: {report.mix}."
    yield from _places("Roots", report.roots, letters)
    yield from _places("Tabiyas", report.names, letters)
    yield from _confluences(report, letters)
    yield from _lines(report.lines, letters)
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
            yield from _values(place.values, letters)
            if place.median is not None:
                middle, least, most = place.median
                yield f"    median of the voices {middle:.1f} ({least:.1f} to {most:.1f})"
        else:
            yield "    no line from a root leads there yet"


def _confluences(report: MapReport, letters: str) -> Iterable[str]:
    yield ""
    if not report.confluences:
        yield "No two lines meet yet."
        return
    yield "Confluences, those first where most traffic comes in by another order"
    for number, place in enumerate(report.confluences, start=1):
        yield from _confluence(number, place, letters)


def _confluence(number: int, place: Confluence, letters: str) -> Iterable[str]:
    name = f"{place.name}: " if place.name else ""
    yield f"  {number}. {name}{in_letters(place.line, letters)}"
    yield (
        f"    {place.flow:.1f} % of the traffic, {place.merging:.1f} % not by the heaviest order; {_games(place.games)}"
    )
    since = f" after {in_letters(place.since, letters)}" if place.since else ""
    yield f"    reached by {_number(place.order_count, 'order')}{since}:"
    for order in place.orders:
        root = f"from {order.root}: " if order.root else ""
        remark = "" if order.walked else "  (legal, not played or written throughout)"
        yield f"      {root}{in_letters(order.moves, letters)}{remark}"
    if place.order_count > len(place.orders):
        yield f"      and {place.order_count - len(place.orders):,} more"
    yield from _values(place.values, letters)


def _lines(lines: Sequence[HeavyLine], letters: str) -> Iterable[str]:
    if not lines:
        return
    yield ""
    yield "Heaviest lines"
    for number, line in enumerate(lines, start=1):
        joins = f"; there it joins line {line.joins}" if line.joins else ""
        yield f"  {number}. {in_letters(line.line, letters)}"
        end = "" if line.end_flow == line.flow else f", {line.end_flow:.1f} % at its end"
        yield f"    begins with {line.flow:.1f} % of the traffic{end}{joins}"
        if not line.joins:
            yield from _values(line.values, letters)


def _values(values: Sequence[MapValue], letters: str) -> Iterable[str]:
    for value in values:
        bound = {"at least": "≥ ", "at most": "≤ "}.get(value.certainty, "")
        match value.basis:
            case "repetition":
                ground = "by repetition"
            case "rules":
                ground = (
                    f"the game ends after {in_letters(value.leaf, letters)}"
                    if value.leaf
                    else "the game is over"
                )
            case _:
                effort = f"{value.nodes:,} nodes" if value.nodes else f"depth {value.depth}"
                ground = f"decided by {in_letters(value.leaf, letters)} at {effort}"
        yield f"    {value.voice}: {bound}{value.expected:.1f} {value.sign} ({value.words}), {ground}"


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
