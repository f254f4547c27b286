from __future__ import annotations

import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from desk_works import until
from invented_desk import Desk

from variorum.base import InputError, Progress
from variorum.desk.journal import Begun, Journal
from variorum.desk.work import Running, State, Works


def test_work_tells_how_far_it_is_and_what_came_of_it() -> None:
    works, go = Works(), threading.Event()

    def run(progress: Progress) -> str:
        with progress.task("games", total=10, unit="games") as task:
            task.advance(4, note="file a")
            go.wait()
        progress.say("Read.")
        return "/there"

    number = works.start("e", "sift", "games", run)
    until(works, number, State.RUNNING)
    deadline = time.monotonic() + 20
    while not (tasks := works.told()[0].tasks) or not tasks[0].done:
        assert time.monotonic() < deadline
    assert (tasks[0].name, tasks[0].done, tasks[0].total, tasks[0].note) == ("games", 4, 10, "file a")
    go.set()
    work = until(works, number, State.DONE)
    assert (work.result, work.said, work.tasks) == ("/there", ("Read.",), ())


def test_work_stops_when_it_is_asked_to() -> None:
    works = Works()

    def run(progress: Progress) -> str:
        with progress.task("x", total=None, unit="steps") as task:
            while True:
                task.advance(1)
                time.sleep(0.001)

    number = works.start("e", "x", "", run)
    until(works, number, State.RUNNING)
    assert works.stop(number)
    assert until(works, number, State.STOPPED)
    assert not works.stop(number)


def test_what_fails_says_why() -> None:
    works = Works()

    def refused(progress: Progress) -> str:
        raise InputError("no such file", path="a.pgn")

    def broken(progress: Progress) -> str:
        raise ValueError("oops")

    assert until(works, works.start("e", "x", "", refused), State.FAILED).fault == "a.pgn: no such file"
    assert "ValueError" in until(works, works.start("e", "x", "", broken), State.FAILED).fault


def test_one_writer_an_edition_and_a_waiting_one_can_be_stopped() -> None:
    works, go, order = Works(), threading.Event(), []

    def first(progress: Progress) -> str:
        go.wait()
        order.append("first")
        return ""

    def second(progress: Progress) -> str:
        order.append("second")
        return ""

    one = works.start("e", "x", "", first)
    two = works.start("e", "x", "", second)
    three = works.start("e", "x", "", second)
    other = works.start("other", "x", "", lambda progress: "")
    until(works, other, State.DONE)
    assert works.stop(three)
    until(works, three, State.STOPPED)
    go.set()
    until(works, one, State.DONE)
    until(works, two, State.DONE)
    assert order == ["first", "second"]


def test_games_are_brought_in_from_the_page(desk: Desk) -> None:
    file = desk.edition / "sources" / "b.pgn"
    file.write_text((desk.edition / "sources" / "a.pgn").read_text().replace("Orlo", "Other"))
    status, told = desk.post(f"/e/{desk.name}/begin/sift", {})
    assert status == 200
    number: Any = told["number"]
    assert until(desk.works, int(number), State.DONE, State.FAILED).state is State.DONE
    assert ('3\u00a0♘c3</a></td><td class="n">2') in desk.page("position?at=qgd")
    assert desk.client.get("/works").json()[0]["kind"] == "sift"


def test_work_that_there_is_not(desk: Desk) -> None:
    assert desk.post(f"/e/{desk.name}/begin/nothing", {})[0] == 422
    assert desk.post("/works/999/stop", {})[0] == 422


def test_work_that_ends_while_it_is_told_to_stop_stays_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    """Else what comes after it would wait for it for ever."""
    works, asked = Works(), threading.Event()

    class Watched(Running):
        """Its work ends between the look at its state and the wish that it stop."""

        def __getattribute__(self, name: str) -> Any:
            found = object.__getattribute__(self, name)
            if name == "state" and sys._getframe(1).f_code.co_name == "stop":
                asked.set()
                time.sleep(0.2)
            return found

    monkeypatch.setattr("variorum.desk.work.Running", Watched)
    number = works.start("e", "x", "", lambda progress: str(asked.wait(20)))
    until(works, number, State.RUNNING)
    assert works.stop(number)
    until(works, number, State.DONE)
    until(works, works.start("e", "x", "", lambda progress: ""), State.DONE)


