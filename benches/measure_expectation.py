"""Fits what the resident's centipawns are worth: the slope of the expected score, and the share of draws.

Definitions: methods.md 2. The resident's verdicts on every fourth of the first 80 plies of its own games are set against how the
games ended. Prints the fit with its log-likelihood, the same on games that it has not seen, and the calibration table;
docs/reference/expected-score.md shows both. The games are those of a collection that tells White's score behind each move, or they are
played now, from starts drawn by chance.

    python benches/measure_expectation.py demo/edition/sources/resident-games.pgn       (made by demo/make_games.py; seconds)
    python benches/measure_expectation.py GAMES NODES SEED [THREADS]                    (60 at 20,000 nodes: some minutes)
"""

from __future__ import annotations

import math
import random
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from variorum.base import Silent
from variorum.board import Line, Position, Request, Score
from variorum.board.score import expected_score, shares
from variorum.edition import ScorePattern, read_manuscript
from variorum.edition.settings import SourceRule
from variorum.voices.resident import RESIDENT, Resident
from variorum.voices.selfplay import Adjudication, Seat, Variety, play_games

RANDOM_PLIES = 8
"""A game begins after so many moves drawn by chance, unless one side is then ahead by more than `DECIDED` centipawns."""
DECIDED = 250
PLIES, EVERY = 80, 4
"""Which verdicts of a game count. Mates do not: they need no curve."""
POINTS = {"1-0": 1.0, "1/2-1/2": 0.5, "0-1": 0.0}
EDGES = (-400, -250, -150, -90, -50, -20, 20, 50, 90, 150, 250, 400)
"""Centipawns at which a bin of the tables ends and the next begins."""

RATINGS_SLOPE = 400.0
"""What the fit is set against: the scale of ratings, 400 points for odds of ten to one, read in centipawns (common practice, no source)."""

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


Game = tuple[str, list[Score]]
"""The result, and White's score of each ply that has one."""


def played(count: int, nodes: int, seed: int, threads: int = 1) -> list[Game]:
    """New games; one is ended early only where both sides have long agreed that nothing can happen any more."""
    draw = random.Random(seed)
    seat = Seat(nodes)
    games = play_games(
        starts(count, draw),
        [(number, seat, seat, draw.getrandbits(32)) for number in range(count)],
        progress=Silent(),
        variety=Variety(0, 0, 0),
        win=Adjudication(1500, 10, 40),
        draw=Adjudication(8, 40, 120),
        threads=threads,
    )
    return [(game.result, list(game.scores)) for game in games]


def read(collection: Path) -> list[Game]:
    """The games of a file."""
    pattern = ScorePattern.compile(SourceRule(path=collection.name, kind="engine").score_comment)
    return [
        (
            game.tags.get("Result", "*"),
            [
                note.score
                for node in game.main_line
                for one in node.comments
                if (note := pattern.read(one.text))
            ],
        )
        for game in read_manuscript(collection).games
    ]


def verdicts(games: list[Game]) -> Iterator[tuple[int, int, float]]:
    """Number of the game, centipawns and points, both White's."""
    for number, (result, scores) in enumerate(games):
        if result in POINTS:
            for score in scores[:PLIES:EVERY]:
                if score.cp is not None:
                    yield number, score.cp, POINTS[result]


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
    given = sys.argv[1:]
    found = played(*map(int, given)) if given[0].isdigit() else read(Path(given[0]))
    rows = np.array(list(verdicts(found)))
    games, cp, points = rows[:, 0].astype(np.int64), rows[:, 1], rows[:, 2]
    results = [result for result, _ in found]
    print(
        f"{len(found)} games ({results.count('1-0')} won by White, {results.count('1/2-1/2')} drawn, "
        f"{results.count('0-1')} lost, {results.count('*')} without result), {len(rows):,} verdicts."
    )
    slope = fitted_slope(cp, points)
    draws = fitted_draws(curve(slope)(cp), points)
    print(
        f"Slope {slope:.0f}, standard error {slope_error(games, cp, points, slope):.0f}; "
        f"draws between equals {100 * draws:.0f} %."
    )
    print(
        f"Mean log-likelihood of the points: fitted {likelihood(curve(slope)(cp), points):.4f}, "
        f"slope {RATINGS_SLOPE:.0f} {likelihood(curve(RATINGS_SLOPE)(cp), points):.4f}, "
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
            f"slope {RATINGS_SLOPE:.0f} {likelihood(curve(RATINGS_SLOPE)(cp[other]), points[other]):.4f}, "
            f"constant {likelihood(np.full(other.sum(), points[seen].mean()), points[other]):.4f}; won, drawn, lost "
            f"{shares_likelihood(curve(half)(cp[other]), half_draws, points[other]):.4f}, "
            f"constant {float(np.mean(np.log(shares_seen[_column(points[other])]))):.4f}."
        )
    print("\n".join(calibration(games, cp, points, slope, draws)))


if __name__ == "__main__":
    main()
