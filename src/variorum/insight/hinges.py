"""Hinges: the placements on which a move's worth depends, found by changing one and asking again (methods.md 7).

A study asks in rounds. `wanted` gives what a voice must still say, `report` what its answers come to; both are functions of
the answers alone, so that a study goes on wherever it was stopped.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import msgspec

from variorum.board import Line, Move, MoveError, Position, Request, Side, Verdict
from variorum.insight.changes import Change, Kind, changes_of
from variorum.insight.wording import PIECE_NAMES
from variorum.voices.noise import INTERVAL, noise_of
from variorum.voices.scale import expected_of

__all__ = ["LARGEST_SHIFT", "Answers", "Hinge", "HingeReport", "HingeStudy", "Question"]

LARGEST_SHIFT: Final = 0.5
"""By so much of what the move changes, or by the noise where that is more, may the best other move change its value.

Else the change is to the position as a whole, and says little of the move.
"""

_RANKS: Final = 3
"""So many ranks of hinges are looked for, the strongest first."""


class Question(msgspec.Struct, frozen=True):
    """A position and how many lines of it are needed."""

    position: Position
    multipv: int


Answers = Mapping[Question, Verdict]


class Hinge(msgspec.Struct, frozen=True, kw_only=True):
    """A placement on which the move depends.

    `unit` is the letter of the unit (capital for White), `source` where it stands, `target` where it was put instead.
    `strength` is the move's value here less its value there, as expected score of the side that plays it: positive where
    the placement (`knight on b1`) is what the move needs. Hinges whose strengths differ from the first of a rank by no more than `noise` share its `rank`.
    `here` and `there` are how the move goes on in both.
    """

    rank: int
    unit: str
    source: str
    target: str
    kind: str
    placement: str
    fen: str
    strength: float
    value: float
    here: str
    there: str
    other_shift: float | None
    sentence: str


class HingeReport(msgspec.Struct, frozen=True, kw_only=True):
    """What a move hinges on. Values are expected scores of the side that plays it.

    `best_other` is the best other move with its value, `None` where there is no other. `noise` is 1.96 σ of the difference
    of two verdicts at this effort; changes with less are counted in `weak`. `lost` counts changes refused because the unit
    would be lost, `shifted` those because the best other move changes its value too, `unanswered` those that the voice did
    not answer, `open` those that were not looked at when the report was made.
    """

    edition: str
    fen: str
    move: str
    side: str
    voice: str
    nodes: int
    value: float | None
    line: str
    best_other: str | None
    best_other_value: float | None
    noise: float
    changes: int
    lost: int
    shifted: int
    weak: int
    unanswered: int
    open: int
    hinges: tuple[Hinge, ...]
    sentence: str


@dataclass(frozen=True, eq=False)
class HingeStudy:
    """A move in a position, the changes that are tried, and at what effort.

    Args:
        position: Where the move is played.
        move: The move.
        voice: Who is asked.
        nodes: Nodes for each verdict.
        near: Unit, from and to, as near positions of the graph have it.

    Raises:
        MoveError: The move is not legal there.
    """

    position: Position
    move: Move
    voice: str
    nodes: int
    near: frozenset[tuple[str, str, str]] = frozenset()

    def __post_init__(self) -> None:
        self.position.play(self.move)

    @cached_property
    def _found(self) -> tuple[list[Change], int]:
        return changes_of(self.position, self.move, self.near)

    @property
    def changes(self) -> list[Change]:
        """The changes that are tried."""
        return self._found[0]

    def request(self, question: Question) -> Request:
        """A question as the voice is asked it: without move counters, so that the same placement is the same question."""
        position = Position.from_fen(question.position.epd, chess960=question.position.chess960)
        return Request(position=position, voice=self.voice, nodes=self.nodes, multipv=question.multipv)

    def wanted(self, answers: Answers, unanswered: frozenset[Question] = frozenset()) -> list[Question]:
        """What is still to be asked: first each change with the move played, then the strongest without it."""
        known = answers.keys() | unanswered
        played = [_after(position, self.move) for position in self._positions()]
        first = [one for one in played if one not in known and one.position.outcome is None]
        if first:
            return first
        if self._value(self.position, answers) is None:
            return []
        others = [_before(self.position)]
        hopeful = [
            pair
            for pair in self._heavy(answers)
            if not self._is_judged(pair[0], answers) or self._is_accepted(*pair, answers)
        ]
        others += [_before(change.position) for _, change, _ in self._ranked(hopeful)]
        return [one for one in others if one not in known and _has_other(one.position)]

    def strength(self, changed: Position, answers: Answers) -> float | None:
        """The strength of the change that leads to a position; `None` where it is not tried or not answered."""
        return next(
            (strength for change, strength in self._strongest(answers) if change.position == changed), None
        )

    def report(
        self,
        answers: Answers,
        *,
        edition: str = "",
        standing: Position | None = None,
        unanswered: frozenset[Question] = frozenset(),
    ) -> HingeReport:
        """What the answers come to.

        Args:
            answers: Verdicts by question.
            edition: Its title.
            standing: The position with the move number that its line gives it.
            unanswered: Questions that the voice failed to answer.
        """
        start = standing or self.position
        value = self._value(self.position, answers)
        other = self._best_other(self.position, answers)
        strongest, heavy = self._strongest(answers), self._heavy(answers)
        judged = [pair for pair in heavy if self._is_judged(pair[0], answers)]
        taken = [pair for pair in judged if self._is_accepted(*pair, answers)]
        ranked = self._ranked(taken)
        hinges = tuple(
            self._hinge(rank, change, strength, answers, start) for rank, change, strength in ranked
        )
        failed = {question.position for question in unanswered}
        silent = [one for one in self.changes if {one.position, one.position.play(self.move)} & failed]
        settled = [pair[0] for pair in strongest if pair not in heavy or pair in judged]
        sentence = self._summary(hinges, start, value)
        return HingeReport(
            edition=edition,
            fen=start.fen,
            move=Line(start, (self.move,)).san(),
            side=start.turn.value,
            voice=self.voice,
            nodes=self.nodes,
            value=value,
            line=self._line(start, answers),
            best_other=None if other is None else start.san(other[0]),
            best_other_value=None if other is None else other[1],
            noise=self._noise,
            changes=len(self.changes) + self._found[1],
            lost=self._found[1],
            shifted=len(judged) - len(taken),
            weak=len(strongest) - len(heavy),
            unanswered=len(silent),
            open=sum(one not in settled and one not in silent for one in self.changes),
            hinges=hinges,
            sentence=sentence,
        )

    @property
    def _noise(self) -> float:
        """1.96 σ of the difference of two verdicts at this effort."""
        return INTERVAL * 2**0.5 * noise_of(self.nodes)

    def _positions(self) -> list[Position]:
        return [self.position, *(change.position for change in self.changes)]

    def _value(self, position: Position, answers: Answers) -> float | None:
        """The move's value in a position, as expected score of the side that plays it."""
        after = position.play(self.move)
        if after.outcome is not None:
            white = {"1-0": 100.0, "0-1": 0.0}.get(after.outcome, 50.0)
        else:
            verdict = answers.get(_after(position, self.move))
            if verdict is None:
                return None
            white = expected_of(verdict)
        return white if position.turn is Side.WHITE else 100.0 - white

    def _best_other(self, position: Position, answers: Answers) -> tuple[Move, float] | None:
        """The best move beside the one studied, and its value; `None` where there is none or nobody has said."""
        verdict = answers.get(_before(position))
        if verdict is None:
            return None
        for line in verdict.lines:
            if line.moves[0] != self.move.uci:
                white = expected_of(verdict, line.score)
                return Move(line.moves[0]), white if position.turn is Side.WHITE else 100.0 - white
        return None

    def _strongest(self, answers: Answers) -> list[tuple[Change, float]]:
        """The changes with a value, by strength; of equal ones those that the graph knows, then the smaller."""
        here = self._value(self.position, answers)
        if here is None:
            return []
        found = [
            (change, here - there)
            for change in self.changes
            if (there := self._value(change.position, answers)) is not None
        ]
        return sorted(found, key=lambda pair: (-round(abs(pair[1]), 6), *_tie(pair[0])))

    def _heavy(self, answers: Answers) -> list[tuple[Change, float]]:
        """Those that noise does not explain."""
        return [pair for pair in self._strongest(answers) if abs(pair[1]) >= self._noise]

    def _shift(self, change: Change, answers: Answers) -> float | None:
        """By how much the best other move changes its value; `None` where one of the two positions has none."""
        here = self._best_other(self.position, answers)
        there = self._best_other(change.position, answers)
        return None if here is None or there is None else there[1] - here[1]

    def _is_judged(self, change: Change, answers: Answers) -> bool:
        return not _has_other(change.position) or _before(change.position) in answers

    def _is_accepted(self, change: Change, strength: float, answers: Answers) -> bool:
        shift = self._shift(change, answers)
        return shift is None or abs(shift) <= max(LARGEST_SHIFT * abs(strength), self._noise)

    def _ranked(self, taken: list[tuple[Change, float]]) -> list[tuple[int, Change, float]]:
        """The first ranks, each of what noise does not tell apart from its strongest; within a rank by what ties go by."""
        groups: list[list[tuple[Change, float]]] = []
        first = 0.0
        for change, strength in taken:
            if not groups or first - abs(strength) > self._noise:
                if len(groups) == _RANKS:
                    break
                first = abs(strength)
                groups.append([])
            groups[-1].append((change, strength))
        return [
            (number, change, strength)
            for number, group in enumerate(groups, 1)
            for change, strength in sorted(group, key=lambda pair: _tie(pair[0]))
        ]

    def _hinge(self, rank: int, change: Change, strength: float, answers: Answers, start: Position) -> Hinge:
        there = self._value(change.position, answers)
        assert there is not None
        here, beyond = self._line(start, answers), self._line(change.position, answers, start)
        return Hinge(
            rank=rank,
            unit=change.unit,
            source=change.source,
            target=change.target,
            kind=change.kind.value,
            placement=f"{PIECE_NAMES[change.unit.upper()]} on {change.source}",
            fen=change.position.fen,
            strength=strength,
            value=there,
            here=here,
            there=beyond,
            other_shift=self._shift(change, answers),
            sentence=self._sentence(change, strength, there, beyond),
        )

    def _line(self, position: Position, answers: Answers, numbered: Position | None = None) -> str:
        """The move in a position and how the voice goes on, a few plies."""
        verdict = answers.get(_after(position, self.move))
        moves = [self.move]
        at = position.play(self.move)
        for uci in verdict.lines[0].moves[:_PLIES] if verdict is not None else ():
            try:
                at = at.play(Move(uci))
            except MoveError:
                break
            moves.append(Move(uci))
        start = position if numbered is None else _numbered(position, numbered)
        return Line(start, tuple(moves)).san()

    def _sentence(self, change: Change, strength: float, there: float, line: str) -> str:
        name = f"{'White' if change.unit.isupper() else 'Black'}'s {PIECE_NAMES[change.unit.upper()]}"
        worth = "only" if strength > 0 else "even"
        return f"With {name} on {change.target} instead of {change.source} it is {worth} worth {there:.1f}: {line}"

    def _summary(self, hinges: tuple[Hinge, ...], start: Position, value: float | None) -> str:
        move = Line(start, (self.move,)).san()
        if value is None:
            return f"{move} has not been judged."
        if not hinges:
            return f"{move} is worth {value:.1f} and hinges on no single placement that was tried."
        first = [hinge for hinge in hinges if hinge.rank == 1]
        told = ", ".join(dict.fromkeys(hinge.placement for hinge in first))
        return f"{move} is worth {value:.1f}; it hinges on the {told}."


_PLIES: Final = 8
"""So many plies after the move are told."""

_KINDS: Final[tuple[Kind, ...]] = tuple(Kind)


def _tie(change: Change) -> tuple[bool, int, int, str, str]:
    return (
        change.kind is not Kind.NEAR,
        change.size,
        _KINDS.index(change.kind),
        change.source,
        change.target,
    )


def _after(position: Position, move: Move) -> Question:
    return Question(position.play(move), 1)


def _has_other(position: Position) -> bool:
    return len(position.legal_moves()) > 1


def _before(position: Position) -> Question:
    return Question(position, 2)


def _numbered(position: Position, like: Position) -> Position:
    """A position with the move counters of another."""
    fields = position.fen.split()[:4] + like.fen.split()[4:]
    return Position.from_fen(" ".join(fields), chess960=position.chess960)
