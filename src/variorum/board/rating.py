"""What a difference in rating lets one expect."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["rating_expectation"]

_UPPER_BOUNDS = (
    *(
        3,
        10,
        17,
        25,
        32,
        39,
        46,
        53,
        61,
        68,
        76,
        83,
        91,
        98,
        106,
        113,
        121,
        129,
        137,
        145,
        153,
        162,
        170,
        179,
        188,
    ),
    *(
        197,
        206,
        215,
        225,
        235,
        245,
        256,
        267,
        278,
        290,
        302,
        315,
        328,
        344,
        357,
        374,
        391,
        411,
        432,
        456,
        484,
        517,
    ),
    *(559, 619, 735),
)
"""Greatest difference for which the higher rated is given 50, 51, … 99 points of 100; beyond the last, 100.

Source: FIDE Handbook, B.02 Rating Regulations, table 8.1.2. The table is used, not a formula: no formula gives it.
"""


def rating_expectation(white_elo: ArrayLike, black_elo: ArrayLike) -> NDArray[np.float64]:
    """Expected score for White, 0 to 100, by the table of FIDE; shapes broadcast. The cap at 400 is not applied.

    >>> rating_expectation([2400, 2400], [2400, 2500]).tolist()
    [50.0, 36.0]
    """
    difference = np.asarray(white_elo, np.int64) - np.asarray(black_elo, np.int64)
    higher = 50.0 + np.searchsorted(np.array(_UPPER_BOUNDS), np.abs(difference), "left")
    return np.where(difference >= 0, higher, 100.0 - higher)
