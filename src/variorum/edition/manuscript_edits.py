"""Changes to a manuscript as edits of spans: comments, signs, lines.

    manuscript = read_manuscript(path)
    edits = add_comment(node, "The pawn wants to go to d5.")
    History(path).save(apply_edits(manuscript.data, edits), expected_hash=manuscript.content_hash, what="comment")

New text takes the encoding and the line ends of the file. Spans are those of the manuscript as read: after a change it
is read anew.
"""

from __future__ import annotations

from collections.abc import Sequence

from variorum.base import UsageError
from variorum.board import Move, nag_of_sign
from variorum.edition.manuscript import Comment, Node
from variorum.edition.manuscript_branches import chain, put_branches, put_comment, put_nags, same_kind
from variorum.edition.manuscript_spans import (
    Edit,
    Insertions,
    apply_edits,
    first_token,
    in_braces,
    removal,
)

__all__ = [
    "Edit",
    "add_comment",
    "add_comment_before",
    "add_line",
    "apply_edits",
    "remove_comment",
    "set_comment",
    "set_nags",
    "sign_number",
    "signs_with",
    "with_comment",
]


def set_comment(comment: Comment, text: str) -> list[Edit]:
    """Give a comment another text. One behind a semicolon becomes one in braces when it has several lines.

    Raises:
        UsageError: A comment in braces cannot hold a closing brace.
        InputError: The file's encoding lacks a character.
    """
    if comment.to_line_end and "\n" not in text and "\r" not in text:
        return [Edit(comment.span, comment.manuscript.text.encode(f"; {text}"))]
    return [Edit(comment.span, comment.manuscript.text.encode(in_braces(text)))]


def add_comment(node: Node, text: str) -> list[Edit]:
    """Add a comment behind a move, its signs and its comments; at the start position, before the first move.

    Raises:
        UsageError, InputError: As `set_comment`.
    """
    in_braces(text)
    insertions = Insertions(node.manuscript)
    put_comment(insertions, node, text)
    return insertions.edits()


def add_comment_before(node: Node, text: str) -> list[Edit]:
    """Add a comment before the first move of a variation, behind what is said there already.

    Raises:
        UsageError: The move is not the first of a variation; or as `set_comment`.
        InputError: As `set_comment`.
    """
    parent = node.parent
    if parent is None or parent.variation == node.variation:
        raise UsageError(
            "only the first move of a variation has room for a comment before it",
            remedy="comment on the move before",
        )
    at = node.manuscript.index.token_start[first_token(node)]
    lead = "" if node.manuscript.data[at - 1 : at] in (b"(", b" ", b"\n", b"\r", b"\t") else " "
    return [Edit((at, at), node.manuscript.text.encode(f"{lead}{in_braces(text)} "))]


def remove_comment(comment: Comment) -> list[Edit]:
    """Take a comment out, with the blank before it."""
    return [removal(comment.manuscript.data, *comment.span)]


def set_nags(node: Node, nags: Sequence[int]) -> list[Edit]:
    """Give a move these signs. Those it has and keeps stay as they are written; new ones are written `$n`.

    Raises:
        UsageError: The start position has no move that could bear a sign.
    """
    if node.span is None:
        raise UsageError("the start position has no move for a sign")
    data = node.manuscript.data
    wanted = list(nags)
    edits = []
    for sign in node.signs:
        if sign.nag in wanted:
            wanted.remove(sign.nag)
        else:
            edits.append(removal(data, *sign.span))
    insertions = Insertions(node.manuscript)
    put_nags(insertions, node, wanted)
    return edits + insertions.edits()


def signs_with(node: Node, new: Sequence[int], gone: Sequence[int] = ()) -> list[int]:
    """The signs of a move with new ones and without others; a new one takes the place of one of its kind.

    >>> from variorum.edition.manuscript import read_manuscript
    >>> signs_with(read_manuscript(b"1. e4! $14 *").games[0].main_line[0], [16])
    [1, 16]
    """
    kept = [nag for nag in node.nags if nag not in gone and not any(same_kind(nag, one) for one in new)]
    return [*kept, *(nag for nag in dict.fromkeys(new) if nag not in kept)]


def sign_number(text: str) -> int:
    """The number of a sign as it is typed: `!?`, `⩲`, `+/-` or `$14`.

    Raises:
        UsageError: It is no sign, or one that stands for two.
    """
    written = text.strip()
    if written.startswith("$") and written[1:].isdecimal() and 0 < int(written[1:]) <= 255:
        return int(written[1:])
    nag = nag_of_sign(written)
    if nag is None:
        raise UsageError(
            f"{text!r} is no sign, or one that may mean two",
            remedy="write ! ? !! ?? !? ?! = ⩲ ⩱ ± ∓ +− −+, += -/+ and the like, or a number as $14",
        )
    return nag.number


def with_comment(node: Node, text: str | None) -> list[Edit]:
    """One comment in the place of all that a position has, or (`None`) none.

    Raises:
        UsageError, InputError: As `set_comment`.
    """
    comments = (*node.opening_comments, *node.comments)
    if not comments:
        return [] if text is None else add_comment(node, text)
    if text is None:
        return [edit for comment in comments for edit in remove_comment(comment)]
    rest = [edit for comment in comments[1:] for edit in remove_comment(comment)]
    return [*set_comment(comments[0], text), *rest]


def add_line(node: Node, moves: Sequence[Move]) -> list[Edit]:
    """Add moves behind a position.

    As far as they are there already they are followed; the rest continues a line that ends there, or is a variation.

    Raises:
        MoveError: A move is not legal in its place.
        InputError: The line that they would continue goes on with what cannot be read.
    """
    rest = list(moves)
    while rest:
        known = next((child for child in node.children if child.move == rest[0]), None)
        if known is None:
            break
        node = known
        rest.pop(0)
    if not rest:
        return []
    insertions = Insertions(node.manuscript)
    put_branches(insertions, node, [chain(rest)])
    return insertions.edits()
