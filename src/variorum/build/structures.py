"""`variorum structures`: where the lines of an edition go, from structure to structure."""

from __future__ import annotations

from variorum.base import Diagnostic
from variorum.build.opened import OpenEdition
from variorum.edition import Place
from variorum.insight.structure_flow import StructureFlow, structure_flow

__all__ = ["edition_structures"]


def edition_structures(
    opened: OpenEdition, place: Place | None = None, *, steps: int, leaves: int
) -> tuple[StructureFlow, list[Diagnostic]]:
    """The flow between structures on the graph of an edition, and what is wrong with the texts it was grown from.

    Args:
        opened: The edition.
        place: Where to start; by default at the roots.
        steps: At most so many steps between structures.
        leaves: At most so many leaves.

    Raises:
        InputError: The place is not on the graph, or a file cannot be read.
        StoreError: The store is damaged.
        Interrupted: The user stopped.
    """
    node = None if place is None else opened.node(place)
    flow = structure_flow(opened.edition.title, opened.tell, node, steps=steps, leaves=leaves)
    return flow, opened.diagnostics
