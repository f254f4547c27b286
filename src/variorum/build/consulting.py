"""`variorum consult`: voices asked under a budget from a queue that is kept, so that asking goes on wherever it stopped."""

from __future__ import annotations

import datetime
import math
import time
from collections.abc import Iterable, Iterator
from contextlib import ExitStack
from typing import Final, Literal, get_args

import msgspec
import numpy as np

from variorum.base import Progress, StoreBusyError, UsageError
from variorum.base.settings import UserSettings
from variorum.board import Position, Verdict
from variorum.build.asking import First, Study, ask_rounds
from variorum.build.games import open_games
from variorum.build.groups import disputed, wished
from variorum.build.limits import Limits
from variorum.build.whom import edition_voices, named_voices
from variorum.edition import Edition, resolve_place
from variorum.graph import Certainty, back_up_values
from variorum.scout.plan import Inquiry, within
from variorum.scout.wishes import Reason
from variorum.store import Mode, QuestionState, QueuedQuestion, Store, open_store
from variorum.voices.registry import workers_for
from variorum.voices.verdicts import Verdicts

__all__ = [
    "ConsultLimits",
    "ConsultReport",
    "ConsultRequest",
    "PlannedQuestion",
    "Unanswered",
    "consult",
    "request_of",
]

Group = Literal["leaves", "tabiyas", "confluences", "bounds", "disputed", "stale"]
GROUPS: Final[tuple[str, ...]] = get_args(Group)

_CHUNK: Final = 32
"""So many questions are taken from the queue at a time: voices take turns, and a deadline is not one voice's alone."""


class ConsultRequest(msgspec.Struct, frozen=True, kw_only=True):
    """What is to be asked: whom, to which limit (0 for none), how many lines, and where.

    `at` is a group of positions, a place as the author said it (`epd` is then its position), or empty: where it matters most.
    """

    voices: tuple[str, ...]
    nodes: int = 0
    depth: int = 0
    seconds: float = 0.0
    lines: int
    at: str = ""
    epd: str = ""

    @property
    def limit(self) -> str:
        """The limit in words."""
        return _limit(self.nodes, self.depth, self.seconds)

    @property
    def words(self) -> str:
        """The request in words."""
        where = f"at {self.at}" if self.at else "where it matters most"
        lines = "1 line" if self.lines == 1 else f"{self.lines} lines"
        return f"{', '.join(self.voices)}; {self.limit}, {lines}; {where}"


class ConsultLimits(Limits, frozen=True, kw_only=True):
    """What one run may spend; where nothing is given, as the edition says, or all of `--at`."""

    def nodes(self, edition: Edition, request: ConsultRequest) -> int | None:
        """The budget in nodes, `None` where the clock or the end of the list is the bound."""
        if self.total_nodes is not None and not request.nodes:
            raise UsageError(
                f"a budget in nodes cannot be kept with {request.limit} a verdict",
                remedy="give --nodes a verdict, or a budget in --minutes",
            )
        if self.total_nodes is None and self.minutes is None and not request.at:
            return edition.settings.budget.total_nodes
        return self.total_nodes


class PlannedQuestion(msgspec.Struct, frozen=True, kw_only=True):
    """A question that would be asked next: the position by name, line or FEN, why, and its limit in words."""

    voice: str
    place: str
    fen: str
    reason: str
    limit: str


class Unanswered(msgspec.Struct, frozen=True, kw_only=True):
    """A question without an answer, and why; it is not asked again by this request."""

    voice: str
    place: str
    fen: str
    fault: str


class ConsultReport(msgspec.Struct, frozen=True, kw_only=True):
    """What came of consulting.

    `request` in words; `resumed` questions of it waited from before, `replaced` is the earlier request that was given up for
    it (empty for none) with `dropped` questions waiting. `asked` verdicts came, for `nodes` as asked; `known` had an
    answer already. `waiting` are left; `failed` are all of the request without an answer. `absent` are voices that the
    edition names and the user does not have. With `dry_run` nothing was asked or written and `plan` is what comes first.
    """

    edition: str
    request: str
    dry_run: bool = False
    resumed: int = 0
    replaced: str = ""
    dropped: int = 0
    asked: int = 0
    nodes: int = 0
    known: int = 0
    waiting: int = 0
    failed: tuple[Unanswered, ...] = ()
    absent: tuple[str, ...] = ()
    plan: tuple[PlannedQuestion, ...] = ()


