"""Contradictions of a manuscript with itself: they need no evidence, only both places."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Literal

import msgspec

from variorum.board import NAGS, PositionKey
from variorum.edition.manuscript import Manuscript, Node
from variorum.edition.manuscript_branches import put_comment
from variorum.edition.manuscript_find import line_to, move_text, order_to
from variorum.edition.manuscript_see import Pointer, pointer_text, pointers_in, target_of
from variorum.edition.manuscript_shape import ways_of
from variorum.edition.manuscript_spans import Insertions, apply_edits
from variorum.edition.place import Place

__all__ = ["Finding", "FindingPlace", "point_out", "tidy"]

_LEVEL = {11: 10, 12: 10, 20: 18, 21: 19}
"""Signs that say the same as another, and more."""
_WORTH, _STANDING = range(1, 7), range(10, 22)


class FindingPlace(msgspec.Struct, frozen=True, kw_only=True):
    """Where one side of a contradiction stands; `says` is the sign there, or how many moves follow."""

    game: int
    line: int
    column: int
    order: str
    says: str = ""


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """Something the manuscript says in two ways.

    `kind` is `signs` (two signs on one position or move), `twice` (a position treated under two orders), `pointer` (a
    `see` that leads nowhere) or `unpointed` (a line that ends where another goes on, and does not say so).
    """

    kind: Literal["signs", "twice", "pointer", "unpointed"]
    message: str
    places: tuple[FindingPlace, ...]

    @property
    def contradicts(self) -> bool:
        """Whether the text is wrong as it stands, not only longer than it must be."""
        return self.kind in ("signs", "pointer")


class _Ways:
    """Every node with the way to it: nodes of several games that are reached by the same moves have one way."""

    def __init__(self, manuscript: Manuscript) -> None:
        self.nodes: list[Node] = []
        self.way: dict[int, int] = {}
        self.by_key: dict[PositionKey, list[Node]] = {}
        for game in manuscript.games:
            if game.start is None:
                continue
            self.way |= ways_of(game, game.root.key)
            for node in game.nodes:
                self.nodes.append(node)
                self.by_key.setdefault(node.key, []).append(node)


def tidy(manuscript: Manuscript, *, see: str, resolve: Callable[[str], Place]) -> tuple[Finding, ...]:
    """What a manuscript says in two ways, in the order of the text within each kind.

    Args:
        manuscript: As read.
        see: The word of a pointer.
        resolve: The position that a typed line or a name means; raises InputError where it means none.
    """
    ways = _Ways(manuscript)
    pointers = list(pointers_in(manuscript, see))
    found = [*_signs(manuscript, ways), *_twice(ways), *_pointers(pointers, ways, resolve)]
    return (*found, *(finding for finding, _, _ in _unpointed(ways, pointers)))


def point_out(
    manuscript: Manuscript, *, see: str, hides: Callable[[Node], bool]
) -> tuple[bytes, tuple[Finding, ...]]:
    """The text with a `see` at each line that ends where another goes on, and these places; nothing private is pointed at.

    Raises:
        InputError: The word of a pointer cannot be written in the file's encoding.
    """
    ways = _Ways(manuscript)
    insertions = Insertions(manuscript)
    done = []
    for finding, leaf, target in _unpointed(ways, list(pointers_in(manuscript, see))):
        if not _hidden(target, hides):
            put_comment(insertions, leaf, pointer_text(line_to(target), see))
            done.append(finding)
    return apply_edits(manuscript.data, insertions.edits()), tuple(done)


def _hidden(node: Node, hides: Callable[[Node], bool]) -> bool:
    at: Node | None = node
    while at is not None:
        if hides(at):
            return True
        at = at.parent
    return False


def _signs(manuscript: Manuscript, ways: _Ways) -> Iterator[Finding]:
    moves = manuscript.index.columns.node_move
    said: dict[tuple[str, int, int], dict[int, list[Node]]] = {}
    for node in ways.nodes:
        if node.parent is None:
            continue
        for nag in dict.fromkeys(node.nags):
            if nag in _STANDING:
                said.setdefault(("position", node.key, 0), {}).setdefault(_LEVEL.get(nag, nag), []).append(
                    node
                )
            elif nag in _WORTH:
                move = ("move", node.parent.key, int(moves[node.row]))
                said.setdefault(move, {}).setdefault(nag, []).append(node)
    for (kind, _, _), by_nag in said.items():
        if len(by_nag) < 2:
            continue
        nodes = sorted(
            ((node, nag) for nag, nodes in by_nag.items() for node in nodes), key=lambda one: one[0].row
        )
        signs = " and ".join(dict.fromkeys(_sign(nag) for _, nag in nodes))
        one_order = len({ways.way[node.row] for node, _ in nodes}) == 1
        subject = move_text(nodes[0][0]) if kind == "move" else f"the position after {move_text(nodes[0][0])}"
        how = "" if one_order else f", by {len({ways.way[node.row] for node, _ in nodes})} orders"
        yield Finding(
            kind="signs",
            message=f"{subject} has two signs: {signs}{how}",
            places=tuple(_place(node, _sign(nag)) for node, nag in nodes),
        )


def _twice(ways: _Ways) -> Iterator[Finding]:
    groups = {}
    for key, nodes in ways.by_key.items():
        treated = [node for node in nodes if node.children]
        apart = _apart(treated, ways)
        if len(apart) > 1:
            groups[key] = apart
    for nodes in groups.values():
        before = {node.parent.key if node.parent else None for node in nodes}
        if len(before) == 1 and (only := before.pop()) is not None and only in groups:
            continue  # it follows from what is said of the position before
        yield Finding(
            kind="twice",
            message=f"the position after {move_text(nodes[0])} is treated {_times(len(nodes))}",
            places=tuple(_place(node, _following(node)) for node in nodes),
        )


def _apart(nodes: Iterable[Node], ways: _Ways) -> list[Node]:
    """Nodes of different orders, and of one order those of one game: several games may begin alike."""
    kept: list[Node] = []
    seen: dict[int, int] = {}
    for node in nodes:
        way = ways.way[node.row]
        if way not in seen or seen[way] == node.game.row:
            kept.append(node)
        seen.setdefault(way, node.game.row)
    return kept


def _pointers(pointers: Iterable[Pointer], ways: _Ways, resolve: Callable[[str], Place]) -> Iterator[Finding]:
    by_leaf = {pointer.comment.node for pointer in pointers}
    for pointer in pointers:
        comment, node = pointer.comment, pointer.comment.node
        target = target_of(pointer, resolve)
        if target is None:
            message = f"'{pointer.line}' cannot be played, from the start or from its own line"
        else:
            reached = [one for one in ways.by_key.get(target.key, ()) if one != node]
            if not reached:
                message = f"'{pointer.line}' leads to a position that the manuscript does not have"
            elif pointer.whole and node is not None and not node.children and node.key != target.key:
                message = f"'{pointer.line}' leads to another position than the one that it stands at"
            elif all(not one.children and one in by_leaf for one in reached):
                message = f"'{pointer.line}' leads to a line that itself only points on"
            else:
                continue
        line, column = comment.place
        game = 0 if node is None else node.game.number
        place = FindingPlace(
            game=game, line=line, column=column, order="" if node is None else order_to(node)
        )
        yield Finding(kind="pointer", message=message, places=(place,))


def _unpointed(ways: _Ways, pointers: Iterable[Pointer]) -> Iterator[tuple[Finding, Node, Node]]:
    pointing = {pointer.comment.node for pointer in pointers}
    treated: dict[PositionKey, dict[int, Node]] = {}
    for node in ways.nodes:
        if node.children:
            treated.setdefault(node.key, {}).setdefault(ways.way[node.row], node)
    for node in ways.nodes:
        others = treated.get(node.key, {})
        if not others or ways.way[node.row] in others or node in pointing or node.parent is None:
            continue
        target = next(iter(others.values()))
        message = f"{move_text(node)} leads to a position that is treated under another order"
        places = (_place(node), _place(target, _following(target)))
        yield Finding(kind="unpointed", message=message, places=places), node, target


def _place(node: Node, says: str = "") -> FindingPlace:
    line, column = node.place
    return FindingPlace(game=node.game.number, line=line, column=column, order=order_to(node), says=says)


def _following(node: Node) -> str:
    count = -1
    pending = [node]
    while pending:
        count += 1
        pending += pending.pop().children
    return f"{count} move{'' if count == 1 else 's'} behind it"


def _times(count: int) -> str:
    return "twice" if count == 2 else f"{count} times"


def _sign(nag: int) -> str:
    entry = NAGS[nag]
    return entry.glyph or entry.ascii or f"${nag}"
