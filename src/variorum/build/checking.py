"""`variorum check`: every claim of both texts against the edition's evidence."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import msgspec

from variorum.base import Diagnostic
from variorum.base.settings import UserSettings
from variorum.board import Move, Position
from variorum.claims.check import CheckedClaim, Games, Practice, check_sign, check_span
from variorum.claims.signs import Question, claims_in, questions_in
from variorum.claims.standing import Standing
from variorum.edition import Edition, read_manuscript, resolve_place
from variorum.edition.digest import SpanKind
from variorum.edition.digest_reader import read_digest
from variorum.edition.folder import DIGEST, MANUSCRIPT, VERDICTS
from variorum.graph import off_roots
from variorum.sources import date_text
from variorum.store import Store, open_store
from variorum.voices.verdicts import read_edition_verdicts

__all__ = ["CheckReport", "check_edition", "open_games"]

STORE_FILE = "store.sqlite"


class CheckReport(msgspec.Struct, frozen=True, kw_only=True):
    """Claims in the order of work: contradicted, not enough evidence, holding, not checkable; then open questions."""

    edition: str
    claims: tuple[CheckedClaim, ...]
    questions: tuple[Question, ...]
    contradicted: int
    undecided: int
    holds: int
    not_checkable: int


def check_edition(edition: Edition, user: UserSettings) -> tuple[CheckReport, list[Diagnostic]]:
    """Check manuscript and digest by the verdicts in `verdicts/` and the games of the store.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
    """
    verdicts, diagnostics = read_edition_verdicts(edition.path / VERDICTS)
    claims: list[CheckedClaim] = []
    questions: list[Question] = []
    with ExitStack() as stack:
        store = open_games(edition, user, stack)
        practice = None if store is None else _practice(store, edition)
        if (edition.path / MANUSCRIPT).is_file():
            manuscript = read_manuscript(edition.path / MANUSCRIPT)
            diagnostics += [*manuscript.diagnostics, *off_roots(manuscript, edition)]
            claims += [
                check_sign(claim, edition, verdicts, practice, MANUSCRIPT)
                for claim in claims_in(manuscript, edition)
            ]
            questions += questions_in(manuscript, edition)
        if (edition.path / DIGEST).is_file():
            digest, faults = read_digest(edition.path / DIGEST)
            diagnostics += faults
            claims += [
                check_span(span, edition, lambda text: resolve_place(edition, text), verdicts, DIGEST)
                for span in digest.spans()
                if span.kind is SpanKind.CLAIM
            ]
    order = [
        standing.value
        for standing in (
            Standing.CONTRADICTED,
            Standing.UNDECIDED,
            Standing.STALE,
            Standing.HOLDS,
            Standing.NOT_CHECKABLE,
        )
    ]
    claims.sort(key=lambda claim: order.index(claim.standing))
    counts = {standing: sum(claim.standing == standing.value for claim in claims) for standing in Standing}
    report = CheckReport(
        edition=edition.title,
        claims=tuple(claims),
        questions=tuple(questions),
        contradicted=counts[Standing.CONTRADICTED],
        undecided=counts[Standing.UNDECIDED],
        holds=counts[Standing.HOLDS],
        not_checkable=counts[Standing.NOT_CHECKABLE],
    )
    return report, diagnostics


def open_games(edition: Edition, user: UserSettings, stack: ExitStack) -> Store | None:
    """The edition's store for reading, `None` where nothing was sifted yet."""
    folder: Path = edition.store_folder(user)
    return stack.enter_context(open_store(folder)) if (folder / STORE_FILE).is_file() else None


def _practice(store: Store, edition: Edition) -> Practice:
    latest = max(
        (head.date for root in edition.roots for head in store.statistics(root.position, examples=1).latest),
        default=0,
    )

    def look_up(position: Position, move: Move) -> Games:
        moves = store.statistics(position).moves
        played = next((entry.tally.games for entry in moves if entry.move == move), 0)
        return Games(played, store.count, date_text(latest))

    return look_up
