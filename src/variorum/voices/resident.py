"""The resident as a voice: the analyst that Variorum brings along, in process."""

from __future__ import annotations

import datetime
import threading
import time

from variorum import _core
from variorum.base import Interrupted, VoiceError
from variorum.board import Iteration, Request, Score, Side, Verdict, VerdictLine

__all__ = ["DEFAULT_HASH_MB", "RESIDENT", "Resident"]

RESIDENT = "resident"
"""The name of this voice."""

DEFAULT_HASH_MB = 64
"""Table size in MiB; part of what determines a verdict, so it is written with it."""


class Resident:
    """One analyst.

    Under a limit of nodes or depth, on one thread, the same request gives the same verdict each time and on each machine:
    nothing is remembered from one request to the next, and only integers are used.

    Args:
        hash_mb: Size of the transposition table in MiB, 1 to 65536.
        threads: On how many threads it thinks, 1 to 256. On more than one its verdicts are not repeatable.
    """

    name = RESIDENT
    version = _core.Resident.version

    def __init__(self, hash_mb: int = DEFAULT_HASH_MB, threads: int = 1) -> None:
        try:
            self._core = _core.Resident(hash_mb, threads)
        except ValueError as error:
            raise VoiceError(f"the resident cannot be opened: {error}") from None
        self._options = (f"hash={hash_mb}",)
        self._threads = threads
        self._lock = threading.Lock()
        self._running: _core.StopFlag | None = None
        self._stopped = False

    def ask(self, request: Request) -> Verdict:
        """The verdict on one position, with the best move and score of each iteration.

        Raises:
            VoiceError: The game is over in this position.
            Interrupted: `stop` was called.
        """
        position = request.position
        if not position.legal_moves():
            raise VoiceError(f"the game is over in {position.epd}: there is nothing to judge")
        flag = _core.StopFlag()
        with self._lock:
            self._running, self._stopped = flag, False
        started = time.monotonic()
        try:
            game = request.game
            start = position if game is None else game.start
            report = self._core.analyse(
                start.core,
                [] if game is None else [move.uci for move in game.moves],
                nodes=request.nodes,
                depth=request.depth,
                seconds=request.seconds,
                multipv=request.multipv,
                stop=flag,
            )
        finally:
            with self._lock:
                self._running = None
        if self._stopped:
            raise Interrupted("the resident was stopped")
        elapsed_ms = round((time.monotonic() - started) * 1000)
        return Verdict(
            key=position.key,
            epd=position.epd,
            voice=self.name,
            version=self.version,
            lines=tuple(_line(line, position.turn) for line in report.lines),
            multipv=request.multipv,
            nodes=report.nodes,
            depth=report.depth,
            elapsed_ms=elapsed_ms,
            threads=self._threads,
            options=self._options,
            date=datetime.datetime.now(datetime.UTC).date().isoformat(),
            iterations=tuple(_iteration(iteration, position.turn) for iteration in report.iterations),
            asked=request.nodes or 0,
        )

    def stop(self) -> None:
        """End the question that is being answered now; without one nothing happens. Safe from any thread."""
        with self._lock:
            if self._running is not None:
                self._stopped = True
                self._running.set()

    def close(self) -> None:
        """End a question that is being answered."""
        self.stop()


def _score(line: _core.ResidentLine, side: Side) -> Score:
    return Score(cp=line.cp, mate=line.mate).seen_from(side)


def _line(line: _core.ResidentLine, side: Side) -> VerdictLine:
    return VerdictLine(tuple(line.moves), _score(line, side))


def _iteration(iteration: _core.ResidentIteration, side: Side) -> Iteration:
    best = iteration.lines[0]
    return Iteration(iteration.depth, iteration.nodes, best.moves[0], _score(best, side))
