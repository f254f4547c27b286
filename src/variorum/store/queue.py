"""Questions that wait for voices: kept so that asking goes on where it was, however it was stopped."""

from __future__ import annotations

import enum
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager

import msgspec

from variorum.store.schema import transaction

__all__ = ["QuestionQueue", "QuestionState", "QueuedQuestion"]


class QuestionState(enum.Enum):
    """How far a question is."""

    WAITING = "waiting"
    ANSWERED = "answered"
    FAILED = "failed"


class QueuedQuestion(msgspec.Struct, frozen=True, kw_only=True):
    """A position to ask a voice about, with its limit (0 for none) and why; `fault` tells why there is no answer.

    `number` is its place in the queue, 0 before it is there; a new one waits.
    """

    epd: str
    chess960: bool
    voice: str
    reason: str
    nodes: int = 0
    depth: int = 0
    seconds: float = 0.0
    state: QuestionState = QuestionState.WAITING
    fault: str = ""
    number: int = 0


class QuestionQueue:
    """The queue of one store; each change is one commit.

    Args:
        connection: The manifest's.
        door: Guards the connection, and turns its faults into ours.
        writer: Raises where the store was opened to read only.
    """

    def __init__(
        self,
        connection: sqlite3.Connection,
        door: Callable[[], AbstractContextManager[None]],
        writer: Callable[[], object],
    ) -> None:
        self._connection, self._door, self._writer = connection, door, writer

    @property
    def request(self) -> bytes | None:
        """What the queue is for, as `begin` was given it; `None` where there never was one."""
        with self._door():
            row = self._connection.execute("SELECT request FROM question_request").fetchone()
        return None if row is None else bytes(row[0])

    def begin(self, request: bytes) -> None:
        """Begin an empty queue for a request; what waited before is dropped."""
        with self._changing():
            self._connection.execute("DELETE FROM questions")
            self._connection.execute("DELETE FROM question_request")
            self._connection.execute("INSERT INTO question_request (request) VALUES (?)", (request,))

    def add(self, questions: Iterable[QueuedQuestion]) -> None:
        """Put questions at the end."""
        rows = [
            (one.epd, one.chess960, one.voice, one.reason, one.nodes, one.depth, one.seconds, one.state.value)
            for one in questions
        ]
        with self._changing():
            self._connection.executemany(
                "INSERT INTO questions (epd, chess960, voice, reason, nodes, depth, seconds, state, fault) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?, '')",
                rows,
            )

    def all(self) -> tuple[QueuedQuestion, ...]:
        """Every question of the request, in order."""
        with self._door():
            rows = self._connection.execute(
                "SELECT number, epd, chess960, voice, reason, nodes, depth, seconds, state, fault "
                "FROM questions ORDER BY number"
            ).fetchall()
        return tuple(
            QueuedQuestion(
                number=row[0],
                epd=row[1],
                chess960=bool(row[2]),
                voice=row[3],
                reason=row[4],
                nodes=row[5],
                depth=row[6],
                seconds=row[7],
                state=QuestionState(row[8]),
                fault=row[9],
            )
            for row in rows
        )

    def settle(self, number: int, state: QuestionState, fault: str = "") -> None:
        """Mark what became of a question."""
        with self._changing():
            self._connection.execute(
                "UPDATE questions SET state = ?, fault = ? WHERE number = ?", (state.value, fault, number)
            )

    @contextmanager
    def _changing(self) -> Iterator[None]:
        self._writer()
        with self._door(), transaction(self._connection):
            yield
