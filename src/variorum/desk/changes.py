"""Changes of the manuscript that a page asks for, as the functions of `variorum.edition` carry them out."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Final, Literal

import msgspec

from variorum.base import UsageError
from variorum.board import Line
from variorum.edition import (
    Edition,
    Manuscript,
    Node,
    add_comment,
    apply_edits,
    hides_line,
    read_manuscript,
    remove_comment,
    resolve_place,
    set_comment,
    set_nags,
)
from variorum.edition.folder import MANUSCRIPT, SOURCES
from variorum.edition.manuscript import Comment
from variorum.edition.manuscript_edits import add_comment_before, sign_number, signs_with
from variorum.edition.manuscript_find import follow, line_to, order_to
from variorum.edition.manuscript_merge import merge_games, merge_line
from variorum.edition.manuscript_order import delete, demote, promote, promote_to_main
from variorum.edition.manuscript_tidy import point_out
from variorum.edition.settings import EditionSettings

__all__ = ["Change", "Done", "applied", "files_to_merge", "node_on_line"]

_Act = Literal[
    "comment",
    "sign",
    "add",
    "promote",
    "main",
    "demote",
    "delete",
    "merge",
    "point",
    "text",
    "undo",
    "redo",
]
_WIDTH: Final = 90
_WORD: Final = re.compile(r"\S+|(?:\r?\n[ \t]*){2,}")
_SHORT: Final = 40
_MOST_NOTES: Final = 10
_MOST_FILES: Final = 200
_MOST_BYTES: Final = 4 << 20


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """What a page asks for, and the hash of the manuscript that it was made from ("" for none yet).

    `node` is the row of the place that is meant. `comment`: give the comment of token `token` (none: a new one, before the move
    where `before` says so) these `words`; empty words take it out. `sign`: put `new` and take `gone` away. `add`: put the line of
    place `at` in, as the main line where `main` says so, with these `words` behind its last move. `merge`: take the PGN `words` in, or those of a `file` of the edition. `undo`,
    `redo`: so many `steps`. `text`: these are the whole words.
    """

    act: _Act
    hash: str
    node: int | None = None
    token: int | None = None
    before: bool = False
    words: str = ""
    new: tuple[str, ...] = ()
    gone: tuple[str, ...] = ()
    at: str = ""
    main: bool = False
    file: str = ""
    steps: int = 1

    @property
    def edits(self) -> bool:
        """Whether it makes a text of its own, other than going back or forth."""
        return self.act not in ("undo", "redo")


class Done(msgspec.Struct, frozen=True, kw_only=True):
    """The whole new text, what was done in words, what else to say, and the row of the place in the new text."""

    data: bytes
    what: str
    notes: tuple[str, ...] = ()
    node: int | None = None


def applied(edition: Edition, manuscript: Manuscript, wish: Change) -> Done:
    """A change of a text; nothing is written.

    Raises:
        UsageError: What is asked for makes no sense.
        InputError: It cannot be done, as the functions of `variorum.edition` say.
    """
    match wish.act:
        case "add":
            return _add(edition, manuscript, wish)
        case "merge":
            return _merge(edition, manuscript, wish)
        case "point":
            see, hides = edition.settings.words.see, _hides(edition.settings)
            data, done = point_out(manuscript, see=see, hides=hides)
            return Done(data=data, what=f"point to {len(done)} other order{'' if len(done) == 1 else 's'}")
        case "text":
            return _whole(manuscript, wish.words)
        case _:
            return _at_node(manuscript, wish)


def _whole(manuscript: Manuscript, words: str) -> Done:
    """A text that was put together, and what is wrong with it that was not wrong before."""
    data = manuscript.text.encode(words)
    known = {one.message for one in manuscript.diagnostics}
    new = [one for one in read_manuscript(data).diagnostics if one.message not in known]
    notes = tuple(f"Now at line {one.line}: {one.message}" for one in new[:_MOST_NOTES])
    return Done(data=data, what="texts put together", notes=notes)


def _hides(settings: EditionSettings) -> partial[bool]:
    return partial(hides_line, settings=settings)


def _at_node(manuscript: Manuscript, wish: Change) -> Done:
    node = _node(manuscript, wish.node)
    what = f"{wish.act} {_named(node)}"
    match wish.act:
        case "comment":
            return _comment(node, wish)
        case "sign":
            new, gone = [sign_number(one) for one in wish.new], [sign_number(one) for one in wish.gone]
            data = apply_edits(manuscript.data, set_nags(node, signs_with(node, new, gone)))
            return Done(data=data, what=f"signs of {_named(node)}", node=node.row)
        case "promote":
            data = promote(node)
        case "main":
            data, what = promote_to_main(node), f"make {_named(node)} the main line"
        case "demote":
            data = demote(node)
        case "delete":
            data = delete(node)
            node = node.parent or node
        case _:
            raise UsageError(f"{wish.act!r} needs no place")
    return Done(data=data, what=what, node=_row_in(data, node))


def _node(manuscript: Manuscript, row: int | None) -> Node:
    if row is None or not 0 <= row < len(manuscript.index.columns.node_parent):
        raise UsageError("the change names no place of the manuscript", remedy="load the page again")
    return Node(manuscript, row)


def _named(node: Node) -> str:
    """A place in the list of steps: the end of its line is enough to know it."""
    order = order_to(node)
    return order if len(order) <= _SHORT else f"… {order[-_SHORT:].split(' ', 1)[-1]}"


def _row_in(data: bytes, node: Node) -> int | None:
    """Where the line to a node stands in a changed text."""
    found = node_on_line(read_manuscript(data, path=node.manuscript.path), line_to(node), node.game.row)
    return None if found is None else found.row


def node_on_line(manuscript: Manuscript, line: Line, game: int | None = None) -> Node | None:
    """The node at which a line ends, in one game or in the first that has it."""
    games = manuscript.games if game is None else manuscript.games[game : game + 1]
    followed = follow(games, line)
    return followed.nodes[0] if followed.nodes and not followed.rest else None


def _comment(node: Node, wish: Change) -> Done:
    data, words = node.manuscript.data, wish.words.strip()
    where = f"{'before' if wish.before else 'after'} {_named(node)}"
    if wish.token is None:
        if not words:
            return Done(data=data, what=f"comment {where}", node=node.row)
        edits = add_comment_before(node, words) if wish.before else add_comment(node, words)
        return Done(data=apply_edits(data, edits), what=f"comment {where}", node=node.row)
    comment = next((one for one in (*node.opening_comments, *node.comments) if one.row == wish.token), None)
    if comment is None:
        raise UsageError("the comment is not there any more", remedy="load the page again")
    if not words:
        edits = remove_comment(comment)
        return Done(data=apply_edits(data, edits), what=f"remove the comment {where}", node=node.row)
    if words == comment.text:
        return Done(data=data, what=f"comment {where}", node=node.row)
    edits = set_comment(comment, _as_written(comment, words))
    return Done(data=apply_edits(data, edits), what=f"comment {where}", node=node.row)


def _as_written(comment: Comment, words: str) -> str:
    """New words in the place of a comment's: those that stay keep their lines and blanks, so that little of the text moves."""
    raw, new = comment.raw, _WORD.findall(words)
    old = [(found.start(), found.end(), found[0]) for found in _WORD.finditer(raw)]
    if comment.to_line_end or not old:
        return words
    shortest = min(len(old), len(new))
    head = _alike([word for _, _, word in old], new, shortest)
    tail = _alike([word for _, _, word in reversed(old)], new[::-1], shortest - head)
    between = new[head : len(new) - tail]
    last = len(old) - tail
    before = raw[: old[head - 1][1]] if head else raw[: old[0][0]]
    behind = raw[old[last][0] :] if tail else raw[old[-1][1] :]
    middle = [_set(between, wide="\n" in raw)] if between else []
    first = raw[old[head - 1][1] : old[head][0]] if 0 < head < (last if between else len(old)) else ""
    second = raw[old[last - 1][1] : old[last][0]] if tail and last else ""
    ends = [*([before] if head else []), *middle, *([behind] if tail else [])]
    gaps = [first if head else second, second][: len(ends) - 1]
    joined = ends[0] if ends else ""
    for piece, gap in zip(ends[1:], gaps, strict=True):
        joined += (gap or " ") + piece
    joined = joined if head else before + joined
    return joined if tail else joined + behind


