"""Where a place stands in the manuscript: by the order that was typed, else by the position."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from variorum.base import InputError
from variorum.board import Line, Move, Position
from variorum.edition.manuscript import Game, Manuscript, Node
from variorum.edition.place import Place

__all__ = [
    "Followed",
    "follow",
    "follow_in",
    "games_named",
    "line_to",
    "move_text",
    "node_at",
    "nodes_on",
    "order_to",
]

_LISTED = 6


class Followed:
    """How far games follow a line: `nodes` stand at its last common position, `rest` are the moves beyond."""

    def __init__(self, nodes: tuple[Node, ...], rest: tuple[Move, ...]) -> None:
        self.nodes = nodes
        self.rest = rest


def follow(games: Iterable[Game], line: Line) -> Followed:
    """The nodes at which a typed line, or the longest part of it, stands, in the order of the text.

    No nodes where no game starts from the line's start.
    """
    best = Followed((), line.moves)
    for game in games:
        if game.start != line.start:
            continue
        found = follow_in((game.root,), line.moves)
        if not best.nodes or len(found.rest) < len(best.rest):
            best = found
        elif len(found.rest) == len(best.rest):
            best = Followed(best.nodes + found.nodes, best.rest)
    return best


def follow_in(nodes: tuple[Node, ...], moves: Sequence[Move]) -> Followed:
    """As `follow`, from nodes on which one position stands."""
    rest = list(moves)
    while rest:
        further = tuple(child for node in nodes for child in node.children if child.move == rest[0])
        if not further:
            break
        nodes = further
        rest.pop(0)
    return Followed(nodes, tuple(rest))


def nodes_on(manuscript: Manuscript, position: Position) -> tuple[Node, ...]:
    """Every node on which a position stands, by whatever order, in the order of the text."""
    found = []
    keys = np.asarray(manuscript.index.columns.node_key)
    for row in np.flatnonzero(keys == np.uint64(position.key)).tolist():
        node = Node(manuscript, row)
        if node.game.start is not None and node.position == position:
            found.append(node)
    return tuple(found)


def line_to(node: Node) -> Line:
    """The moves from the start of the game."""
    moves: list[Move] = []
    at = node
    while (parent := at.parent) is not None:
        assert at.move is not None
        moves.append(at.move)
        at = parent
    return Line(at.position, tuple(reversed(moves)))


def order_to(node: Node) -> str:
    """How a node is named in a message: the moves to it, or that it is the start."""
    return line_to(node).san() or "the start"


def move_text(node: Node) -> str:
    """The move that reaches a node, with its number: `4...Nf6`; of a start position that it is one."""
    if node.parent is None or node.move is None:
        return "the start position"
    return Line(node.parent.position, (node.move,)).san()


def node_at(
    manuscript: Manuscript, place: Place, *, game: int | None = None, file_line: int | None = None
) -> Node:
    """The one node that a place means.

    A typed order stands for itself; where no game has it, or a FEN was given, every order to the position counts.

    Args:
        manuscript: As read.
        place: A name, line or FEN, resolved.
        game: Only in this game, numbered from 1.
        file_line: Only where the move stands in this line of the file.

    Raises:
        InputError: No game reaches it, or several places do: they are named.
    """
    games = games_named(manuscript, game)
    found: tuple[Node, ...] = ()
    if place.line is not None:
        followed = follow(games, place.line)
        found = () if followed.rest else followed.nodes
    if not found:
        found = nodes_on(manuscript, place.position)
    chosen = [node for node in found if game in (None, node.game.number)]
    chosen = [node for node in chosen if file_line in (None, node.place[0])]
    if len(chosen) == 1:
        return chosen[0]
    if chosen:
        listed = [f"game {node.game.number}, line {node.place[0]}: {order_to(node)}" for node in chosen]
        more = f"; and {len(listed) - _LISTED} more" if len(listed) > _LISTED else ""
        raise InputError(
            f"{place.text!r} stands at several places: {'; '.join(listed[:_LISTED])}{more}",
            remedy="type the whole order, or say --game N or --file-line L",
            path=manuscript.path,
        )
    raise InputError(
        f"{place.text!r} is not in {'the manuscript' if game is None else f'game {game}'}"
        + (f" at line {file_line} of the file" if file_line is not None and found else ""),
        remedy=_how_far(games, place) or "see how it is reached with `variorum position`",
        path=manuscript.path,
    )


def games_named(manuscript: Manuscript, game: int | None) -> tuple[Game, ...]:
    """All games, or the one of a number.

    Raises:
        InputError: There is no such game.
    """
    if game is None:
        return manuscript.games
    if not 1 <= game <= len(manuscript.games):
        count = len(manuscript.games)
        raise InputError(
            f"there is no game {game}: the manuscript has {count} game{'' if count == 1 else 's'}",
            remedy="games are numbered from 1 in the order of the file",
            path=manuscript.path,
        )
    return (manuscript.games[game - 1],)


def _how_far(games: Iterable[Game], place: Place) -> str | None:
    if place.line is None or not place.line.moves:
        return None
    followed = follow(games, place.line)
    done = len(place.line) - len(followed.rest)
    if not followed.nodes or not done:
        return "no game begins with its first move"
    kept = Line(place.line.start, place.line.moves[:done])
    missing = Line(kept.end, followed.rest[:1]).san()
    return f"the manuscript follows {kept.san()} and has no {missing} there; add it first"
