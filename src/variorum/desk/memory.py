"""What the desk remembers of its user: the notes he has read, and how his voices did when they were tried. In his own folder for settings."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Final

import msgspec

from variorum.base.settings import settings_path
from variorum.edition import atomic_write, hash_on_disk
from variorum.voices.trial import TrialReport

__all__ = ["KeptTrial", "Memory"]

_FILE: Final = "desk.json"


class KeptTrial(msgspec.Struct, frozen=True):
    """A trial of a voice and its day (ISO 8601)."""

    day: str
    report: TrialReport


class _Kept(msgspec.Struct):
    read: list[str] = []
    trials: dict[str, KeptTrial] = {}


class Memory:
    """Safe to use from several threads; what cannot be read is begun anew, for it holds nothing of the author's."""

    def __init__(self, file: Path | None = None) -> None:
        self._file = file or settings_path().with_name(_FILE)
        self._lock = threading.Lock()
        try:
            self._kept = msgspec.json.decode(self._file.read_bytes(), type=_Kept)
        except (OSError, msgspec.MsgspecError):
            self._kept = _Kept()

    @property
    def read(self) -> frozenset[str]:
        """The pages whose note was read and put away."""
        return frozenset(self._kept.read)

    def put_away(self, note: str) -> None:
        """Show the note of a page no more."""
        with self._lock:
            if note not in self._kept.read:
                self._kept.read.append(note)
                self._write()

    def show_again(self) -> None:
        """Show all notes again."""
        with self._lock:
            self._kept.read.clear()
            self._write()

    def trial(self, voice: str) -> KeptTrial | None:
        """The last trial of a voice."""
        return self._kept.trials.get(voice)

    def keep_trial(self, trial: KeptTrial) -> None:
        """Keep a trial in place of the one before."""
        with self._lock:
            self._kept.trials[trial.report.voice] = trial
            self._write()

    def forget_trial(self, voice: str) -> None:
        """A voice is there no more, or is another one."""
        with self._lock:
            if self._kept.trials.pop(voice, None) is not None:
                self._write()

    def _write(self) -> None:
        self._file.parent.mkdir(parents=True, exist_ok=True)
        data = msgspec.json.encode(self._kept)
        atomic_write(self._file, data, expected_hash=hash_on_disk(self._file))
