"""Splitting a manuscript by opening: each root's lines as a text of their own; what stays keeps its bytes."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from variorum.board import Position
from variorum.edition.manuscript import Game, Manuscript, Node, read_manuscript
from variorum.edition.manuscript_order import promote
from variorum.edition.manuscript_shape import refuse_unless, ways_of
from variorum.edition.manuscript_spans import Edit, apply_edits, end_of_line, first_token, removal

__all__ = ["REST", "split"]

REST = ""
"""The name of what reaches no root."""


def split(manuscript: Manuscript, roots: Mapping[str, Position]) -> dict[str, bytes]:
    """The texts by root, and under `REST` what reaches none; texts that would be empty are left out.

    A line belongs to the first root on it. Moves before a root, with their comments and signs, stand in every text that
    needs them. Where a root's lines were variations of a main line that goes elsewhere, they become the main line.

    Raises:
        InputError: A game is written in too tangled a way to be divided without loss.
    """
    keys = {position.key: name for name, position in reversed(list(roots.items()))}
    positions = dict(roots)

    def root_at(node: Node) -> str | None:
        name = keys.get(node.key)
        return name if name is not None and node.position == positions[name] else None

    texts: dict[str, list[bytes]] = {}
    kept: set[int] = set()
    for game in manuscript.games:
        start, end = game.span
        data = manuscript.data[start:end]
        for name in (*roots, REST):
            cut = _cut(data, name, root_at, manuscript, kept)
            if cut is not None:
                texts.setdefault(name, []).append(cut)
    every: set[int] = set()
    for game in manuscript.games:
        every.update(ways_of(game, game.root.key).values())
    refuse_unless(every <= kept, manuscript)
    newline = manuscript.text.newline.encode()
    return {name: (2 * newline).join(pieces) + newline for name, pieces in texts.items()}


def _cut(
    data: bytes, name: str, root_at: Callable[[Node], str | None], whole: Manuscript, kept: set[int]
) -> bytes | None:
    """One game with the lines of one root only, `None` where it has none."""
    while True:
        manuscript = read_manuscript(data, path=whole.path)
        refuse_unless(len(manuscript.games) == 1, whole)
        game = manuscript.games[0]
        keep = _keep(game, name, root_at)
        if game.root.row not in keep:
            return None
        risen = _to_promote(game, keep)
        if risen is None:
            break
        data = promote(risen)
    edits: list[Edit] = []
    index = manuscript.index
    for node in game.nodes:
        parent = node.parent
        if node.row in keep or parent is None or parent.row not in keep:
            continue
        variation = node.variation
        if variation is not None and variation.branch == parent:
            outer = variation.outer
            inside = outer is not None and outer.branch == parent and outer.nodes[0].row not in keep
            if not inside:  # else it goes with the variation around it
                edits.append(removal(data, *variation.span))
        else:
            last = end_of_line(node) - 1
            edits.append(removal(data, index.token_start[first_token(node)], index.token_end[last]))
    data = apply_edits(data, _outermost(edits))
    after = read_manuscript(data, path=whole.path)
    refuse_unless(len(after.games) == 1 and len(after.games[0].nodes) == len(keep), whole)
    kept.update(ways_of(after.games[0], after.games[0].root.key).values())
    return data


def _outermost(edits: list[Edit]) -> list[Edit]:
    """The edits that lie in no other: variations beside a move that goes are inside its rest of the line."""
    found: list[Edit] = []
    for edit in sorted(edits, key=lambda one: (one.span[0], -one.span[1])):
        if not found or edit.span[0] >= found[-1].span[1]:
            found.append(edit)
    return found


def _keep(game: Game, name: str, root_at: Callable[[Node], str | None]) -> set[int]:
    """Rows of the nodes that belong to a root (for `REST`: that lead to the end of a line without one), and of those before."""
    belongs: dict[int, str | None] = {}
    keep: set[int] = set()
    for node in game.nodes:
        parent = node.parent
        before = None if parent is None else belongs[parent.row]
        belongs[node.row] = before if before is not None else root_at(node)
        own = belongs[node.row]
        if own == name if name != REST else own is None and not node.children:
            at: Node | None = node
            while at is not None and at.row not in keep:
                keep.add(at.row)
                at = at.parent
    return keep


def _to_promote(game: Game, keep: set[int]) -> Node | None:
    """A kept variation beside a move of its line that is not kept."""
    for node in game.nodes:
        parent = node.parent
        if node.row in keep or parent is None or parent.row not in keep:
            continue
        variation = node.variation
        for other in parent.children:
            inner = other.variation
            if (
                other.row in keep
                and inner is not None
                and inner.branch == parent
                and inner.outer == variation
            ):
                return other
    return None
