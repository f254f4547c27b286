"""Progress on a terminal and where there is none."""

from __future__ import annotations

import io
import sys

import pytest

from variorum.base import Interrupted, Silent
from variorum.cli import progress as module
from variorum.cli.progress import progress_for


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def work(progress: object, units: int = 3) -> None:
    with progress.task("sift [a.pgn]", total=units, unit="games") as task:  # type: ignore[attr-defined]
        for _ in range(units):
            task.advance(1, note="[b.pgn]")


def test_nothing_with_json(capsys: pytest.CaptureFixture[str]) -> None:
    progress = progress_for(as_json=True)
    work(progress)
    progress.say("done")
    assert capsys.readouterr() == ("", "")


def test_only_sentences_in_a_log(capsys: pytest.CaptureFixture[str]) -> None:
    progress = progress_for(as_json=False)
    work(progress)
    progress.say("3 games kept")
    assert capsys.readouterr() == ("", "3 games kept\n")


def test_a_terminal_shows_count_rate_and_name(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("COLUMNS", "120")
    progress = progress_for(as_json=False)
    with progress.task("outer", total=None, unit="files") as outer:
        work(progress)
        progress.say("[one] file done")
        outer.advance(1)
    shown = terminal.getvalue()
    assert "sift [a.pgn]" in shown  # square brackets are not markup
    assert "3 of 3 games" in shown
    assert "[one] file done" in shown
    assert "1 files" in shown


def test_at_most_ten_updates_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", Terminal())
    progress = progress_for(as_json=False)
    updates = []
    with progress.task("count", total=100_000, unit="games") as task:
        monkeypatch.setattr(task, "_show", lambda note=None: updates.append(note))
        now = [0.0]
        monkeypatch.setattr(module.time, "monotonic", lambda: now[0])
        for _ in range(10_000):
            now[0] += 0.0005
            task.advance(1)
        assert 45 <= len(updates) <= 51  # 5 seconds


def test_no_colour_is_respected(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("NO_COLOR", "1")
    work(progress_for(as_json=False))
    assert "\x1b[3" not in terminal.getvalue()


def test_silent_can_be_stopped() -> None:
    silent = Silent()
    silent.stop = True
    with pytest.raises(Interrupted):
        work(silent)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.4, "0 s"), (59.6, "1 min 0 s"), (61, "1 min 1 s"), (3000, "50 min"), (7300, "2 h 1 min")],
)
def test_durations(seconds: float, text: str) -> None:
    assert module._duration(seconds) == text
