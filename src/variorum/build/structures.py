"""`variorum structures`: where the lines of an edition go, from structure to structure."""

from __future__ import annotations

from contextlib import ExitStack

from variorum.base import Diagnostic, InputError, Progress
from variorum.base.settings import UserSettings
from variorum.build.games import open_games
from variorum.edition import Edition, Place, read_manuscript
from variorum.edition.folder import MANUSCRIPT, VERDICTS
from variorum.graph import Teller, edition_graph, lay_traffic, off_roots
from variorum.insight.structure_flow import StructureFlow, structure_flow
from variorum.voices.verdicts import read_edition_verdicts

__all__ = ["edition_structures"]


def edition_structures(
    edition: Edition,
    user: UserSettings,
    place: Place | None = None,
    *,
    steps: int,
    leaves: int,
    progress: Progress | None = None,
) -> tuple[StructureFlow, list[Diagnostic]]:
    """The flow between structures on the graph of an edition, and what is wrong with the texts it was grown from.

    Args:
        edition: The edition.
        user: The user's own settings.
        place: Where to start; by default at the roots.
        steps: At most so many steps between structures.
        leaves: At most so many leaves.
        progress: Where to report.

    Raises:
        InputError: The place is not on the graph, or a file cannot be read.
        StoreError: The store is damaged.
        Interrupted: The user stopped.
    """
    verdicts, diagnostics = read_edition_verdicts(edition.path / VERDICTS)
    manuscript = None
    if (edition.path / MANUSCRIPT).is_file():
        manuscript = read_manuscript(edition.path / MANUSCRIPT)
        diagnostics += [*manuscript.diagnostics, *off_roots(manuscript, edition)]
    with ExitStack() as stack:
        store = open_games(edition, user, stack)
        graph = edition_graph(
            edition, manuscript=manuscript, store=store, verdicts=verdicts.all(), progress=progress
        )
    node = None
    if place is not None:
        node = graph.node_of(place.position)
        if node is None:
            raise InputError(
                f"no line of the edition leads to {place.name or place.text!r}: it is not on the graph",
                remedy="write it into manuscript.pgn, name it in edition.toml, or sift games that reach it",
            )
    tell = Teller(graph, lay_traffic(graph), {}, {}, edition.roots, edition.names, edition.settings.bands)
    return structure_flow(edition.title, tell, node, steps=steps, leaves=leaves), diagnostics
