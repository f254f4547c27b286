"""Changes to a manuscript as edits of spans: what no edit names stays as it is, byte for byte.

    manuscript = read_manuscript(path)
    edits = add_comment(node, "The pawn wants to go to d5.")
    History(path).save(apply_edits(manuscript.data, edits), expected_hash=manuscript.content_hash, what="comment")

New text takes the encoding and the line ends of the file. Spans are those of the manuscript as read: after a change it
is read anew.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from variorum.base import UsageError
from variorum.board import Move, Position, Side
from variorum.edition.manuscript import Comment, Node
from variorum.edition.manuscript_index import TokenKind

__all__ = ["Edit", "add_comment", "add_line", "apply_edits", "remove_comment", "set_comment", "set_nags"]

_BLANKS = (b"", b" ", b"\n", b"\r", b"\t")
_SEPARATORS = (*_BLANKS, b"(", b")", b"{", b";", b"$", b"!", b"?", b"*")


class Edit(msgspec.Struct, frozen=True):
    """Bytes that take the place of the bytes of a span; an empty span inserts."""

    span: tuple[int, int]
    replacement: bytes


def apply_edits(data: bytes, edits: Sequence[Edit]) -> bytes:
    """The text after all edits; those of one place stay in the order given.

    Raises:
        UsageError: Edits overlap, or a span is not in the text.

    >>> apply_edits(b"1. e4 e5 *", [Edit((8, 8), b" {x}"), Edit((3, 5), b"d4")])
    b'1. d4 e5 {x} *'
    """
    pieces = []
    at = 0
    for edit in sorted(edits, key=lambda edit: edit.span):
        start, end = edit.span
        if not at <= start <= end <= len(data):
            raise UsageError(
                f"edits overlap or leave the text at byte {start}", remedy="make them one by one"
            )
        pieces += [data[at:start], edit.replacement]
        at = end
    return b"".join([*pieces, data[at:]])


def set_comment(comment: Comment, text: str) -> list[Edit]:
    """Give a comment another text. One behind a semicolon becomes one in braces when it has several lines.

    Raises:
        UsageError: A comment in braces cannot hold a closing brace.
        InputError: The file's encoding lacks a character.
    """
    if comment.to_line_end and "\n" not in text and "\r" not in text:
        return [Edit(comment.span, comment.manuscript.text.encode(f"; {text}"))]
    return [Edit(comment.span, comment.manuscript.text.encode(_in_braces(text)))]


def add_comment(node: Node, text: str) -> list[Edit]:
    """Add a comment behind a move, its signs and its comments; at the start position, before the first move.

    Raises:
        UsageError, InputError: As `set_comment`; and a start position without a move cannot be commented.
    """
    words = _in_braces(text)
    if node.parent is None:
        return [_before_first_move(node, f"{words} ")]
    return [_insert(node, _end_of_remarks(node), f" {words}{_resumed_number(node)}")]


def remove_comment(comment: Comment) -> list[Edit]:
    """Take a comment out, with the blank before it."""
    return [_removal(comment.manuscript.data, *comment.span)]


def set_nags(node: Node, nags: Sequence[int]) -> list[Edit]:
    """Give a move these signs. Those it has and keeps stay as they are written; new ones are written `$n`.

    Raises:
        UsageError: The start position has no move that could bear a sign.
    """
    if node.span is None:
        raise UsageError("the start position has no move for a sign")
    data = node.manuscript.data
    wanted = list(nags)
    edits = []
    for sign in node.signs:
        if sign.nag in wanted:
            wanted.remove(sign.nag)
        else:
            edits.append(_removal(data, *sign.span))
    if wanted:
        end = node.span[1]
        for sign in node.signs:
            if data[end : sign.span[0]].strip(b" ") == b"":
                end = sign.span[1]
        edits.append(_insert(node, end, "".join(f" ${nag}" for nag in wanted)))
    return edits


def add_line(node: Node, moves: Sequence[Move]) -> list[Edit]:
    """Add moves behind a position.

    As far as they are there already they are followed; the rest continues a line that ends there, or is a variation.

    Raises:
        MoveError: A move is not legal in its place.
    """
    rest = list(moves)
    while rest:
        known = next((child for child in node.children if child.move == rest[0]), None)
        if known is None:
            break
        node = known
        rest.pop(0)
    if not rest:
        return []
    words = _numbered(node.position, rest)
    if not node.children and node.parent is not None and not _line_goes_on(node):
        return [_continuation(node, words)]
    if not node.children:
        raise UsageError("there is no move yet that a line could join", remedy="write the first move by hand")
    first = node.children[0]
    return [_insert(first, _end_of_variations(first), f" ({words}){_resumed_number(first)}")]


def _in_braces(text: str) -> str:
    if "}" in text:
        raise UsageError("a comment cannot hold a closing brace", remedy="write a parenthesis")
    if "{" in text and "[Event" in text:
        raise UsageError(
            "the comment would be taken for the start of a game", remedy="leave out the opening brace"
        )
    return f"{{{text}}}"


def _insert(node: Node, at: int, text: str) -> Edit:
    """Text at a place, kept apart from a word behind it."""
    glued = node.manuscript.data[at : at + 1] not in _SEPARATORS and not text.endswith(("}", ")", " "))
    return Edit((at, at), node.manuscript.text.encode(f"{text} " if glued else text))


def _removal(data: bytes, start: int, end: int) -> Edit:
    """Takes a span out, with a blank before it, so that its neighbours stay apart."""
    before, behind = data[start - 1 : start], data[end : end + 1]
    if behind in _SEPARATORS:
        return Edit((start - (before == b" "), end), b"")
    return Edit((start, end), b"" if before in _BLANKS else b" ")


def _continuation(node: Node, words: str) -> Edit:
    """Moves behind the last of a line; Black's first has its number only where a comment stands before it."""
    index = node.manuscript.index
    at = _end_of_remarks(node)
    comments = node.comments
    if not comments and node.position.turn is Side.BLACK:
        words = words.partition(" ")[2]
    if comments and comments[-1].span[0] >= at and comments[-1].to_line_end:
        return _insert(node, index.token_end[comments[-1].row], f"\n{words}")
    return _insert(node, at, f" {words}")


