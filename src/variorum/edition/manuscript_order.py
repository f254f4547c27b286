"""Changes in the order of a manuscript: promote, demote, delete, move.

Each gives the whole new text. Moves, comments and signs keep their bytes, also where they change places; only move
numbers and parentheses are set anew. What comes out is read again and compared: a text that is written in too tangled a
way is refused, never damaged.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from variorum.base import InputError, UsageError
from variorum.board import Position, Side
from variorum.edition.manuscript import Manuscript, Node, Variation, read_manuscript
from variorum.edition.manuscript_find import line_to, move_text
from variorum.edition.manuscript_index import TokenKind
from variorum.edition.manuscript_shape import refuse_unless, shape_of
from variorum.edition.manuscript_spans import (
    Edit,
    apply_edits,
    end_of_line,
    first_token,
    removal,
)

__all__ = ["delete", "demote", "promote", "promote_to_main", "same_node", "subtree"]


def promote(node: Node) -> bytes:
    """Let the variation in which a move stands take the place of the line it departs from; that becomes its first variation.

    Raises:
        InputError: The move stands in the main line, or the text is too tangled.
    """
    if node.variation is None:
        raise InputError(
            f"{move_text(node)} stands in the main line already",
            remedy="name a move of a variation",
            path=node.manuscript.path,
            line=node.place[0],
            column=node.place[1],
        )
    return _checked(node.manuscript, _swapped(node.variation))


def promote_to_main(node: Node) -> bytes:
    """Promote until the move stands in the main line.

    Raises:
        InputError: As `promote`.
    """
    data = promote(node)
    while (again := same_node(node, data)).variation is not None:
        data = promote(again)
    return data


def demote(node: Node) -> bytes:
    """Let a move give its place to the next one beside it.

    The line's own move becomes a variation of the first one; a variation goes behind the next.

    Raises:
        InputError: No other move stands beside it, or the text is too tangled.
    """
    beside = () if node.parent is None else node.parent.children
    behind = beside[beside.index(node) + 1 :] if node in beside else ()
    if not behind:
        alone = "no other move stands beside it" if len(beside) < 2 else "it is the last already"
        raise InputError(
            f"{move_text(node)} cannot be demoted: {alone}",
            remedy="name the move itself at which the variations part",
            path=node.manuscript.path,
            line=node.place[0],
            column=node.place[1],
        )
    own, other = node.variation, behind[0].variation
    assert other is not None
    if own is None or own.branch != node.parent or other.outer == own:
        return _checked(node.manuscript, _swapped(other))
    data = node.manuscript.data
    (one, two), (three, four) = own.span, other.span
    if two > three:
        refuse_unless(False, node.manuscript)
    swapped = [Edit((one, two), data[three:four]), Edit((three, four), data[one:two])]
    return _checked(node.manuscript, apply_edits(data, swapped))


def delete(node: Node) -> bytes:
    """Take out a move and everything behind it. Where other moves stand beside it, the first takes its place.

    Raises:
        UsageError: The start position cannot be taken out.
        InputError: The text is too tangled.
    """
    manuscript = node.manuscript
    if node.parent is None:
        raise UsageError("the start position cannot be deleted", remedy="name its first move")
    variation = node.variation
    starts_variation = variation is not None and variation.branch == node.parent
    inner = _parts(node).variations
    if inner and not starts_variation:
        beside = [child.variation for child in node.parent.children if child != node and child.variation]
        if not beside:  # none of its moves could be read
            refuse_unless(False, manuscript)
        return delete(same_node(node, _checked(manuscript, _swapped(beside[0]))))
    if starts_variation:
        assert variation is not None
        start, end = variation.span
        kept = _set([_piece(manuscript, *tokens) for tokens in inner])
        edit = Edit((start, end), kept) if kept else removal(manuscript.data, start, end)
    else:
        index = manuscript.index
        last = end_of_line(node) - 1
        edit = removal(manuscript.data, index.token_start[first_token(node)], index.token_end[last])
    data = apply_edits(manuscript.data, [edit])
    gone = {one.row for one in subtree(node)}
    refuse_unless(shape_of(manuscript, gone) == shape_of(read_manuscript(data)), manuscript)
    return data


def subtree(node: Node) -> Iterable[Node]:
    """A position and all behind it."""
    pending = [node]
    while pending:
        one = pending.pop()
        yield one
        pending += reversed(one.children)


def same_node(node: Node, data: bytes) -> Node:
    """The node of the same moves in a changed text; the first where it stands twice.

    Raises:
        InputError: It is not there.
    """
    manuscript = read_manuscript(data, path=node.manuscript.path)
    at = manuscript.games[node.game.row].root
    for move in line_to(node).moves:
        found = next((child for child in at.children if child.move == move), None)
        if found is None:
            refuse_unless(False, node.manuscript)
            raise AssertionError
        at = found
    return at


class _Parts(msgspec.Struct, frozen=True):
    """What stands behind a move up to the next of its line, as tokens (first, end): remarks and variations.

    `rest` is the token at which the line goes on, or at which it ends.
    """

    remarks: list[tuple[int, int]]
    variations: list[tuple[int, int]]
    rest: int


def _parts(node: Node) -> _Parts:
    kinds = node.manuscript.index.token_kind
    remarks: list[tuple[int, int]] = []
    variations: list[tuple[int, int]] = []
    token, end = node.manuscript.index.node_token[node.row] + 1, end_of_line(node)
    while token < end and kinds[token] not in (TokenKind.NUMBER, TokenKind.MOVE, TokenKind.UNREAD):
        first = token
        depth = int(kinds[token] == TokenKind.OPEN)
        token += 1
        while depth and token < end:
            depth += (kinds[token] == TokenKind.OPEN) - (kinds[token] == TokenKind.CLOSE)
            token += 1
        (variations if kinds[first] == TokenKind.OPEN else remarks).append((first, token))
    return _Parts(remarks, variations, token)


class _Piece(msgspec.Struct, frozen=True):
    """Bytes that change places; `to_line_end` where a line must end behind them."""

    text: bytes
    to_line_end: bool = False


def _swapped(variation: Variation) -> bytes:
    """The text with a variation in the place of the line around it."""
    manuscript, outer = variation.manuscript, variation.outer
    index, data = manuscript.index, manuscript.data
    old = next((child for child in variation.branch.children if child.variation == outer), None)
    new = next(iter(variation.nodes), None)
    opening = int(index.columns.variation_open[variation.row])
    close = int(index.columns.variation_close[variation.row])
    if old is None or new is None or old.span is None or new.span is None or close < 0:
        refuse_unless(False, manuscript)
        raise AssertionError
    old_parts, new_parts, old_end = _parts(old), _parts(new), end_of_line(old)
    place = opening, close + 1
    number = data[index.token_start[first_token(new)] : new.span[0]].strip()
    demoted = [
        _Piece(number or _number(variation.branch.position)),
        _Piece(data[slice(*old.span)]),
        *(_piece(manuscript, *tokens) for tokens in old_parts.remarks),
        *_tail(old, old_parts, old_end, joined=not old_parts.remarks),
    ]
    pieces = [
        _Piece(data[slice(*new.span)]),
        *(_piece(manuscript, *tokens) for tokens in new_parts.remarks),
        *(_piece(manuscript, token, token + 1) for token in range(opening + 1, first_token(new))),
        _Piece(b"("),
        *demoted,
        _Piece(b")"),
        *(_piece(manuscript, *tokens) for tokens in old_parts.variations if tokens < place),
        *(_piece(manuscript, *tokens) for tokens in new_parts.variations),
        *(_piece(manuscript, *tokens) for tokens in old_parts.variations if tokens > place),
        *_tail(new, new_parts, close, joined=False),
    ]
    last = index.token_end[old_end - 1]
    whole = _set(pieces)
    if data[last : last + 1] not in (b"", b" ", b"\n", b"\r", b"\t", b")"):
        whole += b" "
    return apply_edits(data, [Edit((old.span[0], last), whole)])


def _piece(manuscript: Manuscript, first: int, end: int) -> _Piece:
    """The tokens from `first` on, before `end`, with what stands between them."""
    index = manuscript.index
    text = manuscript.data[index.token_start[first] : index.token_end[end - 1]]
    return _Piece(text, index.token_kind[end - 1] in (TokenKind.LINE_COMMENT, TokenKind.ESCAPE_LINE))


def _tail(node: Node, parts: _Parts, end: int, *, joined: bool) -> list[_Piece]:
    """The rest of a line behind a move and its remarks; a first move of Black has its number unless `joined` to White's."""
    index, token = node.manuscript.index, parts.rest
    if token >= end:
        return []
    if node.position.turn is Side.BLACK:
        numbered = index.token_kind[token] == TokenKind.NUMBER
        while joined and index.token_kind[token] == TokenKind.NUMBER and token + 1 < end:
            token += 1
        if not joined and not numbered:
            return [_Piece(_number(node.position)), _piece(node.manuscript, token, end)]
    return [_piece(node.manuscript, token, end)]


def _number(position: Position) -> bytes:
    return f"{position.fullmove}{'.' if position.turn is Side.WHITE else '...'}".encode()


def _set(pieces: list[_Piece]) -> bytes:
    """Pieces parted by a blank or, where it must be, a line end; none inside parentheses."""
    text: list[bytes] = []
    before = _Piece(b"(")
    for piece in pieces:
        if before.to_line_end or piece.text.startswith(b"%"):
            text.append(b"\n")
        elif before.text != b"(" and piece.text != b")":
            text.append(b" ")
        text.append(piece.text)
        before = piece
    return b"".join([*text, b"\n" if before.to_line_end else b""])


def _checked(before: Manuscript, data: bytes) -> bytes:
    """A text in which nothing but the order is to have changed."""
    refuse_unless(shape_of(before) == shape_of(read_manuscript(data)), before)
    return data
