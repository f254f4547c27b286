"""The manuscript page: the long text as a book has it, variations folded away under the move that they replace, written in place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import Response

from variorum.base import Diagnostic
from variorum.board import NAGS, Line, Move, Position
from variorum.desk.changes import files_to_merge
from variorum.desk.moves import address
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.pages.words import texts_of
from variorum.desk.render import page
from variorum.edition import Edition, Manuscript, hides_line
from variorum.edition.history import History, Step
from variorum.edition.manuscript import Comment, Game, Node
from variorum.edition.manuscript_change import tidy_manuscript
from variorum.publish.notation import set_line, set_san
from variorum.publish.private import reason_to_leave_out

__all__ = ["book_part", "manuscript_page", "steps_part", "tidy_part"]

_DEEPEST: Final = 40
"""Variations inside variations that are set as such; of deeper ones the first move stands."""
_STEPS: Final = 12
_FINDINGS: Final = 60
_LONGEST: Final = 12
"""Digits of a number in an address."""


class Remark(msgspec.Struct, frozen=True):
    """A comment: its token, its words, why it is not published ("" if it is)."""

    token: int
    text: str
    kept_back: str


class Said(msgspec.Struct, frozen=True):
    """A move with its signs, the position behind it, what is said before and after it, and the variations that replace it."""

    node: int
    parent: int
    fen: str
    text: str
    before: tuple[Remark, ...]
    after: tuple[Remark, ...]
    variations: tuple[tuple[Said, ...], ...]
    moves: int
    """Moves in its variations."""
    private: bool


class Chapter(msgspec.Struct, frozen=True):
    """A game of the manuscript."""

    number: int
    heading: str
    result: str
    root: int
    fen: str
    opening: tuple[Remark, ...]
    text: tuple[Said, ...]
    fault: str


def manuscript_page(request: Request, sent: Any) -> Response:
    """One game of the manuscript, and the list of all."""
    del sent
    name = request.path_params["name"]
    edition, _ = editions_of(request).settings(name)
    manuscript = texts_of(request).manuscript(edition)
    begin = _node_at_place(manuscript, request.query_params.get("place", ""))
    of_place = 1 if begin is None else Node(manuscript, begin).game.number
    values = _book(edition, manuscript, request.query_params.get("game", str(of_place)))
    return page(
        "manuscript.html.j2",
        **frame(request, "manuscript", "Manuscript"),
        **values,
        words_part=address(name, "words", all="yes"),
        book_part=address(name, "manuscript/book"),
        tidy_part=address(name, "manuscript/tidy"),
        steps_part=address(name, "manuscript/steps"),
        position_page=address(name, "position"),
        files=files_to_merge(edition),
        begin=begin,
    )


def book_part(request: Request, sent: Any) -> Response:
    """The game's text alone, after it was changed."""
    del sent
    edition, _ = editions_of(request).settings(request.path_params["name"])
    manuscript = texts_of(request).manuscript(edition)
    return page("book.html.j2", **_book(edition, manuscript, request.query_params.get("game", "1")))


def tidy_part(request: Request, sent: Any) -> Response:
    """What the manuscript says in two ways."""
    del sent
    name = request.path_params["name"]
    edition, _ = editions_of(request).settings(name)
    findings = tidy_manuscript(edition, texts_of(request).manuscript(edition))
    return page(
        "tidy.html.j2",
        findings=findings[:_FINDINGS],
        more=max(0, len(findings) - _FINDINGS),
        contradictions=sum(one.contradicts for one in findings),
        unpointed=sum(one.kind == "unpointed" for one in findings),
        place=lambda one: address(
            name, "manuscript", game=str(one.game or 1), place=f"{one.line}:{one.column}"
        ),
    )


class Done(msgspec.Struct, frozen=True):
    """A step of the history: how many steps back it is, what was done, when (UTC, to the minute)."""

    back: int
    what: str
    time: str


def steps_part(request: Request, sent: Any) -> Response:
    """The latest changes, which can be undone."""
    del sent
    edition, _ = editions_of(request).settings(request.path_params["name"])
    manuscript = texts_of(request).manuscript(edition)
    history = History(manuscript.path)
    return page(
        "steps.html.j2",
        done=_steps(history.done),
        more=max(0, len(history.done) - _STEPS),
        undone=_steps(history.undone),
        outside=history.changed_outside,
    )


def _steps(steps: tuple[Step, ...]) -> list[Done]:
    latest = enumerate(reversed(steps[-_STEPS:]), start=1)
    return [Done(back, step.what, step.time[:16].replace("T", " ")) for back, step in latest]


