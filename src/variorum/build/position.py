"""`variorum position`: what games, voices, the graph and the author say of one position, by whatever order it came about."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
import numpy as np

from variorum.base import Diagnostic, Progress
from variorum.board import NAGS, Line, Position
from variorum.build.mentions import Mention, Places
from variorum.build.opened import OpenEdition
from variorum.build.spoken import VoiceSays, voices_on
from variorum.claims.spans import place_faults
from variorum.edition import Edition, Manuscript, Node, Place, hides_line
from variorum.graph import (
    MapOrder,
    MapValue,
    ValueRange,
)
from variorum.graph.position_games import PositionGames, position_counts, position_games
from variorum.insight.near import find_near
from variorum.insight.near_report import NearReport, near_report
from variorum.insight.squares import SquareLanguage, square_language
from variorum.insight.structures import structure_of
from variorum.insight.tempo_report import LineLedger, tempo_report
from variorum.publish.private import reason_to_leave_out
from variorum.store import Filter

__all__ = [
    "Mention",
    "Passage",
    "PositionOrders",
    "PositionReport",
    "Remark",
    "position_at_hand",
    "position_orders",
    "position_report",
]


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
    diagnostics = list(opened.diagnostics)
    if opened.digest is not None:
        diagnostics += [*opened.digest_diagnostics, *place_faults(opened.digest, Places(opened.edition))]
    report = position_at_hand(opened, place, wanted)
    if opened.store is not None:
        few = opened.edition.settings.thresholds.few_games
        games = position_games(opened.store, place, wanted, few=few, orders=orders)
        report = msgspec.structs.replace(report, games=games)
    if opened.manuscript is not None:
        passages = tuple(_passages(opened.manuscript, opened.edition, place.position))
        report = msgspec.structs.replace(report, passages=passages)
    node = opened.graph.node_of(place.position)
    if node is None:
        return report, diagnostics
    tell = opened.tell
    ways = position_orders(opened, node, orders)
    report = msgspec.structs.replace(
        report,
        on_graph=True,
        values=tell.values(node),
        range=tell.value_range(node),
        since=ways.since,
        order_count=ways.count,
        orders=ways.orders,
        near=_near(opened, node, near, progress),
    )
    return report, diagnostics


def position_at_hand(opened: OpenEdition, place: Place, wanted: Filter) -> PositionReport:
    """What look-ups tell of a place: its line, voices, games, where the digest has it. What needs the graph is left empty, and the passages.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
    """
    edition, position = opened.edition, place.position
    games = None
    if opened.store is not None:
        few = edition.settings.thresholds.few_games
        games = position_counts(opened.store, place, wanted, few=few, examples=0)
    structure = structure_of(position)
    return PositionReport(
        name=place.name or "",
        line=place.line.san() if place.line else "",
        fen=position.fen,
        to_move=position.turn.value,
        result=position.outcome or "",
        structure="" if structure is None else structure.words,
        structure_sources=() if structure is None else structure.structure.sources,
        squares=square_language(position),
        voices=voices_on(position, edition, opened.verdicts, opened.sigla),
        on_graph=False,
        values=(),
        range=None,
        since=None,
        order_count=0,
        orders=(),
        passages=(),
        mentions=opened.mentions.get(position.key, ()),
        games=games,
        ledger=tempo_report(place.line).here if place.line and place.line.moves else None,
        near=None,
    )


class PositionOrders(msgspec.Struct, frozen=True, kw_only=True):
    """The heaviest of `count` orders on the graph, from the line `since` on (`None`: from the roots)."""

    since: str | None
    count: int
    orders: tuple[MapOrder, ...]


def position_orders(opened: OpenEdition, node: int, limit: int) -> PositionOrders:
    """The orders on the graph that lead to a node, `limit` at most."""
    tell, found = opened.tell, opened.traffic.orders_to(node, limit)
    return PositionOrders(
        since=None if found.since is None else tell.way(found.since).san(),
        count=found.count,
        orders=tuple(
            tell.order(found.since, start, edges)
            for start, edges in zip(found.starts, found.orders, strict=True)
        ),
    )


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
