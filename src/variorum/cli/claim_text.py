"""What stands beside a claim, and what a digest reaches, as `check`, `build` and `publish` print it."""

from __future__ import annotations

from collections.abc import Iterable

from variorum.build.report import Reach
from variorum.claims.standing import Figure

__all__ = ["evidence_text", "reach_text"]


def evidence_text(band: str, figures: Iterable[Figure], remark: str) -> str:
    """What is claimed, what each voice gives, and what else to know: `claimed: 80 to 100; owl 45.0 ± 6.7 at 1,000 nodes`."""
    given = (f"{one.voice} {_points(one.value)} ± {one.noise:.1f} at {one.nodes:,} nodes" for one in figures)
    return "; ".join(filter(None, [f"claimed: {band}" if band else "", *given, remark]))


def reach_text(reach: Reach | None) -> Iterable[str]:
    """`The digest answers 61.3 % of the traffic, at 12 places (mix).`; nothing where there is none."""
    if reach is not None:
        places = f"{reach.places:,} place{'' if reach.places == 1 else 's'}"
        yield f"The digest answers {reach.reach:.1f} % of the traffic, at {places} ({reach.mix})."


def _points(value: float) -> str:
    return f"{value:.1f}".replace("-", "−")
