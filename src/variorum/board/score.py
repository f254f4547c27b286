"""What an engine says of a position, and what it is worth in expected score."""

from __future__ import annotations

import functools
import math

import msgspec

from variorum.board.position import Side

__all__ = ["DRAWS", "SLOPE", "Score", "expected_score", "shares"]

SLOPE = 249.0
"""Centipawns that multiply the odds by ten (methods.md 2).

Fitted to the resident's games (docs/reference/expected-score.md); for every other voice that speaks in centipawns it
stands in, since nothing was fitted to theirs. Bands and thresholds in points of E are set for it: they change with it.
"""

DRAWS = 0.57
"""Of the resident's games, the share that is drawn where E is 50, 0 to 1; from the same fit."""

_LOG10_OF_2 = 0.30102999566398120
_LN_OF_10 = 2.302585092994045684
_TAYLOR = tuple(1.0 / math.factorial(n) for n in range(15, -1, -1))


class Score(msgspec.Struct, frozen=True):
    """Centipawns or a mate, always White's view; exactly one of them is set.

    `wdl` is what the voice itself said of wins, draws and losses for White, per mille; with it E needs no curve.
    `mate` counts moves, White's mates positive, Black's negative. It is never 0: a position in which mate stands on
    the board has an outcome and no score.

    >>> Score.of_cp(36).pawns_text, Score.of_cp(-5).pawns_text, Score.of_mate(-3).pawns_text
    ('+0.36', '−0.05', '#−3')
    >>> round(Score.of_cp(36).expected(), 1), Score.of_mate(-3).expected()
    (58.2, 0.0)
    """

    cp: int | None = None
    mate: int | None = None
    wdl: tuple[int, int, int] | None = None

    def __post_init__(self) -> None:
        if (self.cp is None) == (self.mate is None):
            raise ValueError("a score is centipawns or a mate")
        if self.mate == 0:
            raise ValueError("a mate on the board is an outcome, not a score")
        if self.wdl is not None and (min(self.wdl) < 0 or sum(self.wdl) != 1000):
            raise ValueError("wins, draws and losses are given per mille")

    @classmethod
    def of_cp(cls, cp: int) -> Score:
        """A score in centipawns, White's view."""
        return cls(cp=cp)

    @classmethod
    def of_mate(cls, moves: int) -> Score:
        """A mate in so many moves: by White when positive, by Black when negative."""
        return cls(mate=moves)

    def seen_from(self, side: Side) -> Score:
        """The same with the sign turned for Black; also turns a mover's score into White's."""
        if side is Side.WHITE:
            return self
        return Score(
            cp=None if self.cp is None else -self.cp,
            mate=None if self.mate is None else -self.mate,
            wdl=None if self.wdl is None else self.wdl[::-1],
        )

    def expected(self) -> float:
        """Expected score E for White, 0 to 100: win + draw/2 where the voice said them; a mate is 100 or 0."""
        if self.mate is not None:
            return 100.0 if self.mate > 0 else 0.0
        if self.wdl is not None:
            wins, draws, _ = self.wdl
            return (wins + draws / 2) / 10
        assert self.cp is not None
        return expected_score(self.cp)

    @property
    def pawns_text(self) -> str:
        """`+0.36`, `−0.05`, `0.00`, or `#5` and `#−5` for mates, with a minus sign as printed."""
        if self.mate is not None:
            return f"#{self.mate}".replace("-", "−")
        assert self.cp is not None
        pawns, rest = divmod(abs(self.cp), 100)
        sign = "+" if self.cp > 0 else "−" if self.cp < 0 else ""
        return f"{sign}{pawns}.{rest:02}"


@functools.lru_cache(maxsize=8192)
def expected_score(cp: float, slope: float = SLOPE) -> float:
    """E for White of a score in centipawns: 100 / (1 + 10^(−cp/slope)), a logistic curve (methods.md 2).

    Only additions, products and quotients of doubles are used, so each machine gives the same bits.
    """
    if not slope > 0:
        raise ValueError("a slope is positive")
    return 100.0 / (1.0 + _power_of_ten(-cp / slope))


def shares(expected: float, draws: float) -> tuple[float, float, float]:
    """Chances of a win, a draw and a loss, each 0 to 1, that make up an expected score (methods.md 2).

    The model is that of Rao and Kupper, *Ties in paired-comparison experiments* (Journal of the American Statistical
    Association 62, 1967; from memory): with odds u, win u/(u + k) and loss 1/(1 + ku). k is given by the share of draws
    between equals, and u is what makes win + draw/2 the expected score.

    Args:
        expected: E, 0 to 100.
        draws: The share of draws where E is 50; 0 up to less than 1.

    >>> [round(share, 3) for share in shares(50.0, 0.4)], [round(share, 3) for share in shares(75.0, 0.4)]
    ([0.3, 0.4, 0.3], [0.606, 0.287, 0.106])
    """
    points = expected / 100.0
    if not 0.0 < points < 1.0:
        return points, 0.0, 1.0 - points
    k = (1.0 + draws) / (1.0 - draws)
    half = (k + 1.0 / k) / 2.0 * (1.0 - 2.0 * points)
    odds = (math.sqrt(half * half + 4.0 * points * (1.0 - points)) - half) / (2.0 * (1.0 - points))
    win, loss = odds / (odds + k), 1.0 / (1.0 + k * odds)
    return win, 1.0 - win - loss, loss


def _power_of_ten(exponent: float) -> float:
    """10^exponent without the platform's mathematics library, which may differ in the last bit."""
    exponent = min(max(exponent, -300.0), 300.0)
    doublings = round(exponent / _LOG10_OF_2)
    rest = (exponent - doublings * _LOG10_OF_2) * _LN_OF_10
    power = 0.0
    for coefficient in _TAYLOR:
        power = power * rest + coefficient
    return math.ldexp(power, doublings)
