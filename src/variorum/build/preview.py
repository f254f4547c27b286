"""A digest that is being written, as it would be published: its page, its faults, how its claims stand."""

from __future__ import annotations

import datetime

import msgspec

from variorum.base import Diagnostic
from variorum.build.checking import practice_of
from variorum.build.opened import OpenEdition
from variorum.build.publishing import claim_note, page_setting
from variorum.claims.check import CheckedClaim, Ground, check_span
from variorum.claims.spans import digest_faults, read_claim
from variorum.edition.digest import SpanKind, Where
from variorum.edition.digest_reader import parse_digest
from variorum.edition.folder import DIGEST
from variorum.publish.compose import compose_digest
from variorum.publish.html import html_of
from variorum.publish.private import publishable

__all__ = ["Preview", "preview_digest"]


class Preview(msgspec.Struct, frozen=True, kw_only=True):
    """The page, what is wrong with the text, and its claims in the order of the text."""

    html: str
    diagnostics: tuple[Diagnostic, ...]
    claims: tuple[CheckedClaim, ...]


def preview_digest(opened: OpenEdition, text: str, today: datetime.date) -> Preview:
    """What publishing would make of a text; nothing is written.

    Raises:
        StoreError: The store is damaged.
        InputError: A file of the edition cannot be read.
    """
    edition = opened.edition
    path = edition.path / DIGEST
    evidence = opened.evidence
    setting = page_setting(edition, evidence, today, ())
    digest, faults = parse_digest(text, path, setting.words.quotes)
    ground = Ground(
        settings=edition.settings,
        verdicts=opened.verdicts,
        practice=None if opened.store is None else practice_of(opened.store, edition),
        today=today,
        hinges=evidence.hinges,
        plans=evidence.plans,
        names={name: place.position for name, place in edition.places.items()},
    )
    claims = []
    for span in digest.spans():
        if span.kind is SpanKind.CLAIM:
            claim, _ = read_claim(span, evidence, path)
            claims.append(check_span(span, claim, ground, DIGEST))
    notes = {Where(claim.line, claim.column): claim_note(claim, opened.sigla, edition) for claim in claims}
    public, _ = publishable(digest, edition.settings)
    composed = compose_digest(public, evidence, setting, notes)
    told = {str(fault): fault for fault in (*faults, *digest_faults(digest, evidence), *composed.diagnostics)}
    return Preview(html=html_of(composed.page), diagnostics=tuple(told.values()), claims=tuple(claims))
