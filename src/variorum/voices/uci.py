"""UCI programs of the user as voices, run through `chess.engine`.

A program may crash, hang, answer nonsense or never stop talking. Whatever it does costs one question at most: it is
stopped, started again, and asked anew a bounded number of times; then that question is answered with a fault.
"""

from __future__ import annotations

import asyncio
import datetime
import logging
import threading
import time
from collections.abc import Coroutine
from typing import Any, Final, TypeVar

import chess
import chess.engine
import msgspec

from variorum.base import Interrupted, VoiceError
from variorum.base.settings import VoiceSettings
from variorum.base.shape import nearest
from variorum.board import Iteration, Request, Score, Verdict, VerdictLine

__all__ = ["TRIES", "Patience", "UciVoice"]

T = TypeVar("T")

TRIES: Final = 3
"""How often a position is asked before it is given up."""

_LONGEST_LINE: Final = 1 << 20
"""Bytes without a line end after which a program is only making noise."""
_MOST_BYTES: Final = 1 << 28
"""Bytes of one answer after which a program is only making noise: 256 MiB, hours of an honest one."""
_MOST_LINES: Final = 500
"""MultiPV numbers beyond this are not lines: no position has so many moves."""

# What a program says out of order is its own affair; a fault reaches the user as a VoiceError, once.
logging.getLogger("chess.engine").setLevel(logging.CRITICAL)


class Patience(msgspec.Struct, frozen=True, kw_only=True):
    """How long a program may say nothing, in seconds: at the handshake, while it searches, after it was told to stop."""

    handshake: float = 15.0
    silence: float = 120.0
    stopping: float = 5.0


_PATIENCE: Final = Patience()


class _Guarded(chess.engine.UciProtocol):
    """The library's protocol with a bound on what is read from a program."""

    def __init__(self) -> None:
        super().__init__()
        self.received = 0
        self.fault = ""

    def pipe_data_received(self, fd: int, data: bytes | str) -> None:
        if fd == 2 or self.fault:
            return  # what it writes to standard error is for its author
        self.received += len(data)
        if self.received > _MOST_BYTES or len(self.buffer[1]) > _LONGEST_LINE:
            self.buffer[1].clear()
            self._give_up("floods its output")
        else:
            super().pipe_data_received(fd, data)

    def _line_received(self, line: str) -> None:
        words = line.split(maxsplit=64)
        if "multipv" in words:
            number = "".join(words[words.index("multipv") + 1 :][:1])
            if not number.isdecimal() or not 1 <= int(number) <= _MOST_LINES:
                return
        if words[:1] == ["bestmove"] and not self._is_move("".join(words[1:2])):
            self._give_up(f"answered with {line.strip()[:60]!r}, which is no legal move")
            return
        super()._line_received(line)

    def _is_move(self, text: str) -> bool:
        try:
            self.board.parse_uci(text.lower())
        except ValueError:
            return False
        return True

    def _give_up(self, reason: str) -> None:
        self.fault = reason
        assert self.transport is not None
        self.transport.kill()


