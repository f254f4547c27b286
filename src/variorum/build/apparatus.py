"""`variorum apparatus`: every voice on one position, and where in the edition voices disagree."""

from __future__ import annotations

import msgspec

from variorum.base import Diagnostic
from variorum.board import Position
from variorum.build.opened import OpenEdition
from variorum.build.spoken import VoiceSays, voices_on
from variorum.edition import Place
from variorum.insight.agreement import Dispute, disputes

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
    opened: OpenEdition, place: Place | None, *, most: int = 20
) -> tuple[ApparatusReport, list[Diagnostic]]:
    """What the voices of an edition say of a place, or where they disagree; `most` disputes are listed.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
        Interrupted: The user stopped.
    """
    edition, verdicts, said = opened.edition, opened.verdicts, opened.said
    judged: dict[str, int] = {}
    for verdict in said:
        judged[verdict.epd] = judged.get(verdict.epd, 0) + 1
    found = [one for one in disputes(said) if place is None or one.epd == place.position.epd]
    listed = found[:most]
    ways = _ways(opened, listed)
    report = ApparatusReport(
        name="" if place is None else place.name or "",
        line="" if place is None or place.line is None else place.line.san(),
        fen="" if place is None else place.position.fen,
        sigla=opened.sigla,
        voices=() if place is None else voices_on(place.position, edition, verdicts, opened.sigla),
        shared=sum(count > 1 for count in judged.values()),
        disputed=len(found),
        disputes=tuple(DisputedPlace(line=ways.get(one.epd, ""), dispute=one) for one in listed),
    )
    return report, opened.verdict_diagnostics


def _ways(opened: OpenEdition, listed: list[Dispute]) -> dict[str, str]:
    """The heaviest line of the edition to each disputed position, by its EPD."""
    if not listed:
        return {}
    nodes = {one.epd: opened.graph.node_of(Position.from_fen(one.epd)) for one in listed}
    return {epd: opened.tell.way(node).san() for epd, node in nodes.items() if node is not None}
