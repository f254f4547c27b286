"""Asking: rounds of inquiries, each made from what the last one answered, until the budget is spent or nothing is left."""

from __future__ import annotations

import datetime
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import zip_longest
from pathlib import Path

import msgspec

from variorum.base import Progress, Silent, VariorumError
from variorum.base.settings import UserSettings
from variorum.board import Line, Position, Request, Verdict
from variorum.build.audits import sides_of
from variorum.build.evidence import EditionEvidence
from variorum.claims.check import Ground, check_sign, check_span
from variorum.claims.signs import claims_in, positions_to_ask
from variorum.claims.spans import read_claim
from variorum.claims.standing import Standing
from variorum.edition import Edition, Manuscript, read_manuscript, resolve_place
from variorum.edition.digest import Digest, SpanKind
from variorum.edition.digest_reader import read_digest
from variorum.edition.folder import DIGEST, MANUSCRIPT, VERDICTS
from variorum.graph import Graph, Traffic, back_up_values, edition_graph, lay_traffic
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
from variorum.voices.verdict_files import append_verdicts, read_verdicts, verdict_path
from variorum.voices.verdicts import Verdicts
from variorum.voices.voice import Answer, Budget, Voice, ask_all

__all__ = ["Asked", "Study", "ask_rounds"]

OpenVoice = Callable[[], Voice]

