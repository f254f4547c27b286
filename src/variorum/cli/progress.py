"""Progress on a terminal: one line for each part of the work, with rate and time left, on standard error."""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING, Final, Self

from variorum.base import Progress, Silent, Task, time_left

if TYPE_CHECKING:
    from rich.progress import Progress as RichProgress
    from rich.progress import Task as RichTask
    from rich.text import Text

__all__ = ["progress_for"]

UPDATES_PER_SECOND: Final = 10


def progress_for(*, as_json: bool) -> Progress:
    """Where a command's work reports: the terminal; sentences only when standard error is none; nowhere with `--json`."""
    if as_json:
        return Silent()
    return _OnTerminal() if sys.stderr.isatty() else _Sentences()


class _Sentences(Silent):
    """No moving display, only what is finished, for logs."""

    def say(self, text: str) -> None:
        sys.stderr.write(f"{text}\n")
        sys.stderr.flush()


class _OnTerminal:
    """The display is open while any task is."""

    def __init__(self) -> None:
        self._display: RichProgress | None = None
        self._open = 0

    def task(self, name: str, *, total: int | None, unit: str) -> Task:
        return _TerminalTask(self, name, total, unit)

    def say(self, text: str) -> None:
        if self._display is None:
            sys.stderr.write(f"{text}\n")
        else:
            self._display.console.print(text, highlight=False, markup=False, emoji=False)

    def enter(self) -> RichProgress:
        if self._display is None:
            self._display = _new_display()
            self._display.start()
        self._open += 1
        return self._display

    def leave(self) -> None:
        self._open -= 1
        if self._open == 0 and self._display is not None:
            self._display.stop()
            self._display = None


class _TerminalTask:
    def __init__(self, owner: _OnTerminal, name: str, total: int | None, unit: str) -> None:
        self._owner = owner
        self._name = name
        self._total = total
        self._unit = unit
        self._done = 0
        self._shown_at = 0.0

    def advance(self, amount: int, *, note: str | None = None) -> None:
        self._done += amount
        now = time.monotonic()
        if now - self._shown_at >= 1 / UPDATES_PER_SECOND:
            self._shown_at = now
            self._show(note)

    def _show(self, note: str | None = None) -> None:
        state = _state(self._started, self._done, self._total, self._unit)
        self._display.update(self._id, completed=self._done, state=f"{state}  {note}" if note else state)

    def __enter__(self) -> Self:
        self._started = time.monotonic()
        self._display = self._owner.enter()
        self._id = self._display.add_task(self._name, total=self._total, state="")
        return self

    def __exit__(self, *exc: object) -> None:
        del exc
        self._show()
        self._owner.leave()


def _new_display() -> RichProgress:
    from rich.console import Console
    from rich.progress import BarColumn, Progress, ProgressColumn
    from rich.text import Text

    class Plain(ProgressColumn):
        """A field of the task as plain text: names of files may hold what Rich would read as markup."""

        def __init__(self, field: str) -> None:
            super().__init__()
            self._field = field

        def render(self, task: RichTask) -> Text:
            return Text(task.description if self._field == "name" else task.fields[self._field])

    return Progress(
        Plain("name"),
        BarColumn(bar_width=24),
        Plain("state"),
        console=Console(stderr=True),
        refresh_per_second=UPDATES_PER_SECOND,
    )


def _state(started: float, done: int, total: int | None, unit: str) -> str:
    """`1,200 of 8,000 games  610 games/s  11 s left`, as far as it is known."""
    share = f"{_count(done, unit)} of {_count(total, unit)}" if total else _count(done, unit)
    if unit in ("steps", "files"):  # each as long as it is: no rate and no time left
        return f"{share} {unit}"
    elapsed = time.monotonic() - started
    parts = [share if unit == "bytes" else f"{share} {unit}"]
    if elapsed > 0 and done:
        rate = done / elapsed
        parts.append(f"{_count(round(rate), unit)}/s" if rate >= 1 else f"{rate:.2f}/s")
    left = time_left(started, done, total)
    if left is not None and elapsed >= 1:
        parts.append(f"{_duration(left)} left")
    return "  ".join(parts)


def _count(number: int, unit: str) -> str:
    return f"{number / 1e6:,.1f} MB" if unit == "bytes" else f"{number:,}"


def _duration(seconds: float) -> str:
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes} min {rest} s" if minutes < 10 else f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min"
