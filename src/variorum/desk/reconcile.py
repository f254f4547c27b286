"""Two texts that were made from one: where they differ, and whose each difference is."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Sequence
from typing import Final, Literal

import msgspec

__all__ = ["Piece", "pieces_of"]

_MOST_LINES: Final = 5_000
"""Lines that differ; beyond, they are compared as one."""


class Piece(msgspec.Struct, frozen=True):
    """Lines of both texts. `same`: they agree; `mine`, `theirs`: only that one was changed; `clash`: both were, in two ways."""

    kind: Literal["same", "mine", "theirs", "clash"]
    mine: str
    theirs: str


def pieces_of(base: str | None, mine: str, theirs: str) -> list[Piece]:
    r"""Both texts cut where they differ; the `mine` of all pieces joined are one text, the `theirs` the other.

    Args:
        base: The text that both were made from; `None` where it is not known: each difference is a clash then.
        mine: One of them.
        theirs: The other.

    >>> [(one.kind, one.mine, one.theirs) for one in pieces_of("a\nb\nc\n", "A\nb\nc\n", "a\nb\nC\n")]
    [('mine', 'A\n', 'a\n'), ('same', 'b\n', 'b\n'), ('theirs', 'c\n', 'C\n')]
    """
    ours, others = mine.splitlines(keepends=True), theirs.splitlines(keepends=True)
    if base is None:
        return _joined(_between(None, ours, others, _matches(ours, others)))
    old = base.splitlines(keepends=True)
    to_mine, to_theirs = dict(_matches(old, ours)), dict(_matches(old, others))
    anchors = [(to_mine[row], to_theirs[row], row) for row in to_mine if row in to_theirs]
    return _joined(_between(old, ours, others, anchors))


def _matches(old: list[str], new: list[str]) -> list[tuple[int, int]]:
    """Rows of lines that two texts share, in rising order."""
    head = _alike(old, new)
    tail = _alike(old[head:][::-1], new[head:][::-1])
    rows: list[tuple[int, int]] = [(row, row) for row in range(head)]
    one, other = old[head : len(old) - tail], new[head : len(new) - tail]
    if max(len(one), len(other)) <= _MOST_LINES:
        blocks = difflib.SequenceMatcher(None, one, other, autojunk=False).get_matching_blocks()
        rows += [
            (head + block.a + step, head + block.b + step) for block in blocks for step in range(block.size)
        ]
    rows += [(len(old) - back, len(new) - back) for back in range(tail, 0, -1)]
    return rows


def _alike(one: list[str], other: list[str]) -> int:
    """How many lines two texts begin with alike."""
    return sum(1 for _ in itertools.takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))


def _between(
    old: list[str] | None, ours: list[str], others: list[str], anchors: Sequence[tuple[int, ...]]
) -> list[Piece]:
    found = []
    at = [0, 0, 0]
    end = (len(ours), len(others), 0 if old is None else len(old))
    for anchor in (*anchors, end):
        mine = "".join(ours[at[0] : anchor[0]])
        theirs = "".join(others[at[1] : anchor[1]])
        if mine or theirs:
            before = None if old is None else "".join(old[at[2] : anchor[2]])
            found.append(Piece(_whose(before, mine, theirs), mine, theirs))
        if anchor is not end:
            found.append(Piece("same", ours[anchor[0]], others[anchor[1]]))
        at = [row + 1 for row in anchor] + [0]
    return found


def _whose(before: str | None, mine: str, theirs: str) -> Literal["same", "mine", "theirs", "clash"]:
    if mine == theirs:
        return "same"
    if before is not None and theirs == before:
        return "mine"
    return "theirs" if before is not None and mine == before else "clash"


def _joined(pieces: list[Piece]) -> list[Piece]:
    """Neighbours of one kind as one piece."""
    joined: list[Piece] = []
    for kind, run in itertools.groupby(pieces, key=lambda piece: piece.kind):
        group = list(run)
        joined.append(Piece(kind, "".join(one.mine for one in group), "".join(one.theirs for one in group)))
    return joined
