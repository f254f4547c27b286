"""Facts of opening practice, read from `external/data/known_facts.md` (its head says how they were made)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

TEXT = (Path(__file__).parent / "external" / "data" / "known_facts.md").read_text(encoding="utf-8")


def facts(letter: str) -> list[list[str]]:
    """The name and the quoted parts of every fact of one letter."""
    lines = re.findall(rf"^- \*\*({letter}\d+)\*\*(.*)$", TEXT, re.MULTILINE)
    return [[name, *re.findall(r"`([^`]*)`", rest)] for name, rest in lines]


def named(rows: list[list[str]]) -> pytest.MarkDecorator:
    """A test for each fact, by its name."""
    return pytest.mark.parametrize("fact", rows, ids=[row[0] for row in rows])
