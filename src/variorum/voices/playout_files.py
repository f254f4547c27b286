"""Playouts as text: `playouts/*.pgn`, one file for each pair of voices, appended to game by game.

A game stands in the export format of the PGN standard (1994). Its tags hold, besides the standard's, the recipe
(`Recipe`), how it ended (`Ending`) and who played in which version; `Round` is its number among the games from its
position, `PlyCount` (section 9.9.2, from memory) tells whether the text is whole. A comment behind each move says what
its player thought: `+0.36 at 20,000 nodes, depth 12`, White's view.
"""

from __future__ import annotations

import datetime
import os
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Final

import msgspec

from variorum import _core
from variorum.base import InputError
from variorum.board import Score
from variorum.board.game_text import game_text
from variorum.edition.folder import place_to_write
from variorum.store import Game
from variorum.voices.playout import Ending, Playout, PlayoutPlan, Thought

__all__ = [
    "KeptPlayout",
    "append_playout",
    "cut_torn_end",
    "kept_playout",
    "playout_path",
    "playout_text",
]

_COMMENT: Final = re.compile(
    r"\{(?P<score>[+-]?\d+\.\d\d|#-?\d+)(?: at (?:(?P<nodes>[\d,]+) nodes)?(?:, )?(?:depth (?P<depth>\d+))?)?\}"
)
"""How a comment tells a score and its effort."""
_LONGEST_NAME = 200
"""Of a position; strings of the standard have 255 characters at most (section 7)."""
_RESULTS = (b"1-0", b"0-1", b"1/2-1/2", b"*")
_TAIL = 1 << 20
"""Bytes at the end of a file in which its last game begins: hundreds of kilobytes more than any."""


class KeptPlayout(msgspec.Struct, frozen=True, kw_only=True):
    """A playout as it was read back, with what makes it one of a recipe: the versions of its players, the recipe's words."""

    playout: Playout
    versions: tuple[str, str]
    """White's and Black's."""
    recipe: str


def playout_path(folder: Path, names: Iterable[str]) -> Path:
    """The file of the games between these voices, in plain letters: `guest-resident.pgn`."""
    plain = (re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-") or "voice" for name in names)
    return folder / f"{'-'.join(sorted(set(plain)))}.pgn"


def playout_text(kept: KeptPlayout, place: str, date: datetime.date) -> str:
    """A game as it is written; `place` is what the author calls the position."""
    playout = kept.playout
    plan = playout.plan
    tags = {
        "Event": f"Playout from {place if len(place) <= _LONGEST_NAME else '…' + place[1 - _LONGEST_NAME :]}",
        "Date": date.strftime("%Y.%m.%d"),
        "Round": str(plan.number),
        "White": plan.white,
        "Black": plan.black,
        "Result": playout.result,
        "WhiteType": "program",
        "BlackType": "program",
        "WhiteVersion": kept.versions[0],
        "BlackVersion": kept.versions[1],
        "Recipe": kept.recipe,
        "Ending": f"{playout.ending.value}: {playout.fault}" if playout.fault else playout.ending.value,
        "Termination": _termination(playout.ending),
        "PlyCount": str(len(playout.line)),
    }
    comments = {ply: _comment(thought) for ply, thought in enumerate(playout.thoughts, 1)}
    return game_text(tags, playout.line, comments)


def kept_playout(game: Game) -> KeptPlayout | None:
    """The playout that a game of the store is, `None` where it is none or not whole."""
    tags = dict(_core.read_tags(game.text))
    said = [_thought(match) for match in _COMMENT.finditer(" ".join(game.text.split()))]
    try:
        ending, number, plies = Ending(tags["Ending"]), int(tags["Round"]), int(tags["PlyCount"])
        versions, recipe = (tags["WhiteVersion"], tags["BlackVersion"]), tags["Recipe"]
    except (KeyError, ValueError):
        return None
    line = game.line
    if not len(line) == plies == len(said):
        return None
    return KeptPlayout(
        playout=Playout(
            plan=PlayoutPlan(line.start, number, game.white, game.black),
            line=line,
            result=tags["Result"],
            ending=ending,
            thoughts=tuple(said),
        ),
        versions=versions,
        recipe=recipe,
    )


def append_playout(path: Path, text: str) -> None:
    """Write a game behind those in the file, durably: when it returns, it is on the disk.

    Raises:
        InputError: The file cannot be written, or is a symbolic link that leads out of its folder.
    """
    place_to_write(path.parent, path.name)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("ab") as file:
            file.write(text.encode() + b"\n")
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise InputError(
            f"the game cannot be written: {error.strerror or error}",
            remedy="make room or allow writing there; the games before it are kept",
            path=path,
        ) from None


def cut_torn_end(path: Path) -> bool:
    """Take away the beginning of a game whose writing was stopped, so that the next one can follow; whether there was one.

    Raises:
        InputError: The file cannot be read or written, or is a symbolic link that leads out of its folder.
    """
    place_to_write(path.parent, path.name)
    try:
        with path.open("r+b") as file:
            size = file.seek(0, os.SEEK_END)
            begin = max(0, size - _TAIL)
            file.seek(begin)
            tail = file.read()
            if not tail.strip():
                return False
            last = max(tail.rfind(b"\n[Event "), -1 if not tail.startswith(b"[Event ") else 0)
            if tail.split()[-1] in _RESULTS or last < 0:
                if not tail.endswith(b"\n\n"):
                    file.write(b"\n" if tail.endswith(b"\n") else b"\n\n")
                return False
            file.truncate(begin + last + (tail[last : last + 1] == b"\n"))
            file.flush()
            os.fsync(file.fileno())
            return True
    except FileNotFoundError:
        return False
    except OSError as error:
        raise InputError(f"it cannot be read or written: {error.strerror or error}", path=path) from None


def _termination(ending: Ending) -> str:
    """The standard's word (PGN standard 1994, section 9.8.1)."""
    if ending.by_rule:
        return "normal"
    return "abandoned" if ending is Ending.FAULT else "adjudication"


def _comment(thought: Thought) -> str:
    effort = [f"{thought.nodes:,} nodes"] if thought.nodes else []
    effort += [f"depth {thought.depth}"] if thought.depth else []
    score = thought.score.pawns_text.replace("−", "-")
    return f"{score} at {', '.join(effort)}" if effort else score


def _thought(match: re.Match[str]) -> Thought:
    text = match["score"]
    score = Score.of_mate(int(text[1:])) if text.startswith("#") else Score.of_cp(round(100 * float(text)))
    return Thought(score, int((match["nodes"] or "0").replace(",", "")), int(match["depth"] or 0))