def _alike(old: Sequence[str], new: Sequence[str], most: int) -> int:
    """How many words two rows begin with alike; a paragraph's end is one, however it is written."""
    count = 0
    while count < most and (old[count] == new[count] or (not old[count].strip() and not new[count].strip())):
        count += 1
    return count


def _set(words: Sequence[str], *, wide: bool) -> str:
    """Words with blanks between them; in lines, where the text around them is in lines."""
    text = " ".join("\n\n" if not word.strip() else word for word in words).replace(" \n\n ", "\n\n")
    if not wide:
        return text
    parts = (
        textwrap.fill(part, _WIDTH, break_long_words=False, break_on_hyphens=False)
        for part in text.split("\n\n")
    )
    return "\n\n".join(parts)


def _add(edition: Edition, manuscript: Manuscript, wish: Change) -> Done:
    place = resolve_place(edition, wish.at)
    if place.line is None or not place.line.moves:
        raise UsageError(
            "the line has no moves", remedy="make moves on the board, from the start or a root, and add those"
        )
    merged = merge_line(
        manuscript,
        place.line,
        see=edition.settings.words.see,
        hides=_hides(edition.settings),
        title=edition.title,
    )
    data = merged.data
    notes = tuple(f"{one.order} is treated elsewhere: see {one.see}" for one in merged.transpositions)
    after = read_manuscript(data, path=manuscript.path)
    node = node_on_line(after, place.line)
    if wish.main and node is not None and node.variation is not None:
        data = promote_to_main(node)
        node = node_on_line(read_manuscript(data, path=manuscript.path), place.line)
    elif wish.main and node is None:
        notes = (*notes, "as the position stands under another order, the line goes on there")
    if node is not None and wish.words.strip() not in ("", *(one.text for one in node.comments)):
        data = apply_edits(data, add_comment(node, wish.words.strip()))
        node = node_on_line(read_manuscript(data, path=manuscript.path), place.line)
    last = Line(place.line.positions()[-2], place.line.moves[-1:]).san()
    return Done(data=data, what=f"add {last}", notes=notes, node=None if node is None else node.row)


