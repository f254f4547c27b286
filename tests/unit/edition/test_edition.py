"""Opening an edition: every fault has its code, line and column; nothing is run or written; never a traceback."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.base import InputError, Severity
from variorum.base.codes import CODES
from variorum.base.settings import UserSettings
from variorum.edition import Edition, SourceRule, find_edition, load_edition, read_edition

HEAD = 'title = "IQP"\nside = "white"\n'
ROOT = 'panov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"\n'
GOOD = f"{HEAD}[roots]\n{ROOT}"

FAULTS = [
    ("x" * 1_000_001, "toml-too-large", 1, 1, "larger than 1,000,000 bytes"),
    ("title = 'a\udce9'\n", "toml-not-utf8", 1, 11, "0xe9"),
    ('title = "a"\nside == "white"\n', "toml-syntax", 2, 7, ""),
    (f"{HEAD}titel = 1\n[roots]\n{ROOT}", "unknown-key", 3, 1, "did you mean 'title'?"),
    (f"{GOOD}[budget]\nnodes_per_verdct = 1\n", "unknown-key", 6, 1, "did you mean 'nodes_per_verdict'?"),
    (f'side = "white"\n[roots]\n{ROOT}', "missing-key", 1, 1, "needs 'title'"),
    (f"title = 1\nside = 'white'\n[roots]\n{ROOT}", "wrong-type", 1, 9, "must be a text, not a whole number"),
    (f"title = 'a'\nside = 'whit'\n[roots]\n{ROOT}", "bad-value", 2, 8, 'did you mean "white"?'),
    (f"{GOOD}[budget]\nlines = 0\n", "bad-value", 6, 9, "from 1 to 20, not 0"),
    (f"{GOOD}[bands]\nslight = 70\n", "bad-value", 5, 2, "bands must rise"),
    (f"{GOOD}[thresholds]\npoor = nan\n", "bad-value", 6, 8, "from 0 to 100, not nan"),
    (
        f"{GOOD}[[sources]]\npath = 'a'\nsince = 2020-01-02\nuntil = 2020-01-01\n",
        "bad-value",
        5,
        3,
        "since must not be later than until",
    ),
    (f"{HEAD}[roots]\n", "no-root", 3, 2, "for instance"),
    (f"{GOOD}e4 = '1.e4'\n", "bad-name", 5, 1, "begins like a move"),
    (f"{GOOD}' a' = '1.e4'\n", "bad-name", 5, 1, "begins or ends with a space"),
    (f"{GOOD}bad = '1.e4 c6 2.d4 d5 3.Nf6'\n", "bad-place", 5, 7, "at ply 5, 'Nf6' is illegal"),
    (f"{GOOD}bad = '1.d4 d5 2.Nc3 Nc6 3.Nf3 Nf6 4.Nd2 Ng8 5.Nd'\n", "bad-place", 5, 7, "at ply 9"),
    (f"{GOOD}bad = '8/8/8/8/8/8/8/8 w - - 0 1'\n", "bad-place", 5, 7, "a king is missing"),
    (f"{GOOD}bad = 'panof 4...Nf6'\n", "bad-place", 5, 7, "did you mean 'panov'?"),
    (f"{GOOD}[names]\n'Panov' = 'panov Nf6'\n", "duplicate-name", 6, 1, "is 'panov' again"),
    (f"{GOOD}other = 'panov'\n", "same-place", 5, 1, "the same position as 'panov'"),
    (f"{GOOD}[names]\nearly = '1.e4'\n", "out-of-reach", 6, 9, "White has 16 units there and 15"),
    (f"{GOOD}[private]\nnames = ['x', 'panovv']\n", "unknown-name", 6, 15, "did you mean 'panov'?"),
    (f"{GOOD}[sigla]\nresident = 'RES'\n", "bad-siglum", 6, 12, "one or two letters"),
    (
        f"{GOOD}[sigla]\nresident = 'R'\nother = 'R'\n",
        "duplicate-siglum",
        7,
        9,
        "of 'resident' and of 'other'",
    ),
    (f"{GOOD}[[sources]]\npath = '../x'\n", "bad-path", 6, 8, "leads out of"),
    (f"{GOOD}[[sources]]\npath = 'C:/x'\n", "bad-path", 6, 8, "not relative"),
    (f"{GOOD}[[sources]]\npath = 'a\\b'\n", "bad-path", 6, 8, "write '/'"),
    (f"{GOOD}[[sources]]\npath = 'a'\nkind = 'engine'\n", "missing-voice", 5, 3, "need a voice"),
    (f"{GOOD}[[sources]]\npath = 'a'\nscore_comment = '('\n", "bad-pattern", 7, 17, "unclosed group"),
]


def opened(text: str) -> Edition:
    edition, faults = read_edition(Path("edition.toml"), text.encode())
    assert edition is not None and not faults, faults
    return edition


@pytest.mark.parametrize(("text", "code", "line", "column", "words"), FAULTS)
def test_each_fault_has_its_place(text: str, code: str, line: int, column: int, words: str) -> None:
    _, faults = read_edition(Path("edition.toml"), text.encode("utf-8", "surrogateescape"))
    found = {(fault.code, fault.line, fault.column): str(fault) for fault in faults}
    assert (code, line, column) in found, found
    assert words in found[code, line, column]
    assert found[code, line, column].startswith(f"edition.toml:{line}:{column}: {code} ")


def test_every_listed_code_is_tested() -> None:
    tested = {code for _, code, *_ in FAULTS}
    listed = {code for file, codes in CODES.items() if "edition.toml" in file for code in codes}
    assert tested == listed


def test_all_faults_are_told_at_once_and_the_rest_stands() -> None:
    text = f"{HEAD}sort = 1\n[roots]\n{ROOT}bad = '1.e5'\n[budget]\nlines = 'x'\ntotal_nodes = 7\n"
    edition, faults = read_edition(Path("edition.toml"), text.encode())
    assert [(fault.code, fault.line) for fault in faults] == [
        ("unknown-key", 3),
        ("bad-place", 6),
        ("wrong-type", 8),
    ]
    assert edition is not None
    assert [root.name for root in edition.roots] == ["panov"]
    assert (edition.settings.budget.lines, edition.settings.budget.total_nodes) == (3, 7)


def test_warnings_leave_the_places_in() -> None:
    edition, (fault,) = read_edition(Path("edition.toml"), f"{GOOD}[names]\nearly = '1.e4'\n".encode())
    assert fault.severity is Severity.WARNING
    assert edition is not None and list(edition.names) == ["early"]


def test_defaults_are_those_of_the_methods() -> None:
    """methods.md 2 (bands) and 13, 10 (signs on moves, only move)."""
    settings = opened(GOOD).settings
    assert (settings.bands.slight, settings.bands.clear, settings.bands.winning) == (58, 70, 90)
    limits = settings.thresholds
    assert (limits.questionable, limits.poor, limits.very_poor) == (6, 12, 30)
    assert (limits.only_move, limits.hold_from, limits.hold_lost) == (18, 35, 27)
    assert (limits.win_from, limits.win_lost, limits.better) == (90, 80, 3)
    assert settings.words.novelty == "N"


def test_names_go_on_from_names_before_them() -> None:
    """Three orders to one position: the demonstration's isolated queen's pawn."""
    edition = opened(
        f"{GOOD}semi = '1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5'\n[names]\n"
        "iqp = 'PANOV 4...Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O'\n"
        "main = 'iqp 10.Re1'\n"
    )
    other = "semi 6.e3 Nc6 7.Bd3 cxd4 8.exd4 Be7 9.O-O O-O 10.Re1"
    text = f"{GOOD}semi = '1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5'\n[names]\nother = '{other}'\n"
    assert opened(text).names["other"].position == edition.names["main"].position
    line = edition.names["main"].line
    assert line is not None and len(line) == 19


def test_source_rules(tmp_path: Path) -> None:
    edition = opened(
        f"{GOOD}[[sources]]\npath = 'sources/engine/*'\nkind = 'engine'\nvoice = 'e'\n"
        "[[sources]]\npath = 'sources/*'\nmin_rating = 2300\n"
    )
    assert edition.rule_for(edition.path / "sources" / "engine" / "deep" / "a.pgn.zst").kind == "engine"
    assert edition.rule_for(edition.path / "sources" / "a.pgn").min_rating == 2300
    assert edition.rule_for(tmp_path / "sources" / "a.pgn") == SourceRule(path="*")


def make(folder: Path, text: str = GOOD) -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "edition.toml").write_text(text, encoding="utf-8")
    return folder


def test_loading_changes_nothing_and_reads_one_file(tmp_path: Path) -> None:
    folder = make(tmp_path / "an edition ü")
    (folder / "sitecustomize.py").write_text("raise SystemExit")
    before = sorted(folder.iterdir())
    for path in (folder, folder / "edition.toml"):
        edition, faults = load_edition(path)
        assert edition is not None and not faults
        assert edition.path == folder
    assert sorted(folder.iterdir()) == before


def test_there_is_no_edition(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "no", tmp_path / "no" / "edition.toml"):
        with pytest.raises(InputError, match="no such edition"):
            load_edition(path)


def test_find_edition(tmp_path: Path) -> None:
    folder = make(tmp_path / "e")
    deep = folder / "sources" / "deep"
    deep.mkdir(parents=True)
    assert find_edition(deep) == folder
    with pytest.raises(InputError, match=r"no edition\.toml in this folder or above"):
        find_edition(tmp_path)


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_writing_never_leaves_the_folder(tmp_path: Path) -> None:
    """An edition of somebody else may hold links that lead out of it."""
    folder = make(tmp_path / "e")
    outside = tmp_path / "outside"
    outside.mkdir()
    (folder / "out").symlink_to(outside, target_is_directory=True)
    (folder / ".variorum").symlink_to(outside, target_is_directory=True)
    (folder / "verdicts").mkdir()
    (folder / "verdicts" / "resident.epd").symlink_to(outside / "x.epd")
    edition, _ = load_edition(folder)
    assert edition is not None
    for parts in (("out", "digest.html"), ("verdicts", "resident.epd"), ("..", "x"), (os.sep, "x")):
        with pytest.raises(InputError, match="leads out of the edition"):
            edition.place_to_write(*parts)
    with pytest.raises(InputError, match="leads out of the edition"):
        edition.store_folder(UserSettings())
    assert edition.place_to_write("verdicts", "new.epd") == folder / "verdicts" / "new.epd"


def test_where_the_store_lies(tmp_path: Path, own_settings: Path) -> None:
    edition, _ = load_edition(make(tmp_path / "a b"))
    other, _ = load_edition(make(tmp_path / "c", f'store = "edition"\n{GOOD}'))
    assert edition is not None and other is not None
    assert edition.store_folder(UserSettings()) == edition.path / ".variorum"
    cached = edition.store_folder(UserSettings(store="cache"))
    assert cached.parent == own_settings / "cache" / "stores" and cached.name.startswith("a-b-")
    assert other.store_folder(UserSettings(store="cache")) == other.path / ".variorum"


pieces_of_text = st.sampled_from(
    [
        "title",
        "side",
        "=",
        '"white"',
        "[roots]",
        "[[sources]]",
        "{",
        "}",
        "[",
        "]",
        ",",
        "'1.e4'",
        "path",
        "\\",
        "[names]",
        "a",
        ".",
        "1",
        "nan",
        "2020-01-01",
        "true",
        "'''",
        "#",
        "kind",
        "[bands]",
        "slight",
        "é",
        "\n",
        "\r\n",
        "\0",
    ]
)


@given(st.lists(pieces_of_text, max_size=30).map(" ".join))
def test_any_text_is_answered(text: str) -> None:
    edition, faults = read_edition(Path("edition.toml"), (HEAD + text).encode())
    assert edition is not None or faults
    for fault in faults:
        assert fault.line is not None and fault.column is not None
        assert fault.code in {code for codes in CODES.values() for code in codes}


values = st.recursive(
    st.none().map(lambda _: "''")
    | st.integers().map(str)
    | st.sampled_from(["nan", "inf", "true", "2020-01-01", "12:00:00", "'engine'", "'1.e4'", "''", "'('"]),
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]")
        | st.lists(inner, min_size=1, max_size=2).map(
            lambda items: "{" + ", ".join(f"k{number} = {item}" for number, item in enumerate(items)) + "}"
        )
    ),
    max_leaves=5,
)
keys = st.sampled_from(
    [
        "title",
        "side",
        "store",
        "roots",
        "names",
        "private",
        "words",
        "sigla",
        "sources",
        "budget",
        "bands",
        "thresholds",
        "roots.a",
        "names.b",
        "sources.path",
        "budget.lines",
        "bands.slight",
        "private.names",
        "private.nags",
        "words.novelty",
        "thresholds.poor",
    ]
)


@given(st.dictionaries(keys, values, max_size=6))
def test_any_value_under_any_key_is_answered(pairs: dict[str, str]) -> None:
    text = "".join(f"{key} = {value}\n" for key, value in pairs.items())
    edition, faults = read_edition(Path("edition.toml"), text.encode())
    assert edition is not None or faults
