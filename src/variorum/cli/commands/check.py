"""`variorum check`: which sentences and signs stand."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import msgspec
import typer

from variorum.cli.claim_text import evidence_text
from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import exit_if_faulty, print_diagnostics, show

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


def command(edition: EditionFolder = None, as_json: AsJson = False) -> None:
    """Check the signs of the manuscript and the claims of the digest.

    Each is held against the verdicts and games of the edition. The answer is no (exit code 1) when something is contradicted; faults in the texts are named with their line (exit code 2).
    """
    from variorum.build.checking import check_edition

    report, diagnostics = check_edition(open_edition(edition), user_settings())
    print_diagnostics(diagnostics)
    show(report, _as_text, as_json=as_json)
    exit_if_faulty(diagnostics)
    if report.contradicted:
        raise typer.Exit(1)


def _as_text(report: CheckReport) -> Iterable[str]:
    standing = ""
    for claim in report.claims:
        if claim.standing != standing:
            standing = claim.standing
            yield _HEADINGS[standing]
        yield from _claim(claim)
    if report.questions:
        yield "Open questions"
        for question in report.questions:
            yield f"  manuscript.pgn:{question.line}:{question.column}: {question.text}"
    yield (
        f"{report.contradicted} contradicted, {report.undecided} without enough evidence, {report.stale} stale, "
        f"{report.holds} hold, {report.not_checkable} not checkable."
    )


def _claim(claim: CheckedClaim) -> Iterable[str]:
    yield f"  {claim.path}:{claim.line}:{claim.column}: {claim.subject} {claim.says}"
    if said := evidence_text(claim.band, claim.figures, claim.remark):
        yield f"      {said}"
    if claim.refutation:
        yield f"      against it: {claim.refutation}"
