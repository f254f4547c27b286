"""`--json` of every command, success and failure, held against the documents in docs/reference/json."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from variorum.cli import main
from variorum.cli.commands import COMMANDS

SCHEMAS = Path(__file__).parents[3] / "docs" / "reference" / "json"
PLAIN = [name for name in COMMANDS if name != "schema"]
GAME = '[Event "x"]\n[White "Orlo, Tam"]\n[Black "Vesk, Ina"]\n[Result "1-0"]\n\n1. d4 d5 2. c4 e6 3. Nc3 Nf6 1-0\n\n'
MORE = {
    "position": ["{edition}", "qgd"],
    "plans": ["{edition}", "qgd"],
    "consult": ["{edition}", "--nodes", "500", "--total-nodes", "3000"],
    "scout": ["{edition}", "qgd", "--nodes", "500", "--total-nodes", "3000"],
    "playout": ["{edition}", "qgd", "--games", "2", "--nodes", "30", "--longest", "20"],
    "contrast": ["{edition}", "qgd", "qgd 3.Nc3"],
    "tempo": ["{edition}", "qgd", "3.Nc3"],
    "orders": ["{edition}", "qgd 3.Nc3"],
    "hinges": ["{edition}", "qgd", "3.Nc3", "--nodes", "200"],
    "diagram": ["{edition}", "qgd", "--out", "{edition}/qgd.svg"],
    "name": ["{edition}", "main", "qgd 3.Nc3"],
    "sift": ["{edition}"],
    "new": ["{edition}-new", "--title", "x", "--side", "white", "--root", "1.d4"],
}
"""What commands are called with that take more than `EDITION`."""


def document(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, Any]:
    capsys.readouterr()
    code = main([*arguments, "--json"])
    return code, json.loads(capsys.readouterr().out)


def valid(value: Any, name: str) -> None:
    schema = json.loads((SCHEMAS / f"{name.replace(' ', '-')}.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(value, schema, cls=jsonschema.Draft202012Validator)


@pytest.mark.parametrize("name", PLAIN)
def test_a_wrong_call_gives_the_error_document(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, value = document([*name.split(), "--no-such-option"], capsys)
    assert code == 2
    valid(value, "error")
    assert value["error"]["kind"] == "UsageError"
    assert f"variorum {name} --help" in value["error"]["remedy"]


@pytest.mark.parametrize("name", [name for name in PLAIN if " " not in name and name not in ("new", "desk")])
def test_no_edition_gives_the_error_document(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    given = {"position": ["1.d4"], "name": ["x", "1.d4"]}.get(name, [])
    code, value = document([name, *given], capsys)
    assert code == 2
    valid(value, "error")
    assert value["error"]["remedy"]


@pytest.mark.parametrize(
    "name", [name for name in PLAIN if " " not in name and name not in ("build", "desk", "drift")]
)
def test_a_result_is_as_documented(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edition = tmp_path / "e"
    root = "qgd: 1.d4 d5 2.c4 e6"
    assert main(["new", str(edition), "--title", "QGD", "--side", "white", "--root", root]) == 0
    (edition / "sources" / "a.pgn").write_text(GAME + GAME + GAME.replace("2. c4 e6", "2. Ke3"))
    assert main(["sift", str(edition)]) == 0
    arguments = [argument.format(edition=edition) for argument in MORE.get(name, ["{edition}"])]
    code, value = document([name, *arguments], capsys)
    assert code == 0, value
    valid(value, name)
