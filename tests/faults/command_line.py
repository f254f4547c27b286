"""What tests of bad input share: an edition, the command line as a program, and a watch on the author's files."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from variorum.cli import main

REPOSITORY = Path(__file__).parents[2]
SCHEMAS = REPOSITORY / "docs" / "reference" / "json"
ROOT = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.cxd5 exd5"
MOVES = "1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. cxd5 exd5 5. Bg5 Be7 6. e3 c6"
MADE = (".variorum", "out", ".history")


def game(number: int = 1, moves: str = MOVES, result: str = "1-0", white: str = "Orlo, Tam") -> str:
    other = "".join(chr(ord("a") + int(digit)) for digit in str(number))
    tags = {"Event": "Invented", "White": white, "Black": f"Vesk{other}, Ina", "Result": result}
    return "".join(f'[{name} "{value}"]\n' for name, value in tags.items()) + f"\n{moves} {result}\n\n"


def games(count: int) -> str:
    return "".join(game(number) for number in range(1, count + 1))


def new_edition(folder: Path, root: str = f"exchange: {ROOT}") -> Path:
    assert main(["new", str(folder), "--title", "Exchange", "--root", root, "--side", "white"]) == 0
    return folder


def authors_files(folder: Path) -> dict[str, str]:
    """Each file that is not made by the program, by the hash of its content."""
    paths = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in paths
        if path.relative_to(folder).parts[0] not in MADE
    }


@contextmanager
def untouched(folder: Path) -> Iterator[None]:
    """Whatever happens inside changes no byte of the author's files and leaves none beside them."""
    before = authors_files(folder)
    yield
    assert authors_files(folder) == before


def call(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of one command in this process."""
    capsys.readouterr()
    code = main([str(argument) for argument in arguments])
    told = capsys.readouterr()
    assert "Traceback" not in told.out + told.err
    assert "defect" not in told.err
    return code, told.out, told.err


def refused(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> str:
    """The command is a mistake: exit code 2, words on standard error; with `--json` the same in one document.

    Gives the message.
    """
    code, _, err = call(capsys, *arguments)
    assert code == 2, err
    lines = err.splitlines()
    (told,) = [number for number, line in enumerate(lines) if line.startswith("variorum: ")]
    assert lines[told + 1].startswith("  "), f"what to do about it? {err}"
    code, out, _ = call(capsys, *arguments, "--json")
    assert code == 2
    document = json.loads(out)
    if "error" in document:
        valid(document, "error")
        assert document["error"]["message"] in err
        assert document["error"]["remedy"]
    else:  # a sift gives its whole report, faults in it
        valid(document, str(arguments[0]))
    return err


def answered(capsys: pytest.CaptureFixture[str], *arguments: str | Path, code: int = 0) -> Any:
    """What the command prints with `--json`, held against its documented schema."""
    ended, out, err = call(capsys, *arguments, "--json")
    assert ended == code, out + err
    document = json.loads(out)
    valid(document, str(arguments[0]))
    return document


def valid(document: Any, name: str) -> None:
    schema = json.loads((SCHEMAS / f"{name}.json").read_text(encoding="utf-8"))
    jsonschema.validate(document, schema, cls=jsonschema.Draft202012Validator)


def program(*arguments: str | Path, **more: Any) -> subprocess.Popen[str]:
    """The command line in its own process."""
    return subprocess.Popen(
        [sys.executable, "-m", "variorum", *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **more,
    )


def as_superuser(*command: str) -> bool:
    return os.geteuid() == 0 and subprocess.run(command, capture_output=True, check=False).returncode == 0


@contextmanager
def write_protected(folder: Path) -> Iterator[None]:
    """A folder nobody can write to; the superuser needs a mount for that."""
    undo: list[Callable[[], object]] = []
    if os.geteuid() != 0:
        for path in [folder, *folder.rglob("*")]:
            undo.append(partial(path.chmod, path.stat().st_mode))
            path.chmod(0o555 if path.is_dir() else 0o444)
    elif as_superuser("mount", "--bind", str(folder), str(folder)):
        undo.append(lambda: subprocess.run(["umount", "-l", str(folder)], check=True))
        subprocess.run(["mount", "-o", "remount,bind,ro", str(folder)], check=True)
    else:
        pytest.skip("write protection for the superuser needs a mount")
    try:
        yield
    finally:
        for step in undo:
            step()
