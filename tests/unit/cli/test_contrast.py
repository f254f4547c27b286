from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from variorum.board import Line, Score, Verdict, VerdictLine
from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts, verdict_path

PANOV = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5"
TABIYA = f"{PANOV} 8.Bd3 Nc6 9.O-O O-O 10.Re1"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An edition with verdicts of an invented voice on two places."""
    (tmp_path / "edition.toml").write_text(
        'title = "The isolated queen\'s pawn"\nside = "white"\n[roots]\npanov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"\n'
        f'[names]\niqp = "{TABIYA}"\nquiet = "{TABIYA} 10...Nf6 11.a3 b6"\n'
        f'bishop-c4 = "{PANOV} 8.Bc4 Nc6 9.O-O O-O 10.Re1"\n',
        encoding="utf-8",
    )
    (tmp_path / "verdicts").mkdir()
    verdicts = []
    for text, cp, moves in (
        (TABIYA, 45, ("Bf6", "Nf6")),
        (f"{PANOV} 8.Bc4 Nc6 9.O-O O-O 10.Re1", 20, ("Nxc3", "Bf6")),
    ):
        position = Line.parse(text).end
        verdicts.append(
            Verdict(
                key=position.key,
                epd=position.epd,
                voice="invented",
                version="1",
                lines=tuple(
                    VerdictLine((position.parse(move).uci,), Score.of_cp(cp - rank))
                    for rank, move in enumerate(moves)
                ),
                multipv=2,
                nodes=300_000,
                depth=14,
            )
        )
    append_verdicts(verdict_path(tmp_path / "verdicts", "invented"), verdicts)
    return tmp_path


def test_two_tabiyas(folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]) -> None:
    assert main(["contrast", str(folder), "iqp", "bishop-c4"]) == 0
    snapshot(capsys.readouterr().out)


def test_moves_put_in(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    file = folder / "contrast.svg"
    assert main(["contrast", str(folder), "quiet", "iqp", "--svg", str(file)]) == 0
    snapshot(capsys.readouterr().out)
    svg = file.read_text(encoding="utf-8")
    ElementTree.fromstring(svg)
    assert svg.count('class="mk changed red"') == 3
    assert svg.count('class="mk vacated red"') == 3


def test_reversed(folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]) -> None:
    assert main(["contrast", str(folder), "1.c4 e5 2.Nc3", "1.e4 c5", "--reversed"]) == 0
    snapshot(capsys.readouterr().out)


def test_json(folder: Path, check_json: Callable[..., Any]) -> None:
    found = check_json(["contrast", str(folder), "iqp", "bishop-c4"])
    assert found["unit_count"] == 1
    assert found["voices"][0]["differs"] is False
    found = check_json(["contrast", str(folder), "iqp", "start", "--reversed"])
    assert found["units"] == []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["iqp"], "two places, not 1"),
        (["1.e4", "c5", "1.e4"], "two places, not 3"),
        (["iqp", "nowhere"], "no place is called"),
        (["iqp", "iqp", "--svg", "x.svg"], "nothing to draw: no unit differs"),
        (["iqp", "start", "--svg", "x.svg"], "nothing to draw: 16 units differ"),
        (["iqp", "quiet", "--svg", "no/such/folder/x.svg"], "cannot be written"),
    ],
)
def test_mistakes(folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str) -> None:
    assert main(["contrast", str(folder), *arguments]) == 2
    assert said in capsys.readouterr().err
