"""`variorum drift` as it is printed, and as JSON."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.invented_build import ROOT, make_edition
from tests.invented_verdicts import said
from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts

NEWS = f"""[Event "Invented"]
[White "Cedar, C."]
[Black "Dogwood, D."]
[Date "2021.09.01"]
[Result "0-1"]

{ROOT} Nf6 5. Nc3 g6 6. cxd5 Bg7 0-1
"""


@pytest.fixture
def folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    folder = make_edition(tmp_path / "panov")
    build = ["build", str(folder), "--total-nodes", "1"]
    main_line = f"{ROOT} Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5"
    append_verdicts(folder / "verdicts" / "owl.epd", [said("owl", main_line, ("8.Bd3", 900), ("8.Bc4", 880))])
    assert main(build) == 0
    capsys.readouterr()
    assert main(["drift", str(folder)]) == 0
    assert "has no other build to be compared with" in capsys.readouterr().out
    deeper = said("owl", main_line, ("8.Bc4", 0), ("8.Bd3", -90), nodes=1_048_576)
    append_verdicts(folder / "verdicts" / "owl.epd", [deeper])
    (folder / "sources" / "new.pgn").write_text(NEWS)
    assert main(build) == 0
    assert "For you alone" in capsys.readouterr().out
    return folder


def test_what_changed_is_told_in_order(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    (folder / "digest.md").write_text((folder / "digest.md").read_text() + "\nMore.\n")
    assert main(["drift", str(folder)]) == 0
    snapshot(capsys.readouterr().out)


def test_json_and_since(folder: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["drift", str(folder), "--since", "1"])
    assert [claim["matter"] for claim in report["claims"]] == ["contradicted now"]
    assert report["news"]["moves"][0]["move"] == "5...g6"
    same = check_json(["drift", str(folder), "--since", "2"])
    assert (same["before"], same["now"], same["claims"]) == (2, 2, [])


def test_a_wrong_call_is_said(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    assert main(["drift", str(folder), "--since", "spring"]) == 2
    assert "neither the number of a build nor a date" in capsys.readouterr().err
