"""variorum build as an author meets it. The summary is of an invented voice in the resident's place, steady for ever."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.invented_build import Owl, make_edition
from variorum.cli import main
from variorum.voices.resident import RESIDENT


@pytest.fixture
def edition(tmp_path: Path) -> Path:
    return make_edition(tmp_path / "panov")


def printed(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert main(arguments) == 0
    return capsys.readouterr().out


class Stand(Owl):
    name = RESIDENT


def test_the_summary(
    edition: Path,
    capsys: pytest.CaptureFixture[str],
    snapshot: Callable[..., None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("variorum.voices.registry.Resident", lambda **_: Stand())
    snapshot(printed(["build", str(edition), "--dry-run", "--total-nodes", "6000"], capsys), "plan")
    snapshot(printed(["build", str(edition), "--total-nodes", "6000"], capsys), "part")
    for _ in range(20):
        out = printed(["build", str(edition)], capsys)
        if "still wait" not in out:
            break
    snapshot(printed(["build", str(edition)], capsys), "nothing-to-do")
    snapshot(printed(["build", str(edition), "--dry-run"], capsys), "nobody-to-ask")


def test_json_by_its_schema(edition: Path, check_json: Callable[..., Any]) -> None:
    plan = check_json(["build", str(edition), "--dry-run"])
    assert plan["dry_run"] and plan["plan"]
    report = check_json(["build", str(edition), "--total-nodes", "4000"])
    assert (report["asked"], report["nodes"], report["games"]) == (4, 4_000, 3)
    assert not report["nothing_new"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--total-nodes", "0"], "cannot be 0 nodes"),
        (["--total-nodes", "-3"], "cannot be -3 nodes"),
        (["--minutes", "0"], "cannot be 0.0 minutes"),
        (["--minutes", "nan"], "a budget cannot be"),
        (["--minutes", "inf"], "a budget cannot be"),
        (["--minutes", "1", "--total-nodes", "5"], "not in both"),
    ],
)
def test_a_budget_that_makes_no_sense(
    edition: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    assert main(["build", str(edition), *arguments]) == 2
    assert said in capsys.readouterr().err
    assert not (edition / ".variorum").exists()


def test_what_could_not_be_read_ends_with_code_2(edition: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (edition / "digest.md").write_text('[x]{.claim kind=score at="nowhere" says="level"}\n')
    for _ in range(2):
        assert main(["build", str(edition), "--total-nodes", "2000"]) == 2
        assert "digest.md:1:1: claim-place" in capsys.readouterr().err
    (edition / "digest.md").unlink()
    (edition / "sources" / "torn.pgn.gz").write_bytes(b"\x1f\x8b\x08no archive")
    assert main(["build", str(edition), "--total-nodes", "2000"]) == 2
    told = capsys.readouterr()
    assert "sources/torn.pgn.gz" in told.err and "built" in told.out


def test_with_nothing_to_do_nothing_heavy_is_imported(
    edition: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    while "nothing to do" not in printed(["build", str(edition)], capsys):
        pass
    code = (
        "import sys; from variorum.cli import main; main(['build', sys.argv[1]]); "
        "print(sorted(set(sys.modules) & {'duckdb', 'scipy', 'chess', 'jinja2', 'variorum.claims.check', "
        "'variorum.graph', 'variorum.publish.html', 'variorum.voices.resident', 'markdown_it'}))"
    )
    environment = os.environ | {"PYTHONUTF8": "1"}
    done = subprocess.run(
        [sys.executable, "-c", code, str(edition)],
        capture_output=True,
        text=True,
        check=True,
        env=environment,
    )
    assert "nothing to do" in done.stdout
    assert done.stdout.splitlines()[-1] == "[]"
