"""`variorum check`: which sentences and signs stand."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.base import UsageError
from variorum.cli.claim_text import evidence_text, reach_text
from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import exit_if_faulty, print_diagnostics, show
from variorum.cli.progress import progress_for
from variorum.cli.stopping import ends_in_order

if TYPE_CHECKING:
    from variorum.build.checking import CheckReport
    from variorum.claims.check import CheckedClaim

_HEADINGS = {
    "contradicted": "Contradicted",
    "undecided": "Not enough evidence",
    "stale": "Stale",
    "holds": "Holds",
    "not checkable": "Not checkable",
}


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.build.checking import CheckReport

    return CheckReport


def command(
    edition: EditionFolder = None,
    decide: Annotated[
        bool, typer.Option("--decide", help="First ask voices what claims without enough evidence wait for.")
    ] = False,
    minutes: Annotated[float | None, typer.Option(help="With --decide: ask for so many minutes.")] = None,
    total_nodes: Annotated[
        int | None,
        typer.Option(help="With --decide: ask for so many nodes together; by default as edition.toml says."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Check the signs of the manuscript and the claims of the digest.

    Each is held against the verdicts and games of the edition; for a contradicted one the line against it is given and the mildest rewording that would hold, for an open one the cheapest evidence that would decide it. Claims that contradict each other are named. The answer is no (exit code 1) when something is contradicted; faults in the texts are named with their line (exit code 2).
    """
    from variorum.build.checking import check_edition
    from variorum.build.limits import Limits

    if not decide and (minutes is not None or total_nodes is not None):
        raise UsageError("a budget is for asking", remedy="add --decide")
    opened, user = open_edition(edition), user_settings()
    if decide:
        from variorum.build.deciding import decide_claims

        limits = Limits(minutes=minutes, total_nodes=total_nodes)
        with ends_in_order():
            decide_claims(opened, user, limits, progress_for(as_json=as_json))
    report, diagnostics = check_edition(opened, user)
    print_diagnostics(diagnostics)
    show(report, _as_text, as_json=as_json)
    exit_if_faulty(diagnostics)
    if report.contradicted or report.conflicts:
        raise typer.Exit(1)


def _as_text(report: CheckReport) -> Iterable[str]:
    standing = ""
    for claim in report.claims:
        if claim.standing != standing:
            standing = claim.standing
            yield _HEADINGS[standing]
        yield from _claim(claim)
    if report.conflicts:
        yield "Against each other"
        for conflict in report.conflicts:
            yield f"  {conflict.first}"
            yield f"  {conflict.second}"
            yield f"      {conflict.why}"
    if report.questions:
        yield "Open questions"
        for question in report.questions:
            yield f"  manuscript.pgn:{question.line}:{question.column}: {question.text}"
    yield (
        f"{report.contradicted} contradicted, {report.undecided} without enough evidence, {report.stale} stale, "
        f"{report.holds} hold, {report.not_checkable} not checkable."
    )
    yield from reach_text(report.reach)


def _claim(claim: CheckedClaim) -> Iterable[str]:
    yield f"  {claim.path}:{claim.line}:{claim.column}: {claim.subject} {claim.says}"
    if said := evidence_text(claim.band, claim.figures, claim.remark):
        yield f"      {said}"
    if claim.refutation:
        yield f"      against it: {claim.refutation}"
    if claim.rewording:
        yield f"      instead: {claim.rewording}"
    if claim.wanted:
        yield f"      would decide it: {claim.wanted}"
