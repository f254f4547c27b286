"""What claims are judged by, and what is told of one that was judged."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import msgspec

from variorum.board import Move, Position, Verdict
from variorum.claims.facts import HingeReading
from variorum.claims.standing import Figure, Standing
from variorum.edition import EditionSettings, Place
from variorum.insight.plans_report import BodyPlans
from variorum.voices.verdicts import Verdicts

__all__ = ["CheckedClaim", "Found", "Games", "Ground", "Practice"]


class CheckedClaim(msgspec.Struct, frozen=True, kw_only=True):
    """A claim with its standing.

    `path`, `line` and `column` are where it stands, `subject` the move or place it is about, `says` the sign or words.
    `band` is what is claimed, in points. `refutation` is the line that speaks against it, `remark` what else to know.
    `epd` is the position that it is about (after the move, for a sign), empty where that cannot be read, `place` the same as
    a place is typed, by the text's own line; `against_from` is the EPD of the position that `refutation` begins at.
    `rewording` is the mildest change of a contradicted claim that would hold, `wanted` the cheapest evidence that would decide
    an open one, for which each voice is asked `nodes` nodes in all (0 where no question to a voice is left to be put).
    """

    path: str
    line: int
    column: int
    kind: str
    subject: str
    says: str
    standing: str
    figures: tuple[Figure, ...] = ()
    band: str = ""
    refutation: str = ""
    remark: str = ""
    epd: str = ""
    place: str = ""
    against_from: str = ""
    rewording: str = ""
    wanted: str = ""
    nodes: int = 0


class Games(msgspec.Struct, frozen=True, kw_only=True):
    """Games in which a move was played at a position, of how many in the edition, up to which day (ISO, or empty).

    `first` says which game was the first, empty where none was. `here` games went on from the position, `most` of them with the
    most played move, `favourite`.
    """

    played: int
    of: int
    until: str
    first: str = ""
    here: int = 0
    most: int = 0
    favourite: Move | None = None


Practice = Callable[[Position, Move], Games]
"""Looks the games up; `None` in its place where nothing was sifted."""

Hinges = Callable[[Place, str], tuple[HingeReading, ...]]
"""Looks up on what a move (as SAN) hinges at a place, by the verdicts that are kept."""


Plans = Callable[[Place, str], tuple[BodyPlans, ...]]
"""Looks up what games of a body (practice, playouts, a voice) show from a place on; raises `InputError` where there are none."""


@dataclass(frozen=True)
class Ground:
    """What claims are judged by: the edition's settings, verdicts, games, and the day from which verdicts grow old."""

    settings: EditionSettings
    verdicts: Verdicts
    practice: Practice | None
    today: datetime.date
    hinges: Hinges | None = None
    plans: Plans | None = None
    names: Mapping[str, Position] = field(default_factory=dict)
    """The author's names of positions, by which another wording is proposed."""

    def deep(self, position: Position) -> dict[str, Verdict]:
        """Verdicts of the effort that the edition asks, by voice."""
        least = self.settings.budget.minimum_effort
        return {voice: one for voice, one in self.verdicts.on(position).items() if one.allowed >= least}

    @property
    def first_nodes(self) -> int:
        """Of the first verdict that counts as an answer."""
        return max(self.settings.budget.minimum_effort, self.settings.budget.nodes_per_verdict)

    @property
    def missing(self) -> str:
        """What is said where nobody spoke."""
        return f"no verdict yet of {self.settings.budget.minimum_effort:,} nodes or more"

    def is_old(self, date: str) -> bool:
        """Whether a verdict of that day is older than the edition allows; one of no known day may be as old as you like."""
        days = self.settings.thresholds.stale_days
        if not days:
            return False
        try:
            given = datetime.date.fromisoformat(date)
        except ValueError:
            return True
        return self.today - given > datetime.timedelta(days)


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """What a query gives before it is put together with its place; `nodes` are wanted of each position that is asked."""

    standing: Standing
    figures: tuple[Figure, ...] = ()
    band: str = ""
    refutation: str = ""
    remark: str = ""
    rewording: str = ""
    wanted: str = ""
    nodes: int = 0
