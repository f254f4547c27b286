"""Reach: the share of what a reader will meet that a text answers (methods.md 12)."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from variorum.graph import Traffic

__all__ = ["beginnings", "reach_of", "unmet"]


def reach_of(traffic: Traffic, nodes: Iterable[int]) -> float:
    """The share of the traffic, 0 to 1, that passes one of these nodes at least."""
    chosen = np.unique(np.fromiter(nodes, np.int64))
    return float(unmet(traffic, chosen)[chosen].sum()) if len(chosen) else 0.0


def unmet(traffic: Traffic, nodes: NDArray[np.int64]) -> NDArray[np.float64]:
    """What passes each node before it has met one of `nodes`, (graph.nodes,); at these themselves, what meets them first."""
    shares = traffic.shares.copy()
    if len(nodes):
        ends = np.zeros(traffic.graph.nodes, np.bool_)
        ends[nodes] = True
        shares[ends[traffic.graph.sources]] = 0.0
    return traffic.course.flow(traffic.starts, shares)[0]


def beginnings(traffic: Traffic) -> NDArray[np.bool_]:
    """Nodes that answer nothing: where all traffic starts, and what lies before it."""
    starts: NDArray[np.bool_] = traffic.starts > 0
    return starts | (traffic.nodes <= 0)
