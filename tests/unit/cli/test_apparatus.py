"""`variorum apparatus`: voices on a position, and where they disagree."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from invented_verdicts import said

from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts

PANOV = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
AFTER = f"{PANOV} Nf6 5.Nc3"


@pytest.fixture
def edition(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    folder = tmp_path / "panov"
    assert main(["new", str(folder), "--title", "Panov", "--side", "white", "--root", PANOV]) == 0
    (folder / "manuscript.pgn").write_text(f'[Event "Panov"]\n\n{AFTER} e6 (5... Nc6) *\n')
    for voice, verdicts in {
        "analyst": [
            said("analyst", PANOV, ("Nf6 Nc3 e6", 30)),
            said("analyst", AFTER, ("e6 Nf3", 25), ("Nc6 Bg5", 60)),
        ],
        "other": [said("other", PANOV, ("Nf6 Nc3 Nc6", 45)), said("other", AFTER, ("Nc6 Bg5", 20))],
    }.items():
        append_verdicts(folder / "verdicts" / f"{voice}.epd", verdicts)
    capsys.readouterr()
    return str(folder)


def test_all_voices_on_a_position(
    edition: str, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    assert main(["apparatus", edition, AFTER]) == 0
    snapshot(capsys.readouterr().out)


def test_disputes_of_the_edition(
    edition: str, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    assert main(["apparatus", edition]) == 0
    snapshot(capsys.readouterr().out)


def test_the_figures(edition: str, check_json: Callable[..., Any]) -> None:
    report = check_json(["apparatus", edition])
    assert (report["shared"], report["disputed"]) == (2, 1)
    (place,) = report["disputes"]
    assert place["line"] == AFTER
    assert place["dispute"]["moves"] == ["e6", "Nc6"]
    assert check_json(["apparatus", edition, PANOV])["disputed"] == 0


def test_nobody_spoke(edition: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["apparatus", edition, f"{AFTER} e6"]) == 0
    assert "No voice has spoken of it yet" in capsys.readouterr().out
    assert main(["apparatus", edition, "nowhere"]) == 2
