"""Asking: rounds of inquiries, each made from what the last one answered, until the budget is spent or nothing is left."""

from __future__ import annotations

import datetime
import enum
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import zip_longest
from pathlib import Path

import msgspec

from variorum.base import Progress, VariorumError
from variorum.base.settings import UserSettings
from variorum.board import Position, Request, Verdict
from variorum.build.audits import sides_of
from variorum.build.evidence import EditionPlaces
from variorum.build.kept import OpenVoice, ask_and_keep, bare, is_fresh
from variorum.build.kept_graph import kept_graph
from variorum.build.ways import Ways
from variorum.claims.check import CheckedClaim, Ground, check_sign, check_span
from variorum.claims.signs import claims_in, positions_to_ask
from variorum.claims.spans import SpanClaim, read_claim
from variorum.claims.standing import Standing
from variorum.edition import Edition, Manuscript, read_manuscript, resolve_place
from variorum.edition.digest import Digest, SpanKind
from variorum.edition.digest_reader import read_digest
from variorum.edition.folder import DIGEST, MANUSCRIPT, VERDICTS
from variorum.graph import Graph, Traffic, back_up_values, lay_traffic
from variorum.insight.orders import Audit, audit, audit_ground
from variorum.scout.plan import Inquiry, next_round, settled, within
from variorum.scout.wishes import (
    Doubt,
    Reason,
    Wish,
    close_lines,
    deciding_leaves,
    graph_wishes,
    order_wishes,
)
from variorum.store import Store
from variorum.voices.sigla import sigla_of
from variorum.voices.verdict_files import read_verdicts
from variorum.voices.verdicts import Verdicts
from variorum.voices.voice import Answer, Budget

__all__ = ["Asked", "First", "Study", "ask_rounds"]

_OPEN = {Standing.UNDECIDED.value: Reason.UNDECIDED, Standing.STALE.value: Reason.UNDECIDED} | {
    Standing.CONTRADICTED.value: Reason.CONTRADICTED
}


def _any(claim: CheckedClaim) -> bool:
    """Whatever the claim."""
    del claim
    return True


class First(enum.Enum):
    """What a budget is spent on first (methods.md 15)."""

    VERDICTS = "verdicts"
    """A first verdict everywhere, as a build does."""
    DOUBTS = "doubts"
    """What is in doubt, as consulting does."""


class Asked(msgspec.Struct, frozen=True):
    """What rounds of inquiries came to: verdicts that came, their nodes as asked, and inquiries without an answer."""

    verdicts: int
    nodes: int
    failed: tuple[Answer, ...]


