"""Edits of spans of a manuscript's text: what no edit names stays as it is, byte for byte."""

from __future__ import annotations

import enum
from collections.abc import Sequence

import msgspec

from variorum.base import InputError, UsageError
from variorum.board import Side
from variorum.edition.manuscript import Game, Manuscript, Node
from variorum.edition.manuscript_index import TokenKind

__all__ = [
    "Edit",
    "Insertions",
    "Rank",
    "apply_edits",
    "end_of_line",
    "end_of_node",
    "end_of_remarks",
    "end_of_signs",
    "end_of_variations",
    "first_token",
    "game_tokens",
    "in_braces",
    "removal",
]

_BLANKS = (b"", b" ", b"\n", b"\r", b"\t")
_SEPARATORS = (*_BLANKS, b"(", b")", b"{", b";", b"$", b"!", b"?", b"*")
_APART = (*_BLANKS, b")")
_REMARKS = (TokenKind.COMMENT, TokenKind.NAG, TokenKind.SIGN)
_LEADS = {TokenKind.LINE_COMMENT: "\n", TokenKind.ESCAPE_LINE: "\n", TokenKind.TAG: "\n\n"}
_ENDS = (TokenKind.RESULT, TokenKind.TAG)


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


def removal(data: bytes, start: int, end: int) -> Edit:
    """Takes a span out, with a blank before it, so that its neighbours stay apart."""
    before, behind = data[start - 1 : start], data[end : end + 1]
    if behind in _SEPARATORS:
        return Edit((start - (before == b" "), end), b"")
    return Edit((start, end), b"" if before in _BLANKS else b" ")


def in_braces(text: str) -> str:
    """A text as a comment in braces.

    Raises:
        UsageError: It holds a closing brace, or would be read as something else.
    """
    if "}" in text:
        raise UsageError("a comment cannot hold a closing brace", remedy="write a parenthesis")
    if "{" in text and "[Event" in text:
        raise UsageError(
            "the comment would be taken for the start of a game", remedy="leave out the opening brace"
        )
    return f"{{{text}}}"


class Rank(enum.IntEnum):
    """In which order words stand that are put in at one place."""

    SIGN = 0
    COMMENT = 1
    VARIATION = 2
    CONTINUATION = 3


class Insertions:
    """Words put into a manuscript. Blanks around them, and the number that a move of Black needs behind them, are set here."""

    def __init__(self, manuscript: Manuscript) -> None:
        self._manuscript = manuscript
        self._put: list[tuple[int, Rank, int, str]] = []

    def put(self, at: int, rank: Rank, words: str) -> None:
        """Have words stand at an offset. A continuation begins with its move number, Black's too."""
        self._put.append((at, rank, len(self._put), words))

    def edits(self) -> list[Edit]:
        """One edit for each place.

        Raises:
            InputError: The file's encoding lacks a character.
        """
        places: dict[int, list[tuple[Rank, str]]] = {}
        for at, rank, _, words in sorted(self._put):
            places.setdefault(at, []).append((rank, words))
        return [self._edit(at, pieces) for at, pieces in places.items()]

    def _edit(self, at: int, pieces: list[tuple[Rank, str]]) -> Edit:
        index, data = self._manuscript.index, self._manuscript.data
        starts = index.token_start
        behind = _bisect(starts, at)
        before = behind - 1
        follows_move = before >= 0 and index.token_kind[before] in (
            TokenKind.MOVE,
            TokenKind.NAG,
            TokenKind.SIGN,
        )
        text = ""
        for rank, words in pieces:
            if rank is Rank.CONTINUATION and not text and follows_move and "..." in words.split(" ", 1)[0]:
                words = words.partition(" ")[2]
            if text and not text.endswith("\n"):
                text += " "
            text += words if not words.startswith(";") else f"{words}\n"
        only_signs = all(rank is Rank.SIGN for rank, _ in pieces)
        if not only_signs and behind < len(starts) and index.token_kind[behind] == TokenKind.MOVE:
            number = _black_number(self._manuscript, behind)
            text += number.lstrip() if text.endswith("\n") else number
        lead = ""
        if before >= 0 and index.token_end[before] == at:
            lead = _LEADS.get(TokenKind(index.token_kind[before]), " ")
        elif data[at - 1 : at] not in _BLANKS:
            lead = " "
        tail = "" if data[at : at + 1] in _APART or text.endswith("\n") else " "
        return Edit((at, at), self._manuscript.text.encode(lead + text + tail))


