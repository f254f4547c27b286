"""`variorum consult`: what it prints, and calls that make no sense."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.invented_build import SETTINGS, Owl, make_edition
from variorum.base import VoiceError
from variorum.board import Request, Verdict
from variorum.cli import main
from variorum.voices import registry


class Stand(Owl):
    """The owl in the resident's place; it has no answer on one position."""

    name = "resident"

    def ask(self, request: Request) -> Verdict:
        if "rnbqkb1r/pp3ppp/4pn2/3p4/2PP4/2N5/PP3PPP" in request.position.epd:
            raise VoiceError("has nothing to say")
        return super().ask(request)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(registry, "Resident", lambda **_: Stand())
    return make_edition(tmp_path / "panov")


def printed(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    capsys.readouterr()
    assert main(["consult", *arguments]) == 0
    captured = capsys.readouterr()
    assert captured.err == ""
    return captured.out


def test_as_text(folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]) -> None:
    file = folder / "edition.toml"
    file.write_text(f'{SETTINGS}voices = ["resident", "analyst"]\n')
    place = str(folder)
    snapshot(printed([place, "--total-nodes", "2000"], capsys), "first")
    snapshot(printed([place, "--dry-run", "--total-nodes", "8000"], capsys), "plan")
    snapshot(printed([place, "--at", "leaves", "--total-nodes", "1000"], capsys), "replaced")
    snapshot(printed([place], capsys), "goes-on")
    snapshot(printed([place, "--at", "panov Nf6 5.Nc3 e6"], capsys), "failed")
    snapshot(printed([place, "--at", "leaves", "--dry-run"], capsys), "nobody")


def test_json(folder: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["consult", str(folder), "--at", "leaves", "--total-nodes", "2000"])
    assert (report["asked"], report["nodes"]) == (2, 2_000)
    plan = check_json(["consult", str(folder), "--dry-run"])["plan"]
    assert [one["reason"] for one in plan] == ["a line of the manuscript ends here"] * len(plan)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--minutes", "1", "--total-nodes", "5"], "not in both"),
        (["--minutes", "0"], "cannot be"),
        (["--minutes", "inf"], "cannot be inf minutes"),
        (["--total-nodes", "0"], "cannot be"),
        (["--voice", "nobody"], "no voice 'nobody'"),
        (["--nodes", "0"], "--nodes"),
        (["--nodes", "5", "--seconds", "1", "--at", "leaves"], "two limits"),
        (["--seconds", "0", "--at", "leaves"], "cannot take"),
        (["--seconds", "1"], "needs --at"),
        (["--depth", "5", "--at", "leaves", "--total-nodes", "100"], "cannot be kept"),
        (["--at", "nowhere"], "no place is called 'nowhere'"),
        (["--at", "1.f3 e5 2.g4 Qh4"], "the game is over there"),
        (["--workers", "0"], "--workers"),
    ],
)
def test_calls_that_make_no_sense(
    folder: Path, capsys: pytest.CaptureFixture[str], more: list[str], told: str
) -> None:
    assert main(["consult", str(folder), *more]) == 2
    assert told in capsys.readouterr().err
    assert not (folder / "verdicts").exists()