def request_of(
    edition: Edition,
    user: UserSettings,
    *,
    voices: Iterable[str] = (),
    nodes: int | None = None,
    depth: int | None = None,
    seconds: float | None = None,
    lines: int | None = None,
    at: str = "",
) -> ConsultRequest:
    """What options say; the edition's settings fill what they leave out.

    Raises:
        UsageError: There are two limits, or a limit that has no meaning here, or nobody to ask.
        InputError: There is no such voice or place.
    """
    given = [
        name
        for name, value in (("nodes", nodes), ("depth", depth), ("seconds", seconds))
        if value is not None
    ]
    if len(given) > 1:
        raise UsageError(f"--{given[0]} and --{given[1]} are two limits for one verdict", remedy="give one")
    if seconds is not None and not 0 < seconds < math.inf:
        raise UsageError(f"a verdict cannot take {seconds} seconds", remedy="give a number above 0")
    if not at and (depth or seconds):
        raise UsageError(
            f"where a budget matters most is counted in nodes, so --{given[0]} needs --at",
            remedy="give --nodes, or say where with --at",
        )
    budget = edition.settings.budget
    names = tuple(dict.fromkeys(voices))
    asked = named_voices(names, user) if names else edition_voices(edition, user)[0]
    if not asked:
        raise UsageError(
            "you have none of the voices that the edition asks",
            remedy="see variorum voices list, or name one with --voice",
        )
    place = None if not at or at in GROUPS else resolve_place(edition, at)
    if place is not None and not place.position.legal_moves():
        raise UsageError("the game is over there: there is nothing to judge")
    return ConsultRequest(
        voices=tuple(asked),
        nodes=0 if depth or seconds else nodes or budget.nodes_per_verdict,
        depth=depth or 0,
        seconds=seconds or 0.0,
        lines=lines or budget.lines,
        at=at,
        epd="" if place is None else place.position.epd,
    )


def consult(
    edition: Edition,
    user: UserSettings,
    request: ConsultRequest | None,
    limits: ConsultLimits,
    progress: Progress,
    *,
    workers: int | None = None,
    dry_run: bool = False,
) -> ConsultReport:
    """Ask, or with `dry_run` only tell what would be asked.

    Args:
        edition: The edition.
        user: The user's settings.
        request: What is to be asked; `None` goes on with what waits, and if nothing does, asks as the edition says. The
            same request as before goes on, another one takes its place.
        limits: What may be spent.
        progress: Where to report.
        workers: How many questions are asked at a time; by default as many as the processors hold (`workers_for`).
        dry_run: Ask and write nothing.

    Raises:
        StoreBusyError: A build, a sift or another consultation of this edition is running.
        UsageError, InputError: The request or the budget makes no sense, or a file cannot be read or written.
        Interrupted: The user stopped; the same call goes on from there.
    """
    deadline = None if limits.minutes is None else time.monotonic() + 60 * limits.minutes
    with ExitStack() as stack:
        store = open_games(edition, user, stack) if dry_run else stack.enter_context(_to_write(edition, user))
        work = _Consultation(edition, user, store, request, limits, progress)
        if dry_run:
            return work.planned()
        work.begin()
        asked = ask_rounds(
            work.study,
            named_voices(work.request.voices, user),
            total_nodes=work.budget,
            deadline=deadline,
            workers=workers or workers_for(user),
            progress=progress,
            rounds=work.next,
            settled=work.settle,
        )
        return work.report(asked.verdicts, asked.nodes)


def _to_write(edition: Edition, user: UserSettings) -> Store:
    try:
        return open_store(edition.store_folder(user), mode=Mode.WRITE)
    except StoreBusyError as busy:
        raise StoreBusyError(
            "a build, a sift or another consultation of this edition is running",
            remedy=busy.remedy,
            path=edition.path,
        ) from None


