"""The author's own words at a position: what the manuscript says there, and changing it in place."""

from __future__ import annotations

from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.base import InputError, UsageError
from variorum.board import NAGS, Line
from variorum.desk.changes import Change, applied
from variorum.desk.moves import Step, address, place_address, printed, spelled
from variorum.desk.pages.frame import editions_of
from variorum.desk.reconcile import pieces_of
from variorum.desk.render import page
from variorum.desk.texts import Texts
from variorum.edition import Edition, Manuscript, Node, Place, hides_line, resolve_place
from variorum.edition.files import ChangedOutsideError
from variorum.edition.folder import MANUSCRIPT
from variorum.edition.history import History
from variorum.edition.manuscript import Comment
from variorum.edition.manuscript_change import ManuscriptChange, keep_change, redo_changes, undo_changes
from variorum.edition.manuscript_find import follow, line_to, nodes_on
from variorum.edition.manuscript_order import subtree
from variorum.edition.plain_text import decode_text
from variorum.publish.private import reason_to_leave_out

__all__ = ["change", "passage_of", "playable", "texts_of", "words_part"]

_SIGNS: Final = (
    ("the move", (1, 2, 3, 4, 5, 6, 7)),
    ("the position", (10, 13, 14, 15, 16, 17, 18, 19, 44)),
)
"""Signs that stand ready to be chosen; any other is typed."""
_OTHERS: Final = 6
_LONGEST: Final = 12
"""Digits of a number in an address."""


class Words(msgspec.Struct, frozen=True):
    """A comment: its token in the text, its words, why it is not published ("" if it is)."""

    token: int
    text: str
    kept_back: str


class Sign(msgspec.Struct, frozen=True):
    """A sign that can be put or taken away."""

    text: str
    typed: str
    meaning: str
    stands: bool


class Passage(msgspec.Struct, frozen=True, kw_only=True):
    """A place of the manuscript: where it stands, what is said before and after its move, and what can be done with it."""

    node: int
    game: int
    line: int
    by: str
    href: str
    move: str
    start: bool
    signs: tuple[Sign, ...]
    other_signs: str
    before: tuple[Words, ...]
    after: tuple[Words, ...]
    can_say_before: bool
    onward: tuple[Step, ...]
    private: bool
    """Whether it stands in a line that is not published."""
    promotes: bool
    deep: bool
    """Whether it stands in a variation of a variation."""
    demotes: bool
    behind: int
    """Moves that stand behind it."""


def texts_of(request: Request) -> Texts:
    """The author's texts as pages were made from them."""
    texts: Texts = request.app.state.texts
    return texts


def words_part(request: Request, sent: Any) -> Response:
    """What the manuscript says of a position: a part of the position page."""
    del sent
    name, asked = request.path_params["name"], request.query_params
    edition, _ = editions_of(request).settings(name)
    manuscript = texts_of(request).manuscript(edition)
    asked_for = _asked(asked.get("node", ""), asked.get("hash", ""), manuscript)
    in_book = bool(asked.get("all"))
    if in_book and asked_for is not None:
        line = line_to(asked_for)
        place = Place(text=spelled(line), position=asked_for.position, line=line)
    else:
        text = asked.get("at", "")
        place = resolve_place(edition, text) if text.strip() else edition.roots[0]
    nodes = list(nodes_on(manuscript, place.position))
    here = _here(manuscript, place)
    edited = asked_for if asked_for in nodes else here[0] if here else nodes[0] if nodes else None
    others = [one for one in nodes if one != edited]
    history = History(manuscript.path)
    return page(
        "words.html.j2",
        hash=manuscript.content_hash if manuscript.path.exists() else "",
        at=spelled(place.line) if place.line else place.position.fen,
        node=None if edited is None else passage_of(edition, name, edited),
        others=[passage_of(edition, name, one) for one in others[:_OTHERS]],
        more=max(0, len(others) - _OTHERS),
        has_order=bool(here),
        same_order=edited in here,
        in_book=in_book,
        line="" if place.line is None or not place.line.moves else printed(place.line.san()),
        undo=history.done[-1].what if history.done else "",
        redo=history.undone[-1].what if history.undone else "",
        change_at=address(name, "words"),
        private_words=[*edition.settings.private.comments, *edition.settings.private.lines],
    )


def _here(manuscript: Manuscript, place: Place) -> tuple[Node, ...]:
    """The nodes at which the place's own line ends."""
    if place.line is None:
        return ()
    followed = follow(manuscript.games, place.line)
    return () if followed.rest else followed.nodes


def _asked(row: str, mark: str, manuscript: Manuscript) -> Node | None:
    """The node that was asked for, if the text is still the one in which it had this number."""
    if not row.isdecimal() or len(row) > _LONGEST or mark != manuscript.content_hash:
        return None
    known = int(row) < len(manuscript.index.columns.node_parent)
    node = Node(manuscript, int(row)) if known else None
    return None if node is None or node.game.start is None else node


