"""A voice asked now, while the author looks on: the question is put again and again, each time with twice the effort.

Every answer is a verdict like any other, which the same question gives again on each machine. The last one is shown and is
kept when the author says so; nothing is written before.
"""

from __future__ import annotations

import itertools
import threading
import time
from collections.abc import Callable
from typing import Final

from variorum.base import Interrupted, VariorumError
from variorum.board import Position, Request, Verdict
from variorum.build.kept import bare
from variorum.edition import Edition
from variorum.edition.folder import VERDICTS
from variorum.voices.verdict_files import append_verdicts, verdict_path
from variorum.voices.voice import Voice

__all__ = ["FIRST", "Inquiries", "Inquiry"]

FIRST: Final = 50_000
_LAST: Final = 1 << 34
"""Nodes of the first and of the longest question."""
_KEPT: Final = 12
"""Inquiries that have ended and are still remembered."""


class Inquiry:
    """One voice on one position. `verdict` is the deepest so far, `nodes` what it is asked now, `fault` why there is nothing after it.

    `asked_at` is the position with the number of its move, from which lines are printed; `position` has none.
    """

    def __init__(
        self, number: int, edition: Edition, position: Position, name: str, voice: Voice, lines: int
    ) -> None:
        self.number, self.edition, self.position, self.name = number, edition, bare(position), name
        self.asked_at = position
        self.verdict: Verdict | None = None
        self.nodes = FIRST
        self.fault = ""
        self.running = True
        self.kept = False
        self.lines = lines
        self._voice = voice
        self._stopped = threading.Event()
        threading.Thread(target=self._run, name=f"inquiry {number}", daemon=True).start()

    def _run(self) -> None:
        try:
            while self.nodes <= _LAST and not self._stopped.is_set():
                request = Request(
                    position=self.position, voice=self.name, nodes=self.nodes, multipv=self.lines
                )
                self.verdict = self._voice.ask(request)
                self.nodes *= 2
        except Interrupted:
            pass
        except VariorumError as error:
            self.fault = str(error)
        finally:
            self._voice.close()
            self.running = False

    def stop(self) -> None:
        """End it soon; what was answered stays."""
        if not self._stopped.is_set():
            self._stopped.set()
            threading.Thread(target=self._end, name=f"end of inquiry {self.number}", daemon=True).start()

    def _end(self) -> None:
        """A voice that is told to stop just before it begins does not hear it: it is told until it has ended."""
        while self.running:
            self._voice.stop()
            time.sleep(0.05)

    def keep(self) -> bool:
        """Write the verdict into the edition; whether there was one that was not written yet.

        Raises:
            InputError: It cannot be written.
        """
        verdict = self.verdict
        if verdict is None or self.kept:
            return False
        append_verdicts(verdict_path(self.edition.place_to_write(VERDICTS), self.name), [verdict])
        self.kept = True
        return True


class Inquiries:
    """What is asked now, and was lately."""

    def __init__(self) -> None:
        self._numbers = itertools.count(1)
        self._all: dict[int, Inquiry] = {}
        self._lock = threading.Lock()

    def begin(
        self, edition: Edition, position: Position, name: str, open_voice: Callable[[], Voice], lines: int
    ) -> Inquiry:
        """Ask a voice.

        Raises:
            VoiceError: It cannot be opened.
        """
        voice = open_voice()
        with self._lock:
            inquiry = Inquiry(next(self._numbers), edition, position, name, voice, lines)
            self._all[inquiry.number] = inquiry
            ended = [number for number, one in self._all.items() if not one.running]
            for number in ended[: max(0, len(ended) - _KEPT)]:
                del self._all[number]
        return inquiry

    def get(self, number: int) -> Inquiry | None:
        """An inquiry by its number."""
        return self._all.get(number)

    def stop_all(self) -> None:
        """The server ends."""
        for inquiry in list(self._all.values()):
            inquiry.stop()
