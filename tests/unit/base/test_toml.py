"""The scanner of places against `tomllib`, the judge of the syntax, on ugly and on generated files."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from variorum.base.toml import KeyPath, read_toml

UGLY = r'''
# comment with "quotes" and [brackets]
plain = 1 # after
"quoted # key" = 'lit # eral'
'' = "empty key"
dotted . "a b".c = true
text = """
three " two "" quotes \" and \\ """
glued = """a"""""
literal = \'\'\'
raw \ ' '' text\'\'\'
glued_literal = \'\'\'b\'\'\'\'\'
empty = ""
date = 1979-05-27 07:32:00Z # with a space in it
array = [ 1, [ 2, { x = 3, y.z = [ ] } ], # comment ] in array
  "a,]b",
]
inline = { a = "}", b = { c = [1,2] } }
[ table . sub ]
k="v"
[[many]]
a = 1
[many.below]
b = 2
[[many.deep]]
c = 3
[[many.deep]]
c = 4
[[many]]
a = 5
[[many.deep]]
c = 6
[table."other one"]
x.y = [{p = 1}, {p = 2}]
'''.replace(r"\'\'\'", "'''").replace(r"\'\'", "''")


def paths_of(data: Any, path: KeyPath = ()) -> dict[KeyPath, Any]:
    """Every way through the data, with the value at its end."""
    found: dict[KeyPath, Any] = {path: data} if path else {}
    pairs = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in pairs:
        found |= paths_of(value, (*path, key))
    return found


def check_places(text: str) -> None:
    """The scanner finds the same ways as `tomllib`, and at each place stands that key or that value, from end to end."""
    toml, faults = read_toml(Path("a.toml"), text.encode())
    assert toml is not None and not faults
    expected = paths_of(tomllib.loads(text))
    assert set(toml.values) == set(expected)
    for path, value in expected.items():
        if path in toml.ends and toml.values[path] > toml.keys.get(path, len(text)):
            written = toml.text[toml.values[path] : toml.ends[path]]
            assert tomllib.loads(f"v = {written}\n")["v"] == value
            assert written == written.strip()
        elif not isinstance(value, dict | list):
            assert path not in toml.keys  # an item of a list
        if isinstance(path[-1], str):
            assert _key_at(toml.text[toml.keys[path] :]) == path[-1]


def _key_at(rest: str) -> str:
    for end in range(1, len(rest) + 1):
        following = rest[end : end + 1]
        if (following and following in " .=]\t") or end == len(rest):
            try:
                return str(next(iter(tomllib.loads(f"{rest[:end]} = 1"))))
            except tomllib.TOMLDecodeError:
                continue
    raise AssertionError(rest)


def test_ugly_file() -> None:
    check_places(UGLY)


def test_line_and_column_are_those_of_the_file() -> None:
    toml, _ = read_toml(Path("a.toml"), "\ufeff# é\r\na = 1\r\n  b.c = 'x'\r\n".encode())
    assert toml is not None
    assert toml.place(("a",)) == (2, 5)
    assert toml.place(("b", "c"), of="key") == (3, 5)
    assert toml.place(("b", "absent")) == (3, 3)  # the nearest table around it
    assert toml.place(("absent",)) == (1, 1)


scalars = (
    st.integers(-(2**63), 2**63 - 1)
    | st.floats(allow_nan=False)
    | st.booleans()
    | st.text(st.characters(codec="utf-8", exclude_characters="\x7f"), max_size=12)
    | st.dates()
)
tables = st.recursive(
    st.dictionaries(
        st.text(st.characters(codec="utf-8", exclude_characters="\x7f"), max_size=6), scalars, max_size=4
    ),
    lambda inner: st.dictionaries(
        st.text("abc.\"' #", min_size=1, max_size=4),
        scalars | inner | st.lists(scalars, max_size=3) | st.lists(inner, max_size=3),
        max_size=4,
    ),
    max_leaves=12,
)


@given(tables)
def test_generated_files(data: dict[str, Any]) -> None:
    text = tomlkit.dumps(data)
    try:
        read = tomllib.loads(text)
    except tomllib.TOMLDecodeError:  # what tomlkit writes is not always valid: not our matter
        return
    toml, faults = read_toml(Path("a.toml"), text.encode())
    assert toml is not None and not faults
    assert set(toml.values) == set(paths_of(read))


@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_any_bytes_give_a_text_or_one_fault_with_a_place(source: bytes) -> None:
    toml, faults = read_toml(Path("a.toml"), source)
    if toml is None:
        (fault,) = faults
        lines = source.decode("utf-8", errors="replace").replace("\r\n", "\n").split("\n")
        assert fault.line is not None and fault.column is not None
        assert 1 <= fault.line <= len(lines)
        assert 1 <= fault.column <= len(lines[fault.line - 1]) + 1
    else:
        assert not faults


@pytest.mark.parametrize(
    ("source", "code", "place"),
    [
        (b"a = 1\nb = = 2\n", "toml-syntax", (2, 5)),
        (b"a = 1\na = 2\n", "toml-syntax", (2, 6)),
        (b"a = [1, 2", "toml-syntax", (1, 10)),
        (b"a = '\xe9'\n", "toml-not-utf8", (1, 6)),
        (b"a = " + b"[" * 5000 + b"]" * 5000, "toml-syntax", (1, 1)),
        (b"a = " + b"9" * 5000, "toml-syntax", (1, 1)),
        (b"#" * 1_000_001, "toml-too-large", (1, 1)),
        (b"\0" * 100, "toml-syntax", (1, 1)),
    ],
)
def test_unreadable(source: bytes, code: str, place: tuple[int, int]) -> None:
    toml, (fault,) = read_toml(Path("a.toml"), source)
    assert toml is None
    assert (fault.code, (fault.line, fault.column)) == (code, place)
