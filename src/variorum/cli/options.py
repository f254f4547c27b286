"""Arguments and options that several commands share, and what they mean."""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["AsJson"]

AsJson = Annotated[
    bool, typer.Option("--json", help="Print the result as JSON; `variorum schema COMMAND` shows its form.")
]
