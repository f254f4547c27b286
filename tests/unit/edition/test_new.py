"""`new_edition`: files that can be opened at once, and nothing overwritten."""

from __future__ import annotations

import io
from pathlib import Path

import chess.pgn
import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.base import InputError, UsageError
from variorum.edition import load_edition, new_edition

ROOTS = [
    "panov: 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4",
    "1.d4 d5 2.c4 e6",
    "bare: 4k3/8/8/8/8/8/4P3/4K3 b - - 0 30",
]


def test_a_new_edition_opens_without_a_fault(tmp_path: Path) -> None:
    made = new_edition(tmp_path / "deep" / "e", ' Isolated  "queen\'s" pawn \\ ', ROOTS, "both")
    edition, faults = load_edition(tmp_path / "deep" / "e")
    assert not faults and edition == made
    assert edition is not None
    assert edition.title == 'Isolated "queen\'s" pawn \\'
    assert [root.name for root in edition.roots] == ["panov", "root 2", "bare"]
    assert (tmp_path / "deep" / "e" / ".gitignore").read_text().splitlines()[1:] == [".variorum/", "out/"]
    assert (tmp_path / "deep" / "e" / "sources").is_dir()


def test_the_manuscript_is_read_by_others(tmp_path: Path) -> None:
    """The independent reader `chess.pgn` finds a game for each root that ends in it."""
    edition = new_edition(tmp_path, "A title", ROOTS, "white")  # `chess` leaves \\" in tags as it is
    text = io.StringIO((tmp_path / "manuscript.pgn").read_text(encoding="utf-8"))
    for root in edition.roots:
        game = chess.pgn.read_game(text)
        assert game is not None and not game.errors
        assert game.headers["Event"] == "A title" and game.headers["White"] == root.name
        assert game.end().board().epd() == root.position.epd
    assert chess.pgn.read_game(text) is None


def test_the_texts(tmp_path: Path, snapshot: object) -> None:
    new_edition(tmp_path, "Isolated queen's pawn", ROOTS, "white")
    names = ["edition.toml", "manuscript.pgn", "digest.md", "sources/README.txt", ".gitignore"]
    parts = [f"==> {name}\n{(tmp_path / name).read_text(encoding='utf-8')}" for name in names]
    snapshot("\n".join(parts))  # type: ignore[operator]


@pytest.mark.parametrize("there", ["edition.toml", "manuscript.pgn", "digest.md", ".gitignore"])
def test_nothing_is_overwritten(tmp_path: Path, there: str) -> None:
    (tmp_path / there).write_text("mine")
    with pytest.raises(InputError, match="nothing is overwritten"):
        new_edition(tmp_path, "a", ROOTS, "white")
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {there: "mine"}


def test_what_cannot_be_finished_is_taken_back(tmp_path: Path) -> None:
    (tmp_path / "sources").write_text("a file where a folder must be")
    with pytest.raises(OSError):
        new_edition(tmp_path, "a", ROOTS, "white")
    assert [path.name for path in tmp_path.iterdir()] == ["sources"]


@pytest.mark.parametrize(
    ("title", "roots", "kind", "words"),
    [
        (" ", ROOTS, UsageError, "the title is empty"),
        ("a", [], UsageError, "needs a root"),
        ("a", ["1.e4 e5 2.Nf6"], InputError, "at ply 3, 'Nf6' is illegal"),
        ("a", ["x: 1.e4", "X: 1.d4"], InputError, "is given to two roots"),
        ("a", ["e4: 1.e4"], InputError, "begins like a move"),
        ("a" * 201, ROOTS, InputError, "must have 1 to 200 characters"),
    ],
)
def test_what_makes_no_edition(
    tmp_path: Path, title: str, roots: list[str], kind: type[Exception], words: str
) -> None:
    with pytest.raises(kind, match=words):
        new_edition(tmp_path / "e", title, roots, "white")
    assert not (tmp_path / "e").exists()


@given(st.text(max_size=40), st.text(max_size=20))
def test_any_title_and_name(tmp_path_factory: pytest.TempPathFactory, title: str, name: str) -> None:
    folder = tmp_path_factory.mktemp("new") / "e"
    try:
        made = new_edition(folder, title, [f"{name}: 1.e4 c6"], "black")
    except (InputError, UsageError):
        assert not folder.exists()
        return
    assert load_edition(folder) == (made, [])
