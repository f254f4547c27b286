"""`variorum manuscript redo`: make the changes again that were undone last."""

from __future__ import annotations

from typing import Annotated

import msgspec
import typer

from variorum.cli.manuscript import DryRun, show_change, writing_of
from variorum.cli.options import AsJson, EditionFolder, open_edition


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.edition.manuscript_change import ManuscriptChange

    return ManuscriptChange


def command(
    edition: EditionFolder = None,
    steps: Annotated[int, typer.Option("--steps", metavar="N", min=1, help="How many.")] = 1,
    dry_run: DryRun = False,
    as_json: AsJson = False,
) -> None:
    """Make the changes again that were undone last.

    Refused where the file is not what the last change left.
    """
    from variorum.edition.manuscript_change import redo_changes

    show_change(redo_changes(open_edition(edition), steps, writing_of(dry_run)), as_json=as_json)
