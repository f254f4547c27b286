"""The frame of the command line: which commands there are, and the one entry point.

Each command is a file of `variorum.cli.commands` and is imported only when it is asked for, so that starting the
program costs the same however many commands there are.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator, Mapping, Sequence
from types import ModuleType
from typing import Annotated, Any

import typer
import typer.main
from typer.core import TyperGroup

from variorum.cli.commands import COMMANDS, GROUPS
from variorum.cli.failures import answer_failures

__all__ = ["app", "command_module", "main"]

CAUTION = (
    "Variorum is for preparation and writing. Asking an engine or notes during a game breaks the FIDE Laws of Chess "
    "(article 11.3) and the rules of nearly every event."
)
CONTEXT = {"help_option_names": ["--help", "-h"]}


def command_module(name: str) -> ModuleType:
    """The module of one command (`voices add` is `voices_add`).

    Its `command` is the function that Typer calls, `result_type()` what `--json` prints.
    """
    return importlib.import_module(f"variorum.cli.commands.{name.replace(' ', '_')}")


class _OnDemand(Mapping[str, Any]):
    """The commands of one group by name, each imported at its first use; `group` is "" for the program itself."""

    def __init__(self, group: str) -> None:
        self._group = group
        before = f"{group} " if group else ""
        names = [name.removeprefix(before) for name in COMMANDS if name.startswith(before)]
        self._names = list(dict.fromkeys(name.split(" ")[0] for name in names))

    def __getitem__(self, name: str) -> Any:
        if name not in self._names:
            raise KeyError(name)
        whole = f"{self._group} {name}".strip()
        if whole in GROUPS:
            return _Commands(name=name, group=whole, help=GROUPS[whole], context_settings=dict(CONTEXT))
        single = typer.Typer(add_completion=False, rich_markup_mode=None)
        single.command(name, context_settings=CONTEXT)(command_module(whole).command)
        return typer.main.get_command(single)

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


class _Commands(TyperGroup):
    def __init__(self, *, group: str = "", **attributes: Any) -> None:
        super().__init__(**{"rich_markup_mode": None, **attributes})
        self.commands = _OnDemand(group)  # type: ignore[assignment]  # a mapping that is only read

    def list_commands(self, ctx: Any) -> list[str]:
        del ctx
        return list(self.commands)


app = typer.Typer(
    cls=_Commands,
    name="variorum",
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=False,
    context_settings=CONTEXT,
)


def _print_version(asked: bool) -> None:
    if asked:
        from variorum import __version__

        typer.echo(f"variorum {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True, epilog=CAUTION)
def _variorum(
    ctx: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Chess opening theory as plain text that its author owns, tied to evidence. Without a command the desk opens.

    EDITION is the folder of one opening system; where it is left out, the edition around the current folder is meant.
    PLACE is a name of the edition, a typed line ("1.e4 c6 2.d4", also after a name: "panov 5.Nc3") or a FEN.

    Exit codes: 0 all is well; 1 the answer is no; 2 the call or its input is wrong;
    3 a defect of Variorum; 130 stopped by Ctrl-C.
    """
    del version
    if ctx.invoked_subcommand is None:
        ctx.invoke(command_module("desk").command)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code. No traceback reaches the user (see `variorum.cli.failures`)."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    before_dashes = given[: given.index("--")] if "--" in given else given
    return answer_failures(
        lambda: app(given, prog_name="variorum", standalone_mode=False), as_json="--json" in before_dashes
    )