class Study:
    """An edition while it is built: its graph, and the verdicts as they come."""

    def __init__(
        self,
        edition: Edition,
        user: UserSettings,
        store: Store | None,
        today: datetime.date,
        progress: Progress,
        *,
        nodes: int | None = None,
        lines: int | None = None,
    ) -> None:
        """Read an edition. `nodes` and `lines` of a verdict are the edition's where they are not given."""
        self.edition = edition
        self.nodes = nodes or edition.settings.budget.nodes_per_verdict
        self.lines = lines or edition.settings.budget.lines
        self._user = user
        self._today = today
        self.manuscript = self._read_manuscript(edition.path / MANUSCRIPT)
        self.digest = self._read_digest(edition.path / DIGEST)
        self.verdicts: list[Verdict] = []
        for path in sorted((edition.path / VERDICTS).glob("*.epd")):
            self.verdicts += read_verdicts(path).verdicts
        self._signs = () if self.manuscript is None else tuple(claims_in(self.manuscript, edition))
        self._spans = () if self.digest is None else tuple(self.digest.spans())
        self._store = store
        self._progress = progress
        self._grow()
        self._effort: dict[tuple[str, Position], int] = {}
        for verdict in self.verdicts:
            self._count(verdict)

    def _read_manuscript(self, file: Path) -> Manuscript | None:
        return read_manuscript(file) if file.is_file() else None

    def _read_digest(self, file: Path) -> Digest | None:
        return read_digest(file)[0] if file.is_file() else None

    def _grow(self) -> None:
        self.graph: Graph = kept_graph(
            self.edition,
            manuscript=self.manuscript,
            store=self._store,
            verdicts=self.verdicts,
            progress=self._progress,
        )
        self.traffic: Traffic = lay_traffic(self.graph)
        self.ways = Ways(self.edition, self.graph, self.traffic)
        self.wishes = self._all_wishes()
        self._off_graph = False

    def take(self, verdict: Verdict) -> None:
        """Let a new verdict count."""
        self.verdicts.append(verdict)
        self._count(verdict)
        self._off_graph |= self.graph.node_of(Position.from_fen(verdict.epd)) is None

    def settle(self) -> None:
        """Grow the graph anew where verdicts brought positions that are not on it."""
        if self._off_graph:
            self._grow()

    def counts(self, verdict: Verdict) -> bool:
        """Whether a verdict is an answer by its age."""
        return is_fresh(verdict, self.edition, self._today)

    def _count(self, verdict: Verdict) -> None:
        if not self.counts(verdict):
            return
        place = verdict.voice, Position.from_fen(verdict.epd)
        self._effort[place] = max(self._effort.get(place, 0), verdict.allowed)

    def said(self, voice: str) -> Callable[[Position], int]:
        """Nodes that a voice was allowed on a position by its deepest verdict that counts."""
        return lambda position: self._effort.get((voice, position), 0)

    def next_inquiries(self, voice: str, first: First = First.VERDICTS) -> list[Inquiry]:
        """What the voice is to be asked next."""
        said = self.said(voice)

        def firsts(wishes: Iterable[Wish]) -> list[Inquiry]:
            return next_round(wishes, (), said, self.nodes)

        if first is First.VERDICTS:
            return firsts(self.wishes) or next_round((), self._doubts(voice), said, self.nodes)
        places = firsts(wish for wish in self.wishes if wish.reason in (Reason.ROOT, Reason.NAME))
        return places or self._doubtful(voice) or firsts(self.wishes)

    def _doubtful(self, voice: str) -> list[Inquiry]:
        """Doubts, and positions that without a verdict of their own would have a bound only."""
        said = self.said(voice)
        bounds = [wish for wish in self.wishes if wish.reason is Reason.BOUND]
        found: dict[Position, Inquiry] = {}
        for one in (
            *next_round((), self._doubts(voice), said, self.nodes),
            *next_round(bounds, (), said, self.nodes),
        ):
            found.setdefault(one.position, one)
        return list(found.values())

    def next_of_all(self, voices: Iterable[str], first: First = First.VERDICTS) -> list[tuple[str, Inquiry]]:
        """What each of the voices is to be asked next, the most important of every voice first."""
        self.settle()
        each = [[(voice, one) for one in self.next_inquiries(voice, first)] for voice in voices]
        return [one for rank in zip_longest(*each) for one in rank if one is not None]

    def left_open(self, voice: str) -> int:
        """Claims without enough evidence that were asked as deep as a build asks."""
        return sum(
            doubt.reason is Reason.UNDECIDED and settled(doubt, self.said(voice), self.nodes)
            for doubt in self._claim_doubts(Verdicts(self.verdicts))
        )

    def _all_wishes(self) -> list[Wish]:
        roots = [Wish(root.position, Reason.ROOT) for root in self.edition.roots]
        names = [Wish(place.position, Reason.NAME) for place in self.edition.names.values()]
        claims = [Wish(position, Reason.CLAIM) for position in self._claimed()]
        orders = order_wishes(self.graph, self.traffic, self.tabiyas().values(), sides_of(self.edition))
        return [*roots, *names, *claims, *orders, *graph_wishes(self.graph, self.traffic)]

    def tabiyas(self) -> dict[str, int]:
        """The nodes of the edition's names that its graph holds."""
        nodes = {name: self.graph.node_of(place.position) for name, place in self.edition.names.items()}
        return {name: node for name, node in nodes.items() if node is not None}

    def audits(self) -> Iterator[tuple[str, Audit]]:
        """The orders into each tabiya, audited by what is known now."""
        voices = {verdict.voice for verdict in self.verdicts}
        ground = audit_ground(
            self.traffic,
            self.verdicts,
            roots=self.edition.roots,
            names=self.edition.names,
            sigla=sigla_of(self.edition, voices, self._user),
            bands=self.edition.settings.bands,
        )
        for name, node in self.tabiyas().items():
            yield name, audit(ground, node, sides_of(self.edition))

    def _claimed(self) -> Iterator[Position]:
        """Positions that signs of the manuscript, and facts, claims and diagrams of the digest hang on."""
        yield from positions_to_ask(iter(self._signs))
        if self.digest is not None:
            texts = [
                span.attributes.get("at", "")
                for span in self._spans
                if span.attributes.get("kind") == "score"
            ]
            texts += self.digest.shown_places()
            yield from filter(None, map(self._place, texts))
            for claim in self._digest_claims():
                yield from claim.positions

    def _digest_claims(self) -> Iterator[SpanClaim]:
        """The claims of the digest that can be read."""
        places = EditionPlaces(self.edition)
        for span in self._spans:
            if span.kind is SpanKind.CLAIM and self.digest is not None:
                claim, _ = read_claim(span, places, self.digest.path)
                if claim is not None:
                    yield claim

    def _place(self, text: str) -> Position | None:
        try:
            return resolve_place(self.edition, text).position
        except VariorumError:
            return None  # diagnosed by `check` and `publish`

    def _doubts(self, voice: str) -> list[Doubt]:
        verdicts = Verdicts(self.verdicts)
        places = [place.position for place in self.edition.places.values()]
        values = back_up_values(self.graph, self.verdicts).get(voice)
        own = ((place, verdicts.on(place).get(voice)) for place in places)
        doubts = self._claim_doubts(verdicts)
        if values is not None:
            doubts += deciding_leaves(self.graph, values, places)
        return doubts + close_lines((place, verdict) for place, verdict in own if verdict is not None)

    def _claim_doubts(self, verdicts: Verdicts, meant: Callable[[CheckedClaim], bool] = _any) -> list[Doubt]:
        return [
            Doubt(positions, reason)
            for claim, positions in self._claims(verdicts)
            if positions and meant(claim) and (reason := _OPEN.get(claim.standing)) is not None
        ]

    def open_claims(self, voice: str, meant: Callable[[CheckedClaim], bool] = _any) -> list[Inquiry]:
        """What the voice is to be asked next so that claims without enough evidence, and stale ones, are decided: those meant."""
        doubts = self._claim_doubts(Verdicts(self.verdicts), meant)
        open_ = [one for one in doubts if one.reason is Reason.UNDECIDED]
        least = max(self.nodes, self.edition.settings.budget.minimum_effort)
        wishes = [Wish(position, Reason.CLAIM) for doubt in open_ for position in doubt.positions]
        return next_round(wishes, open_, self.said(voice), least)

    def _claims(self, verdicts: Verdicts) -> Iterator[tuple[CheckedClaim, tuple[Position, ...]]]:
        """Every claim that voices can decide, with its positions."""
        ground = Ground(settings=self.edition.settings, verdicts=verdicts, practice=None, today=self._today)
        for claim in self._signs:
            positions = tuple(positions_to_ask([claim]))
            if positions:
                yield check_sign(claim, ground, MANUSCRIPT), positions
        if self.digest is None:
            return
        places = EditionPlaces(self.edition)
        for span in self._spans:
            if span.kind is SpanKind.CLAIM:
                said, _ = read_claim(span, places, self.digest.path)
                if said is not None and said.positions:
                    yield check_span(span, said, ground, DIGEST), said.positions

    def line_to(self, position: Position) -> str:
        """A position in words, as `Ways` tells it."""
        return self.ways.line_to(position)

    def standing(self, position: Position) -> Position:
        """A position with the move number that a line to it gives it."""
        return self.ways.standing(position)


