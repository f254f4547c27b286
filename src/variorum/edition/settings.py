"""The settings of an edition: `edition.toml` as frozen structs, each key with its meaning, limits and default.

These structs are the one description: the reader checks against them and `docs/reference/edition.md` is made from them.
Numbers without a published source are common practice (methods.md), which is why they are settings.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Final, Literal

import msgspec
from msgspec import Meta

from variorum.base.settings import StorePlace
from variorum.board import DEFAULT_BANDS, Bands

__all__ = [
    "Budget",
    "EditionSettings",
    "EditionSide",
    "Kind",
    "Language",
    "MoveNotation",
    "Pace",
    "PrivateMarks",
    "SourceRule",
    "Thresholds",
    "Words",
]

EditionSide = Literal["white", "black", "both"]
"""For whom an edition recommends moves."""

Kind = Literal["practice", "correspondence", "engine", "analysis"]
"""What the games of a source are."""

Pace = Literal["any", "classical", "rapid", "blitz"]
"""Time control classes of the FIDE Laws of Chess, appendices A and B: base time plus 60 increments."""

SCORE_COMMENT: Final = (
    r"(?P<score>[+-]?(?:\d+\.\d+|[M#][+-]?\d+))\s*/\s*(?P<depth>\d+)(?:\s+(?P<time>\d[\d:.]*)\s*s?)?"
)
"""Common practice, no source: `+0.36/18 1.2s` at the start of a move's comment; mate as `M5`, `-M5` or `#-5`."""

_Text = Annotated[str, Meta(min_length=1)]
_Points = Annotated[float, Meta(ge=0, le=100)]


Language = Literal["en", "de", "es", "fr"]
"""Languages whose fixed words and letters of the units are known (`variorum.publish.wording`)."""

MoveNotation = Literal["figurine", "letters", "local"]
"""How units are written in moves: little pictures, English letters, or letters of the edition's language."""


class PrivateMarks(msgspec.Struct, frozen=True, kw_only=True):
    """What never reaches `out/`. Marks are words that a comment begins with, upper or lower case."""

    comments: Annotated[
        tuple[_Text, ...], Meta(description="A comment that begins with one of these words is private.")
    ] = ("private",)
    lines: Annotated[
        tuple[_Text, ...],
        Meta(description="A comment that begins with one of these makes its move and all after it private."),
    ] = ("private line",)
    nags: Annotated[
        tuple[Annotated[int, Meta(ge=0, le=255)], ...],
        Meta(description="A move with one of these NAG numbers is private, and all after it."),
    ] = ()
    names: Annotated[
        tuple[_Text, ...],
        Meta(description="Names of `[names]` and `[roots]` that are never printed in publications."),
    ] = ()


class Words(msgspec.Struct, frozen=True, kw_only=True):
    """Words that a comment begins with and that mean something."""

    questions: Annotated[
        tuple[_Text, ...],
        Meta(
            description="A comment that begins with one of these, upper or lower case, is a question to yourself."
        ),
    ] = ("todo", "?")
    novelty: Annotated[
        _Text,
        Meta(description="A comment that begins with this word, as it is written here, claims a novelty."),
    ] = "N"
    claims: Annotated[
        dict[_Text, _Text],
        Meta(
            description="Words that a comment begins with and what they claim of its move or position: a kind of claim, and "
            'behind it what it says (`"the main move" = "popularity most played"`, `"transposes to" = "transposes"`).'
        ),
    ] = msgspec.field(default_factory=dict)
    see: Annotated[
        _Text,
        Meta(
            description="A line behind this word in a comment, as in `see 1.d4 d5 2.c4`, points to where its position is treated."
        ),
    ] = "see"


class SourceRule(msgspec.Struct, frozen=True, kw_only=True):
    """One `[[sources]]` table: what the files are that its path matches. The first that matches counts."""

    path: Annotated[
        str,
        Meta(
            min_length=1,
            description="Path under the edition's folder, with `/`; `*` is any text, folders too, `?` one character.",
        ),
    ]
    kind: Annotated[Kind, Meta(description="What the games are.")] = "practice"
    voice: Annotated[
        str,
        Meta(
            description="Who speaks in scores and analysis of these files; needed for `engine` and `analysis`."
        ),
    ] = ""
    min_rating: Annotated[
        int,
        Meta(ge=0, le=4000, description="Pass over games in which a player's rating is lower or not given."),
    ] = 0
    since: Annotated[datetime.date | None, Meta(description="Pass over games played before this date.")] = (
        None
    )
    until: Annotated[datetime.date | None, Meta(description="Pass over games played after this date.")] = None
    pace: Annotated[Pace, Meta(description="Keep only games at this pace.")] = "any"
    score_comment: Annotated[
        str,
        Meta(
            min_length=1,
            max_length=500,
            description="For kind `engine`: how a move's comment begins that tells score, depth and time, as a regular "
            "expression with a group `score` and, if told, `depth` and `time` (no look-around, no back references).",
        ),
    ] = SCORE_COMMENT
    score_view: Annotated[
        Literal["mover", "white"],
        Meta(description="Whether such scores are seen from the mover or from White."),
    ] = "mover"

    def __post_init__(self) -> None:
        if self.since and self.until and self.since > self.until:
            raise ValueError("since must not be later than until")


