"""`variorum hinges`: the placements on which a move depends."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, edition_and_rest, user_settings
from variorum.cli.output import exit_if_faulty, print_diagnostics, show, words_in_letters
from variorum.cli.progress import progress_for

if TYPE_CHECKING:
    from variorum.insight.hinges import Hinge, HingeReport

Arguments = Annotated[
    list[str],
    typer.Argument(
        metavar="[EDITION] PLACE MOVE",
        help="A name of the edition, a typed line or a FEN; and the move played there.",
        show_default=False,
    ),
]

_ROWS = 12
"""So many hinges are printed; `--json` has all."""


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.insight.hinges import HingeReport

    return HingeReport


def command(
    arguments: Arguments,
    nodes: Annotated[int, typer.Option("--nodes", min=1, help="Nodes for each verdict.")] = 50_000,
    voice: Annotated[str, typer.Option("--voice", help="Whom to ask.")] = "resident",
    minutes: Annotated[
        float | None, typer.Option("--minutes", min=0.01, help="Ask for so many minutes at most.")
    ] = None,
    total_nodes: Annotated[
        int | None, typer.Option("--total-nodes", min=1, help="Ask for so many nodes at most, in all.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Find the placement on which a move depends: one unit is put elsewhere, and the move is judged again.

    A hinge is strong when the move's worth changes with it and the best other move's does not. Verdicts are kept, so the same call goes on after an interruption and costs nothing the next time.
    """
    from variorum.base import UsageError
    from variorum.board import Line
    from variorum.build.hinging import HingeAsking, find_hinges
    from variorum.edition import resolve_place
    from variorum.voices.registry import voice_opener
    from variorum.voices.voice import Budget

    edition, words = edition_and_rest(arguments)
    words = " ".join(words).split()
    if len(words) < 2:
        raise UsageError(
            "PLACE and MOVE are needed",
            remedy="give a name, a line or a FEN, and a move legal there: hinges iqp Nxd4",
        )
    place = resolve_place(edition, " ".join(words[:-1]))
    user = user_settings()
    line = Line.parse(words[-1], start=place.position)
    if len(line) != 1:
        raise UsageError(
            f"{words[-1]!r} is no move", remedy="the last word is the move, such as Nxd4 or 10...Nxd4"
        )
    budget = Budget(seconds=None if minutes is None else 60 * minutes, total_nodes=total_nodes)
    asking = HingeAsking(nodes=nodes, voice=voice, open_voice=voice_opener(voice, user), budget=budget)
    report, diagnostics = find_hinges(
        edition, user, place, line.moves[0], asking, progress_for(as_json=as_json)
    )
    print_diagnostics(diagnostics)

    def as_text(report: HingeReport) -> Iterable[str]:
        return (words_in_letters(line, user.pieces) for line in _lines(report))

    show(report, as_text, as_json=as_json)
    exit_if_faulty(diagnostics)


def _lines(report: HingeReport) -> Iterable[str]:
    yield f"{report.sentence}"
    yield f"Expected scores of {report.side.capitalize()}, by {report.voice}, {report.nodes:,} nodes for each verdict."
    if report.value is not None:
        yield f"Here: {report.line}"
    if report.best_other is not None and report.best_other_value is not None:
        yield f"The best other move is {report.best_other}, worth {report.best_other_value:.1f}."
    rank = 0
    for hinge in report.hinges[:_ROWS]:
        if hinge.rank != rank:
            rank = hinge.rank
            yield ""
            yield _heading(rank, [one for one in report.hinges if one.rank == rank])
        yield f"  {_strength(hinge)}  {hinge.sentence}"
    if len(report.hinges) > _ROWS:
        yield f"  and {len(report.hinges) - _ROWS} more (--json has all)"
    yield ""
    yield (
        f"{report.changes} changes of one unit leave the move as it is. Not looked at: {report.lost} that lose the unit. "
        f"Refused: {report.shifted} that change the worth of the best other move as well. "
        f"No more than noise (± {report.noise:.1f}): {report.weak}."
    )
    if report.unanswered:
        yield f"{report.unanswered} were not answered by {report.voice}."
    if report.open:
        yield f"{report.open} are weaker than these or not asked yet."


def _heading(rank: int, hinges: list[Hinge]) -> str:
    name = {1: "Strongest", 2: "Next", 3: "Third"}[rank]
    return name if len(hinges) == 1 else f"{name}, {len(hinges)} that noise does not tell apart"


def _strength(hinge: Hinge) -> str:
    return f"{hinge.strength:+.1f}".replace("-", "−")
