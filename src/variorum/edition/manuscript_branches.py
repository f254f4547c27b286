"""What is to be put into a manuscript: remarks at a position, and whole branches of moves with their remarks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from variorum.board import Move, Position, Side
from variorum.edition.manuscript import Node
from variorum.edition.manuscript_spans import (
    Insertions,
    Rank,
    end_of_node,
    end_of_remarks,
    end_of_signs,
    end_of_variations,
    first_token,
    in_braces,
)

__all__ = [
    "Branch",
    "branches_after",
    "chain",
    "comment_words",
    "put_branches",
    "put_comment",
    "put_nags",
    "same_kind",
]


class Branch(msgspec.Struct):
    """A move that is to be written, with its signs and comments and what follows: the continuation first.

    `node` is where it was read, if it was.
    """

    move: Move
    nags: list[int] = []
    comments: list[str] = []
    children: list[Branch] = []
    node: Node | None = None


def chain(moves: Sequence[Move]) -> Branch:
    """A line of moves without remarks."""
    branch = Branch(moves[-1])
    for move in reversed(moves[:-1]):
        branch = Branch(move, children=[branch])
    return branch


def branches_after(node: Node) -> list[Branch]:
    """Everything that a manuscript has behind a position, as branches; what could not be read is not among it."""
    made: dict[int, Branch] = {}
    pending = [(node, child) for child in reversed(node.children)]
    top: list[Branch] = []
    while pending:
        parent, child = pending.pop()
        move = child.move
        assert move is not None
        comments = [comment.raw for comment in (*child.opening_comments, *child.comments)]
        made[child.row] = branch = Branch(move, list(child.nags), comments, [], child)
        (top if parent == node else made[parent.row].children).append(branch)
        pending += [(child, grandchild) for grandchild in reversed(child.children)]
    return top


def comment_words(raw: str) -> str:
    """A comment's words with single spaces: two comments with the same ones are one."""
    return " ".join(raw.split())


def same_kind(nag: int, other: int) -> bool:
    """Whether two signs answer one question: what a move is worth (1–6), or how a position stands (10–21)."""
    return any(nag in kind and other in kind for kind in (range(1, 7), range(10, 22)))


def put_comment(insertions: Insertions, node: Node, text: str) -> None:
    """A comment behind a move, its signs and its comments; at the start position, before the first move.

    Raises:
        UsageError: A comment cannot hold these words.
    """
    first = node.next
    if node.parent is not None:
        at = end_of_remarks(node)
    elif first is not None:
        at = node.manuscript.index.token_start[first_token(first)]
    else:
        at = end_of_node(node)
    insertions.put(at, Rank.COMMENT, _comment(text))


def put_nags(insertions: Insertions, node: Node, nags: Sequence[int]) -> None:
    """Signs behind those that a move has."""
    if nags:
        insertions.put(end_of_signs(node), Rank.SIGN, " ".join(f"${nag}" for nag in nags))


def put_branches(insertions: Insertions, node: Node, branches: Sequence[Branch]) -> None:
    """Branches behind a position: as variations, or where its line ends as its continuation.

    Raises:
        InputError: The line goes on in the text with what could not be read.
    """
    if not branches:
        return
    position = node.position
    if node.children:
        at = end_of_variations(node.children[0])
        for branch in branches:
            insertions.put(at, Rank.VARIATION, f"({_written(position, [branch])})")
    else:
        insertions.put(end_of_node(node), Rank.CONTINUATION, _written(position, branches))


def _written(position: Position, branches: Sequence[Branch]) -> str:
    """A line with its variations. Explicit stack: a hostile text nests deep."""
    text: list[str] = []
    glue = ""
    stack = [_line(position, branches)]
    while stack:
        word = next(stack[-1], None)
        if word is None:
            stack.pop()
            if stack:
                text += [glue.strip(" "), ")"]
                glue = " "
        elif isinstance(word, str):
            text += [glue, word]
            glue = "\n" if word.startswith(";") else " "
        else:
            text += [glue, "("]
            stack.append(_line(*word))
            glue = ""
    return "".join(text) + glue.strip(" ")


def _line(
    position: Position, branches: Sequence[Branch]
) -> Iterator[str | tuple[Position, Sequence[Branch]]]:
    """Words of a line, and in their place the variations with the position they begin at."""
    numbered = True
    while branches:
        branch, *others = branches
        if position.turn is Side.WHITE:
            yield f"{position.fullmove}."
        elif numbered:
            yield f"{position.fullmove}..."
        yield position.san(branch.move)
        yield from (f"${nag}" for nag in branch.nags)
        yield from (_comment(comment) for comment in branch.comments)
        for other in others:
            yield position, [other]
        numbered = bool(branch.comments or others)
        position, branches = position.play(branch.move), branch.children


def _comment(raw: str) -> str:
    """A comment as it is written; one that was behind a semicolon may hold a brace, one of a torn text what begins a game."""
    if "}" in raw and "\n" not in raw and "\r" not in raw:
        return f";{raw}"
    return in_braces(raw.replace("{", "(") if "[Event" in raw else raw)
