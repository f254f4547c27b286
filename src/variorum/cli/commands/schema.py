"""`variorum schema`: what the JSON of a command looks like."""

from __future__ import annotations

from typing import Annotated, cast

import msgspec
import typer

from variorum.base import UsageError
from variorum.base.shape import nearest
from variorum.cli.app import command_module
from variorum.cli.commands import COMMANDS
from variorum.cli.failures import ErrorReport
from variorum.cli.output import schema_of


def command(
    name: Annotated[
        list[str], typer.Argument(metavar="COMMAND", help="A command, or `error` for what failures print.")
    ],
) -> None:
    """Print the JSON schema of a command's --json."""
    schema = schema_of(_result_type(" ".join(name)))
    typer.echo(msgspec.json.format(msgspec.json.encode(schema), indent=2).decode())


def _result_type(name: str) -> type[msgspec.Struct]:
    if name == "error":
        return ErrorReport
    known = [*(other for other in COMMANDS if hasattr(command_module(other), "result_type")), "error"]
    if name not in known:
        guess = nearest(name, known)
        remedy = f"did you mean {guess!r}?" if guess else f"there is one for {', '.join(known)}"
        raise UsageError(f"there is no schema for {name!r}", remedy=remedy)
    return cast("type[msgspec.Struct]", command_module(name).result_type())
