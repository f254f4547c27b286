"""The manuscript: a PGN text of the author, read without losing a byte.

Everything is looked up in columns that the core makes; games, nodes and comments are light views of them. Offsets are
bytes of the file, `(start, end)`, end excluded.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cached_property
from pathlib import Path

import msgspec
import numpy as np

from variorum.base import Diagnostic, InputError
from variorum.board import Move, Position, PositionKey
from variorum.edition.files import content_hash, read_file
from variorum.edition.manuscript_faults import diagnostics_of
from variorum.edition.manuscript_index import ManuscriptIndex, TokenKind
from variorum.edition.plain_text import PlainText, refuse_what_is_no_text

__all__ = ["Comment", "Game", "Manuscript", "Node", "SignMark", "Tag", "Variation", "read_manuscript"]

_RESULTS = ("*", "1-0", "0-1", "1/2-1/2")
_CHESS960_STARTS = (2, 3)
_FEN_STARTS = (1, 3)
_BAD_START = 4
_NORMAL_FEN = "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1"


class Tag(msgspec.Struct, frozen=True):
    """A tag pair: its name, its value without escapes, and the span of the whole."""

    name: str
    value: str
    span: tuple[int, int]


class SignMark(msgspec.Struct, frozen=True):
    """A sign in the text: its NAG, its span, and whether it was typed (`!?`) rather than numeric (`$5`)."""

    nag: int
    span: tuple[int, int]
    typed: bool


class _Row:
    """A row of one of the tables of a manuscript."""

    __slots__ = ("_index", "manuscript", "row")

    def __init__(self, manuscript: Manuscript, row: int) -> None:
        self.manuscript = manuscript
        self.row = row
        self._index = manuscript.index

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, _Row) or type(self) is not type(other):
            return NotImplemented
        return self.manuscript is other.manuscript and self.row == other.row

    def __hash__(self) -> int:
        return hash((type(self), id(self.manuscript), self.row))

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self.row} of {self.manuscript.path}>"


class Comment(_Row):
    """A comment, in braces or behind a semicolon; `row` is its token."""

    __slots__ = ()

    @property
    def span(self) -> tuple[int, int]:
        """The whole, braces or semicolon included."""
        return self._index.span(self.row)

    @property
    def to_line_end(self) -> bool:
        """Whether it is a comment behind a semicolon."""
        return self._index.token_kind[self.row] == TokenKind.LINE_COMMENT

    @property
    def raw(self) -> str:
        """What stands between the braces or behind the semicolon, word for word."""
        start, end = self.span
        closed = not self.to_line_end and end - start > 1 and self.manuscript.data[end - 1 : end] == b"}"
        return self._index.text.text(start + 1, end - closed)

    @property
    def text(self) -> str:
        """Its text with white space made single; paragraphs are parted by one blank line."""
        lines = [" ".join(line.split()) for line in self.raw.splitlines()]
        paragraphs = "\n".join(lines).split("\n\n")
        return "\n\n".join(" ".join(paragraph.split()) for paragraph in paragraphs if paragraph.strip())

    @property
    def node(self) -> Node | None:
        """The position it speaks of; `None` behind the result, before the games, and where the moves are not read."""
        node = self._index.token_node[self.row]
        return None if node < 0 else Node(self.manuscript, node)

    @property
    def variation(self) -> Variation | None:
        """The variation it stands in; `None` in a main line."""
        variation = self._index.token_variation[self.row]
        return None if variation < 0 else Variation(self.manuscript, variation)

    @property
    def place(self) -> tuple[int, int]:
        """Line and column, from 1."""
        return self._index.text.place(self.span[0])


class Node(_Row):
    """A position that the manuscript reaches, with the move that reaches it."""

    __slots__ = ()

    @property
    def game(self) -> Game:
        """Its game."""
        return self.manuscript.games[self._index.game_of_node(self.row)]

    @property
    def parent(self) -> Node | None:
        """The position before the move; `None` for the start position."""
        parent = self._index.node_parent[self.row]
        return None if parent < 0 else Node(self.manuscript, parent)

    @property
    def children(self) -> tuple[Node, ...]:
        """What is played here: the continuation of its own line first, then variations in the order of the text."""
        return tuple(Node(self.manuscript, row) for row in self._index.children(self.row))

    @property
    def next(self) -> Node | None:
        """The continuation of its own line."""
        own = self._index.node_variation[self.row]
        rows = self._index.children(self.row)
        return next(
            (Node(self.manuscript, row) for row in rows if self._index.node_variation[row] == own), None
        )

    @property
    def variation(self) -> Variation | None:
        """The variation it stands in; `None` in the main line."""
        variation = self._index.node_variation[self.row]
        return None if variation < 0 else Variation(self.manuscript, variation)

    @property
    def ply(self) -> int:
        """Half-moves since the start of the game."""
        return self._index.node_ply[self.row]

    @property
    def key(self) -> PositionKey:
        """The key of the position."""
        return PositionKey(self._index.node_key[self.row])

    @property
    def position(self) -> Position:
        """The position.

        Raises:
            InputError: The game has no start position that can be used.
        """
        start = self.game.start
        if start is None:
            raise InputError(
                "the start position of the game cannot be used",
                remedy="correct its tag FEN",
                path=self.manuscript.path,
                game=self.game.number,
            )
        return self._index.position(self.row, start)

    @property
    def move(self) -> Move | None:
        """The move that reaches it; `None` for the start position."""
        parent = self.parent
        if parent is None:
            return None
        return parent.position.unpack(self._index.columns.node_move[self.row : self.row + 1])[0]

    @property
    def san_text(self) -> str:
        """The move as the author wrote it; empty for the start position."""
        return "" if self.span is None else self._index.text.text(*self.span)

    @property
    def span(self) -> tuple[int, int] | None:
        """The move's bytes; `None` for the start position."""
        token = self._index.node_token[self.row]
        return None if token < 0 else self._index.span(token)

    @property
    def place(self) -> tuple[int, int]:
        """Line and column of the move (of the game, for the start position), from 1."""
        return self._index.text.place(self.game.span[0] if self.span is None else self.span[0])

    @property
    def comments(self) -> tuple[Comment, ...]:
        """Comments behind the move, in its own line; at the start position, those before the first move."""
        return self._comments_in(self._index.node_variation[self.row])

    @property
    def opening_comments(self) -> tuple[Comment, ...]:
        """Comments before the move, if it is the first of a variation."""
        parent, own = self.parent, self._index.node_variation[self.row]
        if parent is None or self._index.node_variation[parent.row] == own:
            return ()
        return parent._comments_in(own)

    def _comments_in(self, variation: int) -> tuple[Comment, ...]:
        return tuple(
            Comment(self.manuscript, row) for row in self._remarks(variation) if self._index.is_comment(row)
        )

    def _remarks(self, variation: int) -> list[int]:
        return [row for row in self._index.remarks(self.row) if self._index.token_variation[row] == variation]

    @property
    def signs(self) -> tuple[SignMark, ...]:
        """The signs behind the move, with their places."""
        rows = self._remarks(self._index.node_variation[self.row])
        return tuple(
            SignMark(
                self._index.token_value[row],
                self._index.span(row),
                self._index.token_kind[row] == TokenKind.SIGN,
            )
            for row in rows
            if not self._index.is_comment(row)
        )

    @property
    def nags(self) -> tuple[int, ...]:
        """The signs behind the move, as NAGs."""
        return tuple(sign.nag for sign in self.signs)


