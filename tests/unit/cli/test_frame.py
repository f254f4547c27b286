"""The frame of the command line: exit codes, failures in words and in JSON, help, a fast start."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

import variorum
import variorum.cli
from variorum.base import InputError, Interrupted, StoreBusyError
from variorum.cli import main
from variorum.cli.app import command_module
from variorum.cli.commands import COMMANDS
from variorum.cli.failures import ErrorReport, answer_failures


def raising(error: BaseException) -> Callable[[], Any]:
    def run() -> None:
        raise error

    return run


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"variorum {variorum.__version__}\n"


def test_starting_imports_nothing_heavy() -> None:
    """`variorum --version` stays fast: no library of numbers, tables or pictures, and no command."""
    code = (
        "import sys; from variorum.cli import main; main(['--version']);"
        "print(sorted(m for m in sys.modules if m.split('.')[0] in "
        "{'numpy','pyarrow','duckdb','scipy','rich','chess','tomlkit','jinja2','sqlite3'}"
        " or m.startswith('variorum.cli.commands.')))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[1:] == ["[]"]


def test_python_dash_m() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "variorum", "no"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert done.stderr.startswith("variorum: No such command 'no'")
    assert done.stdout == ""


def test_interrupt_while_the_program_is_loaded(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from variorum.__main__ import run

    monkeypatch.setattr(variorum.cli, "main", raising(KeyboardInterrupt()))
    assert run() == 130
    assert capsys.readouterr().err == "variorum: stopped before anything was begun\n"


def test_help_says_what_it_is_for(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    bare = capsys.readouterr().out
    assert "FIDE Laws of Chess" in bare
    for name in COMMANDS:
        assert f"\n  {name.split()[0]} " in bare


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_its_file_and_help(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*name.split(" "), "--help"]) == 0
    text = capsys.readouterr().out
    assert text.startswith(f"Usage: variorum {name} ")
    assert command_module(name).command.__doc__
    for option in [line for line in text.splitlines() if line.startswith("  --")]:
        assert len(option.split("  ")) > 2 or "--help" in option, f"{option} has no help text"


def test_commands_are_the_files_there_are() -> None:
    folder = Path(command_module("schema").__file__ or "").parent
    files = sorted(name.replace(" ", "_") for name in COMMANDS)
    assert files == sorted(path.stem for path in folder.glob("*.py") if path.stem != "__init__")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            ["shema", "new"],
            "variorum: No such command 'shema'. Did you mean 'schema'?\n  see variorum --help\n",
        ),
        (["schema"], "variorum: Missing argument 'COMMAND'\n  see variorum schema --help\n"),
        (["schema", "--jason", "new"], "variorum: No such option: --jason\n  see variorum schema --help\n"),
        (["schema", "eror"], "variorum: there is no schema for 'eror'\n  did you mean 'error'?\n"),
    ],
)
def test_a_wrong_call(arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments) == 2
    captured = capsys.readouterr()
    assert (captured.out, captured.err) == ("", message)


@pytest.mark.parametrize(
    ("error", "code", "text"),
    [
        (
            InputError("'Nf6' is illegal", remedy="mend it", path="a.pgn", line=3, column=9, game=2, ply=4),
            2,
            "variorum: a.pgn:3:9, game 2, ply 4: 'Nf6' is illegal\n  mend it\n",
        ),
        (StoreBusyError("another process is writing"), 2, "variorum: another process is writing\n"),
        (Interrupted("stopped"), 130, "variorum: stopped\n"),
        (KeyboardInterrupt(), 130, "variorum: stopped; what was finished is kept\n"),
        (
            FileNotFoundError(2, "No such file or directory", "a.pgn"),
            2,
            "variorum: a.pgn: no such file or directory\n  check how the path is spelt\n",
        ),
        (
            OSError(28, "No space left on device", "games"),
            2,
            "variorum: games: no space left on device\n  make room on the disk, then run the same command again\n",
        ),
        (MemoryError(), 2, "variorum: there is not enough memory for this\n"),
    ],
)
def test_failures_in_words(
    error: BaseException, code: int, text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert answer_failures(raising(error), as_json=False) == code
    captured = capsys.readouterr()
    assert (captured.out, captured.err) == ("", text)


def test_a_defect_shows_no_traceback(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("VARIORUM_TRACE", raising=False)
    assert answer_failures(raising(ValueError("odd")), as_json=False) == 3
    assert capsys.readouterr().err.startswith("variorum: defect: ValueError: odd\n")
    monkeypatch.setenv("VARIORUM_TRACE", "1")
    assert answer_failures(raising(ValueError("odd")), as_json=False) == 3
    assert "Traceback" in capsys.readouterr().err


def test_failures_in_json(capsys: pytest.CaptureFixture[str]) -> None:
    error = InputError("'Nf6' is illegal", path=Path("a.pgn"), line=3)
    assert answer_failures(raising(error), as_json=True) == 2
    captured = capsys.readouterr()
    assert captured.err == ""
    report = msgspec.json.decode(captured.out, type=ErrorReport).error
    assert (report.kind, report.message, report.path, report.line) == (
        "InputError",
        error.message,
        "a.pgn",
        3,
    )


def test_usage_errors_in_json_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["nothing", "--json"]) == 2
    assert json.loads(capsys.readouterr().out)["error"]["kind"] == "UsageError"


def test_interrupt_from_within_a_command(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from variorum.cli.commands import schema

    monkeypatch.setattr(schema, "_result_type", lambda name: raising(KeyboardInterrupt())())
    assert main(["schema", "error"]) == 130
    assert capsys.readouterr().err.strip() == "variorum: stopped; what was finished is kept"


def test_a_terminal_that_lacks_a_sign(monkeypatch: pytest.MonkeyPatch) -> None:
    """A console in CP1252 has no ⩲; the rest of the line is still printed."""
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="cp1252", write_through=True))
    assert answer_failures(lambda: sys.stdout.write("White ⩲ ±\n") and None, as_json=False) == 0
    assert raw.getvalue().replace(b"\r\n", b"\n") == b"White ? \xb1\n"


def test_a_reader_that_stops_reading() -> None:
    """`variorum … | head -0` is no failure."""
    code = "import sys; from variorum.cli import main; sys.exit(main(['schema', 'error']))"
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout and process.stderr
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait(60) == 0