def ask_rounds(
    study: Study,
    voices: Mapping[str, OpenVoice],
    *,
    total_nodes: int | None,
    deadline: float | None,
    workers: int,
    progress: Progress,
    rounds: Callable[[], Sequence[tuple[str, Inquiry]]] | None = None,
    settled: Callable[[str, Inquiry, str], None] = lambda voice, inquiry, fault: None,
) -> Asked:
    """Ask round after round. Every verdict is on the disk before the next is waited for.

    Args:
        study: What is to be known.
        voices: Whom to ask, by name; the budget of a round is shared, position by position.
        total_nodes: The budget, in nodes as asked; `None` for none.
        deadline: When to stop, a `time.monotonic()` value; what is being asked then is cut short.
        workers: How many inquiries are asked at a time.
        progress: Where to report.
        rounds: Gives what is asked next; by default what `study` would like to know.
        settled: Is told of each inquiry that was answered, once the verdict is on the disk, and of each that was not,
            with the fault.

    Raises:
        Interrupted: The user stopped; the verdicts that came are kept.
        InputError: Verdicts cannot be written.
    """
    next_of_all = rounds or (lambda: study.next_of_all(voices))
    left = total_nodes
    came = nodes = number = 0
    failed: list[Answer] = []
    # What has no answer, or none that counts (a date that is wrong), is not asked twice in one build.
    done: set[tuple[str, Position, int]] = set()
    with _purse(progress, total_nodes, deadline) as spend:
        while deadline is None or time.monotonic() < deadline:
            fresh = [
                (voice, one) for voice, one in next_of_all() if (voice, one.position, one.nodes) not in done
            ]
            chosen = fresh[: len(within([one for _, one in fresh], left))]
            if not chosen:
                break
            number += 1
            for voice, open_voice in voices.items():
                own = [one for name, one in chosen if name == voice]
                answers = _ask(
                    study, voice, open_voice, own, deadline, workers, progress, number, settled, spend
                )
                came += sum(answer.verdict is not None for answer in answers)
                nodes += sum(answer.request.nodes or 0 for answer in answers)
                failed += [answer for answer in answers if answer.verdict is None]
            done |= {(voice, one.position, one.nodes) for voice, one in chosen}
            left = None if total_nodes is None else total_nodes - nodes
    study.settle()
    return Asked(came, nodes, tuple(failed))


