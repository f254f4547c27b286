"""`variorum diagram`: any position as a picture, from either side."""

from __future__ import annotations

import json
import struct
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from variorum.cli import main

TOML = 'title = "T"\nside = "white"\n[roots]\npanov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"\n'


@pytest.fixture
def edition(tmp_path: Path) -> Path:
    (tmp_path / "edition.toml").write_text(TOML, encoding="utf-8")
    return tmp_path


def draw(edition: Path, *arguments: str) -> int:
    return main(["diagram", str(edition), "panov", *arguments])


def test_an_svg_says_what_it_shows(edition: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = edition / "panov.svg"
    assert draw(edition, "--out", str(file), "--marks", "ring d5; route c4-d5 a!", "--size", "300") == 0
    assert f"Written: {file}" in capsys.readouterr().out
    tree = ET.parse(file).getroot()
    assert tree.get("width") == "300"
    title = tree.find("{http://www.w3.org/2000/svg}title")
    assert title is not None and title.text is not None
    assert title.text.startswith("Black to move. White: king e1, queen d1, rook a1,")
    assert 'class="mk key"' in file.read_text(encoding="utf-8")


def test_a_png_has_the_size_that_was_asked_for(edition: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The signature and the header chunk of PNG (W3C, Portable Network Graphics, sections 5.2 and 11.2.1)."""
    pictures = []
    for side in ("white", "black"):
        file = edition / f"{side}.png"
        assert draw(edition, "--out", str(file), "--side", side, "--size", "320", "--json") == 0
        assert json.loads(capsys.readouterr().out)["side"] == side
        data = file.read_bytes()
        assert data[:8] == b"\x89PNG\r\n\x1a\n"
        width, height = struct.unpack(">II", data[16:24])
        assert width == 320 and 300 < height <= 330
        pictures.append(data)
    assert pictures[0] != pictures[1]


def test_a_picture_that_is_there_is_replaced(edition: Path) -> None:
    file = edition / "x.svg"
    file.write_text("old", encoding="utf-8")
    assert draw(edition, "--out", str(file)) == 0
    assert file.read_text(encoding="utf-8").startswith("<svg")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--out", "x.gif"], "x.gif: a picture is an .svg or a .png file"),
        (["--out", "x.svg", "--size", "10"], "80 to 4096 pixels"),
        (["--out", "x.png", "--size", "10"], "80 to 4096 pixels"),
        (["--out", "x.svg", "--marks", "circle d5"], "'circle' is not a mark"),
        (["--out", "x.svg", "--marks", "route Nc4-d5"], "route Nc4-d5: on c4 stands pawn"),
        (["--out", "no/such/folder/x.svg"], "x.svg"),
    ],
)
def test_what_cannot_be_drawn_is_said(
    edition: Path,
    arguments: list[str],
    said: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(edition)
    assert draw(edition, *arguments) == 2
    assert said in capsys.readouterr().err
    assert sorted(path.name for path in edition.iterdir()) == ["edition.toml"]
