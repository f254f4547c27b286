from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from variorum.board import Line, Score, Verdict, VerdictLine
from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts, verdict_path

PANOV = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"
NIMZO = "1.d4 Nf6 2.c4 e6 3.Nc3 Bb4 4.e3 c5 5.Bd3 d5 6.Nf3 O-O 7.O-O cxd4 8.exd4 dxc4 9.Bxc4 Nc6 10.Re1 Be7 11.Bd3"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two openings that end a retreat of the knight apart, with verdicts of an invented voice, and a reversal."""
    (tmp_path / "edition.toml").write_text(
        'title = "The isolated queen\'s pawn"\nside = "white"\n[roots]\npanov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"\n'
        'nimzo = "1.d4 Nf6 2.c4 e6 3.Nc3 Bb4 4.e3"\nenglish = "1.c4"\nsicilian = "1.e4 c5"\n'
        f'[names]\niqp = "{PANOV}"\nother = "{NIMZO}"\n',
        encoding="utf-8",
    )
    (tmp_path / "manuscript.pgn").write_text(
        '[Event "English"]\n\n1. c4 e5 *\n\n[Event "Sicilian"]\n\n1. e4 c5 *\n', encoding="utf-8"
    )
    (tmp_path / "verdicts").mkdir()
    verdicts = []
    for text, cp, move in ((PANOV, 10, "Bf6"), (NIMZO, 160, "b6")):
        position = Line.parse(text).end
        verdicts.append(
            Verdict(
                key=position.key,
                epd=position.epd,
                voice="invented",
                version="1",
                lines=(VerdictLine((position.parse(move).uci,), Score.of_cp(cp)),),
                nodes=300_000,
                depth=14,
            )
        )
    append_verdicts(verdict_path(tmp_path / "verdicts", "invented"), verdicts)
    return tmp_path


def test_the_whole_edition(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    assert main(["nearby", str(folder), "--limit", "3"]) == 0
    snapshot(capsys.readouterr().out)


def test_a_place(folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]) -> None:
    assert main(["nearby", str(folder), "iqp"]) == 0
    snapshot(capsys.readouterr().out)


def test_json(folder: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["nearby", str(folder), "1.c4 e5"])
    assert [(group["twin"], group["unit_count"]) for group in report["groups"]] == [(True, 0)]
    assert report["groups"][0]["pairs"][0]["sentences"][1].endswith("White is a tempo up.")
    assert check_json(["nearby", str(folder)])["near"] >= 1


def test_a_place_that_is_not_on_the_graph(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["nearby", str(folder), "1.f4"]) == 2
    assert "not on the graph" in capsys.readouterr().err


def test_an_edition_with_roots_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "edition.toml").write_text(
        'title = "T"\nside = "both"\n[roots]\nmain = "1.e4 c6"\n', encoding="utf-8"
    )
    assert main(["nearby", str(tmp_path)]) == 0
    assert "0 near pairs and 0 reversed twins in 0 groups." in capsys.readouterr().out
