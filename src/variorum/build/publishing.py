"""`variorum publish`: both texts with their evidence into `out/`."""

from __future__ import annotations

import datetime
from pathlib import Path

import msgspec

from variorum.base import Diagnostic
from variorum.build.checking import CheckReport, check_opened
from variorum.build.evidence import EditionEvidence
from variorum.build.off_graph import off_graph
from variorum.build.opened import OpenEdition
from variorum.build.report import Reach
from variorum.build.selecting import digest_reach
from variorum.claims.check import CheckedClaim
from variorum.claims.facts import Reading, grouped
from variorum.claims.standing import Standing
from variorum.edition import Edition
from variorum.edition.digest import Where
from variorum.edition.folder import DIGEST
from variorum.publish.notation import notations
from variorum.publish.page import ClaimNote, PageSetting
from variorum.publish.phrases import phrases_of
from variorum.publish.private import names_in
from variorum.publish.publication import publish
from variorum.publish.wording import wording_of

__all__ = ["PublishReport", "claim_note", "page_setting", "publish_edition"]


class PublishReport(msgspec.Struct, frozen=True, kw_only=True):
    """Files written, relative to the edition, what was kept out of them with its place, and what the digest reaches."""

    written: tuple[str, ...]
    left_out: tuple[str, ...]
    reach: Reach | None = None


def publish_edition(
    opened: OpenEdition,
    *,
    made_on: datetime.date,
    cautions: tuple[str, ...] = (),
    checked: tuple[CheckReport, list[Diagnostic]] | None = None,
    earlier: Path | None = None,
) -> tuple[PublishReport, list[Diagnostic]]:
    """Write digest and manuscript with the standing of the digest's claims and the apparatus.

    Args:
        opened: The edition.
        made_on: The day that is printed.
        cautions: Sentences for the end of the page.
        checked: What `check_opened` gave on that day; it is called where this is not given.
        earlier: A copy of an earlier `out/`, since which readers are told the changes.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read or written.
    """
    edition = opened.edition
    report_of_claims, diagnostics = checked or check_opened(opened, today=made_on)
    notes = {
        Where(claim.line, claim.column): claim_note(claim, opened.sigla, edition)
        for claim in report_of_claims.claims
        if claim.path == DIGEST
    }
    setting = page_setting(edition, opened.evidence, made_on, cautions)
    publication = publish(edition, opened.evidence, setting, notes, opened.said, earlier)
    report = PublishReport(
        written=tuple(path.relative_to(edition.path).as_posix() for path in publication.written),
        left_out=tuple(str(one) for one in publication.left_out),
        reach=digest_reach(opened),
    )
    if opened.digest is not None:
        diagnostics = [*diagnostics, *off_graph(edition, opened.digest, opened.graph)]
    known = {str(fault) for fault in diagnostics}
    return report, diagnostics + [fault for fault in publication.diagnostics if str(fault) not in known]


def page_setting(
    edition: Edition, evidence: EditionEvidence, made_on: datetime.date, cautions: tuple[str, ...]
) -> PageSetting:
    """How the pages of an edition are set on a day; private names are kept out of it."""
    words = wording_of(edition.settings.language)
    notation, letters = notations(edition.settings.notation, words.letters)
    return PageSetting(
        edition=words.digest if names_in(edition.title, edition.settings) else edition.title,
        made_on=made_on,
        sigla=evidence.sigla,
        cautions=(*cautions, words.fair_play),
        words=words,
        notation=notation,
        letters=letters,
        names={
            place.position.epd: name
            for name, place in edition.places.items()
            if not names_in(name, edition.settings)
        },
    )


def claim_note(claim: CheckedClaim, sigla: dict[str, str], edition: Edition) -> ClaimNote:
    """What stands in the margin beside a claim."""
    words = wording_of(edition.settings.language)
    readings = tuple(
        Reading(siglum=sigla[figure.voice], expected=figure.value, noise=figure.noise)
        for figure in claim.figures
    )
    standing = Standing(claim.standing)
    phrases = phrases_of(words.language)
    remark = claim.remark if phrases is None else phrases.remark(claim.remark)
    if standing is Standing.UNDECIDED and not readings:
        remark = words.no_verdict.format(nodes=grouped(edition.settings.budget.minimum_effort))
    return ClaimNote(standing, readings, remark or claim.refutation)
