"""Noise of a verdict: how far a voice at this effort usually is from itself at 16 times the effort (methods.md 2)."""

from __future__ import annotations

import bisect
from typing import Final

__all__ = ["INTERVAL", "MEASURED_NODES", "noise_of", "printed_noise"]

INTERVAL: Final = 1.96
"""Standard deviations on each side of a 95 % interval."""


_TABLE: Final[dict[int, float]] = {1_024: 4.64, 4_096: 4.80, 16_384: 4.88, 65_536: 4.79, 262_144: 3.40}
"""σ in points of E by effort class (nodes in powers of 4), measured on the resident, version 2.

`benches/measure_noise.py` over 240 positions of the resident's own games. For another voice, and for later versions of the
resident, it is a default until their own is measured: common practice, no source.
"""

MEASURED_NODES: Final = tuple(sorted(_TABLE))
"""Effort classes that were measured. Outside of them the σ of the nearest is taken."""


def noise_of(nodes: int) -> float:
    """σ in points of E of a verdict of so many nodes; for 0 (the voice did not say) that of the least effort measured.

    >>> noise_of(300_000)
    3.4
    """
    at = bisect.bisect_right(MEASURED_NODES, nodes) - 1
    return _TABLE[MEASURED_NODES[max(at, 0)]]


def printed_noise(nodes: int) -> float:
    """What is printed after `±` for a verdict of so many nodes: 1.96 σ, in points of E."""
    return INTERVAL * noise_of(nodes)
