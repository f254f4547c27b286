"""A text as it is to be set, whatever the medium: words, moves and figures in their order, with nothing left to look up.

`compose` makes it from a digest, `book` from a manuscript; `html` and `typeset` turn it into a page of a browser and of a
book. Strings in it are plain text: whoever writes them out escapes them.
"""

from __future__ import annotations

import datetime
import enum
from collections.abc import Iterable, Mapping

import msgspec

from variorum.claims.facts import Reading
from variorum.claims.standing import Standing
from variorum.edition.digest import ListOrder
from variorum.publish.apparatus import Part, Siglum
from variorum.publish.diagram import Diagram
from variorum.publish.notation import ENGLISH_LETTERS, FIGURINE, Notation
from variorum.publish.wording import ENGLISH, Wording

__all__ = [
    "Anchor",
    "Block",
    "Break",
    "Chapter",
    "ClaimNote",
    "Claims",
    "Figure",
    "Heading",
    "Index",
    "IndexEntry",
    "Inline",
    "Listing",
    "Margin",
    "Moves",
    "NoteEntry",
    "Notes",
    "Opening",
    "Page",
    "PageSetting",
    "Paragraph",
    "Plate",
    "Plates",
    "Played",
    "Quotation",
    "Rule",
    "Step",
    "Style",
    "Styled",
    "Table",
    "Target",
    "Typed",
    "Variation",
    "Verbatim",
    "Web",
    "Words",
    "plain",
]


class PageSetting(msgspec.Struct, frozen=True, kw_only=True):
    """What a page says beside its text.

    Args:
        edition: Title of the edition.
        made_on: The day that the page is dated.
        sigla: The key, in the order in which voices are cited.
        cautions: Sentences that the colophon ends with (that games are invented, say).
        words: Fixed words and the language.
        notation: Of moves in the text; captions and apparatus have letters.
        letters: Of moves below 13 pixels.
        names: Names of positions, by their EPD; the private ones are not among them.
    """

    edition: str
    made_on: datetime.date
    sigla: tuple[Siglum, ...] = ()
    cautions: tuple[str, ...] = ()
    words: Wording = ENGLISH
    notation: Notation = FIGURINE
    letters: Notation = ENGLISH_LETTERS
    names: Mapping[str, str] = {}


class ClaimNote(msgspec.Struct, frozen=True):
    """How a claim of the digest stands: what the voices say, and in words what they do not (`9 of 14 games`)."""

    standing: Standing
    readings: tuple[Reading, ...] = ()
    remark: str = ""


# In a line


class Words(msgspec.Struct, frozen=True):
    """Running text."""

    text: str


class Moves(msgspec.Struct, frozen=True):
    """Moves as printed, each one unbroken with its number; `as_line` where they follow one another on the board."""

    moves: tuple[str, ...]
    as_line: bool = False


class Figure(msgspec.Struct, frozen=True):
    """A value that was looked up."""

    text: str


class Typed(msgspec.Struct, frozen=True):
    """Printed as the author typed it, moves not set."""

    text: str


class Break(msgspec.Struct, frozen=True):
    """The line ends here."""


class Style(enum.Enum):
    """Italic and semibold."""

    EMPHASIS = "emphasis"
    STRONG = "strong"


class Styled(msgspec.Struct, frozen=True):
    """Text in another face."""

    style: Style
    children: tuple[Inline, ...]


class Web(msgspec.Struct, frozen=True):
    """A link out of the page (`http`, `https`, `mailto`)."""

    target: str
    children: tuple[Inline, ...]


class Notes(msgspec.Struct, frozen=True):
    """Superior figures that lead to entries of the apparatus."""

    numbers: tuple[int, ...]


class Anchor(msgspec.Struct, frozen=True):
    """A place in the text that an index leads to."""

    name: str


Inline = Words | Moves | Figure | Typed | Break | Styled | Web | Notes | Anchor


# Down the page


class Heading(msgspec.Struct, frozen=True):
    """A heading of level 2 to 4."""

    level: int
    children: tuple[Inline, ...]


class Opening(msgspec.Struct, frozen=True):
    """How an article begins: a versal, and words in small capitals; both empty where the text does not lend itself to it."""

    versal: str = ""
    small_capitals: str = ""


class Paragraph(msgspec.Struct, frozen=True):
    """A paragraph; one with an opening is the article's first."""

    children: tuple[Inline, ...]
    opening: Opening | None = None


class Listing(msgspec.Struct, frozen=True):
    """A list; each item is a run of blocks."""

    order: ListOrder
    items: tuple[tuple[Block, ...], ...]


