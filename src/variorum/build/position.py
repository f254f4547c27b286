"""`variorum position`: what games, voices, the graph and the author say of one position, by whatever order it came about."""

from __future__ import annotations

import bisect
from collections.abc import Iterator

import msgspec
import numpy as np

from variorum.base import Diagnostic, InputError, Progress
from variorum.board import NAGS, Line, Position
from variorum.build.opened import OpenEdition
from variorum.build.spoken import VoiceSays, voices_on
from variorum.claims.lines import read_line
from variorum.claims.spans import place_faults
from variorum.edition import Edition, Manuscript, Node, Place, hides_line, resolve_place
from variorum.edition.digest import (
    Diagram,
    Digest,
    Heading,
    Span,
    SpanKind,
    Where,
    plain_text,
)
from variorum.graph import (
    MapOrder,
    MapValue,
    ValueRange,
)
from variorum.graph.position_games import PositionGames, position_games
from variorum.insight.near import find_near
from variorum.insight.near_report import NearReport, near_report
from variorum.insight.squares import SquareLanguage, square_language
from variorum.insight.structures import structure_of
from variorum.insight.tempo_report import LineLedger, tempo_report
from variorum.publish.private import publishable, reason_to_leave_out
from variorum.store import Filter

__all__ = ["Mention", "Passage", "PositionReport", "Remark", "position_report"]


class Remark(msgspec.Struct, frozen=True, kw_only=True):
    """A comment of the manuscript; `kept_back` is why it is not published, empty if it is."""

    line: int
    column: int
    text: str
    kept_back: str


class Passage(msgspec.Struct, frozen=True, kw_only=True):
    """A place of the manuscript where the position arises: by which order, with which signs, and what is played then.

    `private` is whether it stands in a line that is not published.
    """

    game: int
    line: int
    column: int
    by: str
    signs: tuple[str, ...]
    remarks: tuple[Remark, ...]
    moves: tuple[str, ...]
    private: bool


class Mention(msgspec.Struct, frozen=True, kw_only=True):
    """A place of the digest that is about the position: the heading it stands under, what it is, its words."""

    line: int
    column: int
    section: str
    what: str
    text: str
    private: bool


class PositionReport(msgspec.Struct, frozen=True, kw_only=True):
    """All that is known of a position.

    `voices` are verdicts on the position itself, `values` what each voice thinks when the graph behind it is counted.
    `orders` are the heaviest of `order_count` orders on the graph, from the line `since` on (`None`: from the roots).
    `games` is `None` where nothing was sifted yet. `ledger` is that of the place's line, `None` where it has none; `near` are
    the most interesting near positions and reversed twins, `None` where the position is not on the graph. `structure` is
    the named pawn skeleton and whose it is, empty where it has no name, and `squares` what is said of holes, pawns and files.
    """

    name: str
    line: str
    fen: str
    to_move: str
    result: str
    structure: str
    structure_sources: tuple[str, ...]
    squares: SquareLanguage
    voices: tuple[VoiceSays, ...]
    on_graph: bool
    values: tuple[MapValue, ...]
    range: ValueRange | None
    since: str | None
    order_count: int
    orders: tuple[MapOrder, ...]
    passages: tuple[Passage, ...]
    mentions: tuple[Mention, ...]
    games: PositionGames | None
    ledger: LineLedger | None
    near: NearReport | None


def position_report(
    opened: OpenEdition,
    place: Place,
    wanted: Filter,
    *,
    orders: int = 8,
    near: int = 4,
    progress: Progress | None = None,
) -> tuple[PositionReport, list[Diagnostic]]:
    """What is known of a place, and what is wrong with the texts it was read from.

    Args:
        opened: The edition.
        place: The position.
        wanted: Which games count.
        orders: At most so many orders are listed.
        near: At most so many near positions are listed.
        progress: Where to report.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
        Interrupted: The user stopped.
    """
    edition, position = opened.edition, place.position
    diagnostics = list(opened.diagnostics)
    mentions: tuple[Mention, ...] = ()
    if opened.digest is not None:
        diagnostics += [*opened.digest_diagnostics, *place_faults(opened.digest, _Places(edition))]
        mentions = tuple(_mentions(opened.digest, edition, position))
    games = None
    if opened.store is not None:
        few = edition.settings.thresholds.few_games
        games = position_games(opened.store, place, wanted, few=few, orders=orders)
    tell = opened.tell
    node = opened.graph.node_of(position)
    found = None if node is None else opened.traffic.orders_to(node, orders)
    structure = structure_of(position)
    report = PositionReport(
        name=place.name or "",
        line=place.line.san() if place.line else "",
        fen=position.fen,
        to_move=position.turn.value,
        result=position.outcome or "",
        structure="" if structure is None else structure.words,
        structure_sources=() if structure is None else structure.structure.sources,
        squares=square_language(position),
        voices=voices_on(position, edition, opened.verdicts, opened.sigla),
        on_graph=node is not None,
        values=() if node is None else tell.values(node),
        range=None if node is None else tell.value_range(node),
        since=None if found is None or found.since is None else tell.way(found.since).san(),
        order_count=0 if found is None else found.count,
        orders=()
        if found is None
        else tuple(
            tell.order(found.since, start, edges)
            for start, edges in zip(found.starts, found.orders, strict=True)
        ),
        passages=() if opened.manuscript is None else tuple(_passages(opened.manuscript, edition, position)),
        mentions=mentions,
        games=games,
        ledger=tempo_report(place.line).here if place.line and place.line.moves else None,
        near=None if node is None else _near(opened, node, near, progress),
    )
    return report, diagnostics


