"""Changes of edition.toml: only the lines concerned change."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.base import InputError
from variorum.edition import change_setting, load_edition, name_place, new_edition
from variorum.edition.edit import SettingValue, with_setting
from variorum.edition.files import ChangedOutsideError
from variorum.edition.history import History

TEXT = """\
# my edition
title = "IQP"   # kept
side = "white"

[roots]  # where it starts
panov = "1.e4 c6"
# a comment below the last root

[names]

# a comment above the next table
[budget]
lines = 2 # two
"""


@pytest.mark.parametrize(
    ("key_path", "value", "old", "new"),
    [
        (("title",), 'A "b"', '"IQP"', '"A \\"b\\""'),
        (("store",), "cache", 'side = "white"\n', 'side = "white"\nstore = "cache"\n'),
        (("roots", "semi tarrasch"), "1.d4", '"1.e4 c6"\n', '"1.e4 c6"\n"semi tarrasch" = "1.d4"\n'),
        (("names", "a"), "panov 2.d4", "[names]\n", '[names]\na = "panov 2.d4"\n'),
        (("budget", "lines"), 4, "lines = 2", "lines = 4"),
        (("budget", "lines"), None, "lines = 2 # two\n", ""),
        (("title",), None, 'title = "IQP"   # kept\n', ""),
        (("words", "questions"), ["a", "b"], "# two\n", '# two\n\n[words]\nquestions = ["a", "b"]\n'),
        (("absent",), None, "", ""),
    ],
)
@pytest.mark.parametrize("form", ["plain", "windows"])
def test_only_the_lines_concerned_change(
    key_path: tuple[str, ...], value: SettingValue | None, old: str, new: str, form: str
) -> None:
    def written(text: str) -> bytes:
        return text.encode() if form == "plain" else b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()

    assert with_setting(written(TEXT), key_path, value) == written(TEXT.replace(old, new, 1) if old else TEXT)


def test_mixed_line_ends_stay_as_they_are() -> None:
    source = b'a = 1\nb = 2\r\n[t]\nc = "x"\r\nd = 4'
    assert with_setting(source, ("t", "c"), "yy") == b'a = 1\nb = 2\r\n[t]\nc = "yy"\r\nd = 4'
    assert with_setting(source, ("t", "e"), 5) == source + b"\r\ne = 5\r\n"


def test_a_table_in_one_line_is_left_to_the_author() -> None:
    with pytest.raises(InputError, match="written in one line"):
        with_setting(b"names = {}\n", ("names", "a"), "1.e4")


def test_dotted_keys_are_left_to_the_author() -> None:
    with pytest.raises(InputError, match=r"names\.b cannot be changed as the file is written"):
        with_setting(b"names.a = '1.e4'\n", ("names", "b"), "1.d4")
    assert with_setting(b"names.a = '1.e4'\n", ("names", "a"), "1.d4") == b'names.a = "1.d4"\n'


@given(st.text(min_size=1, max_size=8), st.text(max_size=20) | st.integers(-9, 9) | st.booleans())
def test_set_then_taken_out_is_as_before(key: str, value: SettingValue) -> None:
    source = TEXT.encode()
    changed = with_setting(source, ("budget", key), value)
    assert tomllib.loads(changed.decode())["budget"][key] == value
    if key != "lines":
        assert with_setting(changed, ("budget", key), None) == source


def test_naming_a_place(tmp_path: Path) -> None:
    edition = new_edition(tmp_path, "IQP", ["panov: 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"], "white")
    before = (tmp_path / "edition.toml").read_text(encoding="utf-8")
    edition = name_place(edition, "fork", "panov Nf6 5.Nc3")
    edition = name_place(edition, "later", "fork e6")
    after = (tmp_path / "edition.toml").read_text(encoding="utf-8")
    added = '[names]\nfork = "panov Nf6 5.Nc3"\nlater = "fork e6"\n'
    assert after == before.replace("[names]\n", added)
    assert load_edition(tmp_path) == (edition, [])
    edition = change_setting(edition, ("names", "later"), None)
    assert list(edition.names) == ["fork"]
    History(tmp_path / "edition.toml").undo()
    assert (tmp_path / "edition.toml").read_text(encoding="utf-8") == after


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("e4", "1.e4", "begins like a move"),
        ("a", "panov 4...Qd4", "at ply 1, 'Qd4' is illegal"),
        ("PANOV", "1.e4", "is 'panov' again"),
    ],
)
def test_no_change_makes_an_error(tmp_path: Path, name: str, text: str, words: str) -> None:
    edition = new_edition(tmp_path, "IQP", ["panov: 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"], "white")
    before = (tmp_path / "edition.toml").read_bytes()
    with pytest.raises(InputError, match=words):
        name_place(edition, name, text)
    assert (tmp_path / "edition.toml").read_bytes() == before


def test_a_change_outside_is_never_lost(tmp_path: Path) -> None:
    edition = new_edition(tmp_path, "IQP", ["panov: 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"], "white")
    file = tmp_path / "edition.toml"
    file.write_text(file.read_text(encoding="utf-8") + "# mine\n", encoding="utf-8", newline="\n")
    with pytest.raises(ChangedOutsideError):
        name_place(edition, "a", "panov Nf6")
    assert file.read_text(encoding="utf-8").endswith("# mine\n")


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_settings_behind_a_link_out_of_the_folder_are_not_written(tmp_path: Path) -> None:
    real = tmp_path / "real"
    edition = new_edition(real, "IQP", ["panov: 1.e4 c6"], "white")
    other = tmp_path / "other"
    other.mkdir()
    (other / "edition.toml").symlink_to(real / "edition.toml")
    before = (real / "edition.toml").read_bytes()
    linked, _ = load_edition(other)
    assert linked is not None and linked.settings == edition.settings
    with pytest.raises(InputError, match="leads out of the edition"):
        name_place(linked, "a", "panov 2.d4")
    assert (real / "edition.toml").read_bytes() == before
