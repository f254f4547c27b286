"""The program `variorum-resident` as cargo builds it."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

_REPOSITORY = Path(__file__).parent.parent


def resident_program() -> str:
    """Its path. `cargo test --release`, the first part of `make test`, leaves it there; without it the test fails."""
    target = Path(os.environ.get("CARGO_TARGET_DIR", _REPOSITORY / "target"))
    program = (
        target / "release" / ("variorum-resident.exe" if sys.platform == "win32" else "variorum-resident")
    )
    if not program.is_file():
        pytest.fail(f"{program} is not there: cargo build --release --locked -p variorum-resident")
    return str(program)
