"""`variorum structures`: where the lines of an edition go, from structure to structure."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, edition_and_rest, user_settings
from variorum.cli.output import columns, exit_if_faulty, in_letters, print_diagnostics, show
from variorum.cli.progress import progress_for

if TYPE_CHECKING:
    from variorum.insight.structure_flow import StepSaid, StructureFlow

Arguments = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[EDITION] [PLACE]",
        help="A name of the edition, a typed line, or a FEN from which to start; by default the roots.",
        show_default=False,
    ),
]


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.insight.structure_flow import StructureFlow

    return StructureFlow


def command(
    arguments: Arguments = None,
    limit: Annotated[
        int,
        typer.Option(min=1, max=10_000, metavar="N", help="At most so many steps, and half as many leaves."),
    ] = 24,
    as_json: AsJson = False,
) -> None:
    """Show into which pawn structures the lines of an edition go, and by which breaks.

    Printed are the named structures that the lines come to and end in, the steps from one to another with the pawn move or capture that makes them, and the structures in which the lines of the texts end. A capture that is retaken at once is one step.
    """
    from variorum.build.opened import OpenEdition
    from variorum.build.structures import edition_structures
    from variorum.edition import resolve_place

    edition, words = edition_and_rest(arguments or [])
    place = resolve_place(edition, " ".join(words)) if words else None
    user = user_settings()
    with OpenEdition(edition, user, progress=progress_for(as_json=as_json)) as opened:
        report, diagnostics = edition_structures(opened, place, steps=limit, leaves=(limit + 1) // 2)
    print_diagnostics(diagnostics)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)
    exit_if_faulty(diagnostics)


_UNNAMED = "no named structure"


def _as_text(report: StructureFlow, letters: str) -> Iterable[str]:
    yield f"{report.title}: where its pawn structures go"
    if report.line is not None:
        start = ": ".join(filter(None, [report.place, in_letters(report.line, letters)]))
        yield f"From {start or 'the start position'} on."
    yield f"Positions with a named structure: {report.named:,} of {report.positions:,}."
    yield f"Shares of the traffic: {report.mix}. What comes again counts again."
    yield ""
    rows = [("structure", "positions", "comes to it", "ends there", "leaves")]
    rows += [
        (
            one.name or _UNNAMED,
            f"{one.positions:,}",
            f"{one.comes:.1f} %" if one.name else "",
            f"{one.ends:.1f} %",
            f"{one.leaves:,}",
        )
        for one in report.structures
    ]
    yield from columns(rows, right=[1, 2, 3, 4])
    yield from _steps(report, letters)
    yield from _leaves(report, letters)


def _steps(report: StructureFlow, letters: str) -> Iterable[str]:
    yield ""
    if not report.steps:
        yield "No line goes from one structure to another."
        return
    more = f", {len(report.steps)} of {report.step_count:,}" if len(report.steps) < report.step_count else ""
    yield f"Steps from one to another{more}, with the games and lines that take them by any order"
    counted = any(step.games for step in report.steps)
    by_start: dict[str, list[StepSaid]] = {}
    for step in report.steps:
        by_start.setdefault(step.before, []).append(step)
    for before, steps in by_start.items():
        yield f"  {before or _UNNAMED}"
        rows = [
            (
                in_letters(step.by, letters),
                f"to {step.after or _UNNAMED}",
                f"{step.flow:.1f} %",
                *([_number(step.games, "game")] if counted else []),
                _number(step.lines, "line"),
            )
            for step in steps
        ]
        yield from (f"    {row}" for row in columns(rows, right=range(2, len(rows[0]))))


def _leaves(report: StructureFlow, letters: str) -> Iterable[str]:
    if not report.leaves:
        return
    more = (
        f", {len(report.leaves)} of {report.leaf_count:,}" if len(report.leaves) < report.leaf_count else ""
    )
    yield ""
    yield f"Where the lines of the texts end{more}"
    counts = {one.name: one.leaves for one in report.structures}
    by_structure: dict[str, list[str]] = {}
    for leaf in report.leaves:
        by_structure.setdefault(leaf.structure, []).append(in_letters(leaf.line, letters))
    for structure, lines in by_structure.items():
        yield f"  {structure or _UNNAMED}: {_number(counts[structure], 'leaf', 'leaves')}"
        yield from (f"    {line}" for line in lines)


def _number(number: int, word: str, many: str = "") -> str:
    return f"{number:,} {word if number == 1 else many or f'{word}s'}"
