"""Settings as frozen structs: a TOML file is read against a `msgspec.Struct`, and every fault is named with its place.

`msgspec.convert` stops at the first fault and knows no lines, so the walk over the type is our own; the struct (with its
`msgspec.Meta` limits and descriptions) stays the one description, from which the reference pages are made too.
"""

from __future__ import annotations

import datetime
import difflib
import functools
from collections.abc import Iterable, Mapping
from typing import Any, Final, TypeVar

import msgspec
from msgspec import inspect as types

from variorum.base.diagnostics import Diagnostic
from variorum.base.toml import KeyPath, TomlText

__all__ = ["nearest", "read_shape", "type_in_words"]

T = TypeVar("T", bound=msgspec.Struct)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that `word` is most likely a misspelling of, `None` when none is near. Case does not count."""
    folded = {name.casefold(): name for name in known}
    found = difflib.get_close_matches(word.casefold(), folded, n=1, cutoff=0.6)
    return folded[found[0]] if found else None


def read_shape(toml: TomlText, shape: type[T], *, subject: str) -> tuple[T | None, list[Diagnostic]]:
    """The file as a value of `shape`, and a diagnostic for each fault; `subject` says whose setting an unknown key is not.

    A faulty value is replaced by its default. Where it has none, the table around it cannot be made, and so on up; the
    result is `None` when that reaches the top.
    """
    reader = _Reader(toml, subject)
    made = reader.struct(dict(toml.data), _type_of(shape), ())
    return (made if isinstance(made, shape) else None), reader.faults


@functools.cache
def _type_of(shape: type[msgspec.Struct]) -> types.Type:
    return types.type_info(shape)


def type_in_words(kind: types.Type) -> str:
    """What a value of this type is called in messages and reference pages."""
    match kind:
        case types.Metadata():
            return type_in_words(kind.type)
        case types.UnionType():
            return " or ".join(
                type_in_words(part) for part in kind.types if not isinstance(part, types.NoneType)
            )
        case types.LiteralType():
            return "one of " + ", ".join(f'"{value}"' for value in kind.values)
        case types.StrType():
            return "a text"
        case types.BoolType():
            return "true or false"
        case types.IntType():
            return "a whole number" + _range_in_words(kind)
        case types.FloatType():
            return "a number" + _range_in_words(kind)
        case types.DateType():
            return "a date"
        case types.VarTupleType():
            return f"a list, each {type_in_words(kind.item_type)}"
        case types.DictType():
            return f"a table, each value {type_in_words(kind.value_type)}"
        case types.StructType():
            return "a table"
    raise TypeError(f"settings do not use {kind}")  # pragma: no cover


def _range_in_words(kind: types.IntType | types.FloatType) -> str:
    match kind.ge, kind.le:
        case None, None:
            return ""
        case low, None:
            return f" of at least {low:,}"
        case None, high:
            return f" of at most {high:,}"
        case low, high:
            return f" from {low:,} to {high:,}"


LARGEST_NUMBER: Final = 2**53
"""Whole numbers up to this are exact in every format the program writes; no setting comes near it."""

_FAULTY: Final = object()
"""Stands for a value that could not be made (`None` is a value)."""


class _Reader:
    def __init__(self, toml: TomlText, subject: str) -> None:
        self.toml = toml
        self.subject = subject
        self.faults: list[Diagnostic] = []

    def struct(self, data: Mapping[str, Any], kind: types.Type, path: KeyPath) -> Any:
        assert isinstance(kind, types.StructType)
        fields = {field.encode_name: field for field in kind.fields}
        for key in data:
            if key not in fields:
                self._unknown_key(key, list(fields), path)
        made: dict[str, Any] = {}
        whole = True
        for key, field in fields.items():
            value = self.value(data[key], field.type, (*path, key)) if key in data else _FAULTY
            if value is not _FAULTY:
                made[field.name] = value
            elif field.required:
                whole = False
                if key not in data:
                    self.faults.append(
                        self.toml.fault(
                            "missing-key",
                            f"{self._table_in_words(path)} needs {key!r}: {_description(field.type)}",
                            path,
                            of="key",
                        )
                    )
        if not whole:
            return _FAULTY
        try:
            return kind.cls(**made)
        except ValueError as error:  # what the struct itself asks of its fields together
            self.faults.append(
                self.toml.fault("bad-value", f"{self._table_in_words(path)}: {error}", path, of="key")
            )
            return _FAULTY

    def _unknown_key(self, key: str, known: list[str], path: KeyPath) -> None:
        guess = nearest(key, known)
        hint = f"did you mean {guess!r}?" if guess else f"known here: {', '.join(known)}"
        message = f"{key!r} is not a setting of {self._table_in_words(path)}"
        self.faults.append(self.toml.fault("unknown-key", message, (*path, key), of="key", hint=hint))

    def _table_in_words(self, path: KeyPath) -> str:
        if not path:
            return self.subject
        names = ".".join(part for part in path if isinstance(part, str))
        return f"[[{names}]]" if isinstance(path[-1], int) else f"[{names}]"

    def value(self, value: Any, kind: types.Type, path: KeyPath) -> Any:
        """The value as its type wants it, or `_FAULTY` after noting what is wrong."""
        while isinstance(kind, types.Metadata):
            kind = kind.type
        if isinstance(kind, types.UnionType):
            return self.one_of(value, kind, path)
        match kind:
            case types.StructType() if isinstance(value, dict):
                return self.struct(value, kind, path)
            case types.DictType() if isinstance(value, dict):
                made = {key: self.value(item, kind.value_type, (*path, key)) for key, item in value.items()}
                return {key: item for key, item in made.items() if item is not _FAULTY}
            case types.VarTupleType() if isinstance(value, list):
                items = [
                    self.value(item, kind.item_type, (*path, number)) for number, item in enumerate(value)
                ]
                return tuple(item for item in items if item is not _FAULTY)
            case types.LiteralType() if isinstance(value, str):
                if value in kind.values:
                    return value
                guess = nearest(value, [str(word) for word in kind.values])
                return self._bad(path, value, kind, hint=f'did you mean "{guess}"?' if guess else None)
            case types.StrType() if isinstance(value, str):
                return self._of_length(value, kind, path)
            case types.BoolType() if isinstance(value, bool):
                return value
            case types.IntType() if isinstance(value, int) and not isinstance(value, bool):
                return self._in_range(value, kind, path)
            case types.FloatType() if isinstance(value, int | float) and not isinstance(value, bool):
                return self._in_range(value, kind, path)
            case types.DateType() if type(value) is datetime.date:
                return value
        return self._wrong_type(value, kind, path)

    def _wrong_type(self, value: object, kind: types.Type, path: KeyPath) -> object:
        what = f"must be {type_in_words(kind)}, not {_in_words(value)}"
        self.faults.append(self.toml.fault("wrong-type", f"{_key_in_words(path)} {what}", path))
        return _FAULTY

    def one_of(self, value: Any, kind: types.UnionType, path: KeyPath) -> Any:
        """The value as the first of the types that takes it; faults are those of the only one there is, if it is."""
        parts = [part for part in kind.types if not isinstance(part, types.NoneType)]  # TOML has no null
        if len(parts) == 1:
            return self.value(value, parts[0], path)
        for part in parts:
            trial = _Reader(self.toml, self.subject)
            made = trial.value(value, part, path)
            if not trial.faults:
                return made
        return self._wrong_type(value, kind, path)

    def _of_length(self, value: str, kind: types.StrType, path: KeyPath) -> Any:
        low, high = kind.min_length or 0, kind.max_length
        if low and not value.strip():
            return self._bad(path, value, None, what="may not be empty")
        if len(value) < low or (high is not None and len(value) > high):
            bounds = f"{low} to {high}" if low != high else f"{low}"
            what = f"must have {bounds} characters, not {len(value)}"
            return self._bad(path, value, None, what=what)
        return value

    def _in_range(self, value: float, kind: types.IntType | types.FloatType, path: KeyPath) -> Any:
        low = kind.ge if kind.ge is not None else -LARGEST_NUMBER
        high = kind.le if kind.le is not None else LARGEST_NUMBER
        if low <= value <= high:  # false for nan too
            return float(value) if isinstance(kind, types.FloatType) else value
        return self._bad(path, value, kind)

    def _bad(
        self,
        path: KeyPath,
        value: object,
        kind: types.Type | None,
        *,
        what: str | None = None,
        hint: str | None = None,
    ) -> object:
        if what is None:
            assert kind is not None
            what = f"must be {type_in_words(kind)}, not {_shown(value)}"
        self.faults.append(self.toml.fault("bad-value", f"{_key_in_words(path)} {what}", path, hint=hint))
        return _FAULTY


def _shown(value: object) -> str:
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:59] + "…"


def _in_words(value: object) -> str:
    match value:
        case bool():
            return str(value).lower()
        case str():
            return "a text"
        case int():
            return "a whole number"
        case float():
            return "a number"
        case list():
            return "a list"
        case dict():
            return "a table"
        case _:
            return "a date or time"


def _key_in_words(path: KeyPath) -> str:
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return repr(text)


def _description(kind: types.Type) -> str:
    schema = kind.extra_json_schema if isinstance(kind, types.Metadata) else None
    return str((schema or {}).get("description", type_in_words(kind)))
