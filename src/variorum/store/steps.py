"""What the steps of a build found, and from what: so that nothing is done twice, and later reports can compare."""

from __future__ import annotations

import sqlite3

import msgspec

from variorum.store.schema import transaction

__all__ = ["KEPT", "StepRecord", "record_steps", "steps_of"]

KEPT = 50
"""Records of each step that are kept, the latest."""


class StepRecord(msgspec.Struct, frozen=True, kw_only=True):
    """One run of a step: `key` stands for everything it was made from, `result` is what it found (JSON).

    `made` is an instant (ISO 8601, UTC); `good_until` the last day (ISO 8601) on which it may be taken as it is, empty
    where it does not age.
    """

    name: str
    key: str
    made: str
    good_until: str
    result: bytes


def record_steps(connection: sqlite3.Connection, records: list[StepRecord]) -> None:
    """Keep what steps found, all in one commit; the oldest of each step beyond `KEPT` goes."""
    with transaction(connection):
        for record in records:
            connection.execute(
                "INSERT INTO steps (name, key, made, good_until, result) VALUES (?, ?, ?, ?, ?)",
                (record.name, record.key, record.made, record.good_until, record.result),
            )
            connection.execute(
                "DELETE FROM steps WHERE name = ?1 AND id NOT IN "
                "(SELECT id FROM steps WHERE name = ?1 ORDER BY id DESC LIMIT ?2)",
                (record.name, KEPT),
            )


def steps_of(connection: sqlite3.Connection, name: str, limit: int) -> tuple[StepRecord, ...]:
    """The latest records of a step, the newest first."""
    rows = connection.execute(
        "SELECT name, key, made, good_until, result FROM steps WHERE name = ? ORDER BY id DESC LIMIT ?",
        (name, limit),
    )
    return tuple(
        StepRecord(name=row[0], key=row[1], made=row[2], good_until=row[3], result=bytes(row[4]))
        for row in rows
    )
