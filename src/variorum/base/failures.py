"""Whatever went wrong, in words: errors of the system become ours, anything else is a defect."""

from __future__ import annotations

import errno
import os
import sys
import traceback
from typing import Final

from variorum.base.errors import Defect, InputError, VariorumError

__all__ = ["TRACE_VARIABLE", "in_words"]

TRACE_VARIABLE: Final = "VARIORUM_TRACE"
"""Set to anything, this environment variable shows where a defect happened."""


def in_words(failure: BaseException) -> VariorumError:
    """What is told of a failure; no traceback reaches a user, unless `TRACE_VARIABLE` asks for it."""
    match failure:
        case VariorumError():
            return failure
        case MemoryError():
            return InputError("there is not enough memory for this")
        case UnicodeEncodeError():
            return InputError(
                "a text that was given holds bytes that are not UTF-8",
                remedy="check the encoding of your terminal",
            )
        case OSError() if failure.strerror:
            return InputError(failure.strerror.lower(), path=failure.filename, remedy=_remedy(failure))
        case _:
            if os.environ.get(TRACE_VARIABLE):
                traceback.print_exception(failure, file=sys.stderr)
            return Defect(
                f"defect: {type(failure).__name__}: {failure}",
                remedy=f"nothing of yours was changed by this message; please report it with {TRACE_VARIABLE}=1 set",
            )


def _remedy(failure: OSError) -> str | None:
    if failure.errno == errno.ENOSPC:
        return "make room on the disk, then run the same command again"
    if failure.errno == errno.EROFS:
        return "nothing was changed; work on a copy that can be written"
    match failure:
        case FileNotFoundError():
            return "check how the path is spelt"
        case PermissionError():
            return "check who may read and write there"
        case _:
            return None
