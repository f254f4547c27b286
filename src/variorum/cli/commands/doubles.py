"""`variorum doubles`: games that were met more than once."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import msgspec

from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import show

if TYPE_CHECKING:
    from variorum.sources import DoublesReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.sources import DoublesReport

    return DoublesReport


def command(edition: EditionFolder = None, as_json: AsJson = False) -> None:
    """List the games that were met more than once; statistics count each once."""
    from variorum.sources import list_doubles
    from variorum.store import open_store

    with open_store(open_edition(edition).store_folder(user_settings())) as store:
        report = list_doubles(store)
    show(report, _as_text, as_json=as_json)


def _as_text(report: DoublesReport) -> Iterable[str]:
    for group in report.groups:
        first = group.games[0]
        yield f"{first.white} – {first.black}, {first.date or 'no date'}, {first.result}"
        for game in group.games:
            yield f"    {game.source}, game {game.number}: {game.white} – {game.black}, {game.event}, {game.plies} plies"
    count = len(report.groups)
    yield (
        "No game was met twice."
        if not count
        else f"{count} game{'' if count == 1 else 's'} met more than once."
    )
