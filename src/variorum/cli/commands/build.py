"""`variorum build`: everything derived brought up to date."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.base import InputError
from variorum.cli.claim_text import evidence_text, reach_text
from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import columns, exit_for, in_letters, show
from variorum.cli.progress import progress_for
from variorum.cli.stopping import ends_in_order

if TYPE_CHECKING:
    from variorum.build.report import BuildReport, ClaimLine


_LISTED = 12
"""Undecided claims that a summary lists."""


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.build.report import BuildReport

    return BuildReport


def command(
    edition: EditionFolder = None,
    minutes: Annotated[
        float | None,
        typer.Option(help="Ask for verdicts until so many minutes have passed since the start."),
    ] = None,
    total_nodes: Annotated[
        int | None,
        typer.Option(
            help="Ask for verdicts of so many nodes together; by default as edition.toml says.",
        ),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show what would be asked; nothing is asked or written.")
    ] = False,
    caution: Annotated[
        list[str] | None, typer.Option(help="A sentence for the end of the page; may be repeated.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Bring everything derived up to date, in order.

    New games in sources/ are sifted, the graph is grown, voices are asked where it matters most, signs and sentences are checked, and both texts are published. What did not change is not done again; a build that was stopped goes on where it was. Verdicts are written to verdicts/ as they come.

    Exit code 0 means that the build was done, also where a claim is contradicted: to be told no, give `variorum check`. Exit code 2 also means that something in the texts or sources could not be read; it is named, and the rest was built.
    """
    from variorum.build.building import BuildLimits, build_edition, plan_build

    limits = BuildLimits(minutes=minutes, total_nodes=total_nodes)
    opened, user = open_edition(edition), user_settings()
    progress = progress_for(as_json=as_json)
    if dry_run:
        report = plan_build(opened, user, limits, progress)
    else:
        with ends_in_order():
            report = build_edition(opened, user, limits, progress, cautions=tuple(caution or ()))
    for fault in report.faults:
        typer.echo(fault, err=True)
    show(report, lambda report: _as_text(report, user.pieces, str(opened.path)), as_json=as_json)
    for one in report.sources:
        if one.state == "faulty":
            raise InputError(one.fault, path=one.source, remedy="what could be read of it is kept")
    exit_for(report.errors)


def _as_text(report: BuildReport, letters: str, folder: str) -> Iterable[str]:
    if report.dry_run:
        yield from _plan(report, letters)
        return
    if report.nothing_new:
        yield f"{report.edition}: nothing to do, everything is up to date."
    else:
        yield f"{report.edition}: built."
    yield from _games(report)
    yield from _graph(report, letters)
    yield from _verdicts(report)
    yield from _audits(report)
    yield from _claims(report, letters)
    for path in report.written:
        yield f"Published: {folder}/{path}"
    yield from reach_text(report.reach)
    if report.drift_page:
        yield f"For you alone: {folder}/{report.drift_page}, what changed since the build before (variorum drift)"
    if report.left_out:
        yield f"Kept out of them: {len(report.left_out):,} (`variorum publish` says what and why)"
    if not report.written:
        yield "Published: nothing, there is no digest.md and no manuscript.pgn yet"


def _games(report: BuildReport) -> Iterable[str]:
    new = [one for one in report.sources if one.state == "sifted" and one.kind != "playout"]
    came = sum(one.kept for one in new)
    told = f"; {came:,} came from {_number(len(new), 'new or changed file')}" if new else ""
    doubles = f"; {report.doubles:,} were met more than once and count once" if report.doubles else ""
    yield f"Games: {report.games:,} kept{told}{doubles}"
    if playouts := sum(one.kept for one in report.sources if one.kind == "playout" and one.state != "gone"):
        yield f"  and {_number(playouts, 'playout')} beside them, counted apart"
    for one in report.sources:
        if one.state == "gone":
            yield f"  {one.source} is gone, and its {_number(one.kept, 'game')} with it"
        if one.state == "faulty":
            yield f"  {one.source} could not be read to its end: {one.fault}"


