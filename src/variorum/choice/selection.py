"""The few nodes, of many, that meet most of the traffic (methods.md 12).

How much a set of nodes meets is submodular: what one adds shrinks with what is there already. So taking the best one
again and again has a bound that costs nothing (G. L. Nemhauser, L. A. Wolsey, M. L. Fisher, "An analysis of approximations for maximizing
submodular set functions I", Mathematical Programming 14, 1978), and where size allows a mixed-integer program finds the best.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum.choice.reach import reach_of, unmet
from variorum.graph import Traffic

__all__ = ["Selection", "greatest_reach"]

MOST_EDGES = 60_000
"""Edges of the graph up to which the program is solved; common practice, no source."""
_SECONDS = 10.0
_TINY = 1e-9


class Selection(msgspec.Struct, frozen=True, kw_only=True):
    """The nodes that were chosen, by what each adds to those before it; `reach` of all, and the most that any could have.

    Those that must be in come first.
    """

    nodes: tuple[int, ...]
    adds: tuple[float, ...]
    reach: float
    bound: float

    @property
    def gap(self) -> float:
        """By how much the best choice could be better, as a share of the traffic."""
        return max(0.0, self.bound - self.reach)


def greatest_reach(
    traffic: Traffic, candidates: Iterable[int], count: int, always: Sequence[int] = ()
) -> Selection:
    """Choose at most `count` of the candidates so that they meet as much of the traffic as can be.

    Args:
        traffic: The traffic of a graph.
        candidates: Nodes.
        count: How many, those of `always` included; where these alone are more, they are all that is chosen.
        always: Nodes that are in.
    """
    must = list(dict.fromkeys(always))
    open_ = [
        node for node in dict.fromkeys(candidates) if node not in set(must) and traffic.nodes[node] > _TINY
    ]
    room = max(0, count - len(must))
    greedy, bound = _greedily(traffic, open_, room, must)
    chosen, best = greedy, reach_of(traffic, [*must, *greedy])
    if len(greedy) > 1 and bound - best > _TINY and traffic.graph.edges <= MOST_EDGES:
        exact, limit = _exactly(traffic, open_, room, must)
        bound = min(bound, limit)
        if exact is not None and (found := reach_of(traffic, [*must, *exact])) > best:
            chosen, best = exact, found
    ordered, adds = _in_order(traffic, must, chosen)
    return Selection(nodes=tuple(ordered), adds=tuple(adds), reach=best, bound=max(bound, best))


def _greedily(
    traffic: Traffic, candidates: Sequence[int], room: int, must: Sequence[int]
) -> tuple[list[int], float]:
    """The best one again and again, and a bound on every choice: at each step, what is met plus the greatest gains that fit in."""
    chosen: list[int] = []
    bound = 1.0
    # What a node would add never grows, so an old figure is a bound, and most need not be looked at again.
    gains = {node: float(traffic.nodes[node]) for node in candidates}
    flow = unmet(traffic, np.array(must, np.int64))
    here = float(flow[list(must)].sum()) if must else 0.0
    for _ in range(room + 1):
        for node in gains:
            gains[node] = min(gains[node], float(flow[node]))
        best = sorted(gains.values(), reverse=True)[:room]
        bound = min(bound, here + sum(best))
        if len(chosen) == room:
            break
        found = _best(traffic, gains, [*must, *chosen], here)
        if found is None:
            break
        chosen.append(found)
        del gains[found]
        flow = unmet(traffic, np.array([*must, *chosen], np.int64))
        here = float(flow[[*must, *chosen]].sum())
    return chosen, bound


def _best(traffic: Traffic, gains: dict[int, float], there: Sequence[int], here: float) -> int | None:
    """The node that adds most. A node above one that is there takes from it what it meets, so its flow is only a bound."""
    known: dict[int, float] = {}
    while gains:
        node = max(gains, key=lambda one: (gains[one], -one))
        if gains[node] <= _TINY:
            return None
        if node in known:
            return node
        known[node] = gains[node] = min(gains[node], reach_of(traffic, [*there, node]) - here)
    return None


def _exactly(
    traffic: Traffic, candidates: Sequence[int], room: int, must: Sequence[int]
) -> tuple[list[int] | None, float]:
    """The best choice by a mixed-integer program, `None` where none was found in time; and a bound.

    Variables: what goes on from each node unmet, what is met at each candidate, and whether that is chosen. What comes in
    goes on or is met; met is only what is chosen.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    graph = traffic.graph
    inside = np.flatnonzero(traffic.nodes > _TINY)
    row = np.full(graph.nodes, -1, np.int64)
    row[inside] = np.arange(len(inside))
    places = np.array([*must, *candidates], np.int64)
    nodes, count = len(inside), len(places)
    carries = (traffic.shares > 0) & ~traffic.returns & (row[graph.sources] >= 0) & (row[graph.targets] >= 0)
    met = nodes + np.arange(count)
    # on[v] + met[v] − Σ share · on[u] = what starts at v
    balance = coo_array(
        (
            np.concatenate([np.ones(nodes), np.ones(count), -traffic.shares[carries]]),
            (
                np.concatenate([np.arange(nodes), row[places], row[graph.targets[carries]]]),
                np.concatenate([np.arange(nodes), met, row[graph.sources[carries]]]),
            ),
        ),
        shape=(nodes, nodes + 2 * count),
    ).tocsr()
    # met[c] − flow[c] · chosen[c] ≤ 0
    only_chosen = coo_array(
        (
            np.concatenate([np.ones(count), -traffic.nodes[places]]),
            (np.tile(np.arange(count), 2), np.concatenate([met, met + count])),
        ),
        shape=(count, nodes + 2 * count),
    ).tocsr()
    few = coo_array(
        (np.ones(count), (np.zeros(count, np.int64), met + count)), shape=(1, nodes + 2 * count)
    ).tocsr()
    starts = traffic.starts[inside]
    least = np.zeros(nodes + 2 * count)
    least[nodes + count : nodes + count + len(must)] = 1.0
    found = milp(
        np.concatenate([np.zeros(nodes), -np.ones(count), np.zeros(count)]),
        integrality=np.concatenate([np.zeros(nodes + count), np.ones(count)]),
        bounds=Bounds(least, np.ones(nodes + 2 * count)),
        constraints=[
            LinearConstraint(balance, starts, starts),
            LinearConstraint(only_chosen, -np.inf, 0.0),
            LinearConstraint(few, 0.0, float(room + len(must))),
        ],
        options={"time_limit": _SECONDS, "mip_rel_gap": 1e-6},
    )
    limit = 1.0 if found.mip_dual_bound is None else float(-found.mip_dual_bound)
    if found.x is None:
        return None, limit
    picked: NDArray[np.bool_] = found.x[nodes + count :] > 0.5
    return [int(node) for node in places[picked] if node not in set(must)], limit


def _in_order(traffic: Traffic, must: Sequence[int], chosen: Sequence[int]) -> tuple[list[int], list[float]]:
    """Those that must be in, then the others by what each adds."""
    ordered = list(must)
    left = list(chosen)
    adds = []
    here = 0.0
    for number in range(1, len(must) + 1):
        now = reach_of(traffic, must[:number])
        adds.append(now - here)
        here = now
    while left:
        gains = {node: reach_of(traffic, [*ordered, node]) - here for node in left}
        node = max(gains, key=lambda one: (gains[one], -one))
        ordered.append(node)
        left.remove(node)
        adds.append(gains[node])
        here += gains[node]
    return ordered, adds
