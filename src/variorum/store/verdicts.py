"""Verdicts in the store: a cache of the author's verdict files, quick to ask by position."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator

import msgspec

from variorum.board import PositionKey, Verdict
from variorum.store.manifest import signed
from variorum.store.schema import transaction

__all__ = ["add_verdicts", "all_verdicts", "clear_verdicts", "deepest_verdicts", "verdict_history"]


def _read(content: str) -> Verdict:
    return msgspec.json.decode(content, type=Verdict)


def add_verdicts(connection: sqlite3.Connection, verdicts: Iterable[Verdict]) -> int:
    """Add verdicts in one commit; one that is there already is passed over. Gives the number of new ones."""
    before = connection.total_changes
    with transaction(connection):
        connection.executemany(
            "INSERT OR IGNORE INTO verdicts (key, voice, nodes, depth, date, content) VALUES (?, ?, ?, ?, ?, ?)",
            (
                (
                    signed(verdict.key),
                    verdict.voice,
                    verdict.nodes,
                    verdict.depth,
                    verdict.date,
                    msgspec.json.encode(verdict).decode(),
                )
                for verdict in verdicts
            ),
        )
        return connection.total_changes - before


def deepest_verdicts(connection: sqlite3.Connection, key: PositionKey) -> dict[str, Verdict]:
    """The verdict of greatest effort (nodes, then depth, then date) of each voice, by voice."""
    rows = connection.execute(
        "SELECT voice, content FROM verdicts WHERE key = ? ORDER BY voice, nodes, depth, date, id",
        (signed(key),),
    )
    return {voice: _read(content) for voice, content in dict(rows).items()}


def verdict_history(
    connection: sqlite3.Connection, key: PositionKey, voice: str | None
) -> tuple[Verdict, ...]:
    """All verdicts of a position, of one voice or of all, by date; those of one date by effort."""
    rows = connection.execute(
        "SELECT content FROM verdicts WHERE key = ? AND (?2 IS NULL OR voice = ?2) ORDER BY date, nodes, depth, id",
        (signed(key), voice),
    )
    return tuple(_read(content) for (content,) in rows)


def all_verdicts(connection: sqlite3.Connection) -> Iterator[Verdict]:
    """Every verdict, by position."""
    for (content,) in connection.execute(
        "SELECT content FROM verdicts ORDER BY key, voice, nodes, depth, id"
    ):
        yield _read(content)


def clear_verdicts(connection: sqlite3.Connection) -> None:
    """Forget all verdicts, before the author's files are read anew."""
    with transaction(connection):
        connection.execute("DELETE FROM verdicts")