def _graph(report: BuildReport, letters: str) -> Iterable[str]:
    yield (
        f"Graph: {_number(report.positions, 'position')}, {_number(report.moves, 'move')} between them, "
        f"{_number(report.confluences, 'confluence')}"
    )
    for one in report.meetings:
        name = f"{one.name}, " if one.name else ""
        *others, last = one.roots or ("",)
        meet = f"{', '.join(others)} and {last} meet: " if others else ""
        yield (
            f"  {meet}{_number(one.orders, 'order')} lead to {name}{in_letters(one.line, letters)} "
            f"({one.flow:.1f} % of the traffic)"
        )


def _audits(report: BuildReport) -> Iterable[str]:
    if not report.audits:
        return
    yield "Orders (variorum orders NAME tells more)"
    for one in report.audits:
        count = "more orders than can be counted" if one.orders is None else _number(one.orders, "order")
        least, greatest = f"{one.least:.1f}", f"{one.greatest:.1f}"
        risk = least if least == greatest else f"{least} to {greatest}"
        missing = f"; {_number(one.missing, 'position')} on the way not judged" if one.missing else ""
        yield f"  {one.name}: {count}; {one.side.capitalize()} risks {risk} points by {one.voice}{missing}"


def _verdicts(report: BuildReport) -> Iterable[str]:
    if not report.nothing_new:
        yield f"Verdicts: {_number(report.asked, 'new one')} at {report.nodes:,} nodes together, {report.verdicts:,} in verdicts/"
    else:
        yield f"Verdicts: {report.verdicts:,} in verdicts/"
    yield from _absent(report)
    for one in report.unanswered:
        yield f"  no answer: {one}"
    if report.waiting:
        wait = "waits" if report.waiting == 1 else "wait"
        yield (
            f"  {_number(report.waiting, 'position')} still {wait}, for {report.waiting_nodes:,} nodes at least: "
            "run `variorum build` again"
        )


def _claims(report: BuildReport, letters: str) -> Iterable[str]:
    stale = f", {report.stale} stale" if report.stale else ""
    yield (
        f"Claims: {report.contradicted} contradicted, {report.undecided} without enough evidence, {report.holds} holding{stale}, "
        f"{report.not_checkable} not checkable"
    )
    for one in report.claims:
        if one.standing == "contradicted":
            yield f"  contradicted: {_claim(one, letters)}"
            if said := evidence_text(one.band, one.figures, one.remark):
                yield f"      {said}"
            if one.against:
                yield f"      against it: {in_letters(one.against, letters)}"
    for one in report.claims:
        if one.standing == "stale":
            yield f"  stale: {_claim(one, letters)}"
    open_ = [one for one in report.claims if one.standing == "undecided"]
    for one in open_[:_LISTED]:
        yield f"  not enough evidence: {_claim(one, letters)}"
    if len(open_) > _LISTED:
        yield f"  and {len(open_) - _LISTED} more without enough evidence (`variorum check` lists them)"
    if report.left_open:
        yield f"  {report.left_open} of the claims without enough evidence stay so: a build asks no deeper"
    if report.questions:
        yield f"Open questions to yourself: {report.questions} (`variorum check` lists them)"


def _claim(one: ClaimLine, letters: str) -> str:
    return f"{one.path}:{one.line}:{one.column}: {in_letters(one.subject, letters)} {one.says}"


def _absent(report: BuildReport) -> Iterable[str]:
    for name in report.absent:
        yield f"  the edition asks {name}, a voice you do not have; it is passed over (variorum voices add)"


def _plan(report: BuildReport, letters: str) -> Iterable[str]:
    total = sum(one.nodes for one in report.plan)
    yield from _absent(report)
    if not report.plan and not report.waiting:
        yield f"{report.edition}: nobody needs to be asked."
        return
    yield f"{report.edition}: the next build asks about {_number(len(report.plan), 'position')}, {total:,} nodes together, in this order."
    rows = [("voice", "nodes", "why", "position")]
    rows += [(one.voice, f"{one.nodes:,}", one.reason, in_letters(one.place, letters)) for one in report.plan]
    yield from columns(rows, right=[1])
    if report.waiting:
        yield f"{_number(report.waiting, 'more')} would wait, for {report.waiting_nodes:,} nodes."
    yield "What it asks after these depends on the answers."


def _number(number: int, word: str) -> str:
    plural = word if word == "more" else f"{word}s"
    return f"{number:,} {word if number == 1 else plural}"
