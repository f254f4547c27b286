"""`variorum scout`: a first skeleton of a system, grown from one place by one voice within a budget (methods.md 16)."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from contextlib import ExitStack
from typing import Final

import msgspec

from variorum.base import Diagnostic, InputError, Progress
from variorum.base.settings import UserSettings
from variorum.board import Line, Position, Request, Verdict, sign_of
from variorum.build.games import open_games
from variorum.build.kept import OpenVoice, ask_and_keep, bare, is_fresh
from variorum.build.limits import Limits
from variorum.build.purse import Purse
from variorum.edition import Edition, Place, read_manuscript
from variorum.edition.folder import MANUSCRIPT, VERDICTS
from variorum.graph import edition_graph
from variorum.scout.frontier import Branch, Frontier, Width
from variorum.voices.noise import printed_noise
from variorum.voices.registry import workers_for
from variorum.voices.sigla import sigla_of
from variorum.voices.verdict_files import read_verdicts
from variorum.voices.voice import Budget

__all__ = ["ScoutLimits", "ScoutReport", "ScoutedBranch", "Scouting", "scout_place"]

TOGETHER: Final = 4
"""Positions asked in one round, however many workers there are: so the skeleton is the same on each machine."""


class ScoutLimits(Limits, frozen=True, kw_only=True):
    """What scouting may spend; where nothing is given, what the edition says for a build."""

    def budget(self, edition: Edition) -> Budget:
        """The same as a budget for questions."""
        if self.minutes is not None:
            return Budget(seconds=60 * self.minutes)
        nodes = edition.settings.budget.total_nodes if self.total_nodes is None else self.total_nodes
        return Budget(total_nodes=nodes)


class Scouting(msgspec.Struct, frozen=True, kw_only=True):
    """How to scout: the voice and what opens it, nodes for a verdict (`None`: as the edition says), how broad and deep."""

    voice: str
    open_voice: OpenVoice
    limits: ScoutLimits = ScoutLimits()
    nodes: int | None = None
    width: Width = Width()
    most: int = 12
    workers: int | None = None


class ScoutedBranch(msgspec.Struct, frozen=True, kw_only=True):
    """A move instead of one of a line, with its own best play, and what parts from that.

    `instead` is that move, `line` begins with the other one. `conceded` is what it gives away, in points for its mover;
    `expected` is E for White after it, with its noise (1.96 σ in points, `None` for a mate or where the rules decide).
    """

    instead: str
    side: str
    line: str
    conceded: float
    expected: float
    noise: float | None
    joins: bool
    """Its line comes to a position of a line above, and goes on as that does."""
    branches: tuple[ScoutedBranch, ...]


class ScoutReport(msgspec.Struct, frozen=True, kw_only=True):
    """A skeleton: main line from the place on and what parts from it, in the order of the main line.

    `asked` and `spent` (nodes as asked) are of this run, `positions` all that the skeleton rests on, each asked with `nodes`
    nodes at least. `margin` and `plies` say how broad and deep it is; `waiting` positions within them are not asked yet,
    and `hidden` branches of the main line not listed. `to_map` is what to do so that the map shows it, empty where it does.
    """

    title: str
    name: str | None
    line: str
    fen: str
    siglum: str
    voice: str
    nodes: int
    asked: int
    spent: int
    positions: int
    waiting: int
    margin: float
    plies: int
    expected: float | None
    noise: float | None
    sign: str
    words: str
    main: str
    branches: tuple[ScoutedBranch, ...]
    hidden: int
    unanswered: tuple[str, ...]
    to_map: str


def scout_place(
    edition: Edition, user: UserSettings, place: Place, how: Scouting, progress: Progress
) -> tuple[ScoutReport, list[Diagnostic]]:
    """Grow a skeleton from a place. Each verdict is kept at once, so the same call after a stop goes on from there.

    Raises:
        InputError: The game is over in this place, or a file cannot be read or written.
        StoreError: The store is damaged.
        Interrupted: The user stopped.
    """
    start = place.position
    if not start.legal_moves():
        raise InputError("the game is over there: there is nothing to scout")
    verdicts, diagnostics = _verdicts(edition)
    work = _Work(edition, place, how, verdicts, how.workers or workers_for(user))
    work.grow(progress)
    skeleton = work.frontier.skeleton(how.most)
    sign = None if skeleton.expected is None else sign_of(skeleton.expected, edition.settings.bands)
    branches = sorted(skeleton.branches, key=lambda branch: branch.at)
    report = ScoutReport(
        title=edition.title,
        name=place.name,
        line=place.line.san() if place.line else "",
        fen=start.fen,
        siglum=sigla_of(edition, {how.voice, *(one.voice for one in verdicts)}, user)[how.voice],
        voice=how.voice,
        nodes=work.nodes,
        asked=work.asked,
        spent=work.spent,
        positions=skeleton.positions,
        waiting=skeleton.waiting,
        margin=how.width.margin,
        plies=how.width.plies,
        expected=skeleton.expected,
        noise=_noise(skeleton.nodes, skeleton.expected),
        sign="" if sign is None else sign.glyph,
        words="" if sign is None else sign.words,
        main=Line(start, skeleton.moves).san(),
        branches=tuple(_branches(start, Line(start, skeleton.moves), branches)),
        hidden=skeleton.hidden,
        unanswered=tuple(work.unanswered),
        to_map=_to_map(edition, user, place, [*verdicts, *work.new], progress),
    )
    return report, diagnostics


class _Work:
    """One run: rounds of questions until the budget is spent or nothing within the width is left."""

    def __init__(
        self, edition: Edition, place: Place, how: Scouting, verdicts: list[Verdict], workers: int
    ) -> None:
        self._edition, self._place, self._how, self._workers = edition, place, how, workers
        self._lines = edition.settings.budget.lines
        self.nodes = how.nodes or edition.settings.budget.nodes_per_verdict
        self._budget = how.limits.budget(edition)
        self._purse = Purse(self._budget)
        self._today = datetime.datetime.now(datetime.UTC).date()
        self.frontier = Frontier(place.position, how.width, filter(self._counts, verdicts))
        self.asked = self.spent = 0
        self.unanswered: list[str] = []
        self.new: list[Verdict] = []

    def _counts(self, verdict: Verdict) -> bool:
        """Whether an earlier verdict is as good as the one that would be asked for."""
        return (
            verdict.voice == self._how.voice
            and verdict.allowed >= self.nodes
            and verdict.multipv >= self._lines
            and is_fresh(verdict, self._edition, self._today)
        )

    def grow(self, progress: Progress) -> None:
        nodes = self._budget.total_nodes
        whole = None if nodes is None else nodes // self.nodes
        with progress.task("scout", total=whole, unit="positions") as task:

            def kept(verdict: Verdict) -> None:
                self.frontier.learn(verdict)
                self.new.append(verdict)
                task.advance(1, note=f"{self._time_left()}{looked_at.get(verdict.epd, '')}")

            while (positions := self.frontier.next(TOGETHER)) and (left := self._purse.left()):
                looked_at = {one.epd: self._said(one) for one in positions}
                answers = ask_and_keep(
                    self._edition,
                    map(self._request, positions),
                    self._how.open_voice,
                    workers=self._workers,
                    budget=left,
                    kept=kept,
                )
                if not answers:  # what is left pays for none
                    break
                self._purse.pay(answer.request for answer in answers)
                self.asked += sum(answer.verdict is not None for answer in answers)
                self.spent += self.nodes * len(answers)
                for answer in answers:
                    if answer.fault is not None:
                        position = answer.request.position
                        self.frontier.give_up(position)
                        self.unanswered.append(f"{looked_at[position.epd]}: {answer.fault.message}")

    def _request(self, position: Position) -> Request:
        return Request(position=bare(position), voice=self._how.voice, nodes=self.nodes, multipv=self._lines)

    def _said(self, position: Position) -> str:
        """A position that is asked, by the line that leads to it."""
        return self.frontier.line_to(position).san() or (self._place.name or self._place.text)

    def _time_left(self) -> str:
        left = self._purse.left()
        return f"{left.seconds / 60:.1f} min left  " if left is not None and left.seconds is not None else ""


def _verdicts(edition: Edition) -> tuple[list[Verdict], list[Diagnostic]]:
    verdicts: list[Verdict] = []
    diagnostics: list[Diagnostic] = []
    for path in sorted((edition.path / VERDICTS).glob("*.epd")):
        found = read_verdicts(path)
        verdicts += found.verdicts
        diagnostics += found.diagnostics
    return verdicts, diagnostics


def _noise(nodes: int, expected: float | None) -> float | None:
    return printed_noise(nodes, expected) if nodes and expected is not None else None


def _branches(start: Position, line: Line, branches: Iterable[Branch]) -> Iterable[ScoutedBranch]:
    positions = line.positions()
    for branch in branches:
        at = positions[branch.at]
        own = Line(at, branch.moves)
        yield ScoutedBranch(
            instead=Line(at, (line.moves[branch.at],)).san(),
            side=at.turn.value,
            line=own.san(),
            conceded=branch.conceded,
            expected=branch.expected,
            noise=_noise(branch.nodes, branch.expected),
            joins=branch.joins,
            branches=tuple(
                _branches(own.positions()[1], Line(own.positions()[1], own.moves[1:]), branch.branches)
            ),
        )


def _to_map(
    edition: Edition, user: UserSettings, place: Place, verdicts: list[Verdict], progress: Progress
) -> str:
    """What the author must do so that the map shows what was scouted; empty where it does."""
    file = edition.path / MANUSCRIPT
    with ExitStack() as stack:
        graph = edition_graph(
            edition,
            manuscript=read_manuscript(file) if file.is_file() else None,
            store=open_games(edition, user, stack),
            verdicts=verdicts,
            progress=progress,
        )
    if graph.node_of(place.position) is not None:
        return ""
    roots = {root.position for root in edition.roots}
    if place.line is not None and not roots.isdisjoint(place.line.positions()):
        return f'variorum name NAME "{place.text}"'
    if place.name is not None:
        return f"move {place.name} from [names] to [roots] in edition.toml"
    return f'add to [roots] in edition.toml: NAME = "{place.text}"'
