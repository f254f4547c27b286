"""What never leaves the edition: marked comments, lines and names, and questions to oneself."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import msgspec

from variorum.edition import (
    EditionSettings,
    Node,
    hides_line,
    is_private_comment,
    makes_line_private,
    question_in,
)
from variorum.edition.digest import (
    Block,
    Digest,
    Exhibit,
    ExhibitKind,
    Heading,
    Inline,
    Link,
    Listing,
    Paragraph,
    Quotation,
    Rule,
    Verbatim,
    plain_text,
)
from variorum.edition.digest import Diagram as DigestDiagram
from variorum.edition.manuscript import Comment, Game, Manuscript

__all__ = ["LeftOut", "Screen", "names_in", "publishable", "reason_to_leave_out"]


class LeftOut(msgspec.Struct, frozen=True):
    """Something that was not published, and where it stands; the words themselves are not repeated."""

    what: str
    path: Path
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.path}:{self.line}:{self.column}: {self.what}"


def reason_to_leave_out(text: str, settings: EditionSettings) -> str | None:
    """Why a comment or paragraph is not published, `None` if it is."""
    if makes_line_private(text, settings.private):
        return "private line"
    if is_private_comment(text, settings.private):
        return "private comment"
    if question_in(text, settings.words) is not None:
        return "question to yourself"
    if names_in(text, settings):
        return "private name"
    return None


class Screen:
    """What of a manuscript may be published. What may not is noted in `left_out`, once each."""

    def __init__(self, manuscript: Manuscript, settings: EditionSettings) -> None:
        self.manuscript = manuscript
        self.settings = settings
        self.left_out: list[LeftOut] = []
        for comment in manuscript.preamble:
            self.leave("comment before the first game", comment.place)

    def shows(self, game: Game) -> bool:
        """Whether anything of a game is published: its start can be used, and it is not private as a whole."""
        if game.start is None:
            self.leave("start position that cannot be used", game.root.place)
            return False
        shown = not self.hides(game.root)
        if shown:
            for tag in game.tag_pairs:
                if names_in(tag.value, self.settings):
                    self.leave("private name in a tag", self.manuscript.text.place(tag.span[0]))
        return shown

    def hides(self, node: Node) -> bool:
        """Whether a move and all after it are private."""
        private = hides_line(node, self.settings)
        if private:
            self.leave("private line", node.place)
        return private

    def comments(self, comments: Iterable[Comment]) -> Iterator[str]:
        """The texts of the comments that may be read."""
        for comment in comments:
            reason = reason_to_leave_out(comment.text, self.settings)
            if reason:
                self.leave(reason, comment.place)
            else:
                yield comment.text

    def tag(self, value: str) -> str:
        """A tag's value, `?` for one that holds a private name."""
        return "?" if names_in(value, self.settings) else " ".join(value.split())

    def leave(self, what: str, place: tuple[int, int]) -> None:
        """Note something that is not published."""
        found = LeftOut(what, self.manuscript.path, *place)
        if found not in self.left_out:
            self.left_out.append(found)


def names_in(text: str, settings: EditionSettings) -> bool:
    """Whether a private name stands in the text, in any case, as words of its own."""
    folded = " ".join(text.casefold().split())
    return any(
        re.search(rf"(?<!\w){re.escape(' '.join(name.casefold().split()))}(?!\w)", folded)
        for name in settings.private.names
    )


def publishable(digest: Digest, settings: EditionSettings) -> tuple[Digest, list[LeftOut]]:
    """The digest without what is private, and a list of what was left out.

    A block that begins with a private word or holds a private name goes; a heading so marked takes its section along.
    """
    left: list[LeftOut] = []
    line = 1
    kept_title = digest.title
    if reason := reason_to_leave_out(_words(digest.title), settings):
        left.append(LeftOut(reason, digest.path, line, 1))
        kept_title = ()
    standfirst = digest.standfirst
    if reason := reason_to_leave_out(_words(standfirst), settings):
        left.append(LeftOut(reason, digest.path, line, 1))
        standfirst = ()
    blocks: list[Block] = []
    hidden_level = 0
    for block in digest.blocks:
        if isinstance(block, Heading):
            if hidden_level and block.level > hidden_level:
                continue
            reason = reason_to_leave_out(_words(block.children), settings)
            hidden_level = block.level if reason else 0
        if hidden_level:
            if isinstance(block, Heading):
                left.append(LeftOut("private section", digest.path, block.where.line, block.where.column))
            continue
        kept = _kept(block, digest.path, settings, left)
        if kept is not None:
            blocks.append(kept)
    return Digest(digest.path, kept_title, standfirst, tuple(blocks)), left


def _words(children: Iterable[Inline]) -> str:
    """The words of a text and, behind them, where its links lead: both are printed."""
    return " ".join([plain_text(children), *_targets(children)])


def _targets(children: Iterable[Inline]) -> Iterator[str]:
    for child in children:
        if isinstance(child, Link):
            yield child.target
        yield from _targets(getattr(child, "children", ()))


def _kept(block: Block, path: Path, settings: EditionSettings, left: list[LeftOut]) -> Block | None:
    match block:
        case Paragraph(children, where) | Heading(_, children, where):
            reason = reason_to_leave_out(_words(children), settings)
        case Exhibit(kind, subject, _, caption, where):
            cited = subject if kind is ExhibitKind.GAME else ""
            reason = reason_to_leave_out(f"{_words(caption)} {cited}", settings)
        case DigestDiagram():
            reason, where = reason_to_leave_out(_words(block.caption), settings), block.where
        case Listing(order, items):
            kept = [tuple(_all_kept(item, path, settings, left)) for item in items]
            return Listing(order, tuple(item for item in kept if item)) if any(kept) else None
        case Quotation(blocks):
            inside = tuple(_all_kept(blocks, path, settings, left))
            return Quotation(inside) if inside else None
        case Rule():
            return block
        case Verbatim(text, where):
            reason = reason_to_leave_out(text, settings)
    if reason is None:
        return block
    left.append(LeftOut(reason, path, where.line, where.column))
    return None


def _all_kept(
    blocks: tuple[Block, ...], path: Path, settings: EditionSettings, left: list[LeftOut]
) -> list[Block]:
    kept = (_kept(block, path, settings, left) for block in blocks)
    return [block for block in kept if block is not None]
