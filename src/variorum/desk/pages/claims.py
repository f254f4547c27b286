"""The claims page: every sentence that can be checked, in the order of work, with what speaks against it and what would decide it."""

from __future__ import annotations

import re
from itertools import groupby
from typing import Any, Final, Literal

import msgspec
from starlette.requests import Request
from starlette.responses import Response

from variorum.base import Diagnostic, InputError, Progress, UsageError
from variorum.build.checking import CheckReport, check_opened
from variorum.build.drift_counts import count_drift
from variorum.build.opened import OpenEdition
from variorum.build.whom import edition_voices
from variorum.claims.check import CheckedClaim
from variorum.claims.standing import Standing
from variorum.desk.moves import address, printed, text_address
from variorum.desk.pages.frame import begin_work, edition_for, editions_of, frame, last_work
from variorum.desk.render import page
from variorum.desk.replay import Replay, replay_of_text
from variorum.edition.folder import DIGEST, MANUSCRIPT
from variorum.voices.verdicts import speeds

__all__ = ["claims_page", "decide", "margin_claim"]

_MARKS: Final = {"contradicted": "†", "undecided": "○", "stale": "[ ]", "holds": "*", "not checkable": ""}
_HEADINGS: Final = {
    "contradicted": ("Contradicted", "the evidence says otherwise"),
    "undecided": ("Not enough evidence", "the numbers do not reach the threshold"),
    "stale": ("Stale", "decided by evidence that is older than the edition asks"),
    "holds": ("Holds", "every voice that was asked agrees"),
    "not checkable": ("Not checkable", "judgements that no figure can decide"),
}
_TEXTS: Final = {MANUSCRIPT: "manuscript", DIGEST: "digest"}
_SHOWN: Final = 40
"""Claims under a heading, where no heading was chosen."""
_MOST: Final = 1000
_MINUTES: Final = 10.0
_STANDS: Final = re.compile(r"(?:'(.+)'|(\S+)(?: \(([^()]+)\))?) holds")
"""A rewording that stands: a sign with its words, or words."""
_OF_GAMES: Final = frozenset({"novelty", "popularity"})
"""Kinds of claim that games decide, and no voice."""


class ClaimRow(msgspec.Struct, frozen=True, kw_only=True):
    """A claim as the page sets it: its number in the order of the texts, where its evidence and its sentence are, what can be done.

    `meant` is what a sentence of the digest claims, `rewording` what would stand, `instead` what of that can be copied into the text;
    `cost` is what asking takes, in words; `key` names the claim to the desk when it is to be decided.
    """

    number: int
    claim: CheckedClaim
    said: str
    meant: str
    meaning: str
    evidence: str
    text: str
    against: Replay | None
    rewording: str
    instead: str
    act: Literal["change", "decide", "games", "none"]
    cost: str
    key: dict[str, Any]


class _Key(msgspec.Struct, frozen=True):
    path: str
    line: int
    column: int
    kind: str
    subject: str
    says: str


class _Wish(msgspec.Struct):
    minutes: float = _MINUTES
    claim: _Key | None = None


def claims_page(request: Request, sent: Any) -> Response:
    """All claims of both texts, or those of one standing, or with some words."""
    del sent
    name, asked = request.path_params["name"], request.query_params
    only, text, words = asked.get("standing", ""), asked.get("in", ""), asked.get("q", "").strip()
    with edition_for(request) as opened:
        edition, user = opened.edition, opened.user
        report, diagnostics = check_opened(opened)
        rows = _rows(opened, report, name)
        sigla = opened.sigla
    there, absent = edition_voices(edition, user)
    counts = {standing: sum(row.claim.standing == standing for row in rows) for standing in _HEADINGS}
    found = [row for row in rows if _matches(row, text, words)]
    groups = []
    for standing, some in groupby(found, key=lambda row: row.claim.standing):
        every = list(some)
        if only in ("", standing):
            shown = every[: _MOST if only else _SHOWN]
            groups.append(
                (standing, _MARKS[standing], *_HEADINGS[standing], shown, len(every) - len(shown), len(every))
            )
    here = address(name, "claims")
    return page(
        "claims.html.j2",
        **frame(request, "claims", "Claims"),
        report=report,
        counts=counts,
        groups=groups,
        faults=[_fault(one, name) for one in diagnostics],
        decidable=[row for row in rows if row.act == "decide"],
        voices=[sigla.get(voice, voice) for voice in there],
        absent=absent,
        only=only,
        text=text,
        words=words,
        shown=sum(len(group[4]) for group in groups),
        headings=_HEADINGS,
        link=lambda standing: address(name, "claims", standing=standing, q=words, **{"in": text}),
        work=address(name, "begin"),
        decide_at=f"{here}/decide",
        open_at=address(name, "position") + "?at=",
        sigla=sigla,
        questions=[(one, text_address(name, MANUSCRIPT, one.line, one.column)) for one in report.questions],
        conflicts=[((_side(one.first, name), _side(one.second, name)), one.why) for one in report.conflicts],
        last=last_work(request, "decide"),
        drift=count_drift(edition.path),
        drift_at=address(name, "drift"),
    )


