"""`variorum scout`: a first skeleton of a system that nobody has looked at."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, edition_and_place, user_settings
from variorum.cli.output import exit_if_faulty, in_letters, print_diagnostics, show
from variorum.cli.progress import progress_for
from variorum.cli.stopping import ends_in_order

if TYPE_CHECKING:
    from variorum.build.scouting import ScoutedBranch, ScoutReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.build.scouting import ScoutReport

    return ScoutReport


def command(
    arguments: Annotated[
        list[str],
        typer.Argument(
            metavar="[EDITION] PLACE",
            help="A name of the edition, a typed line, or a FEN.",
            show_default=False,
        ),
    ],
    minutes: Annotated[float | None, typer.Option(help="Ask for so many minutes.")] = None,
    total_nodes: Annotated[
        int | None,
        typer.Option(help="Ask for so many nodes together; by default as edition.toml says for a build."),
    ] = None,
    voice: Annotated[str, typer.Option("--voice", help="Whom to ask.")] = "resident",
    nodes: Annotated[
        int | None, typer.Option(min=1, help="For one position; by default as edition.toml says.")
    ] = None,
    width: Annotated[
        float,
        typer.Option(
            min=0,
            max=100,
            metavar="POINTS",
            help="Look at moves that concede so much, in points of expected score.",
        ),
    ] = 8.0,
    plies: Annotated[int, typer.Option(min=1, max=200, help="Half-moves from the place on.")] = 16,
    most: Annotated[int, typer.Option(min=1, help="List so many branches of the main line.")] = 12,
    as_json: AsJson = False,
) -> None:
    """Grow a first skeleton of a system from a place: its main line, and what else there is.

    The end of the line that is best so far is looked at first, then the lines that concede least, down to quiet positions. Positions that several orders reach are asked once. Verdicts are written to verdicts/ as they come: the same command goes on where it was, also after a stop.
    """
    from variorum.build.scouting import Scouting, ScoutLimits, scout_place
    from variorum.scout.frontier import Width
    from variorum.voices.registry import voice_opener

    limits = ScoutLimits(minutes=minutes, total_nodes=total_nodes)
    edition, place = edition_and_place(arguments)
    user = user_settings()
    how = Scouting(
        voice=voice,
        open_voice=voice_opener(voice, user),
        limits=limits,
        nodes=nodes,
        width=Width(margin=width, plies=plies),
        most=most,
    )
    with ends_in_order():
        report, diagnostics = scout_place(edition, user, place, how, progress_for(as_json=as_json))
    print_diagnostics(diagnostics)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)
    exit_if_faulty(diagnostics)


def _as_text(report: ScoutReport, letters: str) -> Iterable[str]:
    line = in_letters(report.line, letters) or report.fen
    yield f"{report.name}: {line}" if report.name else line
    yield (
        f"{_number(report.positions, 'position')} with {report.nodes:,} nodes each by {report.siglum} {report.voice}, "
        f"{report.asked:,} of them asked now ({report.spent:,} nodes)."
    )
    for fault in report.unanswered:
        yield f"  no answer: {in_letters(fault, letters)}"
    if report.expected is None:
        yield "Nothing is known yet: the budget did not pay for one position, or the voice gave no answer."
        return
    yield ""
    yield f"Main line: {report.expected:.1f}{_noise(report.noise)} {report.sign} ({report.words})"
    yield f"  {in_letters(report.main, letters) or 'none yet'}"
    for instead, branches in groupby(report.branches, key=lambda branch: branch.instead):
        yield ""
        yield f"Instead of {in_letters(instead, letters)}"
        for branch in branches:
            yield from _branch(branch, letters)
    yield ""
    if report.branches:
        yield "Scores are White's, expected of 100, ± noise; what a move concedes is in points for its mover."
    if report.hidden:
        yield f"{_number(report.hidden, 'branch', 'branches')} more of the main line can be listed: --most N."
    if report.waiting:
        yield (
            f"{_number(report.waiting, 'position')} within {report.margin:g} points and {report.plies} half-moves "
            f"still wait{'s' if report.waiting == 1 else ''}: the same command goes on."
        )
    else:
        yield (
            f"Nothing is left within {report.margin:g} points and {report.plies} half-moves: "
            "--width and --plies go further."
        )
    if report.to_map:
        yield f"The map does not lead here yet: {report.to_map}"
    else:
        yield "It is on the map now: variorum map"


def _branch(branch: ScoutedBranch, letters: str) -> Iterable[str]:
    yield f"  {_told(branch, letters)}"
    for inner in branch.branches:
        yield f"      or, instead of {in_letters(inner.instead, letters)}: {_told(inner, letters)}"


def _told(branch: ScoutedBranch, letters: str) -> str:
    conceded = f"{branch.conceded:.1f}"
    cost = "as good" if conceded == "0.0" else f"concedes {conceded}"
    on = " and on as above" if branch.joins else ""
    return f"{in_letters(branch.line, letters)}{on}  {branch.expected:.1f}{_noise(branch.noise)}, {cost}"


def _noise(noise: float | None) -> str:
    return "" if noise is None else f" ± {noise:.1f}"


def _number(number: int, word: str, words: str = "") -> str:
    return f"{number:,} {word if number == 1 else words or word + 's'}"
