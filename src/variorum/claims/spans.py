"""Claims of the digest: which kinds there are, how one is written, and what is wrong with one that cannot be read.

[White is better]{.claim kind=score at="iqp-main" says="slight White"}   a band of the expected score, by its words or sign
[an isolani]{.claim kind=structure at="iqp-main" says="isolated queen's pawn"}  its pawn skeleton, by name, or by name and side
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import msgspec

from variorum.base import Diagnostic, InputError, Severity
from variorum.base.shape import nearest
from variorum.board import SIGNS, Sign, sign_named
from variorum.claims.exhibits import ExhibitEvidence, look_up_exhibit
from variorum.claims.facts import Places, in_words, look_up
from variorum.claims.lines import read_line
from variorum.edition.digest import Digest, Span, SpanKind, Where
from variorum.edition.place import Place
from variorum.insight.structures import catalogue

__all__ = ["CLAIM_KINDS", "SpanClaim", "digest_faults", "place_faults", "read_claim"]

CLAIM_KINDS = {"score": ("at", "says"), "structure": ("at", "says")}
"""The kinds of claim by the word an author writes after `kind=`, each with the attributes that it needs."""


class SpanClaim(msgspec.Struct, frozen=True):
    """A claim: the place, and the sign whose band is claimed or the name of the structure."""

    place: Place
    says: Sign | str


def read_claim(span: Span, places: Places, path: Path) -> tuple[SpanClaim | None, list[Diagnostic]]:
    """The claim of a span of the digest at `path`; `None` and diagnostics where it cannot be read."""
    kind = span.attributes.get("kind", "")
    if kind not in CLAIM_KINDS:
        near = nearest(kind, CLAIM_KINDS) if kind else None
        message = f"there is no claim of kind '{kind}'" if kind else "a claim needs a kind"
        hint = f"did you mean {near}?" if near else f"kinds are {', '.join(CLAIM_KINDS)}"
        return None, [_fault("claim-kind", span.where, path, message, hint)]
    known = ("kind", *CLAIM_KINDS[kind])
    faults = []
    for name in sorted(span.attributes.keys() - set(known)):
        near = nearest(name, known)
        hint = f"did you mean {near}?" if near else f"it has {', '.join(known)}"
        message = f"a claim of kind {kind} has no attribute '{name}'"
        faults.append(_fault("claim-attribute", span.where, path, message, hint))
    for name in CLAIM_KINDS[kind]:
        if name not in span.attributes:
            message = f"a claim of kind {kind} needs '{name}'"
            faults.append(_fault("claim-attribute", span.where, path, message, f'write {name}="…"'))
    if faults:
        return None, faults
    try:
        says = _READERS[kind](span.attributes["says"])
    except _NotSaidError as error:
        return None, [_fault("claim-attribute", span.where, path, str(error), error.hint)]
    try:
        return SpanClaim(places.place(span.attributes["at"]), says), []
    except InputError as error:
        return None, [_fault("claim-place", span.where, path, in_words(error), error.remedy)]


class _NotSaidError(Exception):
    """What `says` is no word of the kind; `hint` what it could be."""

    def __init__(self, text: str, what: str, words: Sequence[str]) -> None:
        super().__init__(f"'{text}' {what}")
        near = nearest(text, words)
        self.hint = f"did you mean '{near}'?" if near else f"words are {', '.join(words)}"


def _read_sign(text: str) -> Sign:
    try:
        return sign_named(text)
    except KeyError:
        raise _NotSaidError(text, "are no words of a score", [sign.words for sign in SIGNS]) from None


def _read_structure(text: str) -> str:
    names = catalogue().names()
    if re.sub(r" \((white|black)'s\)$", "", text.replace("’", "'").casefold()) not in map(
        str.casefold, names
    ):
        raise _NotSaidError(text, "is no name of a structure", names)
    return text


_READERS: dict[str, Callable[[str], Sign | str]] = {"score": _read_sign, "structure": _read_structure}


def digest_faults(digest: Digest, evidence: ExhibitEvidence) -> list[Diagnostic]:
    """What is wrong with facts, lines, claims, diagrams and exhibits of a digest, in the order of the text."""
    found: list[Diagnostic] = []
    for span in digest.spans():
        match span.kind:
            case SpanKind.FACT:
                found += look_up(span, evidence, digest.path)[1]
            case SpanKind.LINE:
                found += read_line(span, evidence, digest.path)[1]
            case SpanKind.CLAIM:
                found += read_claim(span, evidence, digest.path)[1]
    found += place_faults(digest, evidence, spans=())
    for block in digest.exhibits():
        found += look_up_exhibit(block, evidence, digest.path)[1]
    return _in_order(found)


def place_faults(
    digest: Digest, places: Places, spans: Iterable[SpanKind] = tuple(SpanKind)
) -> list[Diagnostic]:
    """The places that a digest names and nobody knows, in diagrams and in spans of these kinds."""
    named = [("diagram-place", diagram.place, diagram.where) for diagram in digest.diagrams()]
    for span in digest.spans():
        text = span.attributes.get("of" if span.kind is SpanKind.LINE else "at")
        if span.kind in spans and text is not None:
            named.append((f"{span.kind.value}-place", text, span.where))
    found = []
    for code, text, where in named:
        try:
            places.place(text)
        except InputError as error:
            found.append(_fault(code, where, digest.path, in_words(error), error.remedy))
    return _in_order(found)


def _in_order(faults: Iterable[Diagnostic]) -> list[Diagnostic]:
    return sorted(faults, key=lambda fault: (fault.line or 0, fault.column or 0))


def _fault(code: str, where: Where, path: Path, message: str, hint: str | None) -> Diagnostic:
    return Diagnostic(
        code=code,
        severity=Severity.ERROR,
        path=path,
        message=message,
        line=where.line,
        column=where.column,
        hint=hint,
    )
