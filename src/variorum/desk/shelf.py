"""The editions on this computer: which were opened, where they lie, and by what name the desk has them."""

from __future__ import annotations

import datetime
import hashlib
import re
import threading
from contextlib import suppress
from pathlib import Path
from typing import Final

import msgspec

from variorum.base import InputError
from variorum.base.settings import settings_path
from variorum.edition import atomic_write, hash_on_disk
from variorum.edition.folder import SETTINGS

__all__ = ["Shelf", "Shelved"]

_FILE: Final = "shelf.json"
_MOST: Final = 100


class Shelved(msgspec.Struct, frozen=True):
    """An edition on the shelf: the name by which addresses have it, and its folder."""

    name: str
    folder: Path
    visited: str = ""
    """The day on which a page of it was looked at last (ISO 8601), empty where that is not known."""


class _Kept(msgspec.Struct):
    folders: list[str]
    visited: dict[str, str] = {}


class Shelf:
    """The editions that were opened, the latest first; kept in the user's folder for configuration."""

    def __init__(self, file: Path | None = None) -> None:
        """Read what was kept; a damaged list is begun anew, for it holds nothing but places."""
        self._file = file or settings_path().with_name(_FILE)
        self._lock = threading.Lock()
        self._folders: list[Path] = []
        self._visited: dict[Path, str] = {}
        self._read()

    def all(self) -> tuple[Shelved, ...]:
        """Every edition whose folder is still one."""
        there = [folder for folder in self._folders if (folder / SETTINGS).is_file()]
        return tuple(Shelved(_name(folder), folder, self._visited.get(folder, "")) for folder in there)

    def add(self, folder: Path) -> Shelved:
        """Put an edition on the shelf, in front.

        Raises:
            InputError: The folder holds no edition.
        """
        folder = folder.expanduser().absolute()
        if not (folder / SETTINGS).is_file():
            raise InputError(
                f"there is no {SETTINGS}",
                path=folder,
                remedy="choose an edition's folder, or begin a new one",
            )
        with self._lock:
            self._put_first(folder)
        return Shelved(_name(folder), folder, _today())

    def visit(self, name: str) -> None:
        """Note that an edition is looked at; it stands in front from now on. What is noted already is not written again.

        Where it cannot be noted, it is not: no page depends on it.
        """
        with self._lock, suppress(InputError, OSError):
            folder = next((one for one in self._folders if _name(one) == name), None)
            if folder is not None and (folder != self._folders[0] or self._visited.get(folder) != _today()):
                self._put_first(folder)

    def _put_first(self, folder: Path) -> None:
        self._read()
        self._folders = [folder, *(one for one in self._folders if one != folder)][:_MOST]
        self._visited[folder] = _today()
        self._keep()

    def remove(self, name: str) -> None:
        """Take an edition from the shelf; its files stay."""
        with self._lock:
            self._read()
            self._folders = [one for one in self._folders if _name(one) != name]
            self._keep()

    def get(self, name: str) -> Shelved:
        """The edition of that name.

        Raises:
            InputError: There is none.
        """
        for folder in self._folders:
            if _name(folder) == name and (folder / SETTINGS).is_file():
                return Shelved(name, folder)
        raise InputError("no edition of this name is on the shelf", remedy="open its folder from the shelf")

    def _read(self) -> None:
        """Have the list as it is now: another desk of the same user may have put an edition on it."""
        with suppress(OSError, msgspec.DecodeError):
            kept = msgspec.json.decode(self._file.read_bytes(), type=_Kept)
            self._visited = {Path(folder): day for folder, day in kept.visited.items()}
            self._folders = [Path(folder) for folder in kept.folders]

    def _keep(self) -> None:
        self._file.parent.mkdir(parents=True, exist_ok=True)
        visited = {str(folder): self._visited[folder] for folder in self._folders if folder in self._visited}
        data = msgspec.json.encode(_Kept([str(folder) for folder in self._folders], visited))
        atomic_write(self._file, data, expected_hash=hash_on_disk(self._file))


def _name(folder: Path) -> str:
    """The folder's own name where it can stand in an address, with eight signs that tell it from others of that name."""
    plain = re.sub(r"[^a-z0-9]+", "-", folder.name.lower()).strip("-") or "edition"
    return f"{plain}-{hashlib.sha256(str(folder).encode()).hexdigest()[:8]}"


def _today() -> str:
    return datetime.datetime.now(datetime.UTC).date().isoformat()
