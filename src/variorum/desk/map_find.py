"""Finding places on an edition's graph: by position, name, line, structure or move; what is unanswered, what is disputed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

import msgspec
import numpy as np

from variorum.base import VariorumError
from variorum.board import Position
from variorum.build.opened import OpenEdition
from variorum.edition import question_in, resolve_place
from variorum.insight.agreement import disputes
from variorum.insight.structures import catalogue
from variorum.scout.wishes import Reason, graph_wishes

__all__ = ["Finding", "disputed", "find", "unanswered"]

_MOVE: Final = re.compile(
    r"(?:(?P<number>\d{1,4})\s*(?P<dots>\.{1,3}|…)\s*|(?P<black>\.{3}|…)\s*)?(?P<san>\S+)"
)
_SQUARE: Final = re.compile(r"[a-h][1-8](?=[^a-h1-8]*$)")
_STRIPPED: Final = str.maketrans("", "", "+#!?")


class Finding(msgspec.Struct, frozen=True):
    """A node that was found and, where there is something to say of it, why."""

    node: int
    words: str = ""


def find(opened: OpenEdition, text: str) -> list[Finding]:
    """Nodes that a text of the reader means, those with most traffic first.

    A FEN or a line means its position, a name or part of one the places called so, the name of a structure all positions
    that have it and come from one without it, and a move all positions that it leads to.
    """
    text = " ".join(text.split())
    graph = opened.graph
    found: dict[int, str] = {}
    try:
        node = graph.node_of(
            Position.from_fen(text) if "/" in text else resolve_place(opened.edition, text).position
        )
    except VariorumError:
        node = None
    if node is not None:
        found[node] = ""
    sought = text.casefold().replace("’", "'")
    for name, place in opened.edition.places.items():
        named = graph.node_of(place.position)
        if sought in name.casefold() and named is not None:
            found.setdefault(named, "")
    if not found or "/" not in text:
        found |= {one.node: one.words for one in _structures(opened, sought) if one.node not in found}
        found |= {one.node: one.words for one in _moves(opened, text) if one.node not in found}
    return _by_traffic(opened, (Finding(node, words) for node, words in found.items()))


def unanswered(opened: OpenEdition) -> list[Finding]:
    """Ends of the author's lines on which no voice has a verdict, and what he asks himself in a comment."""
    judged = {verdict.epd for verdict in opened.said}
    found: dict[int, str] = {}
    for wish in graph_wishes(opened.graph, opened.traffic):
        if wish.reason is Reason.LEAF and wish.position.epd not in judged:
            node = opened.graph.node_of(wish.position)
            if node is not None:
                found[node] = "a line ends here without a verdict"
    for position, question in _questions(opened):
        node = opened.graph.node_of(position)
        if node is not None:
            found[node] = f"you ask: {question}"
    return _by_traffic(opened, (Finding(node, words) for node, words in found.items()))


def disputed(opened: OpenEdition) -> list[Finding]:
    """Positions on which two voices do not agree, the greatest gap of each said."""
    found: dict[int, str] = {}
    for dispute in disputes(opened.said):
        node = opened.graph.node_of(Position.from_fen(f"{dispute.epd} 0 1"))
        if node is None or node in found:
            continue
        one, other = (opened.sigla[voice] for voice in dispute.voices)
        if dispute.about == "score":
            said = f"{one} {dispute.expected[0]:.1f}, {other} {dispute.expected[1]:.1f}"
        else:
            said = f"{one} plays {dispute.moves[0] or 'nothing more'}, {other} {dispute.moves[1] or 'nothing more'}"
            if dispute.together:
                said += f" after {dispute.together}"
        found[node] = said
    return _by_traffic(opened, (Finding(node, words) for node, words in found.items()))


def _by_traffic(opened: OpenEdition, found: Iterable[Finding]) -> list[Finding]:
    shares = opened.traffic.nodes
    return sorted(found, key=lambda one: (-float(shares[one.node]), one.node))


def _questions(opened: OpenEdition) -> Iterator[tuple[Position, str]]:
    if opened.manuscript is None:
        return
    for game in opened.manuscript.games:
        for comment in game.comments:
            text = question_in(comment.text, opened.edition.settings.words)
            node = comment.node
            if text is not None and node is not None:
                yield node.position, text


def _structures(opened: OpenEdition, sought: str) -> list[Finding]:
    """Positions that have a structure so called, or called by these words among others, where a line enters it."""
    if len(sought) < 4:
        return []
    graph, codes, named = opened.graph, opened.structure_codes, catalogue()
    found = []
    for code in np.unique(codes).tolist():
        known = named.of_code(code)
        if known is None or not (known.is_called(sought) or sought in known.words.casefold()):
            continue
        enters = (codes[graph.targets] == code) & (codes[graph.sources] != code)
        nodes = {
            *graph.targets[enters].tolist(),
            *(root for root in graph.roots.tolist() if codes[root] == code),
        }
        found += [Finding(node, known.words) for node in nodes]
    return found


def _moves(opened: OpenEdition, text: str) -> list[Finding]:
    """Positions behind a move in SAN, with its number or dots or without; it must have been played or written."""
    graph = opened.graph
    asked = _MOVE.fullmatch(text)
    if asked is None:
        return []
    san = (
        asked["san"].translate(_STRIPPED).replace("0", "O")
        if "0-0" in text
        else asked["san"].translate(_STRIPPED)
    )
    square = _SQUARE.search(san)
    castles = san in ("O-O", "O-O-O")
    if square is None and not castles:
        return []
    walked = np.zeros(graph.edges, np.bool_)
    walked[graph.edge_counts.places] = True
    targets = (graph.moves >> 6) & 63
    if square is not None:
        target = "abcdefgh".index(square[0][0]) + 8 * (int(square[0][1]) - 1)
        walked &= targets == target
    else:
        # Castling is held as the king's move to its own rook.
        walked &= (targets < 8) | (targets >= 56)
    black = asked["black"] is not None or (asked["dots"] or "") in ("...", "…")
    white = (asked["dots"] or "") == "."
    if black or white:
        walked &= graph.white[graph.sources] == white
    found = []
    for edge in np.flatnonzero(walked).tolist():
        source = graph.position(int(graph.sources[edge]))
        (move,) = source.unpack(graph.moves[edge : edge + 1])
        if source.san(move).translate(_STRIPPED) == san:
            found.append(Finding(int(graph.targets[edge])))
    if asked["number"] is None:
        return found
    played = 2 * int(asked["number"]) - white
    return [one for one in found if opened.tell.way(one.node).end.ply == played]