class Table(msgspec.Struct, frozen=True):
    """Rows of cells under a head; the last `figures` columns hold figures, `note` says what they are."""

    head: tuple[tuple[Inline, ...], ...]
    rows: tuple[tuple[tuple[Inline, ...], ...], ...]
    figures: int
    note: tuple[Inline, ...] = ()


class Quotation(msgspec.Struct, frozen=True):
    """A block quotation."""

    blocks: tuple[Block, ...]


class Verbatim(msgspec.Struct, frozen=True):
    """Lines printed as typed."""

    text: str


class Rule(msgspec.Struct, frozen=True):
    """A break between parts."""


class Step(msgspec.Struct, frozen=True):
    """A move of a line that is played through on a diagram: as printed, the diagram behind it, and that in words."""

    move: str
    diagram: Diagram
    said: str


class Played(msgspec.Struct, frozen=True):
    """A line through the position of a diagram: where it begins, its moves, and how many of them lead to the diagram."""

    start: Diagram
    said: str
    steps: tuple[Step, ...]
    home: int


class Plate(msgspec.Struct, frozen=True):
    """A diagram, numbered, with its caption; `said` is what stands for it where it cannot be seen.

    `played` is the line that can be played through on it.
    """

    number: int
    diagram: Diagram
    caption: tuple[Inline, ...]
    said: str
    played: Played | None = None


class Plates(msgspec.Struct, frozen=True):
    """Diagrams side by side."""

    plates: tuple[Plate, ...]
    label: str


class Margin(msgspec.Struct, frozen=True):
    """A claim beside its sentence: number, standing, what was said, and the numbers for it."""

    number: int
    standing: Standing
    state: str
    sentence: tuple[Inline, ...]
    numbers: tuple[tuple[Part, ...], ...]
    remark: tuple[Inline, ...]


class Claims(msgspec.Struct, frozen=True):
    """The claims of the block above."""

    claims: tuple[Margin, ...]


class Chapter(msgspec.Struct, frozen=True):
    """The head of a part that begins on a new page: its name for indexes, its title, and what else is known of it."""

    name: str
    title: tuple[Inline, ...]
    below: tuple[Inline, ...]


class Variation(msgspec.Struct, frozen=True):
    """Moves with what is said of them. Depth 0 is the main line; others carry a label, by which they are told apart."""

    depth: int
    label: str
    children: tuple[Inline, ...]


Block = (
    Heading
    | Paragraph
    | Listing
    | Table
    | Quotation
    | Verbatim
    | Rule
    | Plates
    | Claims
    | Chapter
    | Variation
)


class NoteEntry(msgspec.Struct, frozen=True):
    """An entry of the apparatus: its number, and groups of parts that are not broken at the end of a line.

    `printed` is the number that is shown, where chapters count anew.
    """

    number: int
    groups: tuple[tuple[Part, ...], ...]
    printed: int | None = None


class Target(msgspec.Struct, frozen=True):
    """Where an index leads: the name of an anchor, chapter or figure (`figure-2`), and what stands there in words."""

    name: str
    words: str


class IndexEntry(msgspec.Struct, frozen=True):
    """What is looked for, and where it stands. Entries of a greater depth go on from the one above."""

    label: tuple[Inline, ...]
    targets: tuple[Target, ...]
    depth: int = 0


class Index(msgspec.Struct, frozen=True):
    """An index with its title."""

    title: str
    entries: tuple[IndexEntry, ...]


class Page(msgspec.Struct, frozen=True, kw_only=True):
    """A whole text.

    Args:
        kind: What text it is, in the page's language: stands over the title.
        edition: Title of the edition.
        title: What stands over the text; the edition's title where the text has none.
        plain_title: The same without markup.
        standfirst: What stands below the title; may be empty.
        blocks: The text.
        entries: The apparatus.
        indexes: Of positions and variations; one without entries is not there.
        colophon: How and when it was made.
        sigla: The key.
        words: Fixed words and the language.
    """

    kind: str
    edition: str
    title: tuple[Inline, ...]
    plain_title: str
    standfirst: tuple[Inline, ...] = ()
    blocks: tuple[Block, ...] = ()
    entries: tuple[NoteEntry, ...] = ()
    indexes: tuple[Index, ...] = ()
    colophon: str = ""
    sigla: tuple[Siglum, ...] = ()
    words: Wording = ENGLISH


def plain(children: Iterable[Inline]) -> str:
    """The words without markup and without references to the apparatus."""
    return "".join(map(_plain, children))


def _plain(inline: Inline) -> str:
    match inline:
        case Words(text) | Typed(text) | Figure(text):
            return text
        case Moves(moves):
            return " ".join(moves)
        case Break():
            return " "
        case Styled(_, children) | Web(_, children):
            return plain(children)
    return ""
