"""The content of games apart from their writing: by it a change of order is seen to have lost nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

from variorum.base import InputError
from variorum.edition.manuscript import Game, Manuscript

__all__ = ["Shape", "refuse_unless", "shape_of", "ways_of"]

Shape = Counter[tuple[int, tuple[int, ...], tuple[str, ...]]]
"""Of each position: the way to it (hashed), its signs and its comments."""

_TANGLED = (
    "unclosed-comment",
    "unclosed-variation",
    "unopened-variation",
    "result-inside-variation",
    "variation-without-move",
    "illegal-move",
    "ambiguous-move",
    "unreadable-move",
)


def shape_of(manuscript: Manuscript, without: Collection[int] = ()) -> Shape:
    """What stands at the positions, whatever the order of variations and of the comments on one position.

    Args:
        manuscript: As read.
        without: Rows of nodes that are not counted.
    """
    shape: Shape = Counter()
    for game in manuscript.games:
        ways = ways_of(game, game.row)
        for node in game.nodes:
            if node.row in without:
                continue
            comments = (*node.opening_comments, *node.comments)
            words = sorted(" ".join(comment.raw.split()) for comment in comments)
            shape[ways[node.row], tuple(sorted(node.nags)), tuple(words)] += 1
    return shape


def ways_of(game: Game, start: int) -> dict[int, int]:
    """The way to each node by its row, hashed: equal for equal moves in games that are given one `start`."""
    ways: dict[int, int] = {}
    moves = game.manuscript.index.columns.node_move
    for node in game.nodes:
        parent = node.parent
        ways[node.row] = hash((start, -1) if parent is None else (ways[parent.row], int(moves[node.row])))
    return ways


def refuse_unless(fits: bool, before: Manuscript) -> None:
    """Refuse a change that would not do what was asked, with the first fault in the text that may be why.

    Raises:
        InputError: It does not fit.
    """
    if fits:
        return
    fault = next((one for one in before.diagnostics if one.code in _TANGLED), None)
    raise InputError(
        "the game is written in a way that does not allow this change without loss; nothing was changed",
        remedy=f"mend this first: {fault.message}" if fault else "make it by hand",
        path=before.path,
        line=fault.line if fault else None,
        column=fault.column if fault else None,
    )
