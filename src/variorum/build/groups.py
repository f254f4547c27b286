"""Groups of positions that an author can mean by one word: what consulting and playouts take as a place."""

from __future__ import annotations

from collections.abc import Iterator

from variorum.board import Position
from variorum.build.asking import Study
from variorum.insight.agreement import disputes
from variorum.scout.wishes import Reason
from variorum.voices.verdicts import Verdicts

__all__ = ["disputed", "wished"]


def wished(study: Study, *reasons: Reason) -> Iterator[tuple[Position, Reason]]:
    """The positions that the edition wants to know for one of these reasons, where the game is not over."""
    for wish in study.wishes:
        if wish.reason in reasons and wish.position.outcome is None:
            yield wish.position, wish.reason


def disputed(study: Study) -> Iterator[tuple[Position, Reason]]:
    """The positions on which voices disagree, by how much."""
    for dispute in disputes(Verdicts(study.verdicts).all()):
        yield Position.from_fen(dispute.epd), Reason.DISPUTED
