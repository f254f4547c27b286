"""`variorum verdicts …`: out of one edition, into another."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from variorum.cli import main

RECORD = "rnbqkbnr/pp2pppp/8/3p4/2PP4/8/PP3PPP/RNBQKBNR b KQkq - acd 20; acn 5000; bm Nf6; ce -25;"


@pytest.fixture
def editions(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> tuple[str, str]:
    for name in ("mine", "yours"):
        root = ["--root", "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"]
        assert main(["new", str(tmp_path / name), "--title", name, "--side", "white", *root]) == 0
    capsys.readouterr()
    return str(tmp_path / "mine"), str(tmp_path / "yours")


def test_there_and_back(editions: tuple[str, str], tmp_path: Path, check_json: Callable[..., Any]) -> None:
    mine, yours = editions
    (tmp_path / "friend.epd").write_text(RECORD + "\n")
    taken = check_json(["verdicts", "import", mine, str(tmp_path / "friend.epd")])
    assert (taken["verdicts"], taken["new"], taken["voices"]) == (1, 1, ["friend"])
    out = str(tmp_path / "out.epd")
    place = ["--at", "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4", "--voice", "friend"]
    assert check_json(["verdicts", "export", mine, out, *place])["verdicts"] == 1
    assert check_json(["verdicts", "import", yours, out, "--voice", "a friend"])["voices"] == ["a friend"]
    assert check_json(["verdicts", "import", yours, out, "--voice", "a friend"])["new"] == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["import"], "one FILE is needed"),
        (["import", "no.epd"], "no.epd: the verdicts cannot be read: No such file"),
        (["import", "bad.epd"], "bad.epd:1: not a verdict: 'Nf5' is illegal"),
        (["export", "out.epd"], "there are no verdicts to write"),
        (["export", "out.epd", "--at", "nowhere"], "nowhere"),
    ],
)
def test_mistakes(
    editions: tuple[str, str],
    arguments: list[str],
    said: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "bad.epd").write_text(RECORD.replace("Nf6", "Nf5"))
    monkeypatch.chdir(tmp_path)
    command, *rest = arguments
    assert main(["verdicts", command, editions[0], *rest]) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out.epd").exists()
    assert not list((tmp_path / "mine" / "verdicts").glob("*.epd"))
