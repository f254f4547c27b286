"""What a sift set aside, and what it met more than once, as lists to read."""

from __future__ import annotations

import msgspec

from variorum.store import Game, Store

__all__ = [
    "DoubleEntry",
    "DoublesGroup",
    "DoublesReport",
    "NoteEntry",
    "RejectEntry",
    "RejectsReport",
    "date_text",
    "list_doubles",
    "list_rejects",
]

RESULTS = ("*", "1-0", "0-1", "1/2-1/2")
"""Result of a game by the store's number."""


class RejectEntry(msgspec.Struct, frozen=True, kw_only=True):
    """A game set aside. `game` and `line` count from 1, `ply` too (0: none); `offset` in the unpacked file."""

    source: str
    game: int
    line: int
    ply: int
    offset: int
    reason: str
    text: str


class NoteEntry(msgspec.Struct, frozen=True, kw_only=True):
    """Bytes of a file that belong to no game."""

    source: str
    offset: int
    length: int
    what: str


class RejectsReport(msgspec.Struct, frozen=True):
    """All that sifts set aside or passed over as no game."""

    rejects: tuple[RejectEntry, ...]
    notes: tuple[NoteEntry, ...]


class DoubleEntry(msgspec.Struct, frozen=True, kw_only=True):
    """One spelling of a game; `number` counts the games of its file from 1."""

    source: str
    number: int
    white: str
    black: str
    event: str
    date: str
    result: str
    plies: int


class DoublesGroup(msgspec.Struct, frozen=True):
    """One game in all its spellings; the first is the one that statistics count."""

    games: tuple[DoubleEntry, ...]


class DoublesReport(msgspec.Struct, frozen=True):
    """All games met more than once."""

    groups: tuple[DoublesGroup, ...]


def list_rejects(store: Store) -> RejectsReport:
    """The games that were set aside and the bytes that belong to no game, by source and place."""
    rejects = tuple(
        RejectEntry(
            source=sift.source, game=number, line=line, ply=ply, offset=offset, reason=reason, text=text
        )
        for sift, (offset, _, number, line, reason, ply, text) in store.rejects()
    )
    notes = tuple(
        NoteEntry(source=sift.source, offset=offset, length=length, what=what)
        for sift, (offset, length, what) in store.notes()
    )
    return RejectsReport(rejects, notes)


def list_doubles(store: Store) -> DoublesReport:
    """The games met more than once, in the order in which they were met."""
    return DoublesReport(
        tuple(
            DoublesGroup(tuple(_entry(game) for game in store.games(group)))
            for group in sorted(store.doubles())
        )
    )


def _entry(game: Game) -> DoubleEntry:
    return DoubleEntry(
        source=game.provenance.source,
        number=game.provenance.game_number,
        white=game.white,
        black=game.black,
        event=game.event,
        date=date_text(game.date),
        result=RESULTS[game.result],
        plies=len(game.moves),
    )


def date_text(date: int) -> str:
    """`2024-05-01`, `2024-05`, `2024`, or nothing, of a date as `yyyymmdd` with 0 for what is not known."""
    year, month, day = date // 10_000, date // 100 % 100, date % 100
    if not year:
        return ""
    return f"{year:04}" + (f"-{month:02}" + (f"-{day:02}" if day else "") if month else "")
