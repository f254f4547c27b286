from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from variorum.board import Line, Score, Verdict, VerdictLine
from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts, verdict_path

EDITION = """\
title = "The isolated queen's pawn"
side = "white"

[roots]
panov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
semi-tarrasch = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5"

[names]
iqp = "panov Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"
far = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.Bd3 Nc6 5.c4"
"""
MANUSCRIPT = """\
[Event "Panov"]

1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 5. Nc3 e6 (5... Nc6 6. Bg5) 6. Nf3 Be7 7. cxd5 Nxd5 8. Bd3 Nc6 9. O-O O-O
10. Re1 *

[Event "Semi-Tarrasch"]

1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. Nf3 c5 5. cxd5 Nxd5 6. e3 Nc6 7. Bd3 cxd4 8. exd4 Be7 9. O-O O-O 10. Re1 Bf6 *
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "edition.toml").write_text(EDITION, encoding="utf-8")
    (tmp_path / "manuscript.pgn").write_text(MANUSCRIPT, encoding="utf-8")
    return tmp_path


def test_the_map_of_a_manuscript(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    tabiya = Line.parse(
        "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"
    ).end
    verdict = Verdict(
        key=tabiya.key,
        epd=tabiya.epd,
        voice="invented",
        version="1",
        lines=(VerdictLine((tabiya.parse("Bf6").uci,), Score.of_cp(30)),),
        nodes=100_000,
        depth=14,
    )
    (folder / "verdicts").mkdir()
    append_verdicts(verdict_path(folder / "verdicts", "invented"), [verdict])
    assert main(["map", str(folder)]) == 0
    captured = capsys.readouterr()
    snapshot(captured.out)


def test_json(folder: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["map", str(folder)])
    assert report["positions"] == 24
    assert [place["on_graph"] for place in report["names"]] == [True, False]
    assert report["confluences"][0]["order_count"] == 2


def test_an_edition_with_roots_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "edition.toml").write_text(
        'title = "T"\nside = "both"\n[roots]\nmain = "1.e4 c6"\n', encoding="utf-8"
    )
    assert main(["map", str(tmp_path)]) == 0
    assert "No two lines meet yet." in capsys.readouterr().out


def test_a_game_that_starts_elsewhere_is_told_with_its_line_and_kept(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = MANUSCRIPT + (
        '\n[Event "Another opening"]\n\n1. c4 e5 *\n'
        '\n[Event "A study"]\n[SetUp "1"]\n[FEN "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"]\n\n1. e4 Kd7 *\n'
    )
    (folder / "manuscript.pgn").write_text(text, encoding="utf-8")
    for command in ("map", "check", "publish"):
        assert main([command, str(folder)]) == 0
        errors = capsys.readouterr().err
        assert "manuscript.pgn:10:1: off-roots game 3 passes no root of the edition" in errors
        assert "manuscript.pgn:14:1: off-roots game 4 passes no root of the edition" in errors
    exported = (folder / "out" / "manuscript.pgn").read_text(encoding="utf-8")
    assert "1. c4" in exported and "1. e4 Kd7" in exported
    assert main(["position", str(folder), "1.c4 e5"]) == 0
    assert "manuscript.pgn:12:7: 1.c4 e5" in capsys.readouterr().out
