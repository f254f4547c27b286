"""What changed for a reader since an earlier publication: lines, signs and claims, from what was given to readers then.

An earlier publication is a copy of `out/`: its `manuscript.pgn`, and `publication.json` with the day and the claims.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import msgspec

from variorum.base import InputError
from variorum.board import Line, Move
from variorum.claims.standing import Standing
from variorum.edition.digest import ListOrder
from variorum.edition.manuscript import Game, Manuscript, Node, read_manuscript
from variorum.publish.book import glyph_of
from variorum.publish.notation import set_line
from variorum.publish.page import (
    Block,
    Claims,
    Heading,
    Inline,
    Listing,
    Moves,
    Page,
    PageSetting,
    Paragraph,
    Words,
    plain,
)

__all__ = ["RECORD", "PublishedClaim", "Record", "changes_since", "record_of"]

RECORD = "publication.json"
MOST = 40
"""Entries of the list; the rest is counted."""


class PublishedClaim(msgspec.Struct, frozen=True):
    """A claim as it was published: its words and how it stood."""

    sentence: str
    standing: Standing


class Record(msgspec.Struct, frozen=True):
    """What is kept of a publication beside its texts: `out/publication.json`."""

    made_on: datetime.date
    claims: tuple[PublishedClaim, ...] = ()


class _Told(msgspec.Struct, frozen=True):
    """What a text says at the end of a line: its signs. The line is where it stands in the book."""

    line: Line
    signs: str


def record_of(page: Page | None, made_on: datetime.date) -> Record:
    """What is to be kept of the publication of a digest."""
    blocks = page.blocks if page else ()
    claims = (claim for block in blocks if isinstance(block, Claims) for claim in block.claims)
    return Record(made_on, tuple(PublishedClaim(plain(claim.sentence), claim.standing) for claim in claims))


def changes_since(
    earlier: Path, pgn: str, whole: Manuscript | None, record: Record, setting: PageSetting
) -> tuple[Block, ...]:
    """A section that tells readers what is new, gone or judged otherwise since the publication in a folder.

    Args:
        earlier: A copy of `out/` as it was given to readers.
        pgn: The manuscript as it is published now; empty where there is none.
        whole: The author's own, private lines too: what has become private is not told to be gone.
        record: What is kept of the publication of now.
        setting: Words and notation.

    Raises:
        InputError: The folder holds no publication, or one that cannot be read.
    """
    try:
        before = msgspec.json.decode((earlier / RECORD).read_bytes(), type=Record)
    except (OSError, msgspec.DecodeError):
        raise InputError(
            f"there is no publication with a readable {RECORD}",
            path=earlier,
            remedy="name a folder that is a copy of an earlier out/",
        ) from None
    file = earlier / "manuscript.pgn"
    old = _told(read_manuscript(file)) if file.is_file() else {}
    new = _told(read_manuscript(pgn.encode())) if pgn else {}
    kept = _told(whole) if whole else {}
    words = setting.words
    items: list[tuple[Inline, ...]] = [
        *(_filled(words.change_new, told, setting) for told in _first(new, old)),
        *(_filled(words.change_gone, told, setting) for told in _first(old, kept)),
        *(
            _filled(words.change_sign, told, setting, old=old[path].signs or "–", new=told.signs or "–")
            for path, told in new.items()
            if path in old and told.signs != old[path].signs
        ),
    ]
    stood = {claim.sentence: claim.standing for claim in before.claims}
    for claim in record.claims:
        then = stood.get(claim.sentence)
        if then is not None and then is not claim.standing:
            text = words.change_claim.format(
                sentence=claim.sentence, old=words.standing(then), new=words.standing(claim.standing)
            )
            items.append((Words(text),))
    title = words.changes.format(date=words.date_in_words(before.made_on))
    body: Block = Paragraph((Words(words.no_changes),))
    if items:
        more = [(Words(words.more_changes.format(number=len(items) - MOST)),)] if len(items) > MOST else []
        listed = (*items[:MOST], *more)
        body = Listing(ListOrder.PLAIN, tuple((Paragraph(item),) for item in listed))
    return (Heading(2, (Words(title),)), body)


_Path = tuple[str, tuple[str, ...]]
"""Start position (FEN) and moves (UCI)."""


def _told(manuscript: Manuscript) -> dict[_Path, _Told]:
    """Every line of a text, in its order."""
    found: dict[_Path, _Told] = {}
    for game in manuscript.games:
        for path, told in _lines(game):
            found.setdefault(path, told)
    return found


def _lines(game: Game) -> Iterator[tuple[_Path, _Told]]:
    if game.start is None:
        return
    waiting: list[tuple[Node, tuple[Move, ...]]] = [(game.root, ())]
    while waiting:
        node, moves = waiting.pop()
        if moves:
            signs = "".join(map(glyph_of, node.nags))
            yield (game.start.fen, tuple(move.uci for move in moves)), _Told(Line(game.start, moves), signs)
        waiting += [(child, (*moves, child.move)) for child in reversed(node.children) if child.move]


def _first(these: dict[_Path, _Told], those: dict[_Path, _Told]) -> Iterator[_Told]:
    """The lines of one text that begin where the other has nothing: each with its first move alone."""
    for (start, moves), told in these.items():
        if (start, moves) not in those and (len(moves) == 1 or (start, moves[:-1]) in those):
            yield told


def _filled(text: str, told: _Told, setting: PageSetting, **signs: str) -> tuple[Inline, ...]:
    """A text of the table with the last moves of a line in it."""
    before, _, after = text.partition("{line}")
    start = max(0, len(told.line.moves) - 3)
    shown = Line(told.line.positions()[start], told.line.moves[start:])
    moves = Moves(tuple(set_line(shown, setting.notation).split(" ")), as_line=True)
    return (Words(before.format(**signs)), moves, Words(after.format(**signs)))