_OPEN = {Standing.UNDECIDED.value: Reason.UNDECIDED, Standing.STALE.value: Reason.UNDECIDED} | {
    Standing.CONTRADICTED.value: Reason.CONTRADICTED
}


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
    ) -> None:
        self.edition = edition
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
        self.graph: Graph = edition_graph(
            self.edition,
            manuscript=self.manuscript,
            store=self._store,
            verdicts=self.verdicts,
            progress=self._progress,
        )
        self.traffic: Traffic = lay_traffic(self.graph)
        self._wishes = self._all_wishes()
        self._off_graph = False

    def take(self, verdict: Verdict) -> None:
        """Let a new verdict count."""
        self.verdicts.append(verdict)
        self._count(verdict)
        self._off_graph |= self.graph.node_of(Position.from_fen(verdict.epd)) is None

    def settle(self) -> None:
        """After a round: grow the graph anew where verdicts brought positions that are not on it."""
        if self._off_graph:
            self._grow()

    def _count(self, verdict: Verdict) -> None:
        """A verdict older than the edition's limit does not count as an answer."""
        days = self.edition.settings.thresholds.stale_days
        if days and verdict.date and verdict.date < str(self._today - datetime.timedelta(days)):
            return
        place = verdict.voice, Position.from_fen(verdict.epd)
        self._effort[place] = max(self._effort.get(place, 0), verdict.allowed)

    def said(self, voice: str) -> Callable[[Position], int]:
        """Nodes that a voice was allowed on a position by its deepest verdict that counts."""
        return lambda position: self._effort.get((voice, position), 0)

    def next_inquiries(self, voice: str) -> list[Inquiry]:
        """What the voice is to be asked next."""
        nodes = self.edition.settings.budget.nodes_per_verdict
        said = self.said(voice)
        return next_round(self._wishes, (), said, nodes) or next_round((), self._doubts(voice), said, nodes)

    def next_of_all(self, voices: Iterable[str]) -> list[tuple[str, Inquiry]]:
        """What each of the voices is to be asked next, the most important of every voice first."""
        each = [[(voice, one) for one in self.next_inquiries(voice)] for voice in voices]
        return [one for rank in zip_longest(*each) for one in rank if one is not None]

    def left_open(self, voice: str) -> int:
        """Claims without enough evidence that were asked as deep as a build asks."""
        nodes = self.edition.settings.budget.nodes_per_verdict
        return sum(
            doubt.reason is Reason.UNDECIDED and settled(doubt, self.said(voice), nodes)
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
            texts += [diagram.place for diagram in self.digest.diagrams()]
            yield from filter(None, map(self._place, texts))

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

    def _claim_doubts(self, verdicts: Verdicts) -> list[Doubt]:
        return [
            Doubt(positions, reason)
            for standing, positions in self._claims(verdicts)
            if positions and (reason := _OPEN.get(standing)) is not None
        ]

    def _claims(self, verdicts: Verdicts) -> Iterator[tuple[str, tuple[Position, ...]]]:
        """Standing and positions of every claim that voices can decide."""
        ground = Ground(settings=self.edition.settings, verdicts=verdicts, practice=None, today=self._today)
        for claim in self._signs:
            positions = tuple(positions_to_ask([claim]))
            if positions:
                yield check_sign(claim, ground, MANUSCRIPT).standing, positions
        if self.digest is None:
            return
        places = EditionEvidence(
            self.edition, verdicts, sigla_of(self.edition, verdicts.voices, self._user), None
        )
        for span in self._spans:
            if span.kind is SpanKind.CLAIM:
                said, _ = read_claim(span, places, self.digest.path)
                if said is not None and said.place.position.outcome is None:
                    yield check_span(span, said, ground, DIGEST).standing, (said.place.position,)

    def line_to(self, position: Position) -> str:
        """A position in words: the edition's name for it, the heaviest line that leads there, or its FEN."""
        places = self.edition.places
        name = next((name for name, place in places.items() if place.position == position), None)
        if name is not None:
            return name
        node = self.graph.node_of(position)
        if node is None:
            return position.fen
        root, edges = self.traffic.way_to(node)
        start = self.graph.position(root)
        known = next((place.line for place in self.edition.roots if place.position == start), None)
        line = known or Line(start)
        for edge in edges:
            line = line.play(self.graph.move(edge))
        return line.san() or position.fen


def ask_rounds(
    study: Study,
    voices: Mapping[str, OpenVoice],
    *,
    total_nodes: int | None,
    deadline: float | None,
    workers: int,
    progress: Progress,
) -> Asked:
    """Ask round after round. Every verdict is on the disk before the next is waited for.

    Args:
        study: What is to be known.
        voices: Whom to ask, by name; the budget of a round is shared, position by position.
        total_nodes: The budget, in nodes as asked; `None` for none.
        deadline: When to stop, a `time.monotonic()` value; what is being asked then is cut short.
        workers: How many inquiries are asked at a time.
        progress: Where to report.

    Raises:
        Interrupted: The user stopped; the verdicts that came are kept.
        InputError: Verdicts cannot be written.
    """
    left = total_nodes
    came = nodes = number = 0
    failed: list[Answer] = []
    # What has no answer, or none that counts (a date that is wrong), is not asked twice in one build.
    done: set[tuple[str, Position, int]] = set()
    while deadline is None or time.monotonic() < deadline:
        fresh = [
            (voice, one)
            for voice, one in study.next_of_all(voices)
            if (voice, one.position, one.nodes) not in done
        ]
        chosen = fresh[: len(within([one for _, one in fresh], left))]
        if not chosen:
            break
        number += 1
        for voice, open_voice in voices.items():
            own = [one for name, one in chosen if name == voice]
            answers = _ask(study, voice, open_voice, own, deadline, workers, progress, number)
            came += sum(answer.verdict is not None for answer in answers)
            nodes += sum(answer.request.nodes or 0 for answer in answers)
            failed += [answer for answer in answers if answer.verdict is None]
        done |= {(voice, one.position, one.nodes) for voice, one in chosen}
        left = None if total_nodes is None else total_nodes - nodes
        study.settle()
    return Asked(came, nodes, tuple(failed))


def _ask(
    study: Study,
    voice: str,
    open_voice: OpenVoice,
    inquiries: Iterable[Inquiry],
    deadline: float | None,
    workers: int,
    progress: Progress,
    number: int,
) -> list[Answer]:
    edition = study.edition
    path = verdict_path(edition.place_to_write(VERDICTS), voice)
    requests = [
        Request(
            # Without move counters: the verdict is then that of the four fields under which it is kept.
            position=Position.from_fen(inquiry.position.epd, chess960=inquiry.position.chess960),
            voice=voice,
            nodes=inquiry.nodes,
            multipv=edition.settings.budget.lines,
        )
        for inquiry in inquiries
    ]
    total = sum(request.nodes or 0 for request in requests)
    with progress.task(f"verdicts, round {number}", total=total, unit="nodes") as task:

        def keep(verdict: Verdict) -> None:
            append_verdicts(path, [verdict])
            study.take(verdict)
            task.advance(verdict.asked or verdict.nodes, note=study.line_to(Position.from_fen(verdict.epd)))

        seconds = None if deadline is None else max(0.0, deadline - time.monotonic())
        return ask_all(
            requests,
            open_voice,
            workers=workers,
            budget=Budget(seconds=seconds),
            keep=keep,
            progress=Silent(),
        )