class _Consultation:
    """A request, its queue, and the edition it is about."""

    def __init__(
        self,
        edition: Edition,
        user: UserSettings,
        store: Store | None,
        request: ConsultRequest | None,
        limits: ConsultLimits,
        progress: Progress,
    ) -> None:
        self._edition, self._user, self._store = edition, user, store
        kept = _kept_request(store)
        self._old = [] if store is None else [one for one in store.questions.all() if _waits(one)]
        goes_on = bool(self._old) and kept is not None and request in (None, kept)
        self.request = kept if goes_on and kept is not None else request or request_of(edition, user)
        named_voices(self.request.voices, user)  # a voice may have been removed since
        self.resumed = len(self._old) if goes_on else 0
        self._given_up = kept if self._old and not goes_on else None
        self.budget = limits.nodes(edition, self.request)
        today = datetime.datetime.now(datetime.UTC).date()
        self.study = Study(
            edition,
            user,
            store,
            today,
            progress,
            nodes=self.request.nodes or None,
            lines=self.request.lines,
        )
        self._numbers: dict[tuple[str, str], int] = {}
        self._known = 0
        self._index: dict[tuple[str, str], list[Verdict]] = {}
        self._indexed = 0

    def begin(self) -> None:
        """Put a new request into the store, with all its questions where it says where to ask."""
        if self.resumed or self._store is None:
            return
        self._store.questions.begin(msgspec.json.encode(self.request))
        if self.request.at:
            self._store.questions.add(_question(voice, one) for voice, one in self._listed())

    def planned(self) -> ConsultReport:
        """What would be asked first."""
        if self.resumed:
            waiting = [(one.voice, _inquiry(one)) for one in self._old]
        elif self.request.at:
            waiting = list(self._listed())
        else:
            waiting = self.study.next_of_all(self.request.voices, First.DOUBTS)
        waiting = [(voice, one) for voice, one in waiting if not self._is_answered(voice, one)]
        count = len(within([one for _, one in waiting], self.budget))
        return msgspec.structs.replace(
            self._told(),
            dry_run=True,
            waiting=len(waiting) - count,
            plan=tuple(
                PlannedQuestion(
                    voice=voice,
                    place=self.study.line_to(one.position),
                    fen=one.position.fen,
                    reason=one.reason.value,
                    limit=_limit(one.nodes, one.depth, one.seconds),
                )
                for voice, one in waiting[:count]
            ),
        )

    def report(self, asked: int, nodes: int) -> ConsultReport:
        """What came of it."""
        assert self._store is not None
        questions = self._store.questions.all()
        return msgspec.structs.replace(
            self._told(),
            asked=asked,
            nodes=nodes,
            waiting=sum(map(_waits, questions)),
            failed=tuple(
                Unanswered(
                    voice=one.voice,
                    place=self.study.line_to(_inquiry(one).position),
                    fen=_inquiry(one).position.fen,
                    fault=one.fault,
                )
                for one in questions
                if one.state is QuestionState.FAILED
            ),
        )

    def _told(self) -> ConsultReport:
        return ConsultReport(
            edition=self._edition.title,
            request=self.request.words,
            resumed=self.resumed,
            replaced="" if self._given_up is None else self._given_up.words,
            dropped=len(self._old) if self._given_up is not None else 0,
            known=self._known,
            absent=edition_voices(self._edition, self._user)[1],
        )

    def next(self) -> list[tuple[str, Inquiry]]:
        """The first of what waits; where nothing does and no place was named, what matters most by what is known now."""
        assert self._store is not None
        waiting = self._waiting()
        if not waiting and not self.request.at:
            there = {(one.voice, one.epd, one.nodes) for one in self._store.questions.all()}
            self._store.questions.add(
                _question(voice, one)
                for voice, one in self.study.next_of_all(self.request.voices, First.DOUBTS)
                if (voice, one.position.epd, one.nodes) not in there
            )
            waiting = self._waiting()
        chunk = waiting[:_CHUNK]
        self._numbers = {(one.voice, one.epd): one.number for one in chunk}
        return [(one.voice, _inquiry(one)) for one in chunk]

    def _waiting(self) -> list[QueuedQuestion]:
        """What waits. What has its answer in the files, and was not marked before a kill, waits no longer."""
        assert self._store is not None
        waiting = []
        for one in self._store.questions.all():
            if not _waits(one):
                continue
            if self._is_answered(one.voice, _inquiry(one)):
                self._store.questions.settle(one.number, QuestionState.ANSWERED)
                self._known += 1
            else:
                waiting.append(one)
        return waiting

    def settle(self, voice: str, inquiry: Inquiry, fault: str) -> None:
        """Mark a question as answered, or as one that has no answer."""
        assert self._store is not None
        state = QuestionState.FAILED if fault else QuestionState.ANSWERED
        self._store.questions.settle(self._numbers[voice, inquiry.position.epd], state, fault)

    def _is_answered(self, voice: str, inquiry: Inquiry) -> bool:
        """Whether a verdict is there that is as good as the one to be asked for."""
        return any(
            verdict.allowed >= inquiry.nodes
            and verdict.depth >= inquiry.depth
            and verdict.elapsed_ms >= 900 * inquiry.seconds
            and verdict.multipv >= self.request.lines
            and self.study.counts(verdict)
            for verdict in self._by_place().get((voice, inquiry.position.epd), ())
        )

    def _by_place(self) -> dict[tuple[str, str], list[Verdict]]:
        """Verdicts by voice and position, those that came since the last look added."""
        for verdict in self.study.verdicts[self._indexed :]:
            self._index.setdefault((verdict.voice, verdict.epd), []).append(verdict)
        self._indexed = len(self.study.verdicts)
        return self._index

    def _listed(self) -> Iterator[tuple[str, Inquiry]]:
        """Every position of `--at`, for each voice; voices take turns."""
        request, found = self.request, dict[tuple[str, str], tuple[str, Inquiry]]()
        for voice in request.voices:
            for position, reason in self._places(voice):
                one = Inquiry(position, reason, request.nodes, request.depth, request.seconds)
                found.setdefault((voice, position.epd), (voice, one))
        order = {epd: number for number, epd in enumerate(dict.fromkeys(epd for _, epd in found))}
        yield from sorted(found.values(), key=lambda one: order[one[1].position.epd])

    def _places(self, voice: str) -> Iterator[tuple[Position, Reason]]:
        study, request = self.study, self.request
        match request.at:
            case "leaves":
                yield from wished(study, Reason.LEAF)
            case "tabiyas":
                yield from wished(study, Reason.ROOT, Reason.NAME)
            case "confluences":
                yield from wished(study, Reason.CONFLUENCE)
            case "bounds":
                values = back_up_values(study.graph, study.verdicts).get(voice)
                nodes = [] if values is None else np.flatnonzero(values.certainty == Certainty.BOUND).tolist()
                for node in sorted(
                    nodes, key=lambda node: (-round(float(study.traffic.nodes[node]), 12), node)
                ):
                    yield study.graph.position(node), Reason.BOUND
            case "disputed":
                yield from disputed(study)
            case "stale":
                least = self._edition.settings.budget.minimum_effort
                for verdict in Verdicts(study.verdicts).all():
                    if verdict.voice == voice and not (study.counts(verdict) and verdict.nodes >= least):
                        yield Position.from_fen(verdict.epd), Reason.STALE
            case _:
                yield Position.from_fen(request.epd), Reason.ASKED


def _kept_request(store: Store | None) -> ConsultRequest | None:
    kept = None if store is None else store.questions.request
    try:
        return None if kept is None else msgspec.json.decode(kept, type=ConsultRequest)
    except msgspec.ValidationError:
        return None  # kept by another version


def _waits(question: QueuedQuestion) -> bool:
    return question.state is QuestionState.WAITING


def _question(voice: str, one: Inquiry) -> QueuedQuestion:
    return QueuedQuestion(
        epd=one.position.epd,
        chess960=one.position.chess960,
        voice=voice,
        reason=one.reason.value,
        nodes=one.nodes,
        depth=one.depth,
        seconds=one.seconds,
    )


def _inquiry(question: QueuedQuestion) -> Inquiry:
    position = Position.from_fen(question.epd, chess960=question.chess960)
    reason = next((one for one in Reason if one.value == question.reason), Reason.ASKED)
    return Inquiry(position, reason, question.nodes, question.depth, question.seconds)


def _limit(nodes: int, depth: int, seconds: float) -> str:
    return f"{nodes:,} nodes" if nodes else f"depth {depth}" if depth else f"{seconds:g} s"