class UciVoice:
    """One UCI program. It is started at the first question, and again after a fault.

    A question begins with `ucinewgame`, so that an answer does not depend on what was asked before. One thread and the
    program's own table size are used where the user's options say nothing else. Ask from one thread at a time.

    Args:
        name: The name under which its verdicts are kept.
        settings: The program with its arguments, and its options.
        patience: How long it may be silent.
    """

    def __init__(self, name: str, settings: VoiceSettings, patience: Patience = _PATIENCE) -> None:
        self.name = name
        self.version = ""
        self.settings = settings
        self._patience = patience
        self._loop = asyncio.new_event_loop()
        self._loop.set_exception_handler(
            lambda _, __: None
        )  # what a library's callback cannot tell us, a fault does
        self._engine: _Guarded | None = None
        self._lock = threading.Lock()
        self._task: asyncio.Task[Any] | None = None
        self._stopped = False

    def offered(self) -> tuple[chess.engine.Option, ...]:
        """The options that the program offers, in its order. Starts it, and sets those of the user.

        Raises:
            VoiceError: It cannot be started, is no UCI program, or does not take its options.
        """
        return tuple(self._run(self._started()).options.values())

    def ask(self, request: Request) -> Verdict:
        """The verdict on one position.

        Raises:
            VoiceError: It gave no answer that makes sense, in `TRIES` tries.
            Interrupted: `stop` was called.
        """
        if not request.position.legal_moves():
            raise VoiceError(f"the game is over in {request.position.epd}: there is nothing to judge")
        fault = VoiceError(f"{self.name} was not asked")
        with self._lock:
            self._stopped = False
        for _ in range(TRIES):
            if self._stopped:  # between two tries nothing runs that could be ended
                raise Interrupted(f"{self.name} was stopped")
            try:
                return self._run(self._answer(request))
            except _UnstartableError as error:
                raise VoiceError(error.message, remedy=error.remedy) from None
            except VoiceError as error:
                fault = error
                self._run(self._ended())
        raise VoiceError(f"{fault.message} ({TRIES} tries)", remedy=fault.remedy)

    def stop(self) -> None:
        """End the question that is being answered now; without one nothing happens. Safe from any thread."""
        with self._lock:
            self._stopped = True
            if self._task is not None:
                self._loop.call_soon_threadsafe(self._task.cancel)

    def close(self) -> None:
        """End the program."""
        if not self._loop.is_closed():
            self._run(self._ended())
            self._loop.run_until_complete(self._loop.shutdown_asyncgens())
            self._loop.close()

    def _run(self, work: Coroutine[Any, Any, T]) -> T:
        async def running() -> T:
            with self._lock:
                self._task = asyncio.current_task()
            try:
                return await work
            finally:
                with self._lock:
                    self._task = None

        try:
            return self._loop.run_until_complete(running())
        except asyncio.CancelledError:
            self._loop.run_until_complete(self._ended())
            raise Interrupted(f"{self.name} was stopped") from None

    async def _started(self) -> _Guarded:
        if self._engine is not None:
            return self._engine
        command = list(self.settings.command)
        try:
            _, engine = await _Guarded.popen(command)
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise _UnstartableError(
                f"{self.name} cannot be started: {command[0]}: {reason.lower()}",
                remedy="check its path and that it is a program for this machine: variorum voices list",
            ) from None
        self._engine = engine
        try:
            await asyncio.wait_for(engine.initialize(), self._patience.handshake)
        except (TimeoutError, chess.engine.EngineError) as error:
            await self._ended()
            said = "does not answer" if isinstance(error, TimeoutError) else "ended at once"
            raise _UnstartableError(
                f"{self.name} is no UCI program: {command[0]} {said} when greeted with 'uci'",
                remedy="check its path and arguments: variorum voices list",
            ) from None
        self.version = str(engine.id.get("name", "")).replace('"', "'").strip()
        options = self._options_for(engine)
        try:
            await asyncio.wait_for(engine.configure(options), self._patience.handshake)
        except (TimeoutError, chess.engine.EngineError) as error:
            await self._ended()
            raise _UnstartableError(
                f"{self.name} does not take its options: {str(error) or 'no answer'}",
                remedy=f"see what it offers: variorum voices test {self.name}",
            ) from None
        return engine

    def _options_for(self, engine: _Guarded) -> dict[str, str | int | bool | None]:
        options: dict[str, str | int | bool | None] = {}
        offered = {name.casefold(): name for name in engine.options}
        for name, value in self.settings.options.items():
            if name.casefold() not in offered:
                guess = nearest(name, engine.options)
                raise _UnstartableError(
                    f"{self.name} has no option {name!r}",
                    remedy=f"did you mean {guess!r}?"
                    if guess
                    else f"see what it offers: variorum voices test {self.name}",
                )
            options[offered[name.casefold()]] = value
        for name, value in (("threads", 1), ("uci_showwdl", True)):
            if name in offered:
                options.setdefault(offered[name], value)
        return options

    async def _answer(self, request: Request) -> Verdict:
        engine = await self._started()
        engine.received = 0
        board = _board_of(request)
        several = engine.options.get("MultiPV")
        most = 1 if several is None else min(several.max or request.multipv, request.multipv)
        limit = chess.engine.Limit(time=request.seconds, depth=request.depth, nodes=request.nodes)
        answer = _Listening(min(most, len(request.position.legal_moves())))
        started = time.monotonic()
        try:
            analysis = await asyncio.wait_for(
                engine.analysis(board, limit, multipv=None if several is None else most, game=object()),
                self._patience.handshake,
            )
            best = await self._listen(analysis, answer, request.seconds)
        except chess.engine.EngineError as error:
            raise VoiceError(self._what_happened(engine, error)) from None
        except TimeoutError:
            raise VoiceError(f"{self.name} fell silent in {request.position.epd}") from None
        lines = answer.lines(best)
        if not lines:
            raise VoiceError(f"{self.name} gave no line with a score in {request.position.epd}")
        return Verdict(
            key=request.position.key,
            epd=request.position.epd,
            voice=self.name,
            version=self.version,
            lines=lines,
            multipv=request.multipv,
            nodes=answer.nodes,
            depth=answer.depth,
            elapsed_ms=round((time.monotonic() - started) * 1000),
            threads=int(self._set_options(engine).get("threads", 1)),
            options=tuple(f"{name}={value}" for name, value in sorted(self.settings.options.items())),
            date=datetime.datetime.now(datetime.UTC).date().isoformat(),
            iterations=tuple(answer.iterations),
            asked=request.nodes or 0,
        )

    def _set_options(self, engine: _Guarded) -> dict[str, Any]:
        return {name.casefold(): value for name, value in engine.config.items() if value is not None}

    async def _listen(
        self, analysis: chess.engine.AnalysisResult, answer: _Listening, seconds: float | None
    ) -> chess.Move | None:
        """Follow a search to its end; past its time it is told to stop, and then left."""
        loop = asyncio.get_running_loop()
        until = None if seconds is None else loop.time() + seconds + self._patience.stopping
        told = False
        while True:
            wait = self._patience.stopping if told else self._patience.silence
            if until is not None and not told:
                wait = min(wait, max(0.0, until - loop.time()))
            try:
                info = await asyncio.wait_for(analysis.next(), wait)
            except TimeoutError:
                if told:
                    raise
                told = True
                analysis.stop()
                continue
            if info is None:
                break
            answer.hear(info)
        return (await analysis.wait()).move

    def _what_happened(self, engine: _Guarded, error: chess.engine.EngineError) -> str:
        if engine.fault:
            return f"{self.name} {engine.fault}"
        if isinstance(error, chess.engine.EngineTerminatedError):
            return f"{self.name} ended in the middle of a search"
        return f"{self.name} gave an answer that makes no sense: {error}"

    async def _ended(self) -> None:
        engine, self._engine = self._engine, None
        if engine is None:
            return
        try:
            await asyncio.wait_for(engine.quit(), 1.0)
        except (TimeoutError, chess.engine.EngineError, OSError):
            assert engine.transport is not None
            try:
                engine.transport.kill()
                await asyncio.wait_for(asyncio.shield(engine.returncode), 5.0)
            except (TimeoutError, ProcessLookupError):
                pass
        finally:
            if engine.transport is not None:
                engine.transport.close()