def passage_of(edition: Edition, name: str, node: Node) -> Passage:
    """What is said at one place, and what can be done there."""
    line, parent = line_to(node), node.parent
    beside = () if parent is None else parent.children
    way: list[Node] = [node]
    while (before := way[-1].parent) is not None:
        way.append(before)
    ready = {nag for _, nags in _SIGNS for nag in nags}
    onward = tuple(
        Step(_said(child), place_address(name, playable(child))) for child in node.children if child.move
    )
    return Passage(
        node=node.row,
        game=node.game.number,
        line=node.place[0],
        by=printed(line.san()) or "the start position",
        href=place_address(name, playable(node)),
        move="" if parent is None else _said(node),
        start=parent is None,
        signs=tuple(_sign(nag, nag in node.nags) for _, nags in _SIGNS for nag in nags),
        other_signs=" ".join(_sign(nag, True).typed for nag in node.nags if nag not in ready),
        before=tuple(_words(edition, one) for one in node.opening_comments),
        after=tuple(_words(edition, one) for one in node.comments),
        can_say_before=parent is not None and parent.variation != node.variation,
        onward=onward,
        private=any(hides_line(one, edition.settings) for one in way),
        promotes=node.variation is not None,
        deep=node.variation is not None and node.variation.outer is not None,
        demotes=node in beside and beside.index(node) + 1 < len(beside),
        behind=sum(1 for _ in subtree(node)) - 1,
    )


def playable(node: Node) -> Line:
    """The line to a node as a place can be typed: it begins behind the last null move, if there is one."""
    line = line_to(node)
    passed = [ply for ply, move in enumerate(line.moves) if move.is_null]
    if not passed:
        return line
    return Line(line.positions()[passed[-1] + 1], line.moves[passed[-1] + 1 :])


def _words(edition: Edition, comment: Comment) -> Words:
    text = comment.text
    return Words(comment.row, text, reason_to_leave_out(text, edition.settings) or "")


def _sign(nag: int, stands: bool) -> Sign:
    entry = NAGS[nag] if nag < len(NAGS) else None
    text = (entry.glyph or entry.ascii if entry else "") or f"${nag}"
    return Sign(text, f"${nag}", entry.meaning if entry else "", stands)


def _said(node: Node) -> str:
    """A move with its number and signs, as printed."""
    assert node.parent is not None
    if node.move is None or node.move.is_null:
        return "–"
    signs = [_sign(nag, True).text for nag in node.nags]
    move = printed(Line(node.parent.position, (node.move,)).san())
    return move + "".join(one if set(one) <= set("!?") else f"\u00a0{one}" for one in signs)


def change(request: Request, sent: Any) -> Response:
    """Change the manuscript; where it is no longer the text that the page was made from, nothing is written and both are shown."""
    try:
        wish = msgspec.convert(sent, Change)
    except msgspec.ValidationError as error:
        raise UsageError(f"the change did not arrive: {error}") from None
    edition, _ = editions_of(request).settings(request.path_params["name"])
    texts = texts_of(request)
    with texts.writing:
        manuscript = texts.manuscript(edition)
        found = manuscript.content_hash if manuscript.path.exists() else ""
        if wish.hash != found:
            return _conflict(edition, wish, texts.before(edition, wish.hash), manuscript, found)
        try:
            made, row = _make(edition, manuscript, wish)
        except ChangedOutsideError:
            manuscript = texts.manuscript(edition)
            before = texts.before(edition, wish.hash)
            return _conflict(edition, wish, before, manuscript, manuscript.content_hash)
        after = texts.manuscript(edition)
    told = {
        "said": made.what if made.changed else "nothing changes: it is so already",
        "notes": [*made.notes, *(one.message for one in made.findings)],
        "hash": after.content_hash,
        "node": row,
    }
    return JSONResponse(told)


def _make(edition: Edition, manuscript: Manuscript, wish: Change) -> tuple[ManuscriptChange, int | None]:
    """Carry a change out; where the node that it was about stands then."""
    if wish.act == "undo":
        return undo_changes(edition, wish.steps), None
    if wish.act == "redo":
        return redo_changes(edition, wish.steps), None
    done = applied(edition, manuscript, wish)
    made = keep_change(edition, manuscript, done.data, what=done.what, notes=done.notes)
    return made, done.node


def _conflict(
    edition: Edition, wish: Change, before: Manuscript | None, now: Manuscript, found: str
) -> Response:
    """Both texts, cut where they differ. What the author wanted is carried out on the text that he had before him."""
    theirs = decode_text(now.data)
    mine = base = None
    if before is not None:
        base = decode_text(before.data)
        try:
            mine = decode_text(applied(edition, before, wish).data) if wish.edits else None
        except (InputError, UsageError):
            mine = None
    told = {
        "fault": f"{MANUSCRIPT} was changed by somebody else since this page was made",
        "remedy": "",
        "hash": found,
        "pieces": msgspec.to_builtins(pieces_of(base, mine, theirs)) if mine is not None else None,
    }
    return JSONResponse(told, status_code=409)
