"""What `variorum drift` tells, as plain values."""

from __future__ import annotations

import enum

import msgspec

__all__ = ["ClaimDrift", "DriftCounts", "DriftReport", "News", "NewsMove", "SourceNews", "VerdictDrift"]


class Matter(enum.Enum):
    """Why an author should look, the most pressing first."""

    CONTRADICTED = "contradicted now"
    PLACE = "the value of a root or tabiya moved"
    LOST = "holds no more"
    VERDICT = "a verdict moved"
    SETTLED = "settled"


class ClaimDrift(msgspec.Struct, frozen=True, kw_only=True):
    """A claim whose standing is not what it was; `before` is empty for one that was written since.

    `old` and `new` are what the voices gave, in words; `line_to` leads to its position, and `place` is how the text itself has
    it. `against` begins at the EPD `against_from`. `flow` is the share of the traffic there, in percent.
    """

    matter: Matter
    path: str
    line: int
    column: int
    subject: str
    says: str
    before: str
    now: str
    old: str
    new: str
    against: str
    flow: float
    line_to: str
    epd: str
    place: str = ""
    against_from: str = ""


class VerdictDrift(msgspec.Struct, frozen=True, kw_only=True):
    """What a voice thinks of a position now and thought before: E for White, nodes, best move as SAN.

    `moved` tells whether the scores differ by more than `noise` (1.96 times the root of both σ², in points). `gap` is by
    how much the new verdict puts its best move over the old one, `None` where the move is the same; with `gap_is_least`
    the old one is not among its lines, so it is that at least. `decides` are the roots and tabiyas whose value it decides
    or decided, `claims` the claims at the position (file, line, what is said). For a root or tabiya the scores are graph values.
    """

    matter: Matter
    place: str
    voice: str
    old: float
    old_nodes: int
    new: float
    new_nodes: int
    noise: float
    moved: bool
    old_move: str
    new_move: str
    gap: float | None
    gap_is_least: bool
    decides: tuple[str, ...]
    claims: tuple[str, ...]
    flow: float
    epd: str


class SourceNews(msgspec.Struct, frozen=True, kw_only=True):
    """A file of which games are new."""

    source: str
    games: int


class NewsMove(msgspec.Struct, frozen=True, kw_only=True):
    """Where new games left the manuscript: with which move, how many, with which results, and whether it was never played before.

    Results are White's. `by` is who plays the move, `examples` are the latest of the games as they are cited.
    """

    place: str
    move: str
    by: str
    won: int
    drawn: int
    lost: int
    unknown: int
    first_ever: bool
    examples: tuple[str, ...]
    flow: float
    epd: str

    @property
    def count(self) -> int:
        """How many games."""
        return self.won + self.drawn + self.lost + self.unknown


class News(msgspec.Struct, frozen=True, kw_only=True):
    """Games that came since; `stayed` of them end in the manuscript. `gone` are files that are no more among the sources."""

    games: int = 0
    sources: tuple[SourceNews, ...] = ()
    gone: tuple[str, ...] = ()
    moves: tuple[NewsMove, ...] = ()
    stayed: int = 0


class DriftReport(msgspec.Struct, frozen=True, kw_only=True):
    """What changed from one build to another, in the order in which the author should look (methods.md 17).

    `changed_since` are files and sources that are not any more what the later build read. `new_verdicts` are on positions that the voice
    had not judged before.
    """

    edition: str
    before: int
    before_made: str
    now: int
    now_made: str
    claims: tuple[ClaimDrift, ...] = ()
    places: tuple[VerdictDrift, ...] = ()
    verdicts: tuple[VerdictDrift, ...] = ()
    new_verdicts: int = 0
    news: News = News()
    changed_since: tuple[str, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether nothing changed that an author should know."""
        return not (self.claims or self.places or self.verdicts or self.news.games or self.news.gone)


class DriftCounts(msgspec.Struct, frozen=True, kw_only=True):
    """How much changed between the last two builds: claims by what became of them, values and verdicts that moved, games more.

    `contradicted` and `undecided` are how many claims stand so by the last build, of `claims`.
    """

    build: int
    made: str
    before: int
    before_made: str
    newly_contradicted: int
    lost: int
    settled: int
    values: int
    verdicts: int
    games: int
    contradicted: int
    undecided: int
    claims: int

    @property
    def is_empty(self) -> bool:
        """Whether nothing changed."""
        return not (
            self.newly_contradicted or self.lost or self.settled or self.values or self.verdicts or self.games
        )
