"""`variorum nearby`: the near positions and reversed twins of an edition, or of one of its places."""

from __future__ import annotations

from contextlib import ExitStack

from variorum.base import Diagnostic, InputError, Progress
from variorum.base.settings import UserSettings
from variorum.build.games import open_games
from variorum.edition import Edition, Place, read_manuscript
from variorum.edition.folder import MANUSCRIPT, VERDICTS
from variorum.graph import Teller, back_up_values, edition_graph, lay_traffic, off_roots
from variorum.insight.near import find_near
from variorum.insight.near_report import NearReport, near_report
from variorum.voices.sigla import sigla_of
from variorum.voices.verdicts import read_edition_verdicts

__all__ = ["nearby"]


def nearby(
    edition: Edition,
    user: UserSettings,
    place: Place | None = None,
    *,
    limit: int,
    progress: Progress | None = None,
) -> tuple[NearReport, list[Diagnostic]]:
    """Near positions on the graph of an edition, and what is wrong with the texts it was grown from.

    Args:
        edition: The edition.
        user: The user's own settings.
        place: Only its neighbours.
        limit: At most so many groups.
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
    said = verdicts.all()
    with ExitStack() as stack:
        store = open_games(edition, user, stack)
        graph = edition_graph(edition, manuscript=manuscript, store=store, verdicts=said, progress=progress)
    node = None
    if place is not None:
        node = graph.node_of(place.position)
        if node is None:
            raise InputError(
                f"no line of the edition leads to {place.name or place.text!r}: it is not on the graph",
                remedy="write it into manuscript.pgn, name it in edition.toml, or sift games that reach it",
            )
    values, traffic = back_up_values(graph, said), lay_traffic(graph)
    tell = Teller(
        graph,
        traffic,
        values,
        sigla_of(edition, verdicts.voices, user),
        edition.roots,
        edition.names,
        edition.settings.bands,
    )
    found = find_near(graph, traffic, values, node=node, limit=limit, progress=progress)
    return near_report(edition.title, tell, found, node), diagnostics
