"""Noise of a verdict: how far a voice at this effort usually is from itself at 16 times the effort (methods.md 2)."""

from __future__ import annotations

import bisect
from typing import Final

__all__ = ["INTERVAL", "MEASURED_NODES", "noise_of", "printed_noise"]

INTERVAL: Final = 1.96
"""Standard deviations on each side of a 95 % interval."""


_TABLE: Final[dict[int, float]] = {1_024: 13.42, 4_096: 9.19, 16_384: 6.82, 65_536: 6.88, 262_144: 4.24}
"""σ in points of E by effort class (nodes in powers of 4), measured on the resident, version 4.

`benches/measure_noise.py` over positions of the resident's own games, how many is told in docs/reference/expected-score.md. For another voice,
and for later versions of the resident, it is a default until their own is measured: common practice, no source.
"""

_SHAPE: Final[dict[float, float]] = {0.0: 0.90, 20.0: 1.33, 40.0: 0.67}
"""By what σ is multiplied from so many points of E above or below 50 on, measured together with it, all effort classes as one.

A side that stands better may yet turn out to be winning or to be held; where all is decided a verdict is off by less.
"""

LEANS: Final = tuple(sorted(_SHAPE))
"""Where the steps of `_SHAPE` begin."""

MEASURED_NODES: Final = tuple(sorted(_TABLE))
"""Effort classes that were measured. Outside of them the σ of the nearest is taken."""

_UNTOLD: Final = MEASURED_NODES[len(MEASURED_NODES) // 2]
"""What a voice is taken to have spent that does not say: the middle class; common practice, no source."""


def noise_of(nodes: int, expected: float | None = None) -> float:
    """σ in points of E of a verdict of so many nodes; for 0 (the voice did not say) that of the middle effort measured.

    Args:
        nodes: The verdict's effort.
        expected: E of the verdict, for either side; without it σ over all positions.

    >>> noise_of(300_000), noise_of(0)
    (4.24, 6.82)
    >>> noise_of(300_000, 50.0) > noise_of(300_000, 99.0) == noise_of(300_000, 1.0)
    True
    """
    at = bisect.bisect_right(MEASURED_NODES, nodes or _UNTOLD) - 1
    sigma = _TABLE[MEASURED_NODES[max(at, 0)]]
    if expected is None:
        return sigma
    return sigma * _SHAPE[LEANS[bisect.bisect_right(LEANS, abs(expected - 50.0)) - 1]]


def printed_noise(nodes: int, expected: float) -> float:
    """What is printed after `±` for a verdict of so many nodes and this E: 1.96 σ, in points of E."""
    return INTERVAL * noise_of(nodes, expected)
