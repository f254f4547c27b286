"""Moving what follows a position to another place of the manuscript."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from variorum.base import InputError, UsageError
from variorum.board import MoveError, Position
from variorum.edition.manuscript import Node
from variorum.edition.manuscript_branches import Branch, branches_after, comment_words, put_comment
from variorum.edition.manuscript_find import line_to, order_to
from variorum.edition.manuscript_merge import Merged, Merging, finished
from variorum.edition.manuscript_order import delete, same_node, subtree
from variorum.edition.manuscript_see import pointer_text
from variorum.edition.manuscript_spans import Insertions, apply_edits

__all__ = ["move_subtree"]


def move_subtree(node: Node, to: Node, *, see: str) -> Merged:
    """Put what follows a position to where the same position stands under another order, and point there.

    Where the positions differ, the move itself goes along: it and all behind it are played from the other position.

    Raises:
        InputError: A move is not legal there; the other position stands behind the first; or the text is too tangled.
        UsageError: The start position cannot be moved.
    """
    manuscript = node.manuscript
    same = node.position == to.position
    if node.parent is None and not same:
        raise UsageError("the start position cannot be moved", remedy="name a move")
    if to.row in {one.row for one in subtree(node)}:
        raise _cannot_move(node, "a line cannot be moved behind itself", "name another place")
    if same and not node.children:
        raise _cannot_move(node, "nothing follows there that could be moved", "name the other order first")
    every = branches_after(node if same or node.parent is None else node.parent)
    branches = every if same else [one for one in every if one.node == node]
    _must_be_legal(to.position, branches)
    merging = Merging(
        manuscript, see, lambda _: True
    )  # the author says where it belongs: nothing else is pointed at
    merging.merge(merging.spot((to,)), branches)
    merged = finished(manuscript, merging)
    data = merged.data
    if same:
        while (left := same_node(node, data)).children:
            data = delete(left.children[-1])
        insertions = Insertions(left.manuscript)
        text = pointer_text(line_to(to), see)
        if not any(text in comment_words(one.raw) for one in left.comments):
            put_comment(insertions, left, text)
            data = apply_edits(data, insertions.edits())
    else:
        data = delete(same_node(node, data))
    return msgspec.structs.replace(merged, data=data)


def _cannot_move(node: Node, message: str, remedy: str) -> InputError:
    line, column = node.place
    return InputError(message, remedy=remedy, path=node.manuscript.path, line=line, column=column)


def _must_be_legal(position: Position, branches: Sequence[Branch]) -> None:
    pending = [(position, branch) for branch in branches]
    while pending:
        before, branch = pending.pop()
        try:
            after = before.play(branch.move)
        except MoveError as error:
            assert branch.node is not None
            message = (
                f"{branch.node.san_text} is not legal there (here it stands after {order_to(branch.node)})"
            )
            raise _cannot_move(branch.node, message, "name the position that it belongs to") from error
        pending += [(after, child) for child in branch.children]
