"""What tests of commands share."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import jsonschema
import pytest

from variorum.cli import main
from variorum.cli.app import command_module
from variorum.cli.commands import COMMANDS
from variorum.cli.output import schema_of


@pytest.fixture
def check_json(capsys: pytest.CaptureFixture[str]) -> Callable[..., Any]:
    """Run a command with `--json` and hold its output against its schema, read by an independent validator."""

    def run(arguments: list[str], code: int = 0) -> Any:
        assert main([*arguments, "--json"]) == code
        captured = capsys.readouterr()
        assert captured.err == ""
        pair = " ".join(arguments[:2])
        name = pair if pair in COMMANDS else arguments[0]
        value = json.loads(captured.out)
        schema = schema_of(command_module(name).result_type())
        jsonschema.Draft202012Validator.check_schema(schema)
        jsonschema.validate(value, schema, cls=jsonschema.Draft202012Validator)
        return value

    return run
