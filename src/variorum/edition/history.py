"""Undo and redo for the author's files, kept as text beside them: `.history/NAME.jsonl`.

Each line of that file is one JSON object. A change tells the offset at which the contents differ, the bytes taken out
and put in (UTF-8; bytes that are none as lone surrogates), the hashes of the content before and
after, the time and what was done. An undo or redo is a line too, so the file only grows at its end; when it has become
long it is written anew with the last steps. The line is written before the file it speaks of; a line whose change
did not happen, or was made away with outside, is recognised by the hashes.
"""

from __future__ import annotations

import datetime
import json
import os
from pathlib import Path
from typing import Literal

import msgspec

from variorum.base import InputError
from variorum.edition.files import atomic_write, content_hash, hash_on_disk, ordinary_bytes, read_file
from variorum.edition.folder import place_to_write

__all__ = ["History", "Step"]

KEPT_STEPS = 200
"""Steps kept at least; setting without a source."""
KEPT_BYTES = 16_000_000
"""Room for them; the latest step is always kept."""


class Step(msgspec.Struct, frozen=True, omit_defaults=True):
    """One line of the history."""

    kind: Literal["change", "undo", "redo"]
    before: str
    """Hash of the content before the step."""
    after: str
    time: str
    what: str = ""
    """What was done, in words."""
    offset: int = 0
    removed: str = ""
    added: str = ""


