"""The reference pages say what the program does."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from variorum.base.codes import CODES
from variorum.base.settings import UserSettings
from variorum.base.shape import read_shape
from variorum.base.toml import read_toml
from variorum.edition import read_edition

ROOT = Path(__file__).parents[2]
REFERENCE = ROOT / "docs" / "reference"


def test_made_pages_are_up_to_date() -> None:
    done = subprocess.run(
        [sys.executable, ROOT / "tools" / "docs.py", "--check"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


EXAMPLES = re.findall(
    r"```toml\n(.*?)```\n(?:\n```text\n(.*?)```\n)?",
    (REFERENCE / "edition.md").read_text(encoding="utf-8"),
    re.DOTALL,
)


@pytest.mark.parametrize(("text", "expected"), EXAMPLES)
def test_examples_of_editions(text: str, expected: str) -> None:
    """An example is followed by what is said about it; without that it has no fault."""
    _, faults = read_edition(Path("edition.toml"), text.encode())
    assert "".join(f"{fault}\n" for fault in faults) == expected


def test_there_are_examples() -> None:
    assert len(EXAMPLES) >= 3


def test_example_of_the_users_settings() -> None:
    (text,) = re.findall(
        r"```toml\n(.*?)```", (REFERENCE / "settings.md").read_text(encoding="utf-8"), re.DOTALL
    )
    toml, faults = read_toml(Path("settings.toml"), text.encode())
    assert toml is not None and not faults
    assert not read_shape(toml, UserSettings, subject="the user's settings")[1]


def test_codes_of_the_manuscript_are_those_of_the_core() -> None:
    source = (ROOT / "crates" / "core" / "src" / "manuscript" / "fault.rs").read_text(encoding="utf-8")
    assert re.findall(r'= "([a-z-]+)", (?:Error|Warning);', source) == list(CODES["`manuscript.pgn`"])
