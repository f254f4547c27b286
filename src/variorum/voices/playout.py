"""Playouts as values: how they are played, which one is to be played, and what came of it."""

from __future__ import annotations

import enum
import hashlib
import re
from typing import Final

import msgspec

from variorum.board import Line, Position, Score, Side
from variorum.voices.selfplay import Adjudication

__all__ = ["Ending", "Playout", "PlayoutPlan", "Recipe", "Thought"]


class Ending(enum.Enum):
    """How a playout ended."""

    MATE = "mate"
    STALEMATE = "stalemate"
    REPETITION = "repetition"
    FIFTY_MOVES = "fifty moves"
    DEAD_POSITION = "dead position"
    AGREED_WIN = "agreed win"
    AGREED_DRAW = "agreed draw"
    LENGTH = "length"
    FAULT = "fault"
    """A voice gave no move."""

    @property
    def by_rule(self) -> bool:
        """Whether the rules of chess ended it."""
        return self not in (Ending.AGREED_WIN, Ending.AGREED_DRAW, Ending.LENGTH, Ending.FAULT)


class Recipe(msgspec.Struct, frozen=True, kw_only=True):
    """How playouts are played; games of another recipe are other games.

    Args:
        nodes: For a move, 0 where `seconds` counts.
        seconds: For a move.
        plies: In so many first plies the move is drawn from the best few.
        margin: Centipawns by which such a move may be worse than the best. The chance is halved for each half of it.
        win: When a win is agreed; `None`: never.
        draw: When a draw is agreed.
        longest: Plies after which a game is given up without a result.
        seed: What chance depends on.
    """

    nodes: int = 20_000
    seconds: float = 0.0
    plies: int = 8
    margin: int = 30
    win: Adjudication | None = Adjudication(700, 6, 0)
    draw: Adjudication | None = Adjudication(10, 10, 60)
    longest: int = 300
    seed: int = 1

    def __post_init__(self) -> None:
        if (self.nodes > 0) == (self.seconds > 0) or min(self.nodes, self.seconds) < 0:
            raise ValueError("a move has a limit in nodes or in seconds")
        if min(self.plies, self.margin, self.longest - 1) < 0:
            raise ValueError("plies and margin are not negative, and a game has a ply at least")

    @property
    def limit(self) -> str:
        """The limit of a move in words."""
        return f"{self.nodes:,} nodes a move" if self.nodes else f"{self.seconds:g} s a move"

    @property
    def variety(self) -> str:
        """The variety in words."""
        if not self.plies:
            return f"always the best move, seed {self.seed}"
        plies = "first ply" if self.plies == 1 else f"first {self.plies} plies"
        return f"{plies} drawn within {self.margin / 100:.2f} of the best, seed {self.seed}"

    @property
    def words(self) -> str:
        """The whole recipe in words: equal where the recipes are."""
        agreed = [
            f"{name} agreed at {one.score / 100:.2f} for {one.plies} plies"
            + (f" from ply {one.earliest}" if one.earliest else "")
            for name, one in (("win", self.win), ("draw", self.draw))
            if one is not None
        ]
        return "; ".join(
            [self.limit, self.variety, *(agreed or ["played to the end"]), f"at most {self.longest} plies"]
        )

    @classmethod
    def of_words(cls, words: str) -> Recipe | None:
        """The recipe of its words, `None` where they are not those of one."""
        found = _WORDS.fullmatch(words)
        if found is None:
            return None
        limit, plies = found["limit"].replace(",", ""), found["plies"]
        agreed = {"win": found["win"], "draw": found["draw"]}
        recipe = cls(
            nodes=0 if found["seconds"] else int(limit),
            seconds=float(limit) if found["seconds"] else 0.0,
            plies=0 if found["best"] else 1 if plies is None else int(plies),
            margin=30 if found["best"] else round(100 * float(found["margin"])),
            longest=int(found["longest"]),
            seed=int(found["seed"]),
            **{name: None if text is None else _agreed(text) for name, text in agreed.items()},
        )
        return recipe if recipe.words == words else None

    @property
    def temperature(self) -> int:
        """Centipawns by which a drawn move's chance is halved."""
        return max(1, self.margin // 2)


_AGREED: Final = r"agreed at \d+\.\d\d for \d+ plies(?: from ply \d+)?"
_WORDS: Final = re.compile(
    r"(?P<limit>[\d,.]+) (?:nodes|(?P<seconds>s)) a move; "
    r"(?:(?P<best>always the best move)|first (?:ply|(?P<plies>\d+) plies) drawn within (?P<margin>\d+\.\d\d) of the best), seed (?P<seed>\d+); "
    rf"(?:played to the end; |(?:win (?P<win>{_AGREED}); )?(?:draw (?P<draw>{_AGREED}); )?)at most (?P<longest>\d+) plies"
)
"""What `Recipe.words` writes."""


def _agreed(words: str) -> Adjudication:
    score, plies, *earliest = re.findall(r"\d+(?:\.\d+)?", words)
    return Adjudication(round(100 * float(score)), int(plies), int(earliest[0]) if earliest else 0)


class PlayoutPlan(msgspec.Struct, frozen=True):
    """A game to be played: from where, which number there (from 1), who has White, who Black."""

    start: Position
    number: int
    white: str
    black: str

    def seed(self, recipe: Recipe) -> int:
        """What chance depends on in this game: the recipe's seed, the position and the number, 64 bits."""
        text = f"{recipe.seed} {self.start.epd} {self.number}"
        return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest())

    def player(self, side: Side) -> str:
        """Who plays a side."""
        return self.white if side is Side.WHITE else self.black


class Thought(msgspec.Struct, frozen=True):
    """What a voice thought when it chose a move: White's score, nodes and depth (0 where it did not say)."""

    score: Score
    nodes: int
    depth: int


class Playout(msgspec.Struct, frozen=True, kw_only=True):
    """A game that was played. `line` starts at the plan's position; `thoughts` has one entry for each move.

    `fault` says why a voice gave no move; then the game has no result and is evidence of nothing.
    """

    plan: PlayoutPlan
    line: Line
    result: str
    ending: Ending
    thoughts: tuple[Thought, ...]
    fault: str = ""
