"""Workers that share a list of work, each with voices of its own."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Final, Generic, TypeVar

if TYPE_CHECKING:
    from variorum.voices.voice import Voice

__all__ = ["Crew"]

T = TypeVar("T")
R = TypeVar("R")

_PULSE: Final = 0.5
"""Seconds after which waiting for a result is begun anew: on Windows a wait without end does not hear Ctrl-C."""


class Crew(Generic[T, R]):
    """Work done several pieces at a time, begun in order.

    Args:
        work: What there is to do.
        open_voices: Opens a worker's own voices, in its thread.
        act: Does one piece; `None` where it was cut short.
        deadline: When nothing more is begun and what is being done is cut short, a `time.monotonic()` value.
    """

    def __init__(
        self,
        work: Sequence[T],
        open_voices: Callable[[], Sequence[Voice]],
        act: Callable[[Sequence[Voice], T], R | None],
        deadline: float | None,
    ) -> None:
        self._work = work
        self._open = open_voices
        self._act = act
        self._deadline = deadline
        self._next = 0
        self._lock = threading.Lock()
        self._voices: list[Voice] = []
        self._results: queue.Queue[tuple[int, R] | BaseException | None] = queue.Queue()
        self._threads: list[threading.Thread] = []
        self.stopped = False
        """Whether what is being done is to be cut short."""

    def start(self, workers: int) -> None:
        """Begin, with so many workers at most."""
        self._threads = [
            threading.Thread(target=self._run, name=f"voice-{n}", daemon=True)
            for n in range(max(1, min(workers, len(self._work))))
        ]
        for thread in self._threads:
            thread.start()

    def results(self) -> Iterator[tuple[int, R]]:
        """Results as they come, each with the index of its piece, until all is done or the deadline stops it."""
        running = len(self._threads)
        while running:
            left = _PULSE if self._deadline is None else self._deadline - time.monotonic()
            try:
                result = self._results.get(timeout=min(_PULSE, max(0.05, left)))
            except queue.Empty:
                if self._deadline is not None and time.monotonic() >= self._deadline:
                    self.stop()
                continue
            if result is None:
                running -= 1
            elif isinstance(result, BaseException):
                raise result
            else:
                yield result

    def stop(self) -> None:
        """Begin nothing more, and cut short what is being done."""
        with self._lock:
            self.stopped = True
            voices = list(self._voices)
        for voice in voices:
            voice.stop()

    def close(self) -> None:
        """Stop, and wait for the workers."""
        for thread in self._threads:
            self.stop()
            while thread.ident is not None and thread.is_alive():
                thread.join(_PULSE)
                self.stop()  # a question may have been put just after the last call

    def _run(self) -> None:
        """Work until there is none, in a worker's thread; the end is told by `None`."""
        try:
            voices = self._open()
            try:
                with self._lock:
                    self._voices += voices
                while (index := self._take()) is not None:
                    result = self._act(voices, self._work[index])
                    if result is not None:
                        self._results.put((index, result))
            finally:
                for voice in voices:
                    voice.close()
        except BaseException as error:  # noqa: BLE001  it is raised again in the calling thread
            self._results.put(error)
        finally:
            self._results.put(None)

    def _take(self) -> int | None:
        with self._lock:
            late = self._deadline is not None and time.monotonic() >= self._deadline
            if self.stopped or late or self._next == len(self._work):
                return None
            self._next += 1
            return self._next - 1
