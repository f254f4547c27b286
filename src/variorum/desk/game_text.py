"""What a game's own file says beside its moves: comments, variations and signs, move by move, as plain text."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice
from typing import Final, Literal

import msgspec

from variorum.board import NAGS, Line
from variorum.desk.moves import printed
from variorum.edition import Node, read_manuscript
from variorum.edition.manuscript import Variation
from variorum.store import Game

__all__ = ["GameText", "Remark", "Said", "read_game"]

_COMMAND: Final = re.compile(r"\[%[^\]]*\]")
_WORD: Final = re.compile(r"[^\W\d_]{3}")
_LONGEST: Final = 4_000
"""Characters of a comment or a variation that are shown."""
_DEEPEST, _MOST_WORDS = 4, 1_000
"""Of a variation: how deep others in it are shown, and so many of its moves and comments are read."""
_MOST_TAGS, _LONGEST_TAG = 40, 300
_ON_THE_MOVE: Final = ("!", "?", "!!", "??", "!?", "?!")


class Remark(msgspec.Struct, frozen=True):
    """A comment, or a variation in place of the move."""

    kind: Literal["words", "variation"]
    text: str


class Said(msgspec.Struct, frozen=True):
    """What is said of a move: its signs, remarks behind it, and figures (scores, times) of the program that played it."""

    signs: str = ""
    remarks: tuple[Remark, ...] = ()
    figures: str = ""


class GameText(msgspec.Struct, frozen=True):
    """The tags of a game as its file has them; what is said before the first move, and of each move as far as the text can be followed."""

    tags: tuple[tuple[str, str], ...]
    said: tuple[Said, ...]


def read_game(game: Game) -> GameText:
    """What the file of a game says beside its moves."""
    games = read_manuscript(game.text.encode("utf-8", "replace")).games
    if not games:
        return GameText((), (Said(),))
    tags = tuple((tag.name, _cut(tag.value, _LONGEST_TAG)) for tag in games[0].tag_pairs[:_MOST_TAGS])
    if games[0].start is None:
        return GameText(tags, (Said(),))
    main = [node for node in games[0].nodes if node.variation is None]
    told = []
    for node, move in zip(main, (None, *game.line.moves), strict=False):
        if node.move != move:
            break
        told.append(_said(node))
    return GameText(tags, tuple(told) or (Said(),))


def _said(node: Node) -> Said:
    comments = [_COMMAND.sub("", comment.text).strip() for comment in node.comments]
    words = [one for one in comments if _WORD.search(one)]
    remarks = [Remark("words", _cut(one, _LONGEST)) for one in words]
    if node.parent is not None:
        remarks += [
            Remark("variation", _cut(" ".join(islice(_told(one, 1), _MOST_WORDS)), _LONGEST))
            for one in _instead(node, None)
        ]
    return Said(_signs(node), tuple(remarks), "; ".join(one for one in comments if one and one not in words))


def _instead(node: Node, outer: Variation | None) -> list[Variation]:
    """The variations in place of a move, inside another or in the main line."""
    found = []
    for other in node.parent.children if node.parent else ():
        variation = other.variation
        if variation is not None and variation.outer == outer and variation not in found:
            found.append(variation)
    return found


def _told(variation: Variation, depth: int) -> Iterator[str]:
    """The words of a variation: moves with numbers where one is needed, comments, what stands inside it."""
    numbered = True
    for node in variation.nodes:
        if node.parent is None or node.move is None:
            continue
        yield from (comment.text for comment in node.opening_comments if _WORD.search(comment.text))
        if node.move.is_null:
            yield "--"
            continue
        text = Line(node.parent.position, (node.move,)).san()
        if not numbered and "..." in text:
            text = text.split("...")[-1]
        yield printed(text) + _signs(node)
        numbered = False
        for comment in node.comments:
            if _WORD.search(comment.text):
                numbered = True
                yield _COMMAND.sub("", comment.text).strip()
        inside = _instead(node, variation) if depth < _DEEPEST else []
        for one in inside:
            numbered = True
            yield f"({' '.join(_told(one, depth + 1))})"


def _signs(node: Node) -> str:
    told = []
    for nag in dict.fromkeys(node.nags):
        entry = NAGS[nag] if 0 < nag < len(NAGS) else None
        sign = (entry and (entry.glyph or entry.ascii)) or ""
        if sign:
            told.append(sign if sign in _ON_THE_MOVE else f" {sign}")
    return "".join(told)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[:most]}…"
