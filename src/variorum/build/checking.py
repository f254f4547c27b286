"""`variorum check`: every claim of both texts against the edition's evidence."""

from __future__ import annotations

import datetime
from typing import Final

import msgspec

from variorum.base import Diagnostic
from variorum.base.settings import UserSettings
from variorum.board import Move, Position
from variorum.build.evidence import EditionPlaces
from variorum.build.off_graph import off_graph
from variorum.build.opened import OpenEdition
from variorum.build.report import Reach
from variorum.build.selecting import digest_reach
from variorum.claims.check import CheckedClaim, Games, Ground, Practice, check_sign, check_span
from variorum.claims.conflicts import Conflict, Statement, conflicts, statement_of_sign
from variorum.claims.signs import ClaimKind, Question, SignClaim, claims_at, claims_in, questions_in
from variorum.claims.spans import SpanClaim, digest_faults, read_claim
from variorum.claims.standing import Standing
from variorum.edition import Edition
from variorum.edition.digest import Span, SpanKind
from variorum.edition.folder import DIGEST, MANUSCRIPT
from variorum.edition.manuscript_find import nodes_on
from variorum.sources import date_text
from variorum.store import GameHead, Store

__all__ = ["CheckReport", "check_edition", "check_opened", "check_position", "practice_of"]

_WORK: Final = [
    standing.value
    for standing in (
        Standing.CONTRADICTED,
        Standing.UNDECIDED,
        Standing.STALE,
        Standing.HOLDS,
        Standing.NOT_CHECKABLE,
    )
]
"""The order of work."""


class CheckReport(msgspec.Struct, frozen=True, kw_only=True):
    """Claims in the order of work: contradicted, not enough evidence, stale, holding, not checkable; then open questions."""

    edition: str
    claims: tuple[CheckedClaim, ...]
    questions: tuple[Question, ...]
    contradicted: int
    undecided: int
    stale: int
    holds: int
    not_checkable: int
    conflicts: tuple[Conflict, ...] = ()
    """Claims against each other, whatever the evidence says."""
    reach: Reach | None = None
    """What the digest reaches; `None` where there is none, or where it was not asked for."""


def check_edition(
    edition: Edition, user: UserSettings, *, today: datetime.date | None = None
) -> tuple[CheckReport, list[Diagnostic]]:
    """Check manuscript and digest by the verdicts in `verdicts/` and the games of the store, as they are now, and tell the reach.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
    """
    with OpenEdition(edition, user) as opened:
        report, diagnostics = check_opened(opened, today=today)
        report = msgspec.structs.replace(report, reach=digest_reach(opened))
        if opened.digest is not None:
            diagnostics += off_graph(edition, opened.digest, opened.graph)
        return report, diagnostics


def check_opened(
    opened: OpenEdition, *, today: datetime.date | None = None
) -> tuple[CheckReport, list[Diagnostic]]:
    """Check manuscript and digest by the verdicts and games of an opened edition.

    Args:
        opened: The edition.
        today: The day from which verdicts grow old; by default today's, in UTC.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
    """
    edition = opened.edition
    diagnostics = list(opened.diagnostics)
    claims: list[CheckedClaim] = []
    statements: list[Statement | None] = []
    questions: list[Question] = []
    evidence = opened.evidence
    ground = _ground(opened, opened, today)
    if opened.manuscript is not None:
        signs = list(claims_in(opened.manuscript, edition))
        claims += [check_sign(claim, ground, MANUSCRIPT) for claim in signs]
        statements += [statement_of_sign(claim, MANUSCRIPT) for claim in signs]
        questions += questions_in(opened.manuscript, edition)
    if opened.digest is not None:
        digest = opened.digest
        diagnostics += [*opened.digest_diagnostics, *digest_faults(digest, evidence)]
        for span in digest.spans():
            if span.kind is SpanKind.CLAIM:
                claim, _ = read_claim(span, evidence, digest.path)
                claims.append(check_span(span, claim, ground, DIGEST))
                if claim is not None:
                    where = span.where
                    statements.append(Statement(claim, DIGEST, where.line, where.column, span.text))
    claims.sort(key=_work_order)
    counts = {standing: sum(claim.standing == standing.value for claim in claims) for standing in Standing}
    report = CheckReport(
        edition=edition.title,
        claims=tuple(claims),
        questions=tuple(questions),
        contradicted=counts[Standing.CONTRADICTED],
        undecided=counts[Standing.UNDECIDED],
        stale=counts[Standing.STALE],
        holds=counts[Standing.HOLDS],
        not_checkable=counts[Standing.NOT_CHECKABLE],
        conflicts=tuple(conflicts(filter(None, statements))),
    )
    return report, diagnostics


