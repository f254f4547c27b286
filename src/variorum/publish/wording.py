"""The fixed words of publications, one table a language."""

from __future__ import annotations

import datetime

import msgspec

from variorum.claims.facts import grouped

__all__ = ["ENGLISH", "Wording", "wording_of"]


class Wording(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that a publication prints in words of its own. Braces are filled in; `|` parts one from many."""

    language: str
    """BCP 47 tag, for the `lang` attribute."""
    quotes: tuple[str, str, str, str]
    """Double and single quotation marks, opening and closing."""
    units: dict[str, str]
    white: str
    black: str
    white_to_move: str
    black_to_move: str
    digest: str
    manuscript: str
    index_of_positions: str
    index_of_variations: str
    page: str
    beginning: str
    a_voice: str
    contents: str
    chapter: str
    after_move: str
    sections: str
    to_the_text: str
    figure: str
    figures: str
    apparatus: str
    holds: str
    contradicted: str
    undecided: str
    stale: str
    games: str
    position: str
    no_voice: str
    scale: str
    made: str
    caution: str
    months: tuple[str, ...]
    date: str
    night: str
    day: str

    def date_in_words(self, date: datetime.date) -> str:
        """A date as it is printed.

        >>> ENGLISH.date_in_words(datetime.date(2026, 11, 5))
        '5 November 2026'
        """
        return self.date.format(day=date.day, month=self.months[date.month - 1], year=date.year)

    def counted(self, number: int, what: str) -> str:
        """A number with its noun; `what` is a text of this table with `|`.

        >>> ENGLISH.counted(1, ENGLISH.games), ENGLISH.counted(61, ENGLISH.games)
        ('1 game', '61 games')
        """
        one, many = what.split("|")
        return f"{grouped(number)} {one if number == 1 else many}"


ENGLISH = Wording(
    language="en",
    quotes=("“", "”", "‘", "’"),
    units={"K": "king", "Q": "queen", "R": "rook", "B": "bishop", "N": "knight", "P": "pawn"},
    white="White",
    black="Black",
    white_to_move="White to move.",
    black_to_move="Black to move.",
    digest="Digest",
    manuscript="Manuscript",
    index_of_positions="Index of positions",
    index_of_variations="Index of variations",
    page="Page",
    beginning="Beginning",
    a_voice="a voice",
    contents="Contents",
    chapter="Game {number}",
    after_move="After {move}.",
    sections="On this page",
    to_the_text="To the text",
    figure="Figure {number}",
    figures="Figures {first} to {last}",
    apparatus="Apparatus",
    holds="holds",
    contradicted="contradicted",
    undecided="not enough evidence",
    stale="stale",
    games="game|games",
    position="position",
    no_voice="No voice has judged a position of this text yet.",
    scale="verdicts are expected scores for White of 100, ± their uncertainty, and pawns in brackets",
    made="Set by Variorum {version} on {date} from the author’s digest; the figures with a note were looked up on that day.",
    caution="A verdict is what a voice says at the effort it was given, and no proof.",
    months=tuple(
        "January February March April May June July August September October November December".split()  # noqa: SIM905
    ),
    date="{day} {month} {year}",
    night="Night",
    day="Day",
)

_LANGUAGES = {"en": ENGLISH}


def wording_of(language: str) -> Wording:
    """The table for a language tag; its region does not count. Unknown languages get English words."""
    return _LANGUAGES.get(language.partition("-")[0].lower(), ENGLISH)
