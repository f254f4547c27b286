from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from variorum.cli import main

SISTER = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3 Nc6 7.Bd3 Be7 8.O-O cxd4 9.exd4 O-O"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "edition.toml").write_text(
        'title = "The isolated queen\'s pawn"\nside = "white"\n[roots]\npanov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"\n'
        '[names]\niqp = "panov Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O"\n',
        encoding="utf-8",
    )
    return tmp_path


def test_one_line(folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]) -> None:
    assert main(["tempo", str(folder), "iqp", "10.Re1", "Bf6", "11.Be4", "Nce7", "12.Bd3", "Nc6"]) == 0
    snapshot(capsys.readouterr().out)


def test_two_lines(folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]) -> None:
    assert main(["tempo", str(folder), "iqp", "--against", SISTER]) == 0
    snapshot(capsys.readouterr().out)


def test_a_tempo_down(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    here = "1.d4 d5 2.c4 e6 3.Nf3 Nf6 4.e3 c5 5.Bd3 dxc4 6.Bxc4"
    there = "1.d4 d5 2.c4 dxc4 3.Nf3 Nf6 4.e3 e6 5.Bxc4 c5"
    assert main(["tempo", str(folder), here, "--against", there]) == 0
    snapshot(capsys.readouterr().out)


def test_json(folder: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["tempo", str(folder), "1.e4 d5 2.exd5 Qxd5 3.Nc3 Qd8"])
    assert report["here"]["black"]["lost"] == 2
    assert report["there"] is None
    report = check_json(["tempo", str(folder), "iqp", "--against", SISTER])
    assert report["comparison"]["ends"] == "position"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["1.e4 c6", "--against", "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1 e4"], "different positions"),
        (["4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"], "a position alone"),
        (["start"], "a position alone"),
        ([], "PLACE is missing"),
        (["1.e4 e4"], "ply 2"),
        (["nowhere"], "no place is called"),
    ],
)
def test_mistakes(folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str) -> None:
    assert main(["tempo", str(folder), *arguments]) == 2
    assert said in capsys.readouterr().err
