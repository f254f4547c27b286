"""Noise of a verdict: how far a voice at this effort usually is from itself at 16 times the effort (methods.md 2)."""

from __future__ import annotations

import bisect
from typing import Final

__all__ = ["INTERVAL", "MEASURED_NODES", "noise_of", "printed_noise"]

INTERVAL: Final = 1.96
"""Standard deviations on each side of a 95 % interval."""


_TABLE: Final[dict[int, float]] = {1_024: 17.39, 4_096: 11.22, 16_384: 6.86, 65_536: 5.25, 262_144: 4.79}
"""σ in points of E by effort class (nodes in powers of 4), measured on the resident, version 3.

`benches/measure_noise.py` over positions of the resident's own games, how many is told in docs/reference/expected-score.md. For another voice,
and for later versions of the resident, it is a default until their own is measured: common practice, no source.
"""

MEASURED_NODES: Final = tuple(sorted(_TABLE))
"""Effort classes that were measured. Outside of them the σ of the nearest is taken."""

_UNTOLD: Final = MEASURED_NODES[len(MEASURED_NODES) // 2]
"""What a voice is taken to have spent that does not say: the middle class; common practice, no source."""


def noise_of(nodes: int) -> float:
    """σ in points of E of a verdict of so many nodes; for 0 (the voice did not say) that of the middle effort measured.

    >>> noise_of(300_000), noise_of(0)
    (4.79, 6.86)
    """
    at = bisect.bisect_right(MEASURED_NODES, nodes or _UNTOLD) - 1
    return _TABLE[MEASURED_NODES[max(at, 0)]]


def printed_noise(nodes: int) -> float:
    """What is printed after `±` for a verdict of so many nodes: 1.96 σ, in points of E."""
    return INTERVAL * noise_of(nodes)
