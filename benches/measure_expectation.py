"""Fits what the resident's centipawns are worth: the slope of the expected score, and the share of draws.

Definitions: methods.md 2. The resident plays itself from starts drawn with a seed; its verdicts on the first 80 plies of each
game are set against how the game ended. Prints the fit with its log-likelihood, the same on games that it has not seen, and the
calibration tables of docs/reference/expected-score.md.

    python benches/measure_expectation.py [GAMES [NODES [SEED [THREADS]]]]        (default 400 20000 1 1; half an hour)
"""

from __future__ import annotations

import math
import random
import sys
from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from variorum.base import Silent
from variorum.board import Line, Position, Request
from variorum.board.score import DEFAULT_SLOPE, expected_score, shares
from variorum.voices.resident import RESIDENT, Resident
from variorum.voices.selfplay import Adjudication, PlayedGame, Seat, Variety, play_games

RANDOM_PLIES = 8
"""A game begins after so many moves drawn by chance, unless one side is then ahead by more than `DECIDED` centipawns."""
DECIDED = 250
PLIES, EVERY = 80, 4
"""Of each game the verdicts on every fourth of its first 80 plies count; mates do not, they need no curve."""
EDGES = (-400, -250, -150, -90, -50, -20, 20, 50, 90, 150, 250, 400)
"""Centipawns at which a bin of the tables ends and the next begins."""

Column = NDArray[np.float64]
Curve = Callable[[Column], Column]


def starts(count: int, draw: random.Random) -> list[Line]:
    """Positions to play from, the same each time."""
    voice, found = Resident(), []
    while len(found) < count:
        position = Position.start()
        for _ in range(RANDOM_PLIES):
            if legal := position.legal_moves():
                position = position.play(draw.choice(legal))
        if position.legal_moves():
            score = voice.ask(Request(position=position, voice=RESIDENT, nodes=1000)).lines[0].score
            if score.cp is not None and abs(score.cp) <= DECIDED:
                found.append(Line(position))
    voice.close()
    return found


def played(count: int, nodes: int, seed: int, threads: int) -> list[PlayedGame]:
    """The games; one is ended early only where both sides have long agreed that nothing can happen any more."""
    draw = random.Random(seed)
    seat = Seat(nodes)
    return play_games(
        starts(count, draw),
        [(number, seat, seat, draw.getrandbits(32)) for number in range(count)],
        progress=Silent(),
        variety=Variety(0, 0, 0),
        win=Adjudication(1500, 10, 40),
        draw=Adjudication(8, 40, 120),
        threads=threads,
    )


def verdicts(games: list[PlayedGame]) -> Iterator[tuple[int, int, float]]:
    """Number of the game, centipawns and points, both White's."""
    points = {"1-0": 1.0, "1/2-1/2": 0.5, "0-1": 0.0}
    for game in games:
        if game.result in points:
            for score in game.scores[:PLIES:EVERY]:
                if score.cp is not None:
                    yield game.plan, score.cp, points[game.result]


def curve(slope: float) -> Curve:
    """E, 0 to 1, by centipawns."""
    return np.vectorize(lambda cp: expected_score(cp, slope) / 100.0)


def likelihood(expected: Column, points: Column) -> float:
    """Mean log-likelihood of results; a draw counts as half a win and half a loss."""
    return float(np.mean(points * np.log(expected) + (1 - points) * np.log(1 - expected)))


def shares_likelihood(expected: Column, draws: float, points: Column) -> float:
    """Mean log-likelihood of wins, draws and losses."""
    return float(np.mean(np.log(of_results(expected, draws)[np.arange(len(points)), _column(points)])))


def of_results(expected: Column, draws: float) -> Column:
    """Shares of wins, draws and losses, a row for each E."""
    return np.array([shares(100.0 * one, draws) for one in expected])


def _column(points: Column) -> NDArray[np.int64]:
    return np.rint(2 - 2 * points).astype(np.int64)


def fitted_slope(cp: Column, points: Column) -> float:
    """The slope of greatest likelihood."""
    found = minimize_scalar(
        lambda slope: -likelihood(curve(slope)(cp), points), bounds=(100, 1500), method="bounded"
    )
    return float(found.x)


def fitted_draws(expected: Column, points: Column) -> float:
    """The share of draws between equals of greatest likelihood."""
    found = minimize_scalar(
        lambda draws: -shares_likelihood(expected, draws, points), bounds=(0.01, 0.99), method="bounded"
    )
    return float(found.x)