def test_a_failure_is_told_until_the_same_is_begun_again_or_it_is_put_away() -> None:
    works = Works()

    def refused(progress: Progress) -> str:
        raise InputError("no such file", path="a.pgn")

    for _ in range(2):
        until(works, works.start("e", "sift", "games", refused), State.FAILED)
    other = works.start("e", "build", "all", refused)
    until(works, other, State.FAILED)
    assert [(work.kind, work.state) for work in works.told()] == [
        ("build", State.FAILED),
        ("sift", State.FAILED),
    ]
    assert works.put_away(other) and not works.put_away(other)
    until(works, works.start("e", "sift", "games", lambda progress: ""), State.DONE)
    assert [work.state for work in works.told()] == [State.DONE]


def test_what_a_desk_did_not_live_to_finish_is_offered_by_the_next(tmp_path: Path) -> None:
    go = threading.Event()
    alive, again = Works(Journal(tmp_path)), Begun("/e/e/begin/sift", {"a": 1})
    number = alive.start("e", "sift", "games", lambda progress: str(go.wait(20)), again=again)
    alive.start("", "trial", "owl", lambda progress: str(go.wait(20)))
    until(alive, number, State.RUNNING)
    assert not Works(Journal(tmp_path)).told()  # the desk that does it is there
    assert len(list(tmp_path.glob("*.json"))) == 1

    # A kill: the system lets go of the lock, and nothing else happens any more.
    assert alive._journal is not None
    alive._journal.close()
    alive._journal = None
    go.set()
    for _ in range(
        2
    ):  # until somebody goes on or puts it away, though desks that only show it are killed too
        desk = Works(Journal(tmp_path))
        (left,) = desk.told()
        assert (left.edition, left.kind, left.subject) == ("e", "sift", "games")
        assert (left.state, left.again) == (State.INTERRUPTED, again)
        assert desk._journal is not None
        desk._journal.close()
    desk = Works(Journal(tmp_path))
    until(desk, desk.start("e", "sift", "games", lambda progress: "", again=again), State.DONE)
    assert [one.state for one in desk.told()] == [State.DONE]
    with desk._turn:  # it is written down under the same lock
        assert not list(tmp_path.iterdir())
    assert not Works(Journal(tmp_path)).told()


def test_a_desk_that_is_closed_leaves_its_work_to_the_next_and_what_is_put_away_is_gone(
    tmp_path: Path,
) -> None:
    desk = Works(Journal(tmp_path))

    def run(progress: Progress) -> str:
        with progress.task("x", total=None, unit="steps") as task:
            while True:
                task.advance(1)
                time.sleep(0.001)

    until(desk, desk.start("e", "build", "all", run, again=Begun("/e/e/begin/build")), State.RUNNING)
    desk.stop_all()
    desk = Works(Journal(tmp_path))
    (left,) = desk.told()
    assert left.state is State.INTERRUPTED
    assert desk.put_away(left.number)
    assert not Works(Journal(tmp_path)).told()


def test_a_journal_that_cannot_be_written_or_read_stops_nobody(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for folder, name in ((tmp_path / "file", ""), (tmp_path / "damaged", "x.json")):
        if name:
            folder.mkdir()
            (folder / name).write_text("{no list")
        works = Works(Journal(folder))
        assert not works.told()
        until(works, works.start("e", "x", "", lambda progress: "", again=Begun("/x")), State.DONE)


def test_the_next_desk_goes_on_with_what_the_page_sends_again(desk: Desk) -> None:
    _, told = desk.post(f"/e/{desk.name}/begin/sift", {})
    again = until(desk.works, int(told["number"]), State.DONE).again
    assert again is not None
    status, told = desk.post(again.address, again.sent)
    assert status == 200
    until(desk.works, int(told["number"]), State.DONE)
