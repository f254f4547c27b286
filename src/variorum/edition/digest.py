"""The digest's file format: Markdown with attribute spans and `:::` blocks, read into typed values.

    White has [57.4]{.fact kind=score at="iqp-main"} after [10.Re1]{.line of="iqp-main"}.

    :::diagram iqp-main
    marks: ring d5; route Nf3-e5
    caption: Before the break.
    :::

Reading never raises on what an author wrote: broken parts become diagnostics with line and column, the rest stands. Which
kinds of fact and claim there are, and which attributes they take, is not known here but in `claims`.

The first `#` heading is the title; a paragraph wholly in emphasis right below it is the standfirst. Raw HTML and images are
left out (HTML comments silently: they are notes to oneself).
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Iterator
from pathlib import Path

import msgspec

from variorum.board import Side
from variorum.edition.marks import Mark

__all__ = [
    "Block",
    "Code",
    "Diagram",
    "Digest",
    "Emphasis",
    "Exhibit",
    "ExhibitKind",
    "Heading",
    "Inline",
    "LineBreak",
    "Link",
    "ListOrder",
    "Listing",
    "Paragraph",
    "Quotation",
    "Rule",
    "Span",
    "SpanKind",
    "Strong",
    "Text",
    "Verbatim",
    "Where",
    "plain_text",
]


class Where(msgspec.Struct, frozen=True, order=True):
    """Line and column in the file, from 1, in characters."""

    line: int
    column: int


class SpanKind(enum.Enum):
    """What an attribute span is, by its class: `{.fact …}`."""

    FACT = "fact"
    LINE = "line"
    CLAIM = "claim"


class Text(msgspec.Struct, frozen=True):
    """Running text."""

    text: str


class Code(msgspec.Struct, frozen=True):
    """Text between backticks: printed as typed, moves in it are not set."""

    text: str


class LineBreak(msgspec.Struct, frozen=True):
    """A line that the author ended."""


class Emphasis(msgspec.Struct, frozen=True):
    """Italic."""

    children: tuple[Inline, ...]


class Strong(msgspec.Struct, frozen=True):
    """Semibold."""

    children: tuple[Inline, ...]


class Link(msgspec.Struct, frozen=True):
    """A link out of the digest (`http`, `https`, `mailto`)."""

    target: str
    children: tuple[Inline, ...]


class Span(msgspec.Struct, frozen=True):
    """`[text]{.kind name=value}`: words tied to evidence. `where` is the bracket."""

    kind: SpanKind
    children: tuple[Inline, ...]
    attributes: dict[str, str]
    where: Where

    @property
    def text(self) -> str:
        """What was typed between the brackets, without its markup."""
        return plain_text(self.children)


Inline = Text | Code | LineBreak | Emphasis | Strong | Link | Span


class Heading(msgspec.Struct, frozen=True):
    """A heading of level 2 to 6."""

    level: int
    children: tuple[Inline, ...]
    where: Where


class Paragraph(msgspec.Struct, frozen=True):
    """A paragraph."""

    children: tuple[Inline, ...]
    where: Where


class ListOrder(enum.Enum):
    """Whether the entries of a list are numbered."""

    NUMBERED = "numbered"
    PLAIN = "plain"


class Listing(msgspec.Struct, frozen=True):
    """A list; each item is a run of blocks."""

    order: ListOrder
    items: tuple[tuple[Block, ...], ...]


class Quotation(msgspec.Struct, frozen=True):
    """A block quotation."""

    blocks: tuple[Block, ...]


class Verbatim(msgspec.Struct, frozen=True):
    """A code block, printed as typed."""

    text: str
    where: Where


class Rule(msgspec.Struct, frozen=True):
    """A break between parts."""


class Diagram(msgspec.Struct, frozen=True):
    """`:::diagram PLACE` with its lines `marks:`, `caption:` and `view:` (`white` or `black`).

    `against` is another place: the units that differ from it are marked.
    """

    place: str
    marks: tuple[Mark, ...]
    caption: tuple[Inline, ...]
    view: Side
    where: Where
    against: str = ""


class ExhibitKind(enum.Enum):
    """What a block shows that is looked up, by its word: `:::orders …`."""

    LINE = "line"
    GAME = "game"
    PLANS = "plans"
    ORDERS = "orders"
    CONTRAST = "contrast"
    APPARATUS = "apparatus"


class Exhibit(msgspec.Struct, frozen=True):
    """`:::orders iqp` and the like: a block that is looked up when the text is built.

    `subject` is what stands behind the word: a place, or for a game who played it. `options` are its lines but for the
    caption, and `option_places` where their values stand.
    """

    kind: ExhibitKind
    subject: str
    options: dict[str, str]
    caption: tuple[Inline, ...]
    where: Where
    option_places: dict[str, Where] = {}


Block = Heading | Paragraph | Listing | Quotation | Verbatim | Rule | Diagram | Exhibit


class Digest(msgspec.Struct, frozen=True):
    """A digest as read. `title` and `standfirst` are empty where the text has none."""

    path: Path
    title: tuple[Inline, ...]
    standfirst: tuple[Inline, ...]
    blocks: tuple[Block, ...]

    def spans(self) -> Iterator[Span]:
        """Every span, in reading order; a span inside another comes after it."""
        yield from _spans(self.title)
        yield from _spans(self.standfirst)
        yield from _spans(self.blocks)

    def diagrams(self) -> Iterator[Diagram]:
        """Every diagram, in reading order."""
        return (block for block in _looked_up(self.blocks) if isinstance(block, Diagram))

    def shown_places(self) -> Iterator[str]:
        """The places that diagrams and other looked-up blocks show, as they are written."""
        for block in _looked_up(self.blocks):
            if isinstance(block, Diagram):
                yield block.place
            elif block.kind is not ExhibitKind.GAME:
                yield block.subject

    def exhibits(self) -> Iterator[Exhibit]:
        """Every other block that is looked up, in reading order."""
        return (block for block in _looked_up(self.blocks) if isinstance(block, Exhibit))


def plain_text(children: Iterable[Inline]) -> str:
    """The words without their markup."""
    return "".join(_words(child) for child in children)


def _words(inline: Inline) -> str:
    match inline:
        case Text(text) | Code(text):
            return text
        case LineBreak():
            return "\n"
        case _:
            return plain_text(inline.children)


def _spans(parts: Iterable[Inline | Block]) -> Iterator[Span]:
    for part in parts:
        match part:
            case Span():
                yield part
                yield from _spans(part.children)
            case Emphasis() | Strong() | Link() | Heading() | Paragraph():
                yield from _spans(part.children)
            case Listing():
                for item in part.items:
                    yield from _spans(item)
            case Quotation():
                yield from _spans(part.blocks)
            case Diagram() | Exhibit():
                yield from _spans(part.caption)


def _looked_up(blocks: Iterable[Block]) -> Iterator[Diagram | Exhibit]:
    for block in blocks:
        match block:
            case Diagram() | Exhibit():
                yield block
            case Listing():
                for item in block.items:
                    yield from _looked_up(item)
            case Quotation():
                yield from _looked_up(block.blocks)
