from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from variorum.base import InputError
from variorum.edition import history
from variorum.edition.files import ChangedOutsideError, content_hash
from variorum.edition.history import History


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "manuscript.pgn"
    path.write_bytes(b"1. e4 *\n")
    return path


def save(path: Path, data: bytes, what: str = "edit") -> None:
    History(path).save(data, expected_hash=content_hash(path.read_bytes()), what=what)


def test_undo_and_redo_across_programs(path: Path) -> None:
    save(path, b"1. e4 {x} *\n", "comment")
    save(path, b"1. e4 {x} e5 *\n", "move")
    assert [step.what for step in History(path).done] == ["comment", "move"]
    assert History(path).undo().what == "move"
    assert path.read_bytes() == b"1. e4 {x} *\n"
    assert History(path).undo().what == "comment"
    assert path.read_bytes() == b"1. e4 *\n"
    with pytest.raises(InputError, match="nothing to undo"):
        History(path).undo()
    assert History(path).redo().what == "comment"
    assert History(path).redo().what == "move"
    with pytest.raises(InputError, match="nothing to redo"):
        History(path).redo()
    assert path.read_bytes() == b"1. e4 {x} e5 *\n"


def test_there_and_back_again_is_two_steps(path: Path) -> None:
    save(path, b"1. d4 *\n", "there")
    save(path, b"1. e4 *\n", "back")
    assert History(path).undo().what == "back"
    assert History(path).undo().what == "there"
    assert path.read_bytes() == b"1. e4 *\n"
    with pytest.raises(InputError):
        History(path).undo()


def test_a_change_outside_ends_the_history(path: Path) -> None:
    save(path, b"1. d4 *\n")
    path.write_bytes(b"1. c4 *\n")
    with pytest.raises(InputError, match="nothing to undo"):
        History(path).undo()
    save(path, b"1. c4 c5 *\n", "after")
    assert History(path).undo().what == "after"
    assert path.read_bytes() == b"1. c4 *\n"
    with pytest.raises(InputError):
        History(path).undo()
    assert path.read_bytes() == b"1. c4 *\n"


def test_a_file_changed_outside_is_not_saved_over(path: Path) -> None:
    keeper = History(path)
    path.write_bytes(b"theirs")
    with pytest.raises(ChangedOutsideError):
        keeper.save(b"mine", expected_hash=content_hash(b"1. e4 *\n"), what="edit")
    assert path.read_bytes() == b"theirs"
    assert History(path).done == ()


@pytest.mark.parametrize("kind", ["change", "undo", "redo"])
def test_a_step_cut_short_did_not_happen(path: Path, kind: str) -> None:
    save(path, b"1. d4 *\n", "first")
    save(path, b"1. c4 *\n", "second")
    if kind == "redo":
        History(path).undo()
    content = path.read_bytes()
    {
        "change": lambda: save(path, b"1. f4 *\n", "cut"),
        "undo": lambda: History(path).undo(),
        "redo": lambda: History(path).redo(),
    }[kind]()
    path.write_bytes(content)  # as if the machine had stopped between the line of the history and the file
    assert History(path).undo().what == ("first" if kind == "redo" else "second")


def test_a_torn_line_of_the_history_is_passed_over(path: Path) -> None:
    save(path, b"1. d4 *\n", "first")
    log = History(path).log
    log.write_bytes(log.read_bytes() + b'{"kind": "change", "bef')
    save(path, b"1. c4 *\n", "second")
    assert [History(path).undo().what for _ in range(2)] == ["second", "first"]
    assert path.read_bytes() == b"1. e4 *\n"


def test_the_history_is_text(path: Path) -> None:
    save(path, "1. e4 {café} *\n".encode("cp1252"), "in CP1252")
    lines = History(path).log.read_text(encoding="ascii").splitlines()
    assert json.loads(lines[0])["what"] == "in CP1252"
    History(path).undo()
    assert path.read_bytes() == b"1. e4 *\n"


def test_the_history_does_not_grow_without_end(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(history, "KEPT_STEPS", 3)
    for number in range(10):
        save(path, f"{number}".encode(), f"step {number}")
        assert len(History(path).log.read_bytes().splitlines()) <= 7
    History(path).undo()
    History(path).undo()
    save(path, b"new", "branch")
    names = []
    while History(path).done:
        names.append(History(path).undo().what)
    assert names[:3] == ["branch", "step 7", "step 6"]


def test_undone_steps_outlive_a_shortened_history(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(4):
        save(path, f"{number}".encode(), f"step {number}")
    monkeypatch.setattr(history, "KEPT_STEPS", 2)
    History(path).undo()
    History(path).undo()
    assert [History(path).redo().what for _ in range(2)] == ["step 2", "step 3"]
    assert path.read_bytes() == b"3"


contents = st.binary(max_size=12)


@settings(max_examples=60, deadline=None)
@given(
    states=st.lists(contents, min_size=1, max_size=8),
    moves=st.lists(st.sampled_from(["undo", "redo"]), max_size=20),
)
def test_undo_and_redo_walk_through_the_states(
    tmp_path_factory: pytest.TempPathFactory, states: list[bytes], moves: list[str]
) -> None:
    path = tmp_path_factory.mktemp("history") / "text"
    path.write_bytes(b"start")
    walk = [b"start"]
    for state in states:
        if state != walk[-1]:
            save(path, state)
            walk.append(state)
    at = len(walk) - 1
    for move in moves:
        target = at + (1 if move == "redo" else -1)
        if 0 <= target < len(walk):
            getattr(History(path), move)()
            at = target
        else:
            with pytest.raises(InputError):
                getattr(History(path), move)()
        assert path.read_bytes() == walk[at]
