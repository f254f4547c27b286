"""Where the digest is about a position: lines that end there, diagrams of it, facts and claims at it."""

from __future__ import annotations

import bisect
from collections.abc import Mapping

import msgspec

from variorum.base import InputError
from variorum.board import Position
from variorum.claims.lines import read_line
from variorum.edition import Edition, Place, resolve_place
from variorum.edition.digest import Diagram, Digest, Heading, Span, SpanKind, Where, plain_text
from variorum.publish.private import publishable

__all__ = ["Mention", "Places", "mentions_of"]


class Mention(msgspec.Struct, frozen=True, kw_only=True):
    """A place of the digest that is about the position: the heading it stands under, what it is, its words."""

    line: int
    column: int
    section: str
    what: str
    text: str
    private: bool


class Places:
    """The places of an edition, as line spans look them up."""

    def __init__(self, edition: Edition) -> None:
        self._edition = edition

    def place(self, text: str) -> Place:
        """The place that a text says.

        Raises:
            InputError: It is none.
        """
        return resolve_place(self._edition, text)


def mentions_of(digest: Digest, edition: Edition) -> Mapping[int, tuple[Mention, ...]]:
    """The mentions of every position that the digest is about, by the position's key, in the order of the text."""
    places = Places(edition)
    headings = [(Where(1, 1), plain_text(digest.title))]
    headings += [
        (block.where, plain_text(block.children)) for block in digest.blocks if isinstance(block, Heading)
    ]
    public, _ = publishable(digest, edition.settings)
    published = {span.where for span in public.spans()} | {diagram.where for diagram in public.diagrams()}

    def position_of(part: Span | Diagram) -> Position | None:
        if isinstance(part, Span) and part.kind is SpanKind.LINE:
            line, _ = read_line(part, places, digest.path)
            return None if line is None else line.end
        try:
            return places.place(
                part.place if isinstance(part, Diagram) else part.attributes.get("at", "")
            ).position
        except InputError:
            return None  # told where the digest is checked

    def where(part: Span | Diagram) -> Where:
        return part.where

    found: dict[int, list[Mention]] = {}
    parts: list[Span | Diagram] = [*digest.spans(), *digest.diagrams()]
    for part in sorted(parts, key=where):
        position = position_of(part)
        if position is None:
            continue
        above = bisect.bisect_right(headings, part.where, key=lambda heading: heading[0]) - 1
        found.setdefault(position.key, []).append(
            Mention(
                line=part.where.line,
                column=part.where.column,
                section=headings[above][1],
                what="diagram" if isinstance(part, Diagram) else part.kind.value,
                text=plain_text(part.caption) if isinstance(part, Diagram) else part.text,
                private=part.where not in published,
            )
        )
    return {key: tuple(mentions) for key, mentions in found.items()}