class _UnstartableError(VoiceError):
    """Trying again would not help."""


class _Listening:
    """What a program has said of one position so far.

    Args:
        count: How many lines a complete iteration has.
    """

    def __init__(self, count: int) -> None:
        self._count = count
        self._by_depth: dict[int, dict[int, VerdictLine]] = {}
        self._bare: Score | None = None
        self.nodes = 0
        self.depth = 0
        self.iterations: list[Iteration] = []

    def hear(self, info: chess.engine.InfoDict) -> None:
        """Take in one line of output; bounds, and lines without a score, only tell the nodes."""
        self.nodes = max(self.nodes, info.get("nodes", 0))
        said = info.get("score")
        score = None if said is None else _score(said.white(), info.get("wdl"))
        rank, depth, moves = info.get("multipv", 1), info.get("depth", 0), info.get("pv")
        if score is None or rank > self._count or info.get("lowerbound") or info.get("upperbound"):
            return
        if not moves:
            self._bare = score
            return
        line = VerdictLine(tuple(move.uci() for move in moves), score)
        here = self._by_depth.setdefault(depth, {})
        here[rank] = line
        if len(here) == self._count:
            self.depth = max(self.depth, depth)
        if rank == 1:
            if self.iterations and self.iterations[-1].depth == depth:
                self.iterations.pop()
            self.iterations.append(Iteration(depth, self.nodes, line.moves[0], Score(score.cp, score.mate)))

    def lines(self, best: chess.Move | None) -> tuple[VerdictLine, ...]:
        """The lines of the last complete iteration; one that was found best after it comes first."""
        last = max(self._by_depth, default=0)
        whole = self._by_depth.get(self.depth or last, {})
        found = [whole[rank] for rank in sorted(whole)]
        later = self._by_depth.get(last, {}).get(1)
        if later is not None and best is not None and later.moves[0] == best.uci():
            found.insert(0, later)
        elif not found and best is not None and self._bare is not None:
            found.append(VerdictLine((best.uci(),), self._bare))
        first = {line.moves[0]: line for line in reversed(found)}
        return tuple(dict.fromkeys(first[line.moves[0]] for line in found))[: self._count]


def _board_of(request: Request) -> chess.Board:
    start = request.position if request.game is None else request.game.start
    board = chess.Board(start.fen, chess960=start.chess960)
    for move in () if request.game is None else request.game.moves:
        board.push_uci(move.uci)
    return board


def _score(said: chess.engine.Score, wdl: chess.engine.PovWdl | None) -> Score | None:
    mate, centipawns = said.mate(), said.score()
    if mate:
        return Score.of_mate(mate)
    if mate == 0 or centipawns is None:
        return None
    return Score(cp=centipawns, wdl=None if wdl is None else _per_mille(wdl.white()))


def _per_mille(wdl: chess.engine.Wdl) -> tuple[int, int, int] | None:
    if wdl.total() <= 0 or min(wdl) < 0:
        return None
    wins, losses = (round(1000 * part / wdl.total()) for part in (wdl.wins, wdl.losses))
    return (wins, max(0, 1000 - wins - losses), losses)