def slope_error(games: NDArray[np.int64], cp: Column, points: Column, slope: float) -> float:
    """Standard error of the slope. Verdicts of one game hang together: their scores are added up first (a sandwich by clusters)."""
    steepness = math.log(10) / slope
    expected = curve(slope)(cp)
    pulls = np.bincount(games, weights=(points - expected) * cp)
    information = float(np.sum(expected * (1 - expected) * cp**2))
    return math.sqrt(float(np.sum(pulls**2))) / information * slope / steepness


def mean_error(games: NDArray[np.int64], values: Column) -> float:
    """Standard error of a mean, by games."""
    return math.sqrt(float(np.sum(np.bincount(games, weights=values - values.mean()) ** 2))) / len(values)


def calibration(
    games: NDArray[np.int64], cp: Column, points: Column, slope: float, draws: float
) -> Iterator[str]:
    """The table, in Markdown."""
    yield "| Centipawns | Verdicts | Games | Scored | 95 % | E | Won, drawn, lost | Expected |"
    yield "|---|---|---|---|---|---|---|---|"
    bins = np.searchsorted(EDGES, cp, side="right")
    expected = curve(slope)(cp)
    for number, (low, high) in enumerate(zip((None, *EDGES), (*EDGES, None), strict=True)):
        here = bins == number
        if not here.any():
            continue
        name = f"below {high}" if low is None else f"from {low}" if high is None else f"{low} to {high}"
        scored, error = 100 * points[here].mean(), 196 * mean_error(games[here], points[here])
        results = np.bincount(_column(points[here]), minlength=3) / here.sum()
        foretold = of_results(expected[here], draws).mean(axis=0)
        yield (
            f"| {name} | {here.sum():,} | {len(set(games[here].tolist()))} | {scored:.1f} "
            f"| {max(0.0, scored - error):.1f}–{min(100.0, scored + error):.1f} | {100 * expected[here].mean():.1f} "
            f"| {_percents(results)} | {_percents(foretold)} |"
        )


def _percents(parts: Column) -> str:
    return ", ".join(f"{100 * part:.0f}" for part in parts)


def main() -> None:
    given = [int(text) for text in sys.argv[1:]]
    count, nodes, seed, threads = (*given, *(400, 20_000, 1, 1)[len(given) :])
    found = played(count, nodes, seed, threads)
    rows = np.array(list(verdicts(found)))
    games, cp, points = rows[:, 0].astype(np.int64), rows[:, 1], rows[:, 2]
    results = [game.result for game in found]
    print(
        f"Version {Resident.version}, {nodes:,} nodes a move, seed {seed}: {len(found)} games "
        f"({results.count('1-0')} won by White, {results.count('1/2-1/2')} drawn, {results.count('0-1')} lost, "
        f"{results.count('*')} without result), {len(rows):,} verdicts."
    )
    slope = fitted_slope(cp, points)
    draws = fitted_draws(curve(slope)(cp), points)
    print(
        f"Slope {slope:.0f}, standard error {slope_error(games, cp, points, slope):.0f}; "
        f"draws between equals {100 * draws:.0f} %."
    )
    print(
        f"Mean log-likelihood of the points: fitted {likelihood(curve(slope)(cp), points):.4f}, "
        f"slope {DEFAULT_SLOPE:.0f} {likelihood(curve(DEFAULT_SLOPE)(cp), points):.4f}, "
        f"constant {likelihood(np.full(len(cp), points.mean()), points):.4f}."
    )
    for name, seen in (("even", games % 2 == 0), ("odd", games % 2 == 1)):
        other = ~seen
        half = fitted_slope(cp[seen], points[seen])
        half_draws = fitted_draws(curve(half)(cp[seen]), points[seen])
        shares_seen = np.bincount(_column(points[seen]), minlength=3) / seen.sum()
        print(
            f"Fitted on {name} games: slope {half:.0f}, draws {100 * half_draws:.0f} %. On the others: points "
            f"{likelihood(curve(half)(cp[other]), points[other]):.4f}, "
            f"slope {DEFAULT_SLOPE:.0f} {likelihood(curve(DEFAULT_SLOPE)(cp[other]), points[other]):.4f}, "
            f"constant {likelihood(np.full(other.sum(), points[seen].mean()), points[other]):.4f}; won, drawn, lost "
            f"{shares_likelihood(curve(half)(cp[other]), half_draws, points[other]):.4f}, "
            f"constant {float(np.mean(np.log(shares_seen[_column(points[other])]))):.4f}."
        )
    print("\n".join(calibration(games, cp, points, slope, draws)))


if __name__ == "__main__":
    main()
