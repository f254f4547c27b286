"""`variorum scout`: what it prints of verdicts that are there, and calls that make no sense."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.invented_build import make_edition
from variorum.board import Line, Score, Verdict, VerdictLine
from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts, verdict_path

START = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3"
SAID: dict[str, dict[str, int]] = {
    "": {"Be7": 30, "Bb4": 38, "Nc6": 60},
    " Be7": {"cxd5": 30, "Bd3": 22, "c5": 15},
    " Be7 7.cxd5": {"Nxd5": 30, "exd5": 55},
    " Be7 7.cxd5 Nxd5": {"Bd3": 30, "Bc4": 28},
    " Be7 7.Bd3": {"dxc4": 22, "O-O": 30},
    " Be7 7.cxd5 Nxd5 8.Bc4": {"Nc6": 28},
    " Bb4": {"cxd5": 38, "Bd3": 35},
    " Bb4 7.Bd3": {"dxc4": 35},
}
"""Centipawns for White by position and move; invented."""
CALL = ["panov Nf6 5.Nc3 e6 6.Nf3", "--nodes", "1000", "--total-nodes", "999", "--plies", "4"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = make_edition(tmp_path / "panov")
    verdicts = []
    for moves, scores in SAID.items():
        position = Line.parse(START + moves).end
        lines = tuple(VerdictLine((position.parse(san).uci,), Score.of_cp(cp)) for san, cp in scores.items())
        verdicts.append(
            Verdict(
                key=position.key,
                epd=position.epd,
                voice="resident",
                version="0",
                lines=lines,
                multipv=3,
                nodes=1_000,
                depth=8,
            )
        )
    (folder / "verdicts").mkdir()
    append_verdicts(verdict_path(folder / "verdicts", "resident"), verdicts)
    return folder


def test_a_skeleton_as_text(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    assert main(["scout", str(folder), *CALL]) == 0
    captured = capsys.readouterr()
    assert captured.err == ""
    snapshot(captured.out)


def test_json(folder: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["scout", str(folder), *CALL])
    assert (report["positions"], report["asked"]) == (8, 0)
    assert report["main"] == "6...Be7 7.cxd5 Nxd5 8.Bd3"
    assert [branch["instead"] for branch in report["branches"]] == ["6...Be7", "7.cxd5", "8.Bd3"]
    shorter = check_json(["scout", str(folder), *CALL, "--most", "1"])
    assert (len(shorter["branches"]), shorter["hidden"]) == (1, 2)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--minutes", "1", "--total-nodes", "5"], "not in both"),
        (["--minutes", "0"], "cannot be"),
        (["--minutes", "inf"], "cannot be inf minutes"),
        (["--total-nodes", "0"], "cannot be"),
        (["--voice", "nobody"], "no voice 'nobody'"),
        (["--nodes", "0"], "--nodes"),
    ],
)
def test_calls_that_make_no_sense(
    folder: Path, capsys: pytest.CaptureFixture[str], more: list[str], told: str
) -> None:
    assert main(["scout", str(folder), "main", *more]) == 2
    assert told in capsys.readouterr().err
