"""The queue of questions: in order, durable, made by the migration from version 2."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from variorum.base import UsageError
from variorum.board import Position
from variorum.store import Mode, QuestionState, QueuedQuestion, open_store


def question(voice: str, nodes: int = 1_000) -> QueuedQuestion:
    return QueuedQuestion(epd=Position.start().epd, chess960=False, voice=voice, reason="root", nodes=nodes)


def test_questions_stay_in_order_and_keep_what_became_of_them(tmp_path: Path) -> None:
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        assert store.questions.request is None
        store.questions.begin(b"one")
        store.questions.add([question("a"), question("b")])
        store.questions.add([question("c")])
        first, second, _ = store.questions.all()
        store.questions.settle(first.number, QuestionState.ANSWERED)
        store.questions.settle(second.number, QuestionState.FAILED, "fell silent")
    with open_store(tmp_path) as store:
        assert store.questions.request == b"one"
        kept = [(one.voice, one.state, one.fault) for one in store.questions.all()]
        with pytest.raises(UsageError):
            store.questions.begin(b"two")
    assert kept == [
        ("a", QuestionState.ANSWERED, ""),
        ("b", QuestionState.FAILED, "fell silent"),
        ("c", QuestionState.WAITING, ""),
    ]
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        store.questions.begin(b"two")
        assert (store.questions.request, store.questions.all()) == (b"two", ())


def test_a_store_of_version_2_gets_the_queue(tmp_path: Path) -> None:
    open_store(tmp_path, mode=Mode.WRITE).close()
    connection = sqlite3.connect(tmp_path / "store.sqlite")
    connection.executescript(
        "DROP TABLE births; DROP TABLE born_sifts; DROP TABLE questions; DROP TABLE question_request; PRAGMA user_version = 2"
    )
    connection.close()
    with open_store(tmp_path) as store:
        assert store.questions.all() == ()