def _before_first_move(root: Node, text: str) -> Edit:
    index, first = root.manuscript.index, root.next
    if first is None:
        raise UsageError(
            "the game has no move to put a comment before", remedy="write the first move by hand"
        )
    token = index.node_token[first.row]
    while token and index.token_kind[token - 1] == TokenKind.NUMBER:
        token -= 1
    return _insert(root, index.token_start[token], text)


def _own_tokens(node: Node) -> range:
    """The tokens behind a move up to the next one, variations included."""
    index = node.manuscript.index
    return range(index.node_token[node.row] + 1, len(index.token_kind))


def _end_of_remarks(node: Node) -> int:
    """Behind the signs and comments in braces that directly follow a move."""
    index = node.manuscript.index
    end = index.token_end[index.node_token[node.row]]
    for token in _own_tokens(node):
        if index.token_kind[token] not in (TokenKind.COMMENT, TokenKind.NAG, TokenKind.SIGN):
            break
        end = index.token_end[token]
    return end


def _end_of_variations(node: Node) -> int:
    """Behind the remarks of a move and the variations that follow it."""
    index = node.manuscript.index
    end = _end_of_remarks(node)
    depth = 0
    for token in _own_tokens(node):
        kind = index.token_kind[token]
        if depth == 0 and kind not in (TokenKind.OPEN, TokenKind.COMMENT, TokenKind.NAG, TokenKind.SIGN):
            break
        depth += (kind == TokenKind.OPEN) - (kind == TokenKind.CLOSE)
        if depth == 0:
            end = index.token_end[token]
    return end


def _line_goes_on(node: Node) -> bool:
    """Whether moves follow in the text that could not be read."""
    index = node.manuscript.index
    for token in _own_tokens(node):
        kind = index.token_kind[token]
        if kind in (TokenKind.UNREAD, TokenKind.OPEN):
            return True
        if kind in (TokenKind.RESULT, TokenKind.CLOSE, TokenKind.TAG):
            return False
    return False


def _resumed_number(node: Node) -> str:
    """Black's move number, where a move of Black follows that has none: text was put between it and White's."""
    index, following = node.manuscript.index, node.next
    if following is None or node.position.turn is Side.WHITE:
        return ""
    before = index.token_kind[index.node_token[following.row] - 1]
    return "" if before == TokenKind.NUMBER else f" {node.position.fullmove}..."


def _numbered(position: Position, moves: Sequence[Move]) -> str:
    words = []
    for move in moves:
        if position.turn is Side.WHITE:
            words.append(f"{position.fullmove}.")
        elif not words:
            words.append(f"{position.fullmove}...")
        words.append(position.san(move))
        position = position.play(move)
    return " ".join(words)