def _near(opened: OpenEdition, node: int, limit: int, progress: Progress | None) -> NearReport:
    found = find_near(opened.graph, opened.traffic, opened.values, node=node, limit=limit, progress=progress)
    return near_report(opened.edition.title, opened.tell, found, node)


def _passages(manuscript: Manuscript, edition: Edition, position: Position) -> Iterator[Passage]:
    keys = np.asarray(manuscript.index.columns.node_key)
    for row in np.flatnonzero(keys == np.uint64(position.key)).tolist():
        node = Node(manuscript, row)
        if node.game.start is None or node.position != position:
            continue
        way = _way(node)
        line, column = node.place
        yield Passage(
            game=node.game.number,
            line=line,
            column=column,
            by=Line(way[0].position, tuple(one.move for one in way[1:] if one.move)).san(),
            signs=tuple(map(_sign_text, node.nags)),
            remarks=tuple(_remarks(node, edition)),
            moves=tuple(_move_text(child) for child in node.children),
            private=any(hides_line(one, edition.settings) for one in way),
        )


def _way(node: Node) -> list[Node]:
    way = [node]
    while (parent := way[-1].parent) is not None:
        way.append(parent)
    return way[::-1]


def _remarks(node: Node, edition: Edition) -> Iterator[Remark]:
    for comment in node.comments:
        line, column = comment.place
        kept_back = reason_to_leave_out(comment.text, edition.settings) or ""
        yield Remark(line=line, column=column, text=comment.text, kept_back=kept_back)


def _move_text(node: Node) -> str:
    """A move with its number and signs, as an author would write it."""
    assert node.parent is not None
    assert node.move is not None
    move = "--" if node.move.is_null else Line(node.parent.position, (node.move,)).san()
    signs = [_sign_text(nag) for nag in node.nags]
    return move + "".join(
        sign if sign in ("!", "?", "!!", "??", "!?", "?!") else f" {sign}" for sign in signs
    )


def _sign_text(nag: int) -> str:
    entry = NAGS[nag] if nag < len(NAGS) else None
    return (entry and (entry.glyph or entry.ascii)) or f"${nag}"


class _Places:
    """The places of an edition, as line spans look them up."""

    def __init__(self, edition: Edition) -> None:
        self._edition = edition

    def place(self, text: str) -> Place:
        """The place that a text says."""
        return resolve_place(self._edition, text)


def _mentions(digest: Digest, edition: Edition, position: Position) -> Iterator[Mention]:
    places = _Places(edition)
    headings = [(Where(1, 1), plain_text(digest.title))]
    headings += [
        (block.where, plain_text(block.children)) for block in digest.blocks if isinstance(block, Heading)
    ]
    public, _ = publishable(digest, edition.settings)
    published = {span.where for span in public.spans()} | {diagram.where for diagram in public.diagrams()}

    def is_here(text: str) -> bool:
        try:
            return places.place(text).position == position
        except InputError:
            return False  # told in `place_faults`

    def about(part: Span | Diagram) -> bool:
        if isinstance(part, Diagram):
            return is_here(part.place)
        if part.kind is SpanKind.LINE:
            line, _ = read_line(part, places, digest.path)
            return line is not None and line.end == position
        return is_here(part.attributes.get("at", ""))

    def where(part: Span | Diagram) -> Where:
        return part.where

    parts: list[Span | Diagram] = [*digest.spans(), *digest.diagrams()]
    for part in sorted(filter(about, parts), key=where):
        above = bisect.bisect_right(headings, part.where, key=lambda heading: heading[0]) - 1
        yield Mention(
            line=part.where.line,
            column=part.where.column,
            section=headings[above][1],
            what="diagram" if isinstance(part, Diagram) else part.kind.value,
            text=plain_text(part.caption) if isinstance(part, Diagram) else part.text,
            private=part.where not in published,
        )
