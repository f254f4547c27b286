"""`variorum consult`: voices asked under a budget."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import columns, in_letters, show
from variorum.cli.progress import progress_for
from variorum.cli.stopping import ends_in_order

if TYPE_CHECKING:
    from variorum.build.consulting import ConsultReport

_LISTED = 20
"""Questions that a plan, and failures that a summary lists; `--json` has all."""


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.build.consulting import ConsultReport

    return ConsultReport


def command(
    edition: EditionFolder = None,
    voice: Annotated[
        list[str] | None,
        typer.Option("--voice", help="Whom to ask, by default as edition.toml says; may be repeated."),
    ] = None,
    nodes: Annotated[int | None, typer.Option(min=1, help="Nodes for a verdict.")] = None,
    depth: Annotated[int | None, typer.Option(min=1, help="Or its depth in half-moves; needs --at.")] = None,
    seconds: Annotated[float | None, typer.Option(help="Or its time in seconds; needs --at.")] = None,
    multipv: Annotated[int | None, typer.Option(min=1, max=20, help="Lines of a verdict.")] = None,
    at: Annotated[
        str,
        typer.Option(
            metavar="PLACE|GROUP",
            help="Ask there and nowhere else: a place, or leaves, tabiyas, confluences, bounds, disputed or stale. By default where it matters most.",
        ),
    ] = "",
    minutes: Annotated[float | None, typer.Option(help="Ask for so many minutes.")] = None,
    total_nodes: Annotated[
        int | None,
        typer.Option(help="Ask for so many nodes together; without --at by default as edition.toml says."),
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option(
            min=1, max=256, help="Questions asked at a time; by default as many as your processors hold."
        ),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show what would be asked; nothing is asked or written.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Ask voices for verdicts, where they matter most or where you say.

    What matters most: named places without a verdict; then what deeper verdicts may settle (the position that decides a named place's value, two moves within the noise of each other, a bound, a claim without enough evidence); then the rest. The questions wait in a queue that survives any stop: the same command, or `variorum consult` alone, goes on. Another request takes its place. Verdicts are written to verdicts/ as they come.
    """
    from variorum.build.consulting import ConsultLimits, consult, request_of

    limits = ConsultLimits(minutes=minutes, total_nodes=total_nodes)
    opened, user = open_edition(edition), user_settings()
    given = (voice, nodes, depth, seconds, multipv, at or None)
    request = None
    if any(one is not None for one in given):
        request = request_of(
            opened, user, voices=voice or (), nodes=nodes, depth=depth, seconds=seconds, lines=multipv, at=at
        )
    with ends_in_order():
        report = consult(
            opened, user, request, limits, progress_for(as_json=as_json), workers=workers, dry_run=dry_run
        )
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)


def _as_text(report: ConsultReport, letters: str) -> Iterable[str]:
    yield f"{report.edition}: {report.request}"
    for name in report.absent:
        yield f"The edition asks {name}, a voice you do not have; it is passed over (variorum voices add)."
    if report.replaced:
        gives = "would give" if report.dry_run else "gave"
        yield f"This request {gives} up an earlier one, {_number(report.dropped, 'question')} of which still waited: {report.replaced}"
    if report.resumed:
        yield f"Gone on with a queue of which {_number(report.resumed, 'question')} waited."
    if report.dry_run:
        yield from _plan(report, letters)
        return
    told = f" at {report.nodes:,} nodes together" if report.nodes else ""
    yield f"{_number(report.asked, 'verdict')} came{told}."
    if report.known:
        yield f"{_number(report.known, 'question')} had an answer already."
    for one in report.failed[:_LISTED]:
        yield f"  no answer: {in_letters(one.place, letters)}: {one.fault}"
    if len(report.failed) > _LISTED:
        yield f"  and {len(report.failed) - _LISTED:,} more without an answer (--json has all)"
    if report.waiting:
        yield f"{_number(report.waiting, 'question')} still wait{'s' if report.waiting == 1 else ''}: variorum consult"
    else:
        yield "Nobody is left to be asked."


def _plan(report: ConsultReport, letters: str) -> Iterable[str]:
    if not report.plan and not report.waiting:
        yield "Nobody needs to be asked."
        return
    yield f"{_number(len(report.plan), 'question')} would come first, in this order."
    rows = [("voice", "limit", "why", "position")]
    rows += [
        (one.voice, one.limit, one.reason, in_letters(one.place, letters)) for one in report.plan[:_LISTED]
    ]
    yield from columns(rows, right=[1])
    if len(report.plan) > _LISTED:
        yield f"and {len(report.plan) - _LISTED:,} more (--json has all)"
    if report.waiting:
        yield f"{report.waiting:,} more would wait for another budget."


def _number(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"