class Budget(msgspec.Struct, frozen=True, kw_only=True):
    """How much thinking is spent, in nodes, so that the same edition gives the same answers."""

    total_nodes: Annotated[
        int, Meta(ge=0, description="For one `variorum build`, where no budget is given; 0 asks nobody.")
    ] = 50_000_000
    nodes_per_verdict: Annotated[
        int,
        Meta(
            ge=1,
            description="For the first verdict on a position; up to 16 times as many where something is in doubt.",
        ),
    ] = 200_000
    minimum_effort: Annotated[
        int, Meta(ge=0, description="Nodes; with verdicts of fewer no claim is judged.")
    ] = 50_000
    lines: Annotated[int, Meta(ge=1, le=20, description="Lines of a verdict (MultiPV).")] = 3
    voices: Annotated[
        tuple[_Text, ...],
        Meta(
            min_length=1,
            description="Whom to ask: the resident, and programs by the names they have in your own settings "
            "(`variorum voices list`, or the page of voices). One that is not there is told and passed over.",
        ),
    ] = ("resident",)


class Thresholds(msgspec.Struct, frozen=True, kw_only=True):
    """Where words about moves begin, in points of expected score (0 to 100), and what counts as evidence."""

    questionable: Annotated[_Points, Meta(description="`?!` concedes at least this.")] = 6.0
    poor: Annotated[_Points, Meta(description="`?` concedes at least this.")] = 12.0
    very_poor: Annotated[_Points, Meta(description="`??` concedes at least this.")] = 30.0
    only_move: Annotated[_Points, Meta(description="The second best move concedes at least this.")] = 18.0
    hold_from: Annotated[
        _Points, Meta(description="An only move holds: the own score with it is at least this,")
    ] = 35.0
    hold_lost: Annotated[_Points, Meta(description="and with the second best move below this.")] = 27.0
    win_from: Annotated[_Points, Meta(description="Or it wins: the own score with it is at least this,")] = (
        90.0
    )
    win_lost: Annotated[_Points, Meta(description="and with the second best move below this.")] = 80.0
    better: Annotated[
        float, Meta(gt=0, le=100, description="A move called better is worth at least this more.")
    ] = 3.0
    common: Annotated[
        _Points, Meta(description="A common move is played in this percent of the games there, or more.")
    ] = 20.0
    rare: Annotated[
        _Points, Meta(description="A rare move is played in less than this percent of the games there.")
    ] = 5.0
    few_games: Annotated[int, Meta(ge=1, description="Under this many games only their count is shown.")] = 5
    stale_days: Annotated[
        int,
        Meta(
            ge=0, le=36_500, description="Verdicts older than this many days make a claim stale; 0 for never."
        ),
    ] = 0

    def __post_init__(self) -> None:
        if not self.questionable <= self.poor <= self.very_poor:
            raise ValueError("questionable, poor and very_poor must rise")
        if self.hold_lost > self.hold_from or self.win_lost > self.win_from:
            raise ValueError("hold_lost must not exceed hold_from, nor win_lost win_from")


class EditionSettings(msgspec.Struct, frozen=True, kw_only=True):
    """`edition.toml`: the keys before any table, and the tables."""

    title: Annotated[str, Meta(min_length=1, max_length=200, description="The edition's title.")]
    side: Annotated[EditionSide, Meta(description="For whom moves are recommended.")]
    language: Annotated[
        Language,
        Meta(
            description="Of the fixed words in publications: English, German, Spanish or French. Your own words stay as they are."
        ),
    ] = "en"
    notation: Annotated[
        MoveNotation,
        Meta(
            description="Units in published moves: `figurine`, `letters` (English) or `local` (letters of the language). "
            "Small print has letters instead of figurines."
        ),
    ] = "figurine"
    store: Annotated[
        StorePlace | None,
        Meta(
            description="Where the store lies: in this folder (`.variorum`) or in your cache folder. Default: as your own settings say."
        ),
    ] = None
    roots: Annotated[
        dict[str, str],
        Meta(description="Positions from which the graph starts: name = place. At least one."),
    ]
    names: Annotated[dict[str, str], Meta(description="Your tabiyas: name = place.")] = msgspec.field(
        default_factory=dict
    )
    private: Annotated[PrivateMarks, Meta(description="What is never published.")] = PrivateMarks()
    words: Annotated[Words, Meta(description="Words that comments begin with.")] = Words()
    sigla: Annotated[
        dict[str, str], Meta(description="Marks by which voices are cited: voice = one or two letters.")
    ] = msgspec.field(default_factory=dict)
    sources: Annotated[tuple[SourceRule, ...], Meta(description="What the files under `sources/` are.")] = ()
    budget: Annotated[Budget, Meta(description="How much thinking is spent.")] = Budget()
    bands: Annotated[
        Bands,
        Meta(description="From which expected score for White a word stands; Black's side is mirrored."),
    ] = DEFAULT_BANDS
    thresholds: Annotated[Thresholds, Meta(description="Where words about moves begin.")] = Thresholds()
