"""The how-to pages do what they say: their edition is made, their commands are run, their output is compared."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from variorum.cli import main

PAGES = Path(__file__).parents[2] / "docs" / "how-to"
FILES = {"toml": "edition.toml", "pgn": "manuscript.pgn", "epd": "verdicts/analyst.epd"}


@pytest.mark.parametrize(
    "page",
    [
        "orders.md",
        "hinges.md",
        "scout.md",
        "consult.md",
        "compare.md",
        "publish.md",
        "drift.md",
        "suggest.md",
        "manuscript.md",
        "playouts.md",
        "structures.md",
        "plans.md",
    ],
)
def test_the_examples_of_a_page(
    page: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (PAGES / page).read_text(encoding="utf-8")
    (tmp_path / "verdicts").mkdir()
    for kind, name in FILES.items():
        for block in re.findall(rf"```{kind}\n(.*?)```", text, re.DOTALL):
            (tmp_path / name).write_text(block, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    examples = re.findall(r"```console\n(.*?)```(?:\n\n```text\n(.*?)```)?", text, re.DOTALL)
    assert examples
    for commands, printed in examples:
        for command in commands.splitlines():
            words = shlex.split(command.removeprefix("$ variorum "))
            assert main(words) == 0, command
            out = capsys.readouterr().out
            if printed:
                assert out == printed, command
