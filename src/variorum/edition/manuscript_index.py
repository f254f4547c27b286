"""Look-ups over the columns of a manuscript that are made once, when they are first wanted."""

from __future__ import annotations

import enum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from variorum import _core
from variorum.board import Position
from variorum.edition.plain_text import PlainText

__all__ = ["ManuscriptIndex", "TokenKind"]

_CACHED_POSITIONS = 50_000


class TokenKind(enum.IntEnum):
    """What a token is; the numbers are the core's."""

    TAG = 0
    BAD_TAG = 1
    COMMENT = 2
    LINE_COMMENT = 3
    ESCAPE_LINE = 4
    OPEN = 5
    CLOSE = 6
    NUMBER = 7
    NAG = 8
    SIGN = 9
    MOVE = 10
    RESULT = 11
    RESERVED = 12
    STRAY = 13
    UNREAD = 14


_COMMENTS = (TokenKind.COMMENT, TokenKind.LINE_COMMENT)
_REMARKS = (*_COMMENTS, TokenKind.NAG, TokenKind.SIGN)


class ManuscriptIndex:
    """The text, its columns, and what is looked up in them by row."""

    def __init__(self, text: PlainText) -> None:
        self.text = text
        self.columns = _core.read_manuscript(text.data)
        columns = self.columns
        # A memoryview gives plain numbers, faster than an array does.
        self.token_kind = columns.token_kind.data
        self.token_start = columns.token_start.data
        self.token_end = columns.token_end.data
        self.token_value = columns.token_value.data
        self.token_node = columns.token_node.data
        self.token_variation = columns.token_variation.data
        self.node_parent = columns.node_parent.data
        self.node_token = columns.node_token.data
        self.node_ply = columns.node_ply.data
        self.node_variation = columns.node_variation.data
        self.node_key = columns.node_key.data
        self._positions: dict[int, Position] = {}

    def span(self, token: int) -> tuple[int, int]:
        """First byte of a token, and the byte after its last."""
        return self.token_start[token], self.token_end[token]

    def game_of_node(self, node: int) -> int:
        """The game that holds a node, from 0."""
        return int(np.searchsorted(self.columns.game_root, node, side="right")) - 1

    def children(self, node: int) -> list[int]:
        """The nodes after a node: the continuation of its own line first, then variations in the order of the text."""
        order, bounds = self._children
        rows: list[int] = order[bounds[node] : bounds[node + 1]].tolist()
        return rows

    @cached_property
    def _children(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        return _grouped(self.columns.node_parent, len(self.columns.node_parent))

    def remarks(self, node: int) -> list[int]:
        """Tokens of the comments and signs that follow a position, those that open a variation from it included."""
        tokens, bounds = self._remarks
        rows: list[int] = tokens[bounds[node] : bounds[node + 1]].tolist()
        return rows

    @cached_property
    def _remarks(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        remarks = np.flatnonzero(np.isin(self.columns.token_kind, _REMARKS) & (self.columns.token_node >= 0))
        order, bounds = _grouped(self.columns.token_node[remarks], len(self.columns.node_parent))
        return remarks[order], bounds

    @cached_property
    def comments(self) -> NDArray[np.intp]:
        """The tokens of all comments."""
        return np.flatnonzero(np.isin(self.columns.token_kind, _COMMENTS))

    def nodes_of_variation(self, variation: int) -> list[int]:
        """The nodes of a variation, in order."""
        order, bounds = self._variation_nodes
        rows: list[int] = order[bounds[variation] : bounds[variation + 1]].tolist()
        return rows

    @cached_property
    def _variation_nodes(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        return _grouped(self.columns.node_variation, len(self.columns.variation_open))

    def is_comment(self, token: int) -> bool:
        """Whether a token is a comment of either form."""
        return self.token_kind[token] in _COMMENTS

    def position(self, node: int, start: Position) -> Position:
        """The position of a node; `start` is that of its game."""
        path = []
        at = node
        while at not in self._positions and self.node_parent[at] >= 0:
            path.append(at)
            at = self.node_parent[at]
        position = self._positions.get(at, start)
        if path:
            position = position.replay(self.columns.node_move[path[::-1]])
            if len(self._positions) >= _CACHED_POSITIONS:
                self._positions.clear()
            self._positions[node] = position
        return position


def _grouped(groups: NDArray[np.int32], count: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows sorted by group, stable, and where each of `count` groups begins among them; negative groups are left out."""
    order = np.argsort(groups, kind="stable")
    return order, np.searchsorted(groups[order], np.arange(count + 1))