class Side(msgspec.Struct, frozen=True):
    """One of two claims against each other: its words, which text and line it stands in, and the address of that place."""

    words: str
    where: str
    href: str


def _side(said: str, name: str) -> Side:
    at, _, words = said.partition(": ")
    file, line, column = at.rsplit(":", 2)
    where = f"{'digest' if file == DIGEST else 'manuscript'}, line {line}"
    return Side(words, where, text_address(name, file, int(line), int(column)))


def _fault(one: Diagnostic, name: str) -> tuple[str, str, str]:
    """What is wrong in a text or a file of verdicts: where, what, and the address of the place where it has one."""
    file = one.path.name
    where = f"{_TEXTS.get(file, file)}{f', line {one.line}' if one.line else ''}"
    href = text_address(name, file, one.line, one.column or 1) if file in _TEXTS and one.line else ""
    return where, one.message, href


def _matches(row: ClaimRow, text: str, words: str) -> bool:
    if text and row.claim.path != text:
        return False
    claim = row.claim
    everything = " ".join(
        (claim.subject, claim.says, row.said, claim.place, claim.remark, claim.kind)
    ).casefold()
    return all(word in everything for word in words.casefold().split())


def _rows(opened: OpenEdition, report: CheckReport, name: str) -> list[ClaimRow]:
    in_text = sorted(report.claims, key=lambda claim: (claim.path != MANUSCRIPT, claim.line, claim.column))
    numbers = {id(claim): number for number, claim in enumerate(in_text, 1)}
    fast = speeds(opened.said)
    voices = list(edition_voices(opened.edition, opened.user)[0])
    return [_row(claim, numbers[id(claim)], name, voices, fast) for claim in report.claims]


def _row(claim: CheckedClaim, number: int, name: str, voices: list[str], fast: dict[str, float]) -> ClaimRow:
    in_manuscript = claim.path == MANUSCRIPT
    evidence = address(name, "position", at=claim.place) if claim.epd else ""
    text = text_address(name, claim.path, claim.line, claim.column)
    said, meant = _said(claim)
    rewording, instead = _rewording(claim.rewording, in_manuscript)
    act: Literal["change", "decide", "games", "none"] = "none"
    if claim.standing == Standing.CONTRADICTED.value:
        act = "change"
    elif claim.standing in (Standing.UNDECIDED.value, Standing.STALE.value):
        games = claim.kind in _OF_GAMES or (claim.kind == "plan" and not claim.nodes)
        act = "games" if games else "decide" if claim.nodes and voices else "change"
    return ClaimRow(
        number=number,
        claim=claim,
        said=said,
        meant=meant,
        meaning="" if in_manuscript else claim.subject,
        evidence=evidence,
        text=text,
        against=replay_of_text(claim.refutation, claim.against_from) if claim.against_from else None,
        rewording=rewording,
        instead=instead,
        act=act,
        cost=_cost(claim.nodes, voices, fast),
        key=msgspec.to_builtins(_key(claim)),
    )


class MarginClaim(msgspec.Struct, frozen=True, kw_only=True):
    """A claim as it stands in the margin of its position: how it stands in a word, what would stand, where its sentence is, and where it is worked on."""

    claim: CheckedClaim
    said: str
    meant: str
    rewording: str
    state: str
    style: str
    text: str
    work: str