def _book(edition: Edition, manuscript: Manuscript, wanted: str) -> dict[str, Any]:
    number = int(wanted) if wanted.isdecimal() and len(wanted) < _LONGEST else 1
    games = manuscript.games
    chosen = next((game for game in games if game.number == number), games[0] if games else None)
    return {
        "headings": [(game.number, _heading(game)) for game in games],
        "chapter": None if chosen is None else _Setter(edition).chapter(chosen),
        "faults": [_fault(one) for one in manuscript.diagnostics],
        "hash": manuscript.content_hash if manuscript.path.exists() else "",
    }


def _fault(one: Diagnostic) -> str:
    return f"line {one.line}: {one.message}" + (f"; {one.hint}" if one.hint else "")


def _heading(game: Game) -> str:
    tags = game.tags
    names = [tags.get(side, "?") for side in ("White", "Black")]
    said = " – ".join(one for one in names if one not in ("", "?"))
    event = tags.get("Event", "?")
    return said or (event if event != "?" else "") or f"Game {game.number}"


def _node_at_place(manuscript: Manuscript, text: str) -> int | None:
    """The last move that stands at or before `LINE:COLUMN` of the file."""
    line, _, column = text.partition(":")
    if not line.isdecimal() or not column.isdecimal() or len(text) > 2 * _LONGEST:
        return None
    wanted, found = (int(line), int(column)), None
    starts = manuscript.text.line_starts
    if not 1 <= wanted[0] <= len(starts):
        return None
    end = int(starts[wanted[0]]) if wanted[0] < len(starts) else len(manuscript.data)
    index = manuscript.index
    rows = [
        row for row, token in enumerate(index.node_token) if token >= 0 and index.token_start[token] < end
    ]
    for row in reversed(rows):
        if Node(manuscript, row).place <= wanted:
            found = row
            break
    return found


class _Setter:
    """Sets games as a book has them."""

    def __init__(self, edition: Edition) -> None:
        self._settings = edition.settings

    def chapter(self, game: Game) -> Chapter:
        """A game with all its text."""
        heading, root = _heading(game), game.root
        if game.start is None:
            fault = "its start position cannot be read"
            return Chapter(game.number, heading, "", root.row, "", (), (), fault)
        hidden = hides_line(root, self._settings)
        text = tuple(self._run(root, game.start, 0, hidden))
        opening = self._remarks(root.comments)
        fen = game.start.fen
        return Chapter(game.number, heading, game.result, root.row, fen, opening, text, "")

    def _run(self, before: Node, position: Position, depth: int, hidden: bool) -> Iterator[Said]:
        """The moves of one line behind a position, with what replaces each."""
        fresh = before.parent is None or bool(before.comments)
        while (node := before.next) is not None:
            variations = [child for child in before.children if child != node]
            said, after, hidden = self._said(node, position, variations, depth, fresh, hidden)
            yield said
            fresh = bool(variations or node.comments)
            before, position = node, after

    def _said(
        self, node: Node, position: Position, variations: list[Node], depth: int, fresh: bool, hidden: bool
    ) -> tuple[Said, Position, bool]:
        move, parent = node.move, node.parent
        after = node.position if move is None or move.is_null else position.play(move)
        told = []
        for first in variations:
            head, behind, private = self._said(first, position, [], depth + 1, True, hidden)
            rest = self._run(first, behind, depth + 1, private) if depth < _DEEPEST else ()
            told.append((head, *rest))
        hidden = hidden or hides_line(node, self._settings)
        said = Said(
            node=node.row,
            parent=-1 if parent is None else parent.row,
            fen=after.fen,
            text=_printed(node, move, position, fresh),
            before=self._remarks(node.opening_comments),
            after=self._remarks(node.comments),
            variations=tuple(told),
            moves=sum(1 + one.moves for run in told for one in run),
            private=hidden,
        )
        return said, after, hidden

    def _remarks(self, comments: tuple[Comment, ...]) -> tuple[Remark, ...]:
        found = []
        for comment in comments:
            text = comment.text
            found.append(Remark(comment.row, text, reason_to_leave_out(text, self._settings) or ""))
        return tuple(found)


def _printed(node: Node, move: Move | None, position: Position, fresh: bool) -> str:
    """A move as printed, numbered where White moves or something stands before it."""
    if move is None or move.is_null:
        text = f"{position.fullmove}\u00a0–"
    elif fresh or position.turn.value == "white":
        text = set_line(Line(position, (move,)))
    else:
        text = set_san(position.san(move))
    for nag in node.nags:
        entry = NAGS[nag] if nag < len(NAGS) else None
        sign = (entry and (entry.glyph or entry.ascii)) or f"${nag}"
        text += sign if set(sign) <= set("!?") else f"\u00a0{sign}"
    return text
