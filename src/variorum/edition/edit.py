"""Changes of `edition.toml` that the author asks for: only the lines concerned change, comments and order stay."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from pathlib import Path

import tomlkit
from tomlkit.items import SingleKey

from variorum.base import InputError, Severity
from variorum.base.toml import KeyPath, TomlText, read_toml
from variorum.edition.edition import Edition, read_edition
from variorum.edition.files import read_file
from variorum.edition.folder import SETTINGS, place_to_write
from variorum.edition.history import History

__all__ = [
    "SettingValue",
    "change_setting",
    "change_settings",
    "name_place",
    "save_settings",
    "spliced",
    "with_setting",
    "written",
]

SettingValue = str | int | float | bool | datetime.date | list[str] | list[int]


def name_place(edition: Edition, name: str, text: str) -> Edition:
    """Name a tabiya, or say an old name's place anew; the edition as it is then.

    Raises:
        InputError: The name or the place cannot be used, or the file cannot be written.
        ChangedOutsideError: The file is not what it was when the edition was opened.
    """
    return change_setting(edition, ("names", name), " ".join(text.split()))


def change_setting(edition: Edition, key_path: tuple[str, ...], value: SettingValue | None) -> Edition:
    """Set one setting, or take it out (`None`); the edition as it is then. The step can be undone by the file's history.

    Raises:
        InputError: The edition would have an error then (nothing is written), or the file cannot be written.
        ChangedOutsideError: The file is not what it was when the edition was opened.
    """
    return change_settings(edition, {key_path: value})


def change_settings(edition: Edition, changes: Mapping[tuple[str, ...], SettingValue | None]) -> Edition:
    """Set several settings, or take them out, in one step: all of them, or where one cannot be, none. Else as `change_setting`.

    Raises:
        InputError: The edition would have an error then (nothing is written), or the file cannot be written.
        ChangedOutsideError: The file is not what it was when the edition was opened.
    """
    path = place_to_write(edition.path, SETTINGS)
    source = read_file(path)
    for key_path, value in changes.items():
        source = with_setting(source, key_path, value, path=path)
    done = [_told(key_path, value) for key_path, value in changes.items()]
    return save_settings(edition, source, ", ".join(done))


def _told(key_path: tuple[str, ...], value: SettingValue | None) -> str:
    """What a change does, as the history tells it."""
    if key_path[0] in ("names", "roots") and len(key_path) == 2:
        what = "name" if key_path[0] == "names" else "root"
        return f"take out the {what} {key_path[1]}" if value is None else f"{what} {key_path[1]}"
    return f"{'take out' if value is None else 'set'} {'.'.join(map(str, key_path))}"


def save_settings(edition: Edition, source: bytes, what: str) -> Edition:
    """Write a new content of `edition.toml`, if the edition has no error with it; the edition as it is then.

    Raises:
        InputError: It has one (nothing is written), or the file cannot be written.
        ChangedOutsideError: The file is not what it was when the edition was opened.
    """
    path = place_to_write(edition.path, SETTINGS)
    changed, faults = read_edition(path, source)
    errors = [fault for fault in faults if fault.severity is Severity.ERROR]
    if changed is None or errors:
        raise InputError(
            errors[0].message, remedy=errors[0].hint or "correct it; edition.toml was not changed"
        )
    History(path).save(source, expected_hash=edition.settings_hash, what=what)
    return changed


def with_setting(
    source: bytes, key_path: KeyPath, value: SettingValue | None, *, path: Path = Path(SETTINGS)
) -> bytes:
    """The file's content with one setting set or (`None`) taken out; every other byte as it was.

    A new key goes behind the last one of its table, a new table to the end of the file.

    Raises:
        InputError: The content is no TOML, or is written in a way in which one line cannot simply be changed (a table
            in one line, dotted keys).
    """
    toml, faults = read_toml(path, source)
    if toml is None:
        raise InputError(faults[0].message, path=path, line=faults[0].line, column=faults[0].column)
    begin, end, text = _splice(toml, key_path, value)
    changed = spliced(source, begin, end, text)
    again, _ = read_toml(path, changed)
    if again is None or again.at(key_path) != value:
        raise InputError(
            f"{'.'.join(map(str, key_path))} cannot be changed as the file is written",
            path=path,
            remedy="change it by hand",
        )
    return changed


def spliced(source: bytes, begin: int, end: int, text: str) -> bytes:
    """A content with a part of it replaced by lines of text. Offsets are those of its plain text (`TomlText`)."""
    raw = source.decode("utf-8")
    newline = "\r\n" if "\r\n" in raw else "\n"
    first, last = (_offset_in(raw, offset) for offset in (begin, end))
    return (raw[:first] + text.replace("\n", newline) + raw[last:]).encode()


def _splice(toml: TomlText, key_path: KeyPath, value: SettingValue | None) -> tuple[int, int, str]:
    """Which part of the text is replaced, and by what."""
    if key_path in toml.ends:
        if value is None:
            return *_whole_lines(toml.text, toml.keys[key_path], toml.ends[key_path]), ""
        return toml.values[key_path], toml.ends[key_path], written(value)
    if value is None:
        return 0, 0, ""
    *table, key = key_path
    line = f"{SingleKey(str(key)).as_string()} = {written(value)}\n"
    around = tuple(table)
    if around in toml.ends and toml.text[toml.values[around]] == "{":
        raise InputError(
            f"{'.'.join(map(str, around))} is written in one line, as {{…}}",
            path=toml.path,
            remedy="write it as a table with a line for each key",
        )
    inside = [
        end
        for path, end in toml.ends.items()
        if path[:-1] == around and toml.values[path] != toml.keys.get(path)
    ]
    if inside or around in toml.ends:
        at = _line_end(toml.text, max([*inside, toml.ends.get(around, 0)]))
        before = "" if toml.text[:at].endswith("\n") else "\n"
        return at, at, before + line
    if not around:
        return 0, 0, line
    header = ".".join(SingleKey(str(part)).as_string() for part in around)
    before = "" if toml.text.endswith("\n") or not toml.text else "\n"
    return len(toml.text), len(toml.text), f"{before}\n[{header}]\n{line}"


def _whole_lines(text: str, begin: int, end: int) -> tuple[int, int]:
    return text.rfind("\n", 0, begin) + 1, _line_end(text, end)


def _line_end(text: str, offset: int) -> int:
    """The offset behind the line break after `offset`."""
    found = text.find("\n", offset)
    return len(text) if found < 0 else found + 1


def written(value: SettingValue) -> str:
    """A value as TOML."""
    return tomlkit.item(value).as_string()


def _offset_in(raw: str, offset: int) -> int:
    """Where an offset of the plain text (no byte order mark, plain line ends) lies in the file's own text."""
    offset += raw.startswith("\ufeff")
    for passed, found in enumerate(re.finditer("\r\n", raw)):
        if found.start() - passed >= offset:
            return offset + passed
    return offset + raw.count("\r\n")
