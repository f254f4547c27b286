"""`variorum name`: name a position."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.base import UsageError
from variorum.cli.options import AsJson, edition_and_rest, user_settings
from variorum.cli.output import in_letters, show

if TYPE_CHECKING:
    from variorum.edition import PlaceEntry


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.edition import PlaceEntry

    return PlaceEntry


def command(
    arguments: Annotated[
        list[str],
        typer.Argument(
            metavar="[EDITION] NAME PLACE",
            help="The name (in quotes if it has spaces), and a line, a FEN or a name with moves behind it.",
        ),
    ],
    as_json: AsJson = False,
) -> None:
    """Name a position: a tabiya of the edition.

    The name is added to edition.toml, or its place is said anew; nothing else in the file changes.
    """
    from variorum.edition import describe_place, name_place

    edition, words = edition_and_rest(arguments)
    if len(words) < 2:
        raise UsageError(
            "NAME and PLACE are needed", remedy='for instance: variorum name iqp-main "1.e4 c6 2.d4 d5"'
        )
    changed = name_place(edition, words[0], " ".join(words[1:]))
    letters = user_settings().pieces
    show(describe_place(changed.names[words[0]]), lambda place: _as_text(place, letters), as_json=as_json)


def _as_text(place: PlaceEntry, letters: str) -> Iterable[str]:
    yield f"{place.name}: {place.fen if place.line is None else in_letters(place.line, letters)}"
