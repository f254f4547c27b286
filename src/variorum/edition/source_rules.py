"""The `[[sources]]` tables of `edition.toml`, said and taken back by the author: other lines, comments and order stay."""

from __future__ import annotations

import glob
from pathlib import Path

import msgspec

from variorum.base import InputError
from variorum.base.toml import TomlText, read_toml
from variorum.edition.edit import save_settings, spliced, with_setting, written
from variorum.edition.edition import Edition
from variorum.edition.files import read_file
from variorum.edition.folder import SETTINGS, matches_rule, place_to_write
from variorum.edition.settings import SourceRule

__all__ = ["change_rule", "is_own_rule", "rule_number", "say_file", "take_out_rule"]

_DEFAULT = SourceRule(path="*")


def rule_number(edition: Edition, name: str) -> int | None:
    """Which `[[sources]]` table counts for a file, from 0; `None` where none does. `name` is relative to the edition, with slashes."""
    rules = edition.settings.sources
    return next((number for number, rule in enumerate(rules) if matches_rule(Path(name), rule.path)), None)


def is_own_rule(rule: SourceRule, name: str) -> bool:
    """Whether a table names this one file."""
    return rule.path in (name, glob.escape(name))


def say_file(edition: Edition, name: str, rule: SourceRule) -> Edition:
    """Say what one file is, whatever the tables say of others; the edition as it is then.

    The table that names the file is changed. Where a pattern counts for it, a table of its own goes before that; else
    one goes to the end. The path of `rule` does not matter.

    Raises:
        InputError: The edition would have an error then (nothing is written), or the file cannot be written.
        ChangedOutsideError: The file is not what it was when the edition was opened.
    """
    number = rule_number(edition, name)
    old = _DEFAULT if number is None else edition.settings.sources[number]
    if number is not None and is_own_rule(old, name):
        return change_rule(edition, number, msgspec.structs.replace(rule, path=old.path))
    if _said(rule) == _said(old):
        return edition
    toml = _read(edition)
    lines = ["[[sources]]", f"path = {written(glob.escape(name))}"]
    lines += [f"{key} = {written(value)}" for key, value in _said(rule).items()]
    text = "".join(f"{line}\n" for line in lines)
    if number is None:
        if edition.settings.sources:
            _header(toml, 0)
        at = len(toml.text)
        ends = toml.text.endswith("\n") or not toml.text
        text = f"\n{text}" if ends else f"\n\n{text}"
    else:
        at, text = _above_comments(toml.text, _header(toml, number)), f"{text}\n"
    return save_settings(edition, _spliced(edition, at, at, text), f"say what {name} is")


def change_rule(edition: Edition, number: int, rule: SourceRule) -> Edition:
    """Make a `[[sources]]` table say this; only lines that say something else now are changed. Raises as `say_file`."""
    old = edition.settings.sources[number]
    source, path = read_file(place_to_write(edition.path, SETTINGS)), edition.path / SETTINGS
    for key in rule.__struct_fields__:
        value = getattr(rule, key)
        if value != getattr(old, key):
            default = key != "path" and value == getattr(_DEFAULT, key)
            source = with_setting(source, ("sources", number, key), None if default else value, path=path)
    return save_settings(edition, source, f"say what {rule.path} is")


def take_out_rule(edition: Edition, number: int) -> Edition:
    """Take a `[[sources]]` table out; comments above it stay. Raises as `say_file`."""
    toml = _read(edition)
    here = ("sources", number)
    begin = _line_start(toml.text, _header(toml, number))
    end = max(end for path, end in toml.ends.items() if path[:2] == here)
    end = toml.text.find("\n", end) + 1 or len(toml.text)
    if toml.text[:begin].endswith("\n\n") and (end == len(toml.text) or toml.text[end] == "\n"):
        begin -= 1
    what = f"take out what {edition.settings.sources[number].path} is"
    return save_settings(edition, _spliced(edition, begin, end, ""), what)


def _said(rule: SourceRule) -> dict[str, str | int]:
    """What a rule says beside its path, as far as it is not the default."""
    given = {key: getattr(rule, key) for key in rule.__struct_fields__ if key != "path"}
    return {key: value for key, value in given.items() if value != getattr(_DEFAULT, key)}


def _read(edition: Edition) -> TomlText:
    toml, faults = read_toml(edition.path / SETTINGS, read_file(place_to_write(edition.path, SETTINGS)))
    if toml is None:
        raise InputError(faults[0].message, path=faults[0].path, line=faults[0].line)
    return toml


def _header(toml: TomlText, number: int) -> int:
    """Where the name in `[[sources]]` stands.

    Raises:
        InputError: The tables are written as a list in one value.
    """
    at = toml.keys.get(("sources", number))
    if at is None:
        raise InputError(
            "sources is written as a list, not as [[sources]] tables",
            path=toml.path,
            remedy="change it by hand",
        )
    return at


def _line_start(text: str, offset: int) -> int:
    return text.rfind("\n", 0, offset) + 1


def _above_comments(text: str, offset: int) -> int:
    """The start of the line, or of the comment lines that stand right above it."""
    begin = _line_start(text, offset)
    while begin and text[_line_start(text, begin - 1) : begin].lstrip(" \t").startswith("#"):
        begin = _line_start(text, begin - 1)
    return begin


def _spliced(edition: Edition, begin: int, end: int, text: str) -> bytes:
    return spliced(read_file(place_to_write(edition.path, SETTINGS)), begin, end, text)
