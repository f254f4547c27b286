"""What stands beside a claim, as `check` and `build` print it."""

from __future__ import annotations

from collections.abc import Iterable

from variorum.claims.standing import Figure

__all__ = ["evidence_text"]


def evidence_text(band: str, figures: Iterable[Figure], remark: str) -> str:
    """What is claimed, what each voice gives, and what else to know: `claimed: 80 to 100; owl 45.0 ± 6.7 at 1,000 nodes`."""
    given = (f"{one.voice} {_points(one.value)} ± {one.noise:.1f} at {one.nodes:,} nodes" for one in figures)
    return "; ".join(filter(None, [f"claimed: {band}" if band else "", *given, remark]))


def _points(value: float) -> str:
    return f"{value:.1f}".replace("-", "−")
