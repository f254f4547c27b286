"""`variorum orders`: the orders into a place audited, voices asked first where the author wants that."""

from __future__ import annotations

import re
from collections.abc import Collection
from contextlib import ExitStack
from dataclasses import replace

import msgspec

from variorum.base import Diagnostic, InputError, Progress, UsageError
from variorum.base.settings import UserSettings
from variorum.board import Position, Request, Side, Verdict
from variorum.build.games import open_games
from variorum.build.kept import OpenVoice, ask_and_keep, bare
from variorum.build.kept_graph import kept_graph
from variorum.build.purse import Purse
from variorum.edition import Edition, Place, read_manuscript, resolve_place
from variorum.edition.folder import MANUSCRIPT, VERDICTS
from variorum.graph import Graph, lay_traffic
from variorum.insight.legal import QUICK_STATES, beside
from variorum.insight.order_telling import orders_report
from variorum.insight.orders import Audit, Condition, audit, audit_ground
from variorum.insight.orders_report import OrdersReport
from variorum.voices.registry import workers_for
from variorum.voices.resident import RESIDENT
from variorum.voices.sigla import sigla_of
from variorum.voices.verdict_files import read_verdicts
from variorum.voices.voice import Budget

__all__ = ["Asking", "OrderWishes", "audit_orders", "condition_of", "sides_of"]

_ROUNDS = 4
"""Answers may show deviations that nobody knew; what they need is asked in the next round."""

_SETS_OF_MOVES = 24
"""Of so many of the heaviest orders the legal orders of the same moves are looked for."""


class OrderWishes(msgspec.Struct, frozen=True, kw_only=True):
    """What the author wants of an audit: conditions, legal orders, how many are listed."""

    avoid: tuple[Condition, ...] = ()
    keep: tuple[Condition, ...] = ()
    legal: bool = False
    limit: int = 12


class Asking(msgspec.Struct, frozen=True, kw_only=True):
    """Whom to ask for what is missing: nodes for a verdict, the voice, what opens it, the whole budget, how many at a time."""

    nodes: int
    open_voice: OpenVoice
    voice: str = RESIDENT
    budget: Budget = Budget()
    workers: int | None = None


def condition_of(edition: Edition, text: str) -> Condition:
    """What `--avoid` or `--keep` says: a name of the edition, one move (`Bb4`, `6...Bb4`), a line or a FEN.

    Raises:
        InputError: It is none of these.
    """
    said = " ".join(text.split())
    if said in edition.places or not _ONE_MOVE.fullmatch(said):
        return Condition(said, resolve_place(edition, said).position)
    return Condition(said)


_ONE_MOVE = re.compile(
    r"(?:\d+\s?)?[.…]* ?(?:[KQRBN]?[a-h1-8x]{0,3}[a-h][1-8](?:=?[QRBN])?|[O0]-[O0](?:-[O0])?)[+#!?]*"
)


def sides_of(edition: Edition) -> tuple[Side, ...]:
    """For whom an edition is."""
    return (Side.WHITE, Side.BLACK) if edition.side == "both" else (Side(edition.side),)


def audit_orders(
    edition: Edition,
    user: UserSettings,
    place: Place,
    wishes: OrderWishes,
    progress: Progress,
    asking: Asking | None = None,
) -> tuple[OrdersReport, list[Diagnostic]]:
    """Audit the orders to a place, from the edition's files and store; verdicts that are asked for are kept at once.

    Raises:
        InputError: No order on the graph leads to the place, or a file cannot be read.
        UsageError: A condition says nothing that is known on the way, or there are too many legal orders.
        StoreError: The store is damaged.
        Interrupted: The user stopped; the verdicts up to then are kept.
    """
    work = _Work(edition, user, place, progress)
    audited = work.audit(wishes.legal)
    if asking is not None:
        purse = Purse(asking.budget)
        for _ in range(_ROUNDS):
            if not work.ask(audited, asking, purse):
                break
            audited = work.audit(wishes.legal)
    voices = tuple(audited.worths) or (RESIDENT,)
    missing = max(len(audited.missing(voice, 0)) for voice in voices)
    report = orders_report(
        edition.title,
        audited,
        limit=wishes.limit,
        avoid=wishes.avoid,
        keep=wishes.keep,
        legal=wishes.legal,
        missing=missing,
    )
    return report, work.diagnostics


class _Work:
    """The files of an edition while one of its places is audited."""

    def __init__(self, edition: Edition, user: UserSettings, place: Place, progress: Progress) -> None:
        self.edition, self.user, self.place, self.progress = edition, user, place, progress
        file = edition.path / MANUSCRIPT
        self.manuscript = read_manuscript(file) if file.is_file() else None
        self.diagnostics = list(self.manuscript.diagnostics) if self.manuscript is not None else []
        self.verdicts: list[Verdict] = []
        for path in sorted((edition.path / VERDICTS).glob("*.epd")):
            found = read_verdicts(path)
            self.verdicts += found.verdicts
            self.diagnostics += found.diagnostics
        self._asked: set[tuple[object, int]] = set()

    def audit(self, legal: bool) -> Audit:
        """The audit as things stand; with `legal` over the legal orders of the same moves too."""
        audited = self._audit(self._graph())
        ways, _ = audited.passage.heaviest(_SETS_OF_MOVES)
        lines = [audited.line_of(way) for way in ways]
        if legal:
            found = beside(lines)
            return replace(self._audit(self._graph(found)), beside=frozenset(found))
        try:
            return replace(audited, beside=frozenset(beside(lines, QUICK_STATES)))
        except UsageError:
            return audited

    def _graph(self, more: Collection[Position] = ()) -> Graph:
        with ExitStack() as stack:
            return kept_graph(
                self.edition,
                manuscript=self.manuscript,
                store=open_games(self.edition, self.user, stack),
                verdicts=self.verdicts,
                more=more,
                progress=self.progress,
            )

    def _audit(self, graph: Graph) -> Audit:
        node = graph.node_of(self.place.position)
        if node is None:
            raise InputError(
                f"no line, game or root of the edition leads to {self.place.name or self.place.text}",
                remedy="put a line to it into the manuscript, or sift games that reach it; `variorum map` shows what is there",
            )
        ground = audit_ground(
            lay_traffic(graph),
            self.verdicts,
            roots=self.edition.roots,
            names=self.edition.names,
            sigla=sigla_of(self.edition, {verdict.voice for verdict in self.verdicts}, self.user),
            bands=self.edition.settings.bands,
        )
        return audit(ground, node, sides_of(self.edition))

    def ask(self, audited: Audit, asking: Asking, purse: Purse) -> bool:
        """Ask what is missing and can be paid; whether anything was answered."""
        budget = purse.left()
        if budget is None:
            return False
        wanted = [
            Request(position=bare(one.position), voice=asking.voice, nodes=asking.nodes, multipv=one.multipv)
            for one in audited.missing(asking.voice, asking.nodes)
            if (one.position, one.multipv) not in self._asked
        ]
        self._asked |= {(one.position, one.multipv) for one in wanted}
        answers = ask_and_keep(
            self.edition,
            wanted,
            asking.open_voice,
            workers=asking.workers or workers_for(self.user),
            budget=budget,
            kept=self.verdicts.append,
            progress=self.progress,
        )
        purse.pay(answer.request for answer in answers)
        return any(answer.verdict is not None for answer in answers)
