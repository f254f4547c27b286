"""`variorum apparatus`: every voice on one position, and where in the edition voices disagree."""

from __future__ import annotations

from contextlib import ExitStack

import msgspec

from variorum.base import Diagnostic, Progress
from variorum.base.settings import UserSettings
from variorum.board import Position
from variorum.build.games import open_games
from variorum.build.spoken import VoiceSays, voices_on
from variorum.edition import Edition, Place, read_manuscript
from variorum.edition.folder import MANUSCRIPT, VERDICTS
from variorum.graph import Teller, back_up_values, edition_graph, lay_traffic
from variorum.insight.agreement import Dispute, disputes
from variorum.voices.sigla import sigla_of
from variorum.voices.verdicts import Verdicts, read_edition_verdicts

__all__ = ["ApparatusReport", "DisputedPlace", "apparatus_of"]


class DisputedPlace(msgspec.Struct, frozen=True, kw_only=True):
    """A dispute with its place: `line` is the edition's way there, empty where no line of the edition leads to it."""

    line: str
    dispute: Dispute


class ApparatusReport(msgspec.Struct, frozen=True, kw_only=True):
    """Voices on a place, and disputes, the heaviest first.

    Without a place `fen` is empty, `voices` is empty, and the disputes are those of the whole edition; `shared` counts the
    positions that two voices or more have judged, `sigla` is the key.
    """

    name: str
    line: str
    fen: str
    sigla: dict[str, str]
    voices: tuple[VoiceSays, ...]
    shared: int
    disputed: int
    disputes: tuple[DisputedPlace, ...]


def apparatus_of(
    edition: Edition,
    place: Place | None,
    user: UserSettings,
    *,
    most: int = 20,
    progress: Progress | None = None,
) -> tuple[ApparatusReport, list[Diagnostic]]:
    """What the voices of an edition say of a place, or where they disagree; `most` disputes are listed.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
        Interrupted: The user stopped.
    """
    verdicts, diagnostics = read_edition_verdicts(edition.path / VERDICTS)
    sigla = sigla_of(edition, verdicts.voices, user)
    said = verdicts.all()
    judged: dict[str, int] = {}
    for verdict in said:
        judged[verdict.epd] = judged.get(verdict.epd, 0) + 1
    found = [one for one in disputes(said) if place is None or one.epd == place.position.epd]
    listed = found[:most]
    ways = _ways(edition, user, verdicts, listed, progress)
    report = ApparatusReport(
        name="" if place is None else place.name or "",
        line="" if place is None or place.line is None else place.line.san(),
        fen="" if place is None else place.position.fen,
        sigla=sigla,
        voices=() if place is None else voices_on(place.position, edition, verdicts, sigla),
        shared=sum(count > 1 for count in judged.values()),
        disputed=len(found),
        disputes=tuple(DisputedPlace(line=ways.get(one.epd, ""), dispute=one) for one in listed),
    )
    return report, diagnostics


def _ways(
    edition: Edition,
    user: UserSettings,
    verdicts: Verdicts,
    listed: list[Dispute],
    progress: Progress | None,
) -> dict[str, str]:
    """The heaviest line of the edition to each disputed position, by its EPD."""
    if not listed:
        return {}
    manuscript = None
    if (edition.path / MANUSCRIPT).is_file():
        manuscript = read_manuscript(edition.path / MANUSCRIPT)
    said = verdicts.all()
    with ExitStack() as stack:
        store = open_games(edition, user, stack)
        graph = edition_graph(edition, manuscript=manuscript, store=store, verdicts=said, progress=progress)
    tell = Teller(
        graph,
        lay_traffic(graph),
        back_up_values(graph, said),
        sigla_of(edition, verdicts.voices, user),
        edition.roots,
        edition.names,
        edition.settings.bands,
    )
    nodes = {one.epd: graph.node_of(Position.from_fen(one.epd)) for one in listed}
    return {epd: tell.way(node).san() for epd, node in nodes.items() if node is not None}
