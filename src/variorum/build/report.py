"""What `variorum build` tells, as plain values. Nothing heavy is imported here: a build with nothing to do prints one."""

from __future__ import annotations

import msgspec

from variorum.claims.standing import Figure

__all__ = ["AuditLine", "BuildReport", "ClaimLine", "Meeting", "PlannedVerdict", "Reach", "SourceLine"]


class Reach(msgspec.Struct, frozen=True):
    """The share of the traffic, in percent, that a digest answers, at so many places, by a stated mix (methods.md 12)."""

    reach: float
    places: int
    mix: str


class SourceLine(msgspec.Struct, frozen=True, kw_only=True):
    """One file of games; `state` is `sifted`, `unchanged`, `faulty` (with the `fault`) or `gone`; `kind` what they are."""

    source: str
    state: str
    kept: int
    fault: str = ""
    kind: str = ""


class Meeting(msgspec.Struct, frozen=True, kw_only=True):
    """A position that several move orders reach: its name or `null`, a line to it, orders, percent of the traffic.

    `roots` are those that its heaviest orders come from, by name; empty where all of them pass one position on the way.
    """

    name: str | None
    line: str
    orders: int
    flow: float
    roots: tuple[str, ...]


class AuditLine(msgspec.Struct, frozen=True, kw_only=True):
    """The orders into a tabiya by one voice, for one side: how many there are, and the risk of those that are travelled.

    `least` and `greatest` are points of expected score, over the heaviest played or written orders, as far as deviations are
    judged. `missing` counts the positions that a complete audit still needs; `variorum orders` tells the rest.
    """

    name: str
    orders: int | None
    side: str
    voice: str
    least: float
    greatest: float
    missing: int


class ClaimLine(msgspec.Struct, frozen=True, kw_only=True):
    """A claim that needs its author: where it stands, what it says, what voices give, and the line against it.

    `against` is empty for one that is not contradicted; `band` is what is claimed, in points.
    """

    path: str
    line: int
    column: int
    subject: str
    says: str
    standing: str
    band: str
    figures: tuple[Figure, ...]
    remark: str
    against: str


class PlannedVerdict(msgspec.Struct, frozen=True, kw_only=True):
    """A question that the next build would ask: the position by name, line or FEN, why, and with how many nodes."""

    voice: str
    place: str
    fen: str
    reason: str
    nodes: int


class BuildReport(msgspec.Struct, frozen=True, kw_only=True):
    """What a build brought up to date, and what an edition comes to now.

    `nothing_new`: nothing had changed since the build that made this report, and nothing was done. `dry_run`: nothing
    was done at all, `plan` is what the first round would ask. `asked` and `nodes` are this build's verdicts and their
    nodes, `waiting` and `waiting_nodes` what the next build would ask first.
    """

    edition: str
    build: int = 0
    """The number under which it is kept what the build found; `variorum drift` compares by it."""
    drift_page: str = ""
    """The author's page of what changed since the build before, empty for the first."""
    nothing_new: bool = False
    dry_run: bool = False
    sources: tuple[SourceLine, ...] = ()
    games: int = 0
    doubles: int = 0
    positions: int = 0
    moves: int = 0
    confluences: int = 0
    meetings: tuple[Meeting, ...] = ()
    audits: tuple[AuditLine, ...] = ()
    asked: int = 0
    nodes: int = 0
    unanswered: tuple[str, ...] = ()
    verdicts: int = 0
    waiting: int = 0
    waiting_nodes: int = 0
    absent: tuple[str, ...] = ()
    """Voices that the edition names and this user does not have."""
    contradicted: int = 0
    undecided: int = 0
    left_open: int = 0
    """Of the undecided, those that were asked as deep as a build asks."""
    stale: int = 0
    holds: int = 0
    not_checkable: int = 0
    questions: int = 0
    claims: tuple[ClaimLine, ...] = ()
    written: tuple[str, ...] = ()
    reach: Reach | None = None
    """What the digest reaches, `None` where there is none."""
    left_out: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    """What is wrong in the author's files, with its place."""
    errors: int = 0
    """Of the faults, those that left something of the texts out."""
    plan: tuple[PlannedVerdict, ...] = ()
