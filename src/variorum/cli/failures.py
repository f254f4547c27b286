"""The one place where failures become words and exit codes.

On a terminal: `variorum: where: message`, then what to do about it. With `--json`: an `ErrorReport` on standard output,
so that whoever reads it always gets one JSON document.

Exit codes: 0 all is well, 1 the answer is no (a command says so itself), 2 the call or its input is wrong, 3 a defect of
Variorum, 130 stopped by Ctrl-C (the custom of shells: 128 + SIGINT).
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable
from typing import Any, Final

import msgspec
import typer

from variorum.base import Defect, Interrupted, UsageError, VariorumError, in_words
from variorum.cli.output import write_json
from variorum.cli.stopping import no_interrupt_is_lost

__all__ = ["DEFECT", "STOPPED", "ErrorBody", "ErrorReport", "answer_failures"]

DEFECT: Final = Defect.exit_code
STOPPED: Final = Interrupted.exit_code


class ErrorBody(msgspec.Struct, frozen=True, kw_only=True):
    """What went wrong: `kind` is the class of the error, the rest its message, its remedy and its place."""

    kind: str
    message: str
    remedy: str | None = None
    path: str | None = None
    line: int | None = None
    column: int | None = None
    game: int | None = None
    ply: int | None = None


class ErrorReport(msgspec.Struct, frozen=True):
    """What `--json` prints instead of a result."""

    error: ErrorBody


def answer_failures(run: Callable[[], Any], *, as_json: bool) -> int:
    """Call `run` and return the exit code; whatever it raises is told to the user."""
    try:
        _print_what_the_terminal_can()
        with no_interrupt_is_lost():
            code = run()
        sys.stdout.flush()
    except BrokenPipeError:
        return _reader_has_enough()
    except SystemExit as leaving:  # what Typer makes of a broken pipe
        if isinstance(leaving.__context__, BrokenPipeError):
            return _reader_has_enough()
        raise
    except KeyboardInterrupt:
        code = STOPPED
    except Exception as failure:  # noqa: BLE001  (the last line of defence: no traceback reaches a user)
        return _tell(_as_variorum_error(failure), as_json=as_json)
    if code == STOPPED:  # Typer turns Ctrl-C into this code before we see it
        return _tell(Interrupted("stopped; what was finished is kept"), as_json=as_json)
    return code if isinstance(code, int) else 0


def _reader_has_enough() -> int:
    """Our output goes into a pipe that is closed (`| head`): nothing is wrong, only nothing more may be flushed there."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.__stdout__.fileno() if sys.__stdout__ else 1)
    return 0


def _as_variorum_error(failure: BaseException) -> VariorumError:
    match failure:
        case typer.TyperException():
            context = getattr(failure, "ctx", None)
            command = context.command_path if context else "variorum"
            message = failure.format_message().replace("Value error, ", "").rstrip(".")
            return UsageError(message, remedy=f"see {command} --help")
        case typer.Abort():
            return Interrupted("stopped; nothing was changed")
        case _:
            return in_words(failure)


def _tell(error: VariorumError, *, as_json: bool) -> int:
    if as_json:
        write_json(ErrorReport(_body(error)))
    else:
        where = f"{error.where}: " if error.where else ""
        sys.stderr.write(f"variorum: {where}{error.message}\n")
        if error.remedy:
            sys.stderr.write(f"  {error.remedy}\n")
    return error.exit_code


def _body(error: VariorumError) -> ErrorBody:
    return ErrorBody(
        kind=type(error).__name__,
        message=error.message,
        remedy=error.remedy,
        path=None if error.path is None else str(error.path),
        line=error.line,
        column=error.column,
        game=error.game,
        ply=error.ply,
    )


def _print_what_the_terminal_can() -> None:
    """A sign that the terminal's encoding lacks is printed as `?` instead of failing."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
