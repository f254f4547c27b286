"""Near-transpositions and reversed twins of a graph (methods.md 6). The search is the core's."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.base import Progress, Silent
from variorum.graph import Basis, Certainty, Graph, Traffic, VoiceValues
from variorum.voices.noise import noise_of

__all__ = ["Near", "NearGroup", "NearPair", "find_near"]

_DEPTHS = 256
"""An effort is nodes times this, plus depth: as `VoiceValues` keeps it."""


class NearPair(msgspec.Struct, frozen=True):
    """Two nodes, and how interesting the pair is. In a twin the second is taken with colours reversed."""

    here: int
    there: int
    interest: float


class NearGroup(msgspec.Struct, frozen=True):
    """Pairs that differ in the same units on the same squares, the most interesting three of them."""

    twin: bool
    units: int
    count: int
    pairs: tuple[NearPair, ...]


class Near(msgspec.Struct, frozen=True):
    """The most interesting groups, and how many near pairs, twins and groups there are in all."""

    groups: tuple[NearGroup, ...]
    near: int
    twins: int
    all_groups: int


def find_near(
    graph: Graph,
    traffic: Traffic,
    values: Mapping[str, VoiceValues],
    *,
    node: int | None = None,
    limit: int,
    progress: Progress | None = None,
) -> Near:
    """The pairs of a graph that count, or those of one node, the most interesting first.

    Args:
        graph: The graph.
        traffic: Its traffic.
        values: What the voices think; the voice that knows most positions says whether two differ.
        node: Only pairs of this node, each in a group of its own.
        limit: At most so many groups.
        progress: Where to report.

    Raises:
        Interrupted: The user stopped.
    """
    scores, noise = _values(graph, values)
    done = 0
    with (progress or Silent()).task("near positions", total=100, unit="percent") as task:

        def tell(part: int, parts: int) -> bool:
            nonlocal done
            task.advance(100 * part // parts - done)
            done = 100 * part // parts
            return True

        groups, near, twins, all_groups = _core.near_pairs(
            graph.core,
            graph.packed.reshape(-1),
            scores,
            noise,
            traffic.nodes,
            np.unique(graph.roots),
            node=node,
            limit=limit,
            callback=tell,
        )
    return Near(
        tuple(
            NearGroup(twin, units, count, tuple(NearPair(*pair) for pair in pairs))
            for twin, units, count, pairs in groups
        ),
        near,
        twins,
        all_groups,
    )


def _values(
    graph: Graph, values: Mapping[str, VoiceValues]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """E for White and its sigma by node, by the voice that knows most; NaN where it has no value of its own."""
    if not values:
        return np.full(graph.nodes, np.nan), np.zeros(graph.nodes)
    voice = max(values.values(), key=lambda one: (int((one.certainty == Certainty.VALUE).sum()), one.voice))
    judged = (voice.certainty == Certainty.VALUE) & (voice.basis == Basis.VERDICT)
    sigmas = np.zeros(graph.nodes)
    sigmas[judged] = [
        noise_of(nodes, expected)
        for nodes, expected in zip(
            (voice.efforts[judged] // np.uint64(_DEPTHS)).tolist(), voice.scores[judged].tolist(), strict=True
        )
    ]
    return np.where(judged, voice.scores, np.nan), sigmas
