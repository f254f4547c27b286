"""Verdicts as estimates: what a position or a move is worth to a side by each voice, and what would make that surer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

import msgspec

from variorum.board import Line, Move, Position, Score, Side, Verdict
from variorum.claims.decide import Estimate, decide
from variorum.claims.ground import Ground
from variorum.claims.standing import Figure, Standing
from variorum.voices.noise import noise_of
from variorum.voices.scale import expected_of

__all__ = [
    "RESULTS",
    "SURE",
    "Weighed",
    "after",
    "decision",
    "deeper_steps",
    "figures_of",
    "line_text",
    "move_values",
    "principal",
    "wanted_nodes",
    "weigh",
]

SURE = 0.0
"""σ of a finished game or a mate: no estimate."""
RESULTS = {"1-0": 100.0, "0-1": 0.0, "1/2-1/2": 50.0}
_STEP, _DEEPEST = 4, 2
"""A verdict is deepened fourfold, twice at most: to the 16 times by which noise is defined (methods.md 15)."""


class Weighed(msgspec.Struct, frozen=True):
    """An estimate and the verdicts that it rests on (none for a finished game)."""

    estimate: Estimate
    verdicts: tuple[Verdict, ...] = ()

    def over(self, lesser: Weighed) -> Weighed:
        """By how much it is more."""
        sigma = (self.estimate.sigma**2 + lesser.estimate.sigma**2) ** 0.5
        difference = Estimate(self.estimate.value - lesser.estimate.value, sigma)
        return Weighed(difference, self.verdicts + lesser.verdicts)


def weigh(verdict: Verdict, score: Score, side: Side) -> Weighed:
    """A score of a verdict as expected score of a side."""
    expected = expected_of(verdict, score)
    sigma = SURE if score.mate is not None else noise_of(verdict.nodes, expected)
    return Weighed(Estimate(expected if side is Side.WHITE else 100.0 - expected, sigma), (verdict,))


def decision(weighed: Iterable[Weighed], low: float, high: float) -> Standing:
    """How a claim stands that a figure lies in a band."""
    return decide([one.estimate for one in weighed], low, high)


def figures_of(weighed: Mapping[str, Weighed]) -> tuple[Figure, ...]:
    """What is printed of each voice."""
    return tuple(
        Figure(
            voice=voice,
            value=one.estimate.value,
            noise=one.estimate.half_width,
            nodes=min((verdict.nodes for verdict in one.verdicts), default=0),
            date=min((verdict.date for verdict in one.verdicts), default=""),
        )
        for voice, one in weighed.items()
    )


def move_values(position: Position, move: Move, before: Verdict, ground: Ground) -> dict[str, Weighed]:
    """What moves are worth to the mover, by UCI: those of a voice's lines, and one more.

    A move is worth what the verdict after it says, unless the verdict before it scores it at greater effort
    (methods.md 3); a finished game is worth its result.
    """
    mover = position.turn
    scored = {line.moves[0]: weigh(before, line.score, mover) for line in before.lines}
    values: dict[str, Weighed] = {}
    for uci in dict.fromkeys((*scored, move.uci)):
        following = position.play(Move(uci))
        after = ground.deep(following).get(before.voice)
        if following.outcome is not None:
            value = RESULTS[following.outcome]
            values[uci] = Weighed(Estimate(value if mover is Side.WHITE else 100.0 - value, SURE))
        elif after is not None and (uci not in scored or after.effort >= before.effort):
            values[uci] = weigh(after, after.lines[0].score, mover)
        elif uci in scored:
            values[uci] = scored[uci]
    return values


def wanted_nodes(
    weighed: Mapping[str, Weighed], ground: Ground, stands: Callable[[Iterable[Weighed]], Standing]
) -> int | None:
    """The fewest nodes of verdicts that would decide a claim if their scores stayed as they are, `None` where no effort would.

    Each step is four times what the shallowest of them was allowed; no deeper than a build asks.
    """
    for nodes in deeper_steps(weighed, ground):
        deeper = [
            Weighed(
                Estimate(
                    one.estimate.value,
                    sum(
                        (
                            SURE
                            if verdict.lines[0].score.mate is not None
                            else noise_of(max(nodes, verdict.nodes), expected_of(verdict))
                        )
                        ** 2
                        for verdict in one.verdicts
                    )
                    ** 0.5,
                )
            )
            for one in weighed.values()
        ]
        if stands(deeper) is not Standing.UNDECIDED:
            return nodes
    return None


def deeper_steps(weighed: Mapping[str, Weighed], ground: Ground) -> Iterator[int]:
    """The nodes that verdicts can still be deepened to, from the next step on to the deepest that a build asks."""
    first = ground.settings.budget.nodes_per_verdict
    verdicts = [verdict for one in weighed.values() for verdict in one.verdicts]
    nodes = max(first, _STEP * min((verdict.allowed for verdict in verdicts), default=0))
    while nodes <= first * _STEP**_DEEPEST:
        yield nodes
        nodes *= _STEP


def after(position: Position, uci: str, ground: Ground) -> str:
    """A move and the best play after it, as the deepest voice sees it."""
    following = ground.deep(position.play(Move(uci)))
    if following:
        deepest = max(following.values(), key=lambda one: one.effort)
        return line_text(position, (uci, *deepest.lines[0].moves))
    lines = [line for one in ground.deep(position).values() for line in one.lines]
    return line_text(position, next((line.moves for line in lines if line.moves[0] == uci), (uci,)))


def principal(position: Position, asked: Mapping[str, Verdict]) -> str:
    """The best line of the deepest voice."""
    if not asked:
        return ""
    deepest = max(asked.values(), key=lambda one: one.effort)
    return line_text(position, deepest.lines[0].moves)


def line_text(position: Position, moves: Iterable[str]) -> str:
    """Moves from a position as SAN."""
    return Line(position, tuple(map(Move, moves))).san()
