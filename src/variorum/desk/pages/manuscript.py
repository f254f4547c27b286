"""The manuscript page: the long text as a book has it, variations folded away under the move that they replace."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec
from starlette.requests import Request
from starlette.responses import Response

from variorum.board import NAGS, Line
from variorum.desk.moves import place_address
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.render import page
from variorum.edition.manuscript import Game, Node
from variorum.publish.notation import set_line, set_san

__all__ = ["manuscript_page"]

_DEEPEST = 40
"""Variations inside variations that are set as such; deeper ones stand as one line of text each."""


class Said(msgspec.Struct, frozen=True):
    """A move with its signs, the comments behind it, and the variations that replace it."""

    text: str
    href: str
    comments: tuple[str, ...]
    variations: tuple[tuple[Said, ...], ...]
    moves: int
    """Moves in its variations."""


class Chapter(msgspec.Struct, frozen=True):
    """A game of the manuscript."""

    number: int
    heading: str
    result: str
    opening: tuple[str, ...]
    text: tuple[Said, ...]
    fault: str


def manuscript_page(request: Request, sent: Any) -> Response:
    """All games of the manuscript; with `game` one of them."""
    del sent
    name = request.path_params["name"]
    with editions_of(request).reading(name) as opened:
        manuscript = opened.manuscript
        games = [] if manuscript is None else list(manuscript.games)
        faults = [] if manuscript is None else [str(one) for one in manuscript.diagnostics]
        wanted = request.query_params.get("game", "1")
        number = int(wanted) if wanted.isdigit() else 1
        headings = [(game.number, _heading(game)) for game in games]
        chosen = next((game for game in games if game.number == number), games[0] if games else None)
        chapter = None if chosen is None else _chapter(name, chosen)
    return page(
        "manuscript.html.j2",
        **frame(request, "manuscript", "Manuscript"),
        headings=headings,
        chapter=chapter,
        faults=faults,
    )


def _heading(game: Game) -> str:
    tags = game.tags
    names = [tags.get(side, "?") for side in ("White", "Black")]
    said = " – ".join(one for one in names if one not in ("", "?"))
    return said or tags.get("Event", "") or f"Game {game.number}"


def _chapter(name: str, game: Game) -> Chapter:
    start = game.start
    if start is None:
        return Chapter(game.number, _heading(game), "", (), (), "its start position cannot be read")
    opening = tuple(comment.text for comment in game.root.comments)
    text = tuple(_run(name, game.root, Line(start), 0))
    return Chapter(game.number, _heading(game), game.tags.get("Result", "*"), opening, text, "")


def _run(name: str, before: Node, line: Line, depth: int) -> Iterator[Said]:
    """The moves of one line behind a position, with what replaces each."""
    fresh = before.move is None or bool(before.comments)
    while (node := before.next) is not None:
        variations = [child for child in before.children if child != node]
        yield _said(name, node, line, variations, depth, fresh)
        fresh = bool(variations or node.comments)
        line = _onward(line, node)
        before = node


def _said(name: str, node: Node, line: Line, variations: list[Node], depth: int, fresh: bool) -> Said:
    after = _onward(line, node)
    told = []
    for first in variations:
        head = _said(name, first, line, [], depth + 1, True)
        rest = _run(name, first, _onward(line, first), depth + 1)
        told.append((head, *rest) if depth < _DEEPEST else (head,))
    return Said(
        text=_printed(node, line, fresh),
        href=place_address(name, after),
        comments=tuple(comment.text for comment in node.comments),
        variations=tuple(told),
        moves=sum(1 + sum(one.moves for one in run) for run in told),
    )


def _onward(line: Line, node: Node) -> Line:
    """The line with a node's move; a null move begins it anew at the position behind."""
    if node.move is None or node.move.is_null:
        return Line(node.position)
    return line.play(node.move)


def _printed(node: Node, line: Line, fresh: bool) -> str:
    """A move as printed, numbered where White moves or something stands before it."""
    if node.move is None or node.move.is_null:
        text = f"{line.end.fullmove}\u00a0–"
    elif fresh or line.end.turn.value == "white":
        text = set_line(Line(line.end, (node.move,)))
    else:
        text = set_san(line.end.san(node.move))
    for nag in node.nags:
        entry = NAGS[nag] if nag < len(NAGS) else None
        sign = (entry and (entry.glyph or entry.ascii)) or f"${nag}"
        text += sign if set(sign) <= set("!?") else f"\u00a0{sign}"
    return text
