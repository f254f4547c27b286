"""`variorum rejects`: games that were set aside, with their reason."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import show

if TYPE_CHECKING:
    from variorum.sources import RejectsReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.sources import RejectsReport

    return RejectsReport


def command(
    edition: EditionFolder = None,
    text: Annotated[bool, typer.Option("--text", help="Print the text of each as well.")] = False,
    as_json: AsJson = False,
) -> None:
    """List the games that a sift set aside, and bytes that belong to no game."""
    from variorum.sources import list_rejects
    from variorum.store import open_store

    with open_store(open_edition(edition).store_folder(user_settings())) as store:
        report = list_rejects(store)
    show(report, lambda report: _as_text(report, text), as_json=as_json)


def _as_text(report: RejectsReport, with_text: bool) -> Iterable[str]:
    for reject in report.rejects:
        ply = f", ply {reject.ply}" if reject.ply else ""
        yield f"{reject.source}:{reject.line}: game {reject.game}{ply}: {reject.reason}"
        if with_text:
            yield from (f"    {line}" for line in reject.text.splitlines())
    for note in report.notes:
        yield f"{note.source}: byte {note.offset}: {note.length} bytes passed over: {note.what}"
    count = len(report.rejects)
    yield "Nothing was set aside." if not count else f"{count} game{'' if count == 1 else 's'} set aside."