class Variation(_Row):
    """A line in parentheses, in place of a move of the line around it."""

    __slots__ = ()

    @property
    def branch(self) -> Node:
        """The position from which it departs; the move it stands for is played there."""
        return Node(self.manuscript, int(self._index.columns.variation_branch[self.row]))

    @property
    def depth(self) -> int:
        """1 for a variation of the main line."""
        return int(self._index.columns.variation_depth[self.row])

    @property
    def outer(self) -> Variation | None:
        """The variation around it; `None` in the main line."""
        outer = int(self._index.columns.variation_outer[self.row])
        return None if outer < 0 else Variation(self.manuscript, outer)

    @property
    def nodes(self) -> tuple[Node, ...]:
        """Its positions in order; variations inside it are not among them."""
        return tuple(Node(self.manuscript, row) for row in self._index.nodes_of_variation(self.row))

    @property
    def span(self) -> tuple[int, int]:
        """From parenthesis to parenthesis; to the end of the game if it is not closed."""
        start = self._index.token_start[int(self._index.columns.variation_open[self.row])]
        close = int(self._index.columns.variation_close[self.row])
        game = int(self._index.columns.variation_game[self.row])
        return start, self._index.token_end[close] if close >= 0 else self.manuscript.games[game].span[1]


class Game(_Row):
    """One game of the manuscript; `row` is its index in `Manuscript.games`."""

    __slots__ = ()

    @property
    def number(self) -> int:
        """Its number in the file, from 1."""
        return self.row + 1

    @property
    def tag_pairs(self) -> tuple[Tag, ...]:
        """Every tag, in the order of the text."""
        columns = self._index.columns
        rows = range(int(columns.game_tags_start[self.row]), int(columns.game_tags_end[self.row]))
        return tuple(self._tag(row) for row in rows)

    def _tag(self, row: int) -> Tag:
        columns, text = self._index.columns, self._index.text
        name = text.text(int(columns.tag_name_start[row]), int(columns.tag_name_end[row]))
        value = text.text(int(columns.tag_value_start[row]), int(columns.tag_value_end[row]))
        return Tag(name, _without_escapes(value), self._index.span(int(columns.tag_token[row])))

    @property
    def tags(self) -> dict[str, str]:
        """Tag values by name; of a tag given twice, the first."""
        return {tag.name: tag.value for tag in reversed(self.tag_pairs)} if self.tag_pairs else {}

    @property
    def start(self) -> Position | None:
        """The start position; `None` when the tag FEN cannot be used."""
        kind = int(self._index.columns.game_start[self.row])
        if kind == _BAD_START:
            return None
        fen = self.tags["FEN"] if kind in _FEN_STARTS else _NORMAL_FEN
        return Position.from_fen(fen, chess960=kind in _CHESS960_STARTS)

    @property
    def root(self) -> Node:
        """The node of the start position."""
        return Node(self.manuscript, int(self._index.columns.game_root[self.row]))

    @property
    def nodes(self) -> tuple[Node, ...]:
        """All positions, in the order of the text."""
        roots = self._index.columns.game_root
        end = int(roots[self.row + 1]) if self.row + 1 < len(roots) else len(self._index.columns.node_parent)
        return tuple(Node(self.manuscript, row) for row in range(int(roots[self.row]), end))

    @property
    def main_line(self) -> tuple[Node, ...]:
        """The positions of the main line, without the start position."""
        return tuple(node for node in self.nodes[1:] if self._index.node_variation[node.row] < 0)

    @property
    def variations(self) -> tuple[Variation, ...]:
        """All variations, in the order of their opening parentheses."""
        first, end = np.searchsorted(self._index.columns.variation_game, [self.row, self.row + 1]).tolist()
        return tuple(Variation(self.manuscript, row) for row in range(first, end))

    @property
    def result(self) -> str:
        """`1-0`, `0-1`, `1/2-1/2` or `*`: by the termination marker, or by the tag where there is none."""
        return _RESULTS[int(self._index.columns.game_result[self.row])]

    @property
    def has_marker(self) -> bool:
        """Whether it has a termination marker."""
        return int(self._index.columns.game_result_token[self.row]) >= 0

    @property
    def complete(self) -> bool:
        """Whether every move of the main line was read, and nothing torn hides its end."""
        return bool(self._index.columns.game_complete[self.row])

    @property
    def _tokens(self) -> tuple[int, int]:
        first = self._index.columns.game_first_token
        end = int(first[self.row + 1]) if self.row + 1 < len(first) else len(self._index.token_kind)
        return int(first[self.row]), end

    @property
    def comments(self) -> tuple[Comment, ...]:
        """All comments, in the order of the text, those behind the result included."""
        first, end = np.searchsorted(self._index.comments, self._tokens).tolist()
        return tuple(Comment(self.manuscript, row) for row in self._index.comments[first:end].tolist())

    @property
    def trailing_comments(self) -> tuple[Comment, ...]:
        """Comments behind the termination marker."""
        marker = int(self._index.columns.game_result_token[self.row])
        return tuple(comment for comment in self.comments if 0 <= marker < comment.row)

    @property
    def span(self) -> tuple[int, int]:
        """From its first token to its last."""
        first, end = self._tokens
        return self._index.token_start[first], self._index.token_end[end - 1]