@contextmanager
def _purse(
    progress: Progress, total_nodes: int | None, deadline: float | None
) -> Iterator[Callable[[int], None]]:
    """Shows what of the budget is spent: how long the whole takes at most, for what later rounds ask nobody knows.

    Gives what is told the nodes of each answer.
    """
    began = time.monotonic()
    if total_nodes is None and deadline is None:
        yield lambda nodes: None
    elif total_nodes is not None:
        with progress.task("budget", total=total_nodes, unit="nodes") as task:
            yield task.advance
    elif deadline is not None:
        with progress.task("budget", total=round(deadline - began), unit="seconds") as task:
            told = 0

            def by_the_clock(nodes: int) -> None:
                nonlocal told
                del nodes
                now = int(time.monotonic() - began)
                passed, told = now - told, now
                task.advance(passed)

            yield by_the_clock


def _ask(
    study: Study,
    voice: str,
    open_voice: OpenVoice,
    inquiries: Sequence[Inquiry],
    deadline: float | None,
    workers: int,
    progress: Progress,
    number: int,
    settled: Callable[[str, Inquiry, str], None],
    spend: Callable[[int], None],
) -> list[Answer]:
    asked = {inquiry.position.epd: inquiry for inquiry in inquiries}
    requests = [
        Request(
            position=bare(inquiry.position),
            voice=voice,
            nodes=inquiry.nodes or None,
            depth=inquiry.depth or None,
            seconds=inquiry.seconds or None,
            multipv=study.lines,
        )
        for inquiry in asked.values()
    ]
    nodes = sum(request.nodes or 0 for request in requests)
    unit, total = ("nodes", nodes) if nodes else ("positions", len(requests))
    with progress.task(f"{voice}, round {number}", total=total, unit=unit) as task:
        if inquiries:
            first = study.line_to(inquiries[0].position)
            task.advance(0, note=f"first {first}; the first answer is awaited")

        def kept(verdict: Verdict) -> None:
            study.take(verdict)
            settled(voice, asked[verdict.epd], "")
            note = study.line_to(Position.from_fen(verdict.epd))
            spend(verdict.asked or verdict.nodes)
            task.advance((verdict.asked or verdict.nodes) if nodes else 1, note=note)

        seconds = None if deadline is None else max(0.0, deadline - time.monotonic())
        answers = ask_and_keep(
            study.edition, requests, open_voice, workers=workers, budget=Budget(seconds=seconds), kept=kept
        )
    for answer in answers:
        if answer.fault is not None:
            settled(voice, asked[answer.request.position.epd], answer.fault.message)
    return answers