def files_to_merge(edition: Edition) -> list[str]:
    """PGN files of the edition that are small enough to be somebody's text, relative to it; its own manuscript is not among them."""
    found = []
    for folder in (edition.path, edition.path / SOURCES):
        for file in sorted(folder.glob("*.pgn"))[:_MOST_FILES]:
            if file.name != MANUSCRIPT and file.is_file() and file.stat().st_size <= _MOST_BYTES:
                inside = file.resolve().is_relative_to(edition.path.resolve())
                found += [file.relative_to(edition.path).as_posix()] if inside else []
    return found


def _merge(edition: Edition, manuscript: Manuscript, wish: Change) -> Done:
    if wish.file:
        if wish.file not in files_to_merge(edition):
            raise UsageError(f"{wish.file!r} is no PGN file of the edition", remedy="choose one of the list")
        incoming = read_manuscript(edition.path / wish.file)
    else:
        incoming = read_manuscript(wish.words.encode("utf-8"), path=Path("these words"))
    if not incoming.games:
        raise UsageError("these words hold no game", remedy="give a PGN text: tags, moves, comments, signs")
    merged = merge_games(manuscript, incoming, see=edition.settings.words.see, hides=_hides(edition.settings))
    counted = {
        "move": merged.moves,
        "comment": merged.comments,
        "sign": merged.signs,
        "whole game": merged.games,
    }
    new = [f"{count:,} {what}{'' if count == 1 else 's'}" for what, count in counted.items() if count]
    notes = [f"New: {', '.join(new) or 'nothing'}."]
    notes += [f"{one.order}: see {one.see}" for one in merged.transpositions]
    notes += [
        f"{one.order}: {one.stands} stands; the other text says {one.incoming}, which was left out"
        for one in merged.conflicts
    ]
    notes += [
        f"Line {one.line} of the other text: {one.message}"
        for one in incoming.diagnostics
        if one.code != "missing-tags"
    ]
    return Done(data=merged.data, what=f"take in {wish.file or 'a PGN text'}", notes=tuple(notes))
