"""The one way to read and write a file of the author: whole, checked by content, never half written.

A write goes to a temporary file in the same folder, onto the disk, and then takes the name in one step, so that the
file is at every moment either the old one or the new one. It is refused when the file is no longer what the caller
read: nobody's edits are lost.
"""

from __future__ import annotations

import errno
import hashlib
import os
import secrets
import shutil
import stat
import threading
import time
from contextlib import suppress
from pathlib import Path

from variorum.base import InputError

__all__ = [
    "ChangedOutsideError",
    "atomic_write",
    "content_hash",
    "hash_on_disk",
    "ordinary_bytes",
    "read_file",
]

MOST_BYTES = 64 << 20
_WRITING = threading.Lock()
_ATTEMPTS = 20
_PAUSE_SECONDS = 0.05


class ChangedOutsideError(InputError):
    """The file is not what it was when it was read; nothing was written.

    Args:
        path: The file.
        expected_hash: What the caller had read; `None` for "no file".
        found_hash: What is there now; `None` for "no file".
        remedy: What to do, where it is not the usual.
    """

    def __init__(
        self, path: Path, *, expected_hash: str | None, found_hash: str | None, remedy: str = ""
    ) -> None:
        if expected_hash is None:
            message, usual = "the file exists already", "choose another name, or read it before writing it"
        elif found_hash is None:
            message, usual = (
                "the file is gone: it was moved or deleted outside",
                "put it back, or save a copy",
            )
        else:
            message, usual = (
                "the file was changed outside since it was read",
                "read it again and repeat the change",
            )
        super().__init__(message, remedy=remedy or usual, path=path)
        self.expected_hash = expected_hash
        self.found_hash = found_hash


def content_hash(data: bytes) -> str:
    """SHA-256 of a content, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def ordinary_bytes(path: Path) -> bytes:
    """The content of an ordinary file: a pipe or a device, which may lie in an edition of somebody else, never ends.

    Raises:
        OSError: It cannot be read, or is no ordinary file.
    """
    if not stat.S_ISREG(path.stat().st_mode):
        raise OSError(errno.EINVAL, "it is no ordinary file")
    return path.read_bytes()


def hash_on_disk(path: Path) -> str | None:
    """The hash of what the file holds now, `None` if there is no file.

    Raises:
        InputError: It is there and cannot be read.
    """
    try:
        return content_hash(ordinary_bytes(path))
    except FileNotFoundError:
        return None
    except OSError as error:
        raise _failed(path, "read", error) from error


def read_file(path: Path) -> bytes:
    """The content of a text of the author.

    Raises:
        InputError: It is not there, is a folder, cannot be read, or is far too large to be written by hand: it is not
            read then, so that it cannot fill the memory.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError(
                f"the file has more than {MOST_BYTES >> 20} MB: no text of this kind has",
                remedy="put collections of games into sources/ and sift them",
                path=path,
            )
        return ordinary_bytes(path)
    except FileNotFoundError:
        raise InputError("there is no such file", remedy="check the path", path=path) from None
    except OSError as error:
        if path.is_dir():
            raise InputError("this is a folder, not a file", remedy="name a file in it", path=path) from None
        raise _failed(path, "read", error) from error


def atomic_write(path: Path, data: bytes, *, expected_hash: str | None) -> str:
    """Write a file whole, or not at all. Permissions stay; a symbolic link stays and its target is written.

    Args:
        path: The file; its folder must exist.
        data: The whole content.
        expected_hash: What the file must hold now (see `content_hash`); `None` if it must not be there. To write over
            whatever is there, as for published files, pass `hash_on_disk(path)`.

    Returns:
        The hash of `data`: what the next write must expect.

    Raises:
        ChangedOutsideError: The file holds something else.
        InputError: It cannot be written: no room, no permission, no such folder. What was there is still there.
    """
    target = Path(os.path.realpath(path))
    try:
        temporary = _write_beside(target, data)
    except OSError as error:
        raise _failed(path, "written", error) from error
    try:
        with _WRITING:
            found = hash_on_disk(target)
            if found != expected_hash:
                raise ChangedOutsideError(path, expected_hash=expected_hash, found_hash=found)
            if found is not None:
                if not os.access(target, os.W_OK):
                    raise PermissionError(13, "the file is read-only")
                shutil.copymode(target, temporary)
            _replace(temporary, target)
        _sync_folder(target.parent)
    except OSError as error:
        raise _failed(path, "written", error) from error
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
    return content_hash(data)


def _write_beside(target: Path, data: bytes) -> Path:
    temporary = target.with_name(f".{target.name[:100]}.{secrets.token_hex(6)}.tmp")
    try:
        with temporary.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except OSError:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise
    return temporary


def _replace(temporary: Path, target: Path) -> None:
    """Windows refuses while another program has the target open, most often for a moment only."""
    for attempt in range(_ATTEMPTS):
        try:
            os.replace(temporary, target)  # noqa: PTH105  (the name people look for)
        except PermissionError:
            if os.name != "nt" or attempt == _ATTEMPTS - 1:
                raise
            time.sleep(_PAUSE_SECONDS)
        else:
            return


def _sync_folder(folder: Path) -> None:
    """Make the new name itself durable, where the system can do that."""
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)  # Windows refuses folders
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _failed(path: Path, what: str, error: OSError) -> InputError:
    reason = error.strerror or str(error)
    remedies = {
        "read": "check the permissions of the file",
        "written": "nothing was changed; check the folder, its permissions and the room on the disk",
    }
    return InputError(f"the file cannot be {what}: {reason}", remedy=remedies[what], path=path)
