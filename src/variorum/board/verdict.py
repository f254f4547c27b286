"""What one voice says of one position, and at what effort.

A verdict is kept as text in `verdicts/*.epd` and cached in the store; both write and read this one type. Scores are
White's view, whoever is to move.
"""

from __future__ import annotations

import msgspec

from variorum.board.score import Score

__all__ = ["Iteration", "Verdict", "VerdictLine"]


class VerdictLine(msgspec.Struct, frozen=True):
    """One line of a verdict; `moves` are UCI, the first one played from the verdict's position, at least one."""

    moves: tuple[str, ...]
    score: Score


class Iteration(msgspec.Struct, frozen=True):
    """Best move (UCI) and its score when one iteration was complete; `nodes` since the search began."""

    depth: int
    nodes: int
    move: str
    score: Score


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """What `voice` says of the position `epd` (the four fields of EPD; castling as in X-FEN).

    `key` is the position's key (methods.md 1). `lines` are in the voice's order, best first for the side to move, at
    most `multipv`. `nodes` is the whole search, `depth` the last complete iteration in plies, `elapsed_ms` wall time;
    each is 0 where the voice did not say. `options` are the settings that change what the voice says, as `name=value`.
    `date` is ISO 8601 (`2026-11-25`). `origin` tells where a foreign verdict was read, empty for our own. `asked` is the
    limit of nodes it was asked under, 0 where there was none or it is not known.
    """

    key: int
    epd: str
    voice: str
    version: str
    lines: tuple[VerdictLine, ...]
    multipv: int = 1
    nodes: int = 0
    depth: int = 0
    elapsed_ms: int = 0
    threads: int = 1
    options: tuple[str, ...] = ()
    date: str = ""
    origin: str = ""
    iterations: tuple[Iteration, ...] = ()
    asked: int = 0

    @property
    def allowed(self) -> int:
        """Nodes it spent or might have spent: a search that was settled early, by a mate, need not be asked again."""
        return max(self.nodes, self.asked)

    @property
    def effort(self) -> tuple[int, int]:
        """What verdicts of one voice are ordered by: nodes, then depth (for voices that give no nodes)."""
        return (self.nodes, self.depth)