def _bisect(starts: memoryview, at: int) -> int:
    """The first token that begins at `at` or behind."""
    low, high = 0, len(starts)
    while low < high:
        middle = (low + high) // 2
        if starts[middle] < at:
            low = middle + 1
        else:
            high = middle
    return low


def _black_number(manuscript: Manuscript, token: int) -> str:
    """Black's move number, where the move of a token is Black's: text was put between it and White's."""
    node = Node(manuscript, manuscript.index.token_node[token])
    if node.parent is None or node.parent.position.turn is Side.WHITE:
        return ""
    return f" {node.parent.position.fullmove}..."


def first_token(node: Node) -> int:
    """The token of a move, or of the first of the numbers right before it."""
    index = node.manuscript.index
    token = index.node_token[node.row]
    while token and index.token_kind[token - 1] == TokenKind.NUMBER:
        token -= 1
    return token


def _behind(node: Node) -> range:
    """The tokens of the game behind a move, or all behind its tags for the start position."""
    index, game = node.manuscript.index, node.game
    first, end = game_tokens(game)
    own = index.node_token[node.row]
    if own >= 0:
        return range(own + 1, end)
    while first < end and index.token_kind[first] in (TokenKind.TAG, TokenKind.BAD_TAG):
        first += 1
    return range(first, end)


def game_tokens(game: Game) -> tuple[int, int]:
    """First token of a game, and the one behind its last."""
    columns = game.manuscript.index.columns
    first = columns.game_first_token
    end = int(first[game.row + 1]) if game.row + 1 < len(first) else len(columns.token_kind)
    return int(first[game.row]), end


def end_of_signs(node: Node) -> int:
    """Behind the signs that directly follow a move, a blank at most between them."""
    assert node.span is not None
    end, data = node.span[1], node.manuscript.data
    for sign in node.signs:
        if data[end : sign.span[0]].strip(b" ") == b"":
            end = sign.span[1]
    return end


def end_of_remarks(node: Node) -> int:
    """Behind the signs and comments in braces that directly follow a move."""
    index = node.manuscript.index
    end = index.token_end[index.node_token[node.row]]
    for token in _behind(node):
        if index.token_kind[token] not in _REMARKS:
            break
        end = index.token_end[token]
    return end


def end_of_variations(node: Node) -> int:
    """Behind the remarks of a move and the variations that follow it."""
    index = node.manuscript.index
    end = end_of_remarks(node)
    depth = 0
    for token in _behind(node):
        kind = index.token_kind[token]
        if depth == 0 and kind not in (TokenKind.OPEN, *_REMARKS):
            break
        depth += (kind == TokenKind.OPEN) - (kind == TokenKind.CLOSE)
        if depth == 0:
            end = index.token_end[token]
    return end


def end_of_node(node: Node) -> int:
    """Behind all that is said of the last move of a line, variations in its place included.

    For a start position without moves: behind its comments, or before the termination marker.

    Raises:
        InputError: Moves follow in the text that could not be read.
    """
    index = node.manuscript.index
    own = index.node_token[node.row]
    end = index.token_end[own] if own >= 0 else -1
    depth = 0
    for token in _behind(node):
        kind = index.token_kind[token]
        if kind == TokenKind.UNREAD and depth == 0:
            line, column = node.manuscript.text.place(index.token_start[token])
            raise InputError(
                "behind this the moves could not be read, so no line can go on there",
                remedy="mend the move at this place first",
                path=node.manuscript.path,
                line=line,
                column=column,
            )
        if depth == 0 and kind in (*_ENDS, TokenKind.CLOSE, TokenKind.MOVE):
            return end if end >= 0 else index.token_start[token]
        depth += (kind == TokenKind.OPEN) - (kind == TokenKind.CLOSE)
        if depth == 0:
            end = index.token_end[token]
    return end if end >= 0 else node.game.span[1]


def end_of_line(node: Node) -> int:
    """The token behind the last of the line in which a move stands: its closing parenthesis or the game's marker."""
    index = node.manuscript.index
    depth = 0
    behind = _behind(node)
    for token in behind:
        kind = index.token_kind[token]
        if depth == 0 and kind in (*_ENDS, TokenKind.CLOSE):
            return token
        depth += (kind == TokenKind.OPEN) - (kind == TokenKind.CLOSE)
    return behind.stop