def margin_claim(claim: CheckedClaim, name: str) -> MarginClaim:
    """A claim for the margin of its position."""
    words = f"{claim.subject} {claim.says}"
    said, meant = _said(claim)
    return MarginClaim(
        claim=claim,
        said=said,
        meant=meant,
        rewording=_rewording(claim.rewording, claim.path == MANUSCRIPT)[0],
        state=_HEADINGS[claim.standing][0].lower(),
        style={"undecided": "open", "not checkable": "unchecked"}.get(claim.standing, claim.standing),
        text=text_address(name, claim.path, claim.line, claim.column),
        work=address(name, "claims", standing=claim.standing, q=words, **{"in": claim.path}),
    )


def _said(claim: CheckedClaim) -> tuple[str, str]:
    """A claim in the author's words, and what a sentence of the digest claims, which is told in brackets behind it."""
    if claim.path == MANUSCRIPT:
        return f"{printed(claim.subject)} {claim.says}", ""
    sentence, opened, meant = claim.says.rpartition(" (")
    return (sentence, meant.removesuffix(")")) if opened and meant.endswith(")") else (claim.says, "")


def _rewording(told: str, in_manuscript: bool) -> tuple[str, str]:
    """What would stand, as it is shown, and what of it can be copied: a sign for the manuscript, its words for the digest."""
    found = _STANDS.fullmatch(told)
    if found is None:
        return (f"it lies {told.removesuffix(' holds')}" if told.startswith("between ") else told), ""
    other, sign, words = found.groups()
    if other:
        return f"“{other}” would hold", other
    return f"{sign}{f' ({words})' if words else ''} would hold", sign if in_manuscript else words or sign


def _cost(nodes: int, voices: list[str], fast: dict[str, float]) -> str:
    """What asking takes: in time where it is known how fast each voice is, else in nodes."""
    if not nodes or not voices:
        return ""
    if not all(fast.get(voice) for voice in voices):
        return f"{nodes:,} nodes of each voice" if len(voices) > 1 else f"{nodes:,} nodes"
    seconds = sum(nodes / fast[voice] for voice in voices)
    return (
        "some seconds"
        if seconds < 20
        else "about a minute"
        if seconds < 90
        else f"about {seconds / 60:,.0f} minutes"
    )


def _named(key: _Key) -> str:
    if key.path == MANUSCRIPT:
        return f"{printed(key.subject)} {key.says}, manuscript, line {key.line}"
    return f"“{key.says}”, digest, line {key.line}"


def _key(claim: CheckedClaim) -> _Key:
    return _Key(claim.path, claim.line, claim.column, claim.kind, claim.subject, claim.says)


def decide(request: Request, sent: Any) -> Response:
    """Ask voices, in the background, what one claim waits for, or all of them."""
    try:
        wish = msgspec.convert(sent, _Wish, strict=False)
    except msgspec.ValidationError as error:
        raise UsageError(f"the wish did not arrive: {error}") from None
    from variorum.build.limits import Limits

    limits = Limits(minutes=wish.minutes)
    name, editions = request.path_params["name"], editions_of(request)
    edition, user = editions.settings(name)
    if not edition_voices(edition, user)[0]:
        raise InputError(
            "none of the voices that this edition names is on this computer",
            remedy="add one on the page of voices, or name the resident in the settings",
        )
    wanted = wish.claim

    def meant(claim: CheckedClaim) -> bool:
        return wanted is None or _key(claim) == wanted

    def in_background(progress: Progress) -> str:
        from variorum.build.deciding import decide_claims

        now, own = editions.settings(name)
        asked = decide_claims(now, own, limits, progress, meant=meant)
        if asked.verdicts:
            progress.say(
                f"{asked.verdicts:,} {'verdict' if asked.verdicts == 1 else 'verdicts'} came, {asked.nodes:,} nodes together."
            )
        elif not asked.failed:
            progress.say(
                "There was nothing to ask: the sentence is decided, or was asked as deep as it goes."
            )
        for answer in asked.failed[:3]:
            progress.say(f"{answer.request.voice} did not answer: {answer.fault}")
        return address(name, "claims")

    subject = "every open sentence" if wanted is None else _named(wanted)
    return begin_work(request, sent, "decide", subject, in_background)
