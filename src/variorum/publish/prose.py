"""The author's text made ready to be set: moves found and written in the page's notation, spans filled in, references placed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator

from variorum.edition import digest
from variorum.publish.notation import Notation, set_moves_in_text
from variorum.publish.page import (
    Block,
    Break,
    Heading,
    Inline,
    Listing,
    Moves,
    Notes,
    Opening,
    Paragraph,
    Quotation,
    Rule,
    Style,
    Styled,
    Typed,
    Verbatim,
    Web,
    Words,
)

__all__ = ["Prose"]

SpanWriter = Callable[[digest.Span, "Prose"], Iterable[Inline]]
BlockWriter = Callable[[digest.Block], Iterable[Block]]

LOWEST_HEADING = 4
_SENTENCE_END = re.compile(r"[.!?][”’»)]*(?=\s+\W*[^\W_a-z]|\s*$)")
_VERSAL_WORDS, _VERSAL_LENGTH = 3, 26


class Prose:
    """Sets running text. References wait for the end of their sentence: a superior figure behind a number reads as a power.

    Args:
        notation: How moves are written.
        write_span: What becomes of a span.
        write_block: What becomes of a block that is not prose: a diagram.
    """

    def __init__(self, notation: Notation, write_span: SpanWriter, write_block: BlockWriter) -> None:
        self.notation = notation
        self.write_span = write_span
        self.write_block = write_block
        self._waiting: list[int] = []

    def refer(self, number: int) -> None:
        """Print a reference to an entry of the apparatus where the sentence at hand ends."""
        self._waiting.append(number)

    def running(self, children: Iterable[digest.Inline]) -> tuple[Inline, ...]:
        """A run of text that ends here."""
        return (*self.inlines(children), *self.references())

    def references(self) -> tuple[Inline, ...]:
        """The references that still wait."""
        waiting, self._waiting = tuple(self._waiting), []
        return (Notes(waiting),) if waiting else ()

    def inlines(self, children: Iterable[digest.Inline]) -> tuple[Inline, ...]:
        """Text that goes on."""
        return tuple(inline for child in children for inline in self._inline(child))

    def text(self, text: str) -> tuple[Inline, ...]:
        """Plain words with the moves in them set."""
        return tuple(self._text(text))

    def _text(self, text: str) -> Iterator[Inline]:
        for piece, is_move in set_moves_in_text(text, self.notation):
            if is_move:
                yield Moves((piece,))
                continue
            end = _SENTENCE_END.search(piece) if self._waiting else None
            if end is None:
                yield Words(piece)
                continue
            yield Words(piece[: end.end()])
            yield from self.references()
            if piece[end.end() :]:
                yield Words(piece[end.end() :])

    def block(self, block: digest.Block) -> tuple[Block, ...]:
        """A block and what is inside it."""
        match block:
            case digest.Paragraph(children):
                return (Paragraph(self.running(children)),)
            case digest.Heading(level, children):
                return (Heading(min(level, LOWEST_HEADING), self.running(children)),)
            case digest.Listing(order, items):
                return (Listing(order, tuple(map(self.blocks, items))),)
            case digest.Quotation(blocks):
                return (Quotation(self.blocks(blocks)),)
            case digest.Verbatim(text, _):
                return (Verbatim(text),)
            case digest.Rule():
                return (Rule(),)
        return tuple(self.write_block(block))

    def blocks(self, blocks: Iterable[digest.Block]) -> tuple[Block, ...]:
        """Blocks in their order."""
        return tuple(made for block in blocks for made in self.block(block))

    def first_paragraph(self, paragraph: digest.Paragraph) -> Paragraph:
        """The paragraph that opens the article: a versal, and its first words in small capitals."""
        opening = paragraph.children[0]
        cut = _versal_cut(opening.text) if isinstance(opening, digest.Text) else 0
        if not isinstance(opening, digest.Text) or not cut:
            return Paragraph(self.running(paragraph.children), Opening())
        versal, small, rest = opening.text[0], opening.text[1:cut].rstrip(), opening.text[1:]
        rest = rest.removeprefix(small)
        return Paragraph(
            (*self.text(rest), *self.running(paragraph.children[1:])),
            Opening(versal, small),
        )

    def _inline(self, inline: digest.Inline) -> Iterable[Inline]:
        match inline:
            case digest.Text(text):
                yield from self._text(text)
            case digest.Code(text):
                yield Typed(text)
            case digest.LineBreak():
                yield Break()
            case digest.Emphasis(children):
                yield Styled(Style.EMPHASIS, self.inlines(children))
            case digest.Strong(children):
                yield Styled(Style.STRONG, self.inlines(children))
            case digest.Link(target, children):
                waiting, self._waiting = self._waiting, []  # no link inside a link
                words = self.inlines(children)
                self._waiting = waiting + self._waiting
                yield Web(target, words)
            case digest.Span():
                yield from self.write_span(inline, self)


def _versal_cut(text: str) -> int:
    """How many characters of a paragraph's beginning are set as versal and small capitals; 0 where it does not begin so."""
    if len(text) < 2 or not text[0].isalpha() or not text[0].isupper():
        return 0
    words = text.split(" ")[: _VERSAL_WORDS + 1]
    kept = words[:_VERSAL_WORDS] if len(words) > _VERSAL_WORDS else words
    while kept and (len(" ".join(kept)) > _VERSAL_LENGTH or any(char.isdigit() for char in " ".join(kept))):
        kept.pop()
    return len(" ".join(kept))
