"""A question to a voice."""

from __future__ import annotations

import msgspec

from variorum.board.line import Line
from variorum.board.position import Position

__all__ = ["Request"]


class Request(msgspec.Struct, frozen=True, kw_only=True):
    """What a voice is asked: one position, a limit of effort, how many lines.

    At least one of `nodes`, `depth` (plies) and `seconds` is set; the first that is reached ends the search.
    """

    position: Position
    voice: str
    nodes: int | None = None
    depth: int | None = None
    seconds: float | None = None
    multipv: int = 1
    game: Line | None = None
    """The moves that led to the position, where they are part of a game: what repeats is known by them."""

    def __post_init__(self) -> None:
        limits = (self.nodes, self.depth, self.seconds)
        if all(limit is None for limit in limits):
            raise ValueError("a request needs a limit: nodes, depth or seconds")
        if any(limit is not None and limit <= 0 for limit in limits) or self.multipv < 1:
            raise ValueError("limits and number of lines are positive")
        if self.game is not None and self.game.end != self.position:
            raise ValueError("the game does not lead to the position")