def check_position(
    opened: OpenEdition, position: Position, *, counted: OpenEdition | None = None
) -> list[CheckedClaim]:
    """The claims of both texts about one position, in the order of work: signs behind it or behind a move from it, marked sentences at it.

    What no figure can decide is left out, but for sentences that cannot be read.

    Args:
        opened: The edition whose texts and verdicts count.
        position: The position.
        counted: The edition in which games are counted and hinges looked up, where that is another view of it.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
    """
    edition = opened.edition
    signs: list[SignClaim] = []
    spans: list[tuple[Span, SpanClaim | None]] = []
    if opened.manuscript is not None:
        for node in nodes_on(opened.manuscript, position):
            signs += claims_at(node, edition)
            of_moves = (claim for child in node.children for claim in claims_at(child, edition))
            signs += [claim for claim in of_moves if claim.kind not in (ClaimKind.SCORE, ClaimKind.OTHER)]
    if opened.digest is not None:
        at_it = {(one.line, one.column) for one in opened.mentions.get(position.key, ())}
        places, path = EditionPlaces(edition), opened.digest.path
        spans = [
            (span, read_claim(span, places, path)[0])
            for span in opened.digest.spans()
            if span.kind is SpanKind.CLAIM and (span.where.line, span.where.column) in at_it
        ]
    if not signs and not spans:
        return []
    ground = _ground(opened, counted or opened, None)
    claims = [check_sign(claim, ground, MANUSCRIPT) for claim in signs if claim.kind is not ClaimKind.OTHER]
    claims += [check_span(span, claim, ground, DIGEST) for span, claim in spans]
    return sorted(claims, key=_work_order)


def _ground(opened: OpenEdition, counted: OpenEdition, today: datetime.date | None) -> Ground:
    """What claims are judged by: texts and verdicts of one view of an edition, games of the same or another."""
    edition, store = opened.edition, counted.store
    return Ground(
        settings=edition.settings,
        verdicts=opened.verdicts,
        practice=None if store is None else practice_of(store, edition),
        today=today or datetime.datetime.now(datetime.UTC).date(),
        hinges=counted.evidence.hinges,
        plans=counted.evidence.plans,
        names={name: place.position for name, place in edition.places.items()},
    )


def _work_order(claim: CheckedClaim) -> int:
    return _WORK.index(claim.standing)


def practice_of(store: Store, edition: Edition) -> Practice:
    """Looks up in how many games of a store a move was played."""
    latest = max(
        (head.date for root in edition.roots for head in store.statistics(root.position, examples=1).latest),
        default=0,
    )

    doubles = sum(len(group) - 1 for group in store.doubles())

    def look_up(position: Position, move: Move) -> Games:
        found = store.statistics(position, examples=0)
        moves = found.moves
        played = next((entry.tally.games for entry in moves if entry.move == move), 0)
        first = ""
        if played:
            after = store.statistics(position.play(move), examples=1)
            # A game that came there by another order did not play the move here.
            if after.tally.games == played and after.first:
                first = _named(after.first[0])
        # Of two that are played equally often neither is the favourite.
        alone = moves and (len(moves) == 1 or moves[0].tally.games > moves[1].tally.games)
        return Games(
            played=played,
            of=store.count - doubles,
            until=date_text(latest),
            first=first,
            # A game that comes there twice goes on twice.
            here=min(sum(entry.tally.games for entry in moves), found.tally.games),
            most=moves[0].tally.games if moves else 0,
            favourite=moves[0].move if alone else None,
        )

    return look_up


def _named(head: GameHead) -> str:
    """A game as it is cited."""
    date = date_text(head.date)
    return f"{head.white} – {head.black}{f', {date}' if date else ''}"