class History:
    """The steps of one file. Reads them when it is made; two Histories of one file at once are not meant.

    Args:
        path: The author's file. It must exist once steps are made.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.log = path.parent / ".history" / f"{path.name}.jsonl"
        self._done: list[Step] = []
        self._undone: list[Step] = []
        self._latest: Step | None = None
        self._lines = 0
        self.changed_outside = False
        """Whether somebody else has written the file since the last step, so that there is nothing to undo."""
        self.expected_hash: str | None = None
        """What the last step left, where the file was changed outside since."""
        for step in _read_log(self.log):
            self._count(step)
        self._settle(hash_on_disk(path))

    @property
    def done(self) -> tuple[Step, ...]:
        """What can be undone, the latest last; empty when the file was changed outside since."""
        return tuple(self._done)

    @property
    def undone(self) -> tuple[Step, ...]:
        """What can be redone, the next last."""
        return tuple(self._undone)

    def save(self, data: bytes, *, expected_hash: str, what: str) -> str:
        """Write a new content of the file, so that it can be undone.

        Args:
            data: The whole content.
            expected_hash: Hash of the content that the change was made to.
            what: What was done, in words ("comment after 9.Bd3").

        Returns:
            The hash of `data`.

        Raises:
            ChangedOutsideError, InputError: As `atomic_write`; nothing was changed then.
        """
        before = read_file(self.path)
        if content_hash(before) != expected_hash or data == before:
            return atomic_write(
                self.path, data, expected_hash=expected_hash
            )  # says what is wrong, if anything is
        offset, removed, added = _difference(before, data)
        step = _step(
            "change", before, data, what, offset=offset, removed=_as_text(removed), added=_as_text(added)
        )
        return self._write(step, data)

    def undo(self) -> Step:
        """Take back the latest change and return it.

        Raises:
            InputError: There is none, or the file was changed outside.
        """
        return self._go("undo", self._done)

    def redo(self) -> Step:
        """Make the change again that was undone last and return it.

        Raises:
            InputError: There is none, or the file was changed outside.
        """
        return self._go("redo", self._undone)

    def _go(self, kind: Literal["undo", "redo"], steps: list[Step]) -> Step:
        data = read_file(self.path)
        self._settle(content_hash(data))
        if not steps:
            raise InputError(
                f"there is nothing to {kind}",
                remedy="steps are kept for changes made here, until the file is changed outside",
                path=self.path,
            )
        change = steps[-1]
        result = self.applied(change, data, kind)
        self._write(_step(kind, data, result, change.what), result)
        return change

    def applied(self, change: Step, data: bytes, kind: Literal["undo", "redo"]) -> bytes:
        """A content with a change taken back or made again; nothing is written.

        Raises:
            InputError: The change does not fit the content.
        """
        removed, added = _as_bytes(change.removed), _as_bytes(change.added)
        if kind == "undo":
            removed, added = added, removed
        result = data[: change.offset] + added + data[change.offset + len(removed) :]
        if content_hash(result) != (change.before if kind == "undo" else change.after):
            raise InputError("the history does not fit the file", remedy=f"remove {self.log}", path=self.path)
        return result

    def _write(self, step: Step, data: bytes) -> str:
        place_to_write(self.path.parent, self.log.parent.name, self.log.name)
        try:
            self.log.parent.mkdir(exist_ok=True)
            _append(self.log, _to_line(step))
        except OSError as error:
            message = f"the history cannot be written: {error.strerror or error}"
            raise InputError(
                message, remedy="nothing was changed; check the folder and the disk", path=self.log
            ) from error
        written = atomic_write(self.path, data, expected_hash=step.before)
        self._count(step)
        self._shorten()
        return written

    def _count(self, step: Step) -> None:
        self._settle(step.before)
        self._latest = step
        self._lines += 1
        if step.kind == "change":
            self.changed_outside = False
            self._done.append(step)
            self._undone.clear()
        elif step.kind == "undo" and self._done:
            self._undone.append(self._done.pop())
        elif step.kind == "redo" and self._undone:
            self._done.append(self._undone.pop())

    def _settle(self, found: str | None) -> None:
        """Bring the steps in line with the file: the latest may not have happened, or somebody else has written."""
        latest, self._latest = self._latest, None
        if self._state() == found:
            self._latest = latest
        elif latest is not None and latest.before == found and latest.kind == "undo" and self._undone:
            self._done.append(self._undone.pop())
        elif latest is not None and latest.before == found and latest.kind != "undo" and self._done:
            self._undone.append(self._done.pop())
        elif self._done or self._undone:
            self.expected_hash = self._state()
            self.changed_outside = True
            self._done.clear()
            self._undone.clear()

    def _state(self) -> str | None:
        """The hash that the file has if nobody else writes it; `None` before the first step."""
        if self._done:
            return self._done[-1].after
        return self._undone[-1].before if self._undone else None

    def _shorten(self) -> None:
        """Write the log anew when it has grown to twice what is kept."""
        if self._lines <= 2 * KEPT_STEPS and self.log.stat().st_size <= 2 * KEPT_BYTES:
            return
        kept: list[Step] = []
        size = 0
        for step in reversed(self._done):
            size += len(step.removed) + len(step.added)
            if kept and (len(kept) == KEPT_STEPS or size > KEPT_BYTES):
                break
            kept.append(step)
        self._done = kept[::-1]
        undone = [
            msgspec.structs.replace(step, kind="undo", before=step.after, after=step.before)
            for step in self._undone
        ]
        undone = [msgspec.structs.replace(step, offset=0, removed="", added="") for step in undone]
        lines = [_to_line(step) for step in (*self._done, *reversed(self._undone), *undone)]
        atomic_write(self.log, b"".join(line + b"\n" for line in lines), expected_hash=hash_on_disk(self.log))
        self._lines = len(lines)


def _to_line(step: Step) -> bytes:
    return json.dumps(msgspec.to_builtins(step)).encode()  # msgspec's own JSON has no lone surrogates


def _step(
    kind: Literal["change", "undo", "redo"],
    before: bytes,
    after: bytes,
    what: str,
    *,
    offset: int = 0,
    removed: str = "",
    added: str = "",
) -> Step:
    now = datetime.datetime.now(tz=datetime.UTC).isoformat(timespec="seconds")
    hashes = content_hash(before), content_hash(after)
    return Step(kind, *hashes, now, what, offset=offset, removed=removed, added=added)


def _difference(before: bytes, after: bytes) -> tuple[int, bytes, bytes]:
    """Where two contents begin to differ, and the bytes on either side up to where they agree again."""
    shorter = min(len(before), len(after))
    start = _common_prefix(before, after, shorter)
    tail = _common_prefix(before[::-1], after[::-1], shorter - start)
    return start, before[start : len(before) - tail], after[start : len(after) - tail]


def _common_prefix(first: bytes, second: bytes, limit: int) -> int:
    low, high = 0, limit
    while low < high:
        middle = (low + high + 1) // 2
        if first[low:middle] == second[low:middle]:
            low = middle
        else:
            high = middle - 1
    return low


def _as_text(data: bytes) -> str:
    return data.decode("utf-8", errors="surrogateescape")


def _as_bytes(text: str) -> bytes:
    return text.encode("utf-8", errors="surrogateescape")


def _append(log: Path, line: bytes) -> None:
    with log.open("a+b") as file:
        file.seek(0, os.SEEK_END)
        if file.tell() > 0:
            file.seek(-1, os.SEEK_END)
            if file.read(1) != b"\n":  # torn by a crash
                line = b"\n" + line
        file.write(line + b"\n")
        file.flush()
        os.fsync(file.fileno())


def _read_log(log: Path) -> list[Step]:
    try:
        lines = ordinary_bytes(log).splitlines()
    except OSError:
        return []
    steps = []
    for line in lines:
        try:
            steps.append(msgspec.convert(json.loads(line), Step))
        except (ValueError, msgspec.MsgspecError):
            continue  # torn by a crash: its change did not happen
    return steps