class Manuscript:
    """A PGN text as read.

    Args:
        data: The bytes of the file.
        path: Where they come from; it stands in diagnostics.
    """

    def __init__(self, data: bytes, path: Path) -> None:
        self.data = data
        self.path = path
        self.index = ManuscriptIndex(PlainText(data))

    @property
    def text(self) -> PlainText:
        """Encoding, line ends and places."""
        return self.index.text

    @cached_property
    def content_hash(self) -> str:
        """What a write of this file must expect to find."""
        return content_hash(self.data)

    @cached_property
    def games(self) -> tuple[Game, ...]:
        """The games, in file order."""
        return tuple(Game(self, row) for row in range(len(self.index.columns.game_root)))

    @cached_property
    def diagnostics(self) -> tuple[Diagnostic, ...]:
        """What is wrong, in the order of the text."""
        return tuple(diagnostics_of(self.index.columns, self.text, self.path))

    @property
    def preamble(self) -> tuple[Comment, ...]:
        """Comments before the first game."""
        first = self.index.columns.game_first_token
        end = int(first[0]) if len(first) else len(self.index.token_kind)
        return tuple(Comment(self, row) for row in self.index.comments.tolist() if row < end)

    def pieces(self) -> Iterator[bytes]:
        """Every token and every gap between tokens, in order: joined, they are the file again."""
        at = 0
        for start, end in zip(self.index.token_start, self.index.token_end, strict=True):
            yield self.data[at:start]
            yield self.data[start:end]
            at = end
        yield self.data[at:]


def read_manuscript(source: Path | bytes, *, path: Path = Path("manuscript.pgn")) -> Manuscript:
    """Read a PGN text without losing a byte. Faults of the text are `diagnostics` of the result.

    Args:
        source: A file, or the bytes of one.
        path: With bytes, the name that diagnostics give.

    Raises:
        InputError: There is no such file, or it is not text, or it is far too large.

    >>> manuscript = read_manuscript(b"1. e4 e5 (1... c6 {solid} 2. d4) 2. Nf3! *")
    >>> [node.san_text for node in manuscript.games[0].main_line]
    ['e4', 'e5', 'Nf3']
    >>> [comment.text for comment in manuscript.games[0].comments]
    ['solid']
    """
    if isinstance(source, Path):
        path, data = source, read_file(source)
    else:
        data = source
    refuse_what_is_no_text(data, path)
    try:
        return Manuscript(data, path)
    except ValueError as error:
        raise InputError(str(error), remedy="sift it as a source instead", path=path) from None


def _without_escapes(value: str) -> str:
    return re.sub(r'\\(["\\])', r"\1", value)
