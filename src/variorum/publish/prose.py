"""The author's text as HTML: escaped, moves set, spans filled in, and sanitised once more before it is let out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from html import escape

import nh3

from variorum.edition.digest import (
    Block,
    Code,
    Emphasis,
    Heading,
    Inline,
    LineBreak,
    Link,
    Listing,
    ListOrder,
    Paragraph,
    Quotation,
    Rule,
    Span,
    Strong,
    Text,
    Verbatim,
)
from variorum.publish.notation import Notation, set_moves_in_text

__all__ = ["Prose", "sanitise"]

SpanWriter = Callable[[Span, "Prose"], str]

_TAGS = {
    "p",
    "span",
    "em",
    "strong",
    "a",
    "code",
    "br",
    "ul",
    "ol",
    "li",
    "blockquote",
    "pre",
    "h2",
    "h3",
    "h4",
    "hr",
    "sup",
    "b",
    "i",
    "q",
    "small",
    "div",
}
_ATTRIBUTES = {"*": {"class"}, "a": {"href", "rel", "class"}, "span": {"class", "aria-hidden", "id"}}
_SENTENCE_END = re.compile(r"[.!?][”’»)]*(?=\s+\W*[^\W_a-z]|\s*$)")
_VERSAL_WORDS, _VERSAL_LENGTH = 3, 26


def sanitise(markup: str) -> str:
    """HTML with nothing in it but prose. What `Prose` writes passes unchanged; this is the second lock on the door."""
    return nh3.clean(
        markup,
        tags=_TAGS,
        attributes=_ATTRIBUTES,
        url_schemes={"http", "https", "mailto"},
        link_rel=None,
        clean_content_tags={"script", "style"},
    )


class Prose:
    """Writes text in one notation. `write_span` says what becomes of facts, lines and claims.

    References to the apparatus (`refer`) wait for the end of their sentence: behind a figure they would read as a power.
    """

    def __init__(self, notation: Notation, write_span: SpanWriter) -> None:
        self.notation = notation
        self.write_span = write_span
        self._waiting: list[str] = []

    def refer(self, markup: str) -> None:
        """Print a reference where the sentence at hand ends."""
        self._waiting.append(markup)

    def running(self, children: Iterable[Inline]) -> str:
        """HTML of a run of text that ends here."""
        return self.inlines(children) + self.references()

    def references(self) -> str:
        """The references that still wait."""
        waiting, self._waiting = self._waiting, []
        return "<sup>,</sup>".join(waiting)

    def inlines(self, children: Iterable[Inline]) -> str:
        """HTML of text that goes on."""
        return "".join(map(self._inline, children))

    def text(self, text: str) -> str:
        """Plain words with the moves in them set."""
        return "".join(
            f'<span class="mv">{escape(piece)}</span>' if is_move else self._words(piece)
            for piece, is_move in set_moves_in_text(text, self.notation)
        )

    def _words(self, text: str) -> str:
        end = _SENTENCE_END.search(text) if self._waiting else None
        if end is None:
            return escape(text)
        return escape(text[: end.end()]) + self.references() + escape(text[end.end() :])

    def block(self, block: Block) -> str:
        """HTML of a block other than a diagram."""
        match block:
            case Paragraph(children):
                return f"<p>{self.running(children)}</p>"
            case Heading(level, children):
                return f"<h{level}>{self.running(children)}</h{level}>"
            case Listing(order, items):
                tag = "ol" if order is ListOrder.NUMBERED else "ul"
                return f"<{tag}>{''.join(f'<li>{self._item(item)}</li>' for item in items)}</{tag}>"
            case Quotation(blocks):
                return f"<blockquote>{''.join(map(self.block, blocks))}</blockquote>"
            case Verbatim(text, _):
                return f"<pre>{escape(text)}</pre>"
            case Rule():
                return "<hr>"
        return ""

    def first_paragraph(self, paragraph: Paragraph) -> str:
        """The paragraph that opens the article: a versal, and its first words in small capitals."""
        opening = paragraph.children[0]
        cut = _versal_cut(opening.text) if isinstance(opening, Text) else 0
        if not isinstance(opening, Text) or not cut:
            return f'<p class="first">{self.running(paragraph.children)}</p>'
        versal, small, rest = opening.text[0], opening.text[1:cut].rstrip(), opening.text[1:]
        rest = rest.removeprefix(small)
        small_capitals = f'<span class="sc">{escape(small)}</span>' if small else ""
        return (
            f'<p class="first"><span class="versal" aria-hidden="true">{versal}</span><span class="vh">{versal}</span>'
            f"{small_capitals}{self.text(rest)}{self.running(paragraph.children[1:])}</p>"
        )

    def _item(self, blocks: tuple[Block, ...]) -> str:
        """An entry of a list; a single paragraph stands without its tags."""
        match blocks:
            case (Paragraph(children),):
                return self.running(children)
            case (Paragraph(children), *rest):
                return self.running(children) + "".join(map(self.block, rest))
        return "".join(map(self.block, blocks))

    def _inline(self, inline: Inline) -> str:
        match inline:
            case Text(text):
                return self.text(text)
            case Code(text):
                return f"<code>{escape(text)}</code>"
            case LineBreak():
                return "<br>"
            case Emphasis(children):
                return f"<em>{self.inlines(children)}</em>"
            case Strong(children):
                return f"<strong>{self.inlines(children)}</strong>"
            case Link(target, children):
                waiting, self._waiting = self._waiting, []  # no link inside a link
                words = self.inlines(children)
                self._waiting = waiting + self._waiting
                return f'<a href="{escape(target)}" rel="noopener noreferrer">{words}</a>'
            case Span():
                return self.write_span(inline, self)


def _versal_cut(text: str) -> int:
    """How many characters of a paragraph's beginning are set as versal and small capitals; 0 where it does not begin so."""
    if len(text) < 2 or not text[0].isalpha() or not text[0].isupper():
        return 0
    words = text.split(" ")[: _VERSAL_WORDS + 1]
    kept = words[:_VERSAL_WORDS] if len(words) > _VERSAL_WORDS else words
    while kept and (len(" ".join(kept)) > _VERSAL_LENGTH or any(char.isdigit() for char in " ".join(kept))):
        kept.pop()
    return len(" ".join(kept))
