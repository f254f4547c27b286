"""Backing up one million nodes: budget one second; beside it plain iteration over the same columns, in the same run."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from variorum import _core

NODES = 1_000_000
DEPTH = 40


class Columns:
    """A graph of `NODES` nodes in `DEPTH` plies: two moves on from each, some back by one (cycles).

    There are verdicts on the last ply and on six in ten of the other nodes, each of one move off the graph.
    """

    def __init__(self) -> None:
        chance = np.random.default_rng(7)
        width = NODES // DEPTH
        ply = np.arange(NODES) // width
        ahead = (ply + 1)[:, None] * width + chance.integers(0, width, (NODES, 2))
        back = (ply - 1)[:, None] * width + chance.integers(0, width, (NODES, 1))
        goes_back = (ply[:, None] > 1) & (chance.random((NODES, 1)) < 0.02)
        targets = np.concatenate([ahead, np.where(goes_back, back, -1)], axis=1)
        targets[ply == DEPTH - 1] = -1
        targets[:, 1][targets[:, 0] == targets[:, 1]] = -1
        known = targets >= 0
        self.offsets = np.concatenate([[0], np.cumsum(known.sum(axis=1))]).astype(np.uint32)
        self.targets = targets[known].astype(np.uint32)
        self.moves = np.broadcast_to(np.array([1, 2, 3], np.uint16), targets.shape)[known]
        self.white = ply % 2 == 0
        self.legal = np.full(NODES, 30, np.uint16)
        self.outcome = np.zeros(NODES, np.uint8)
        self.judged = np.flatnonzero((ply == DEPTH - 1) | (chance.random(NODES) < 0.6))
        self.scores = np.round(chance.normal(55, 10, len(self.judged)).clip(0, 100), 1)

    def voice(self) -> Any:
        count = len(self.judged)
        return (
            self.judged.astype(np.uint32),
            np.full(count, 1000, np.uint64),
            np.arange(count + 1, dtype=np.uint32),
            np.full(count, 9, np.uint16),
            self.scores,
        )

    def plain_iteration(self) -> NDArray[np.float64]:
        """What White forces above level, by sweeps over all edges until nothing changes: NaN where there is no value."""
        own = np.full(NODES, np.nan)
        own[self.judged] = self.scores
        has_value = ~np.isnan(own)
        has_edge = self.offsets[1:] > self.offsets[:-1]
        starts = self.offsets[:-1][has_edge].astype(np.int64)
        worth = np.where(has_value, 50.0, np.nan)
        while True:
            child = worth[self.targets]
            best = np.full(NODES, -np.inf)
            worst = np.full(NODES, np.inf)
            best[has_edge] = np.maximum.reduceat(np.where(np.isnan(child), -np.inf, child), starts)
            worst[has_edge] = np.minimum.reduceat(np.where(np.isnan(child), np.inf, child), starts)
            chosen = np.where(self.white, np.fmax(best, own), np.fmin(worst, own))
            after = np.where(has_value, np.maximum(chosen, 50.0), np.nan)
            if np.array_equal(after, worth, equal_nan=True):
                return worth
            worth = after


@pytest.mark.benchmark(group="graph")
def test_a_million_nodes_are_backed_up(benchmark: Any) -> None:
    columns = Columns()
    core = _core.GraphCore(columns.offsets, columns.targets)
    voices = [columns.voice()]

    def back_up() -> Any:
        return core.values(columns.moves, columns.legal, columns.white, columns.outcome, voices)[0]

    scores, _, _, _, certainty, _ = benchmark.pedantic(back_up, rounds=3, warmup_rounds=1)
    began = time.perf_counter()
    plain = columns.plain_iteration()
    seconds = time.perf_counter() - began
    valued = certainty == 2
    above = valued & (scores > 50)
    assert valued.sum() == len(columns.judged)
    assert np.array_equal(scores[above], plain[above])
    assert (plain[valued & ~above] == 50).all()
    if benchmark.stats is not None:
        benchmark.extra_info["nodes"] = NODES
        benchmark.extra_info["edges"] = len(columns.targets)
        benchmark.extra_info["ratio to plain iteration"] = round(seconds / benchmark.stats.stats.min, 1)
