"""`variorum nearby`: the near positions and reversed twins of an edition, or of one of its places."""

from __future__ import annotations

from variorum.base import Diagnostic, Progress
from variorum.build.opened import OpenEdition
from variorum.edition import Place
from variorum.insight.near import find_near
from variorum.insight.near_report import NearReport, near_report

__all__ = ["nearby"]


def nearby(
    opened: OpenEdition,
    place: Place | None = None,
    *,
    limit: int,
    progress: Progress | None = None,
) -> tuple[NearReport, list[Diagnostic]]:
    """Near positions on the graph of an edition, and what is wrong with the texts it was grown from.

    Args:
        opened: The edition.
        place: Only its neighbours.
        limit: At most so many groups.
        progress: Where to report.

    Raises:
        InputError: The place is not on the graph, or a file cannot be read.
        StoreError: The store is damaged.
        Interrupted: The user stopped.
    """
    node = None if place is None else opened.node(place)
    found = find_near(opened.graph, opened.traffic, opened.values, node=node, limit=limit, progress=progress)
    return near_report(opened.edition.title, opened.tell, found, node), opened.diagnostics
