"""`variorum voices …`: programs are added, tried and taken out."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.invented_build import make_edition
from tests.resident_program import resident_program
from variorum.base.settings import HOME_VARIABLE, settings_path
from variorum.board import Position
from variorum.cli import main
from variorum.edition import load_edition
from variorum.voices.verdict_files import read_verdicts

FAKE = str(Path(__file__).parents[2] / "fake_engine.py")


@pytest.fixture(autouse=True)
def _home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path))


def add(*more: str, manner: str = "well") -> list[str]:
    return ["voices", "add", "analyst", *more, sys.executable, "--", FAKE, manner]


def test_add_list_test_remove(check_json: Callable[..., Any]) -> None:
    added = check_json_add(check_json)
    assert (added["name"], added["siglum"], added["options"]) == ("analyst", "A", {"Style": "wild"})
    listed = check_json(["voices", "list"])["voices"]
    assert [voice["name"] for voice in listed] == ["resident", "analyst"]
    tried = check_json(["voices", "test", "analyst"], code=1)
    assert tried["version"] == "Fake 7"
    assert [question["sound"] for question in tried["questions"]] == [False, False, False, True]
    assert [option["name"] for option in tried["options"]] == ["MultiPV", "Threads", "Style", "UCI_Chess960"]
    assert check_json(["voices", "remove", "analyst"])["name"] == "analyst"
    assert len(check_json(["voices", "list"])["voices"]) == 1


def check_json_add(check_json: Callable[..., Any]) -> Any:
    """`--json` must stand before the program's own arguments."""
    return check_json(["voices", "add", "--option", "Style=wild", "analyst", sys.executable, FAKE, "well"])


def test_the_resident_makes_sense(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["voices", "test", "--seconds", "0.2"]) == 0
    text = capsys.readouterr().out
    assert "NOT SOUND" not in text
    assert "1.Ra8#" in text


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["voices", "add", "analyst", "/no/such/program"], "/no/such/program: there is no such program"),
        (add("--option", "Stile=wild"), "analyst has no option 'Stile'\n  did you mean 'Style'?"),
        (add("--option", "Style"), "'Style' is no option"),
        (["voices", "add", "analyst", sys.executable, "--", "-c", "pass"], "is no UCI program"),
        (["voices", "test", "nobody"], "there is no voice 'nobody'"),
        (["voices", "remove", "resident"], "the resident belongs to Variorum"),
    ],
)
def test_mistakes_change_nothing(arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments) == 2
    assert said in capsys.readouterr().err
    assert not settings_path().exists()


def test_an_outside_program_is_added_and_consulted(
    check_json: Callable[..., Any], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The resident's own program as anybody's UCI program: at the same nodes it says what the resident says."""
    folder = make_edition(tmp_path / "panov")
    assert main(["voices", "add", "house", "--option", "Hash=64", resident_program()]) == 0
    assert "house (Variorum resident " in capsys.readouterr().out
    assert main(["voices", "test", "house", "--seconds", "0.2"]) == 0
    assert "NOT SOUND" not in capsys.readouterr().out
    asked = ["consult", str(folder), "--at", "panov", "--nodes", "3000", "--multipv", "2"]
    report = check_json([*asked, "--voice", "house", "--voice", "resident"])
    assert (report["asked"], report["failed"]) == (2, [])
    position = load_edition(folder)[0].places["panov"].position
    said = {}
    for name in ("house", "resident"):
        (verdict,) = read_verdicts(folder / "verdicts" / f"{name}.epd").verdicts
        assert verdict.asked == 3000
        said[name] = [(line.moves[0], line.score.cp) for line in verdict.lines]
        assert Position.from_fen(verdict.epd) == position
    assert said["house"] == said["resident"]
    assert main(["apparatus", str(folder), "panov"]) == 0
    printed = capsys.readouterr().out
    assert "house" in printed
    assert "resident" in printed
