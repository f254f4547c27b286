"""TOML text with the place of every key and value, so that a fault can be named by line and column.

`tomllib` reads the text and is the judge of its syntax, but keeps no positions, and `tomlkit` (which writes our edits)
keeps none either. The scanner below walks a text that `tomllib` has already accepted, so it needs no error handling of
its own; a test holds it to the same keys and values as `tomllib` on generated and ugly files.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from variorum.base.diagnostics import Diagnostic, Severity

__all__ = ["KeyPath", "TomlText", "read_toml"]

KeyPath = tuple[str | int, ...]
"""A way through tables (by key) and arrays (by index from 0): `("sources", 0, "path")`."""

LARGEST_BYTES: Final = 1_000_000
"""A settings file larger than this is something else under a wrong name."""

_AT: Final = re.compile(r"\s*\(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)$")


@dataclass(frozen=True)
class TomlText:
    """A TOML file as read: its data, and where each key and value stands (offsets in `text`).

    `text` is without byte order mark and with plain line ends. Values end where `ends` says (before white space and
    comments); a table's header counts as its value.
    """

    path: Path
    text: str
    data: Mapping[str, Any]
    keys: Mapping[KeyPath, int]
    values: Mapping[KeyPath, int]
    ends: Mapping[KeyPath, int]

    def at(self, key_path: KeyPath) -> Any:
        """The value at the end of a way through the data, `None` if there is none (TOML has no null)."""
        value: Any = self.data
        for part in key_path:
            try:
                value = value[part]
            except (KeyError, IndexError, TypeError):
                return None
        return value

    def place(self, key_path: KeyPath, *, of: str = "value") -> tuple[int, int]:
        """Line and column, from 1, of a value or (`of="key"`) a key; of the nearest table around it if it is absent."""
        offsets = self.keys if of == "key" else self.values
        while key_path and key_path not in offsets:
            key_path = key_path[:-1]
            offsets = self.keys
        return line_and_column(self.text, offsets.get(key_path, 0))

    def fault(
        self,
        code: str,
        message: str,
        key_path: KeyPath = (),
        *,
        of: str = "value",
        hint: str | None = None,
        severity: Severity = Severity.ERROR,
        ply: int | None = None,
    ) -> Diagnostic:
        """A diagnostic about the key or value at `key_path`."""
        line, column = self.place(key_path, of=of)
        return Diagnostic(
            code=code,
            severity=severity,
            path=self.path,
            message=message,
            line=line,
            column=column,
            hint=hint,
            ply=ply,
        )


def line_and_column(text: str, offset: int) -> tuple[int, int]:
    """Line and column (in characters), both from 1, of an offset."""
    return text.count("\n", 0, offset) + 1, offset - text.rfind("\n", 0, offset)


def read_toml(path: Path, source: bytes) -> tuple[TomlText | None, list[Diagnostic]]:
    """The text with its places, or `None` and the fault that makes it unreadable. Never raises on its content."""

    def unreadable(code: str, message: str, text: str = "", offset: int = 0) -> tuple[None, list[Diagnostic]]:
        line, column = line_and_column(text, offset)
        fault = Diagnostic(
            code=code, severity=Severity.ERROR, path=path, message=message, line=line, column=column
        )
        return None, [fault]

    if len(source) > LARGEST_BYTES:
        return unreadable("toml-too-large", f"is larger than {LARGEST_BYTES:,} bytes; no settings file is")
    try:
        text = source.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        before = source[: error.start].decode("utf-8-sig", errors="replace").replace("\r\n", "\n")
        return unreadable(
            "toml-not-utf8",
            f"byte 0x{source[error.start]:02x} is not UTF-8; save the file as UTF-8",
            before,
            len(before),
        )
    try:
        data = tomllib.loads(text)
        scanner = _Scanner(text)
        scanner.scan()
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        at = _AT.search(message)
        offset = len(text)
        if at and at["line"]:
            line_start = 0
            for _ in range(int(at["line"]) - 1):
                line_start = text.index("\n", line_start) + 1
            offset = line_start + int(at["column"]) - 1
        return unreadable("toml-syntax", _AT.sub("", message), text, offset)
    except RecursionError:
        return unreadable("toml-syntax", "tables or arrays are nested too deeply")
    except ValueError as error:  # an integer of more digits than Python reads
        return unreadable("toml-syntax", str(error).partition(";")[0])
    return TomlText(path, text, data, scanner.keys, scanner.values, scanner.ends), []


_BLANK: Final = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_SPACE: Final = re.compile(r"[ \t]*")
_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE: Final = re.compile(r"[^,\]}\n#]*")
_STRING: Final = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}'  # up to two quotes may stand before the closing three
    r"|'''.*?'{3,5}"
    r'|"(?:[^"\\]|\\.)*"'
    r"|'[^']*'",
    re.DOTALL,
)


class _Scanner:
    """Finds the offsets of keys and values in a text that is known to be valid TOML."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.keys: dict[KeyPath, int] = {}
        self.values: dict[KeyPath, int] = {}
        self.ends: dict[KeyPath, int] = {}
        self._at = 0
        self._table_counts: dict[KeyPath, int] = {}

    def scan(self) -> None:
        table: KeyPath = ()
        self._skip(_BLANK)
        while self._at < len(self.text):
            if self.text.startswith("[[", self._at):
                table = self._header(2)
            elif self.text[self._at] == "[":
                table = self._header(1)
            else:
                self._pair(table)
            self._skip(_BLANK)

    def _skip(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self._at)
        if found is None:
            raise AssertionError(f"the scanner lost its way at offset {self._at}")
        self._at = found.end()
        return found[0]

    def _header(self, brackets: int) -> KeyPath:
        """`[a.b]` or `[[a.b]]`; its last part is placed at the name, as key and as value."""
        self._at += brackets
        path: KeyPath = ()
        parts = self._key()
        for number, (name, offset) in enumerate(parts, 1):
            path += (name,)
            self.keys.setdefault(path, offset)
            if number == len(parts) and brackets == 2:
                self.values.setdefault(path, offset)
                count = self._table_counts.get(path, 0)
                self._table_counts[path] = count + 1
                path += (count,)
                self.keys[path] = offset
            elif path in self._table_counts:
                path += (self._table_counts[path] - 1,)
            self.values.setdefault(path, offset)
        self._at += brackets
        self.ends[path] = self._at
        return path

    def _pair(self, table: KeyPath) -> None:
        for name, offset in self._key():
            table += (name,)
            self.keys.setdefault(table, offset)
            self.values.setdefault(table, offset)
        self._at += 1  # the equals sign
        self._skip(_SPACE)
        self._value(table)

    def _key(self) -> list[tuple[str, int]]:
        """A key, dotted or not, with the spaces around it: its parts and their offsets."""
        parts = []
        while True:
            self._skip(_SPACE)
            offset = self._at
            if self.text[offset] in "\"'":
                name = str(tomllib.loads(f"key = {self._skip(_STRING)}")["key"])
            else:
                name = self._skip(_BARE_KEY)
            parts.append((name, offset))
            self._skip(_SPACE)
            if self.text[self._at] != ".":
                return parts
            self._at += 1

    def _value(self, path: KeyPath) -> None:
        self.values[path] = self._at
        first = self.text[self._at]
        if first in "\"'":
            self._skip(_STRING)
        elif first in "[{":
            closing = "]" if first == "[" else "}"
            self._at += 1
            count = 0
            self._skip(_BLANK)
            while self.text[self._at] != closing:
                if first == "{":
                    self._pair(path)
                else:
                    self._value((*path, count))
                    count += 1
                self._skip(_BLANK)
                if self.text[self._at] == ",":
                    self._at += 1
                    self._skip(_BLANK)
            self._at += 1
        else:
            self._at = self.values[path] + len(self._skip(_BARE_VALUE).rstrip())
        self.ends[path] = self._at
