"""What the commands of the group `manuscript` share."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import typer

from variorum.cli.options import edition_and_place, edition_and_rest, user_settings
from variorum.cli.output import show, words_in_letters

if TYPE_CHECKING:
    from variorum.edition import Edition, Manuscript, Node
    from variorum.edition.manuscript_change import ManuscriptChange, Writing
    from variorum.edition.manuscript_tidy import Finding

__all__ = [
    "PLACE",
    "DryRun",
    "FileLine",
    "GameNumber",
    "PlaceWords",
    "change_text",
    "finding_text",
    "only_edition",
    "place_in_manuscript",
    "show_change",
    "writing_of",
]

PLACE = "A name, or a line such as 1.e4 c6 2.d4: the order that is typed is meant, else the position."

DryRun = Annotated[bool, typer.Option("--dry-run", help="Print what would change, and write nothing.")]
GameNumber = Annotated[
    int | None,
    typer.Option(
        "--game", metavar="N", help="In this game of the file, from 1; needed where several begin alike."
    ),
]
FileLine = Annotated[
    int | None,
    typer.Option(
        "--file-line",
        metavar="L",
        help="Where the move stands in this line of the file; needed where it stands twice.",
    ),
]
PlaceWords = Annotated[list[str], typer.Argument(metavar="[EDITION] PLACE", help=PLACE)]


def writing_of(dry_run: bool) -> Writing:
    """Whether a change is to be written."""
    from variorum.edition.manuscript_change import Writing

    return Writing.SHOW if dry_run else Writing.WRITE


def place_in_manuscript(
    words: list[str], game: int | None, file_line: int | None
) -> tuple[Edition, Manuscript, Node]:
    """The edition, its manuscript, and where `[EDITION] PLACE` stands in it.

    Raises:
        UsageError, InputError: As `edition_and_place` and `node_at`.
    """
    from variorum.edition.manuscript_change import open_manuscript
    from variorum.edition.manuscript_find import node_at

    edition, place = edition_and_place(words)
    manuscript = open_manuscript(edition)
    return edition, manuscript, node_at(manuscript, place, game=game, file_line=file_line)


def only_edition(words: list[str]) -> tuple[Edition, list[str]]:
    """Divide `[EDITION] …` (see `edition_and_rest`)."""
    return edition_and_rest(words)


def show_change(change: ManuscriptChange, *, as_json: bool) -> None:
    """Print a change."""
    letters = user_settings().pieces
    show(change, lambda one: change_text(one, letters), as_json=as_json)


def change_text(change: ManuscriptChange, letters: str) -> Iterable[str]:
    """A change as lines of text: what was done, the lines that differ, and what it contradicts now."""
    if not change.changed:
        yield f"{words_in_letters(change.what, letters)}: nothing changes, it is so already."
    else:
        done = "" if change.written else " (not written: a dry run)"
        yield f"{change.path}: {words_in_letters(change.what, letters)}{done}"
        yield from change.diff.splitlines()
    yield from change.notes
    if change.findings:
        yield "Now the manuscript says in two ways:"
        for finding in change.findings:
            yield from finding_text(finding, letters)


def finding_text(finding: Finding, letters: str) -> Iterable[str]:
    """A finding as lines of text, with its places."""
    yield f"  {words_in_letters(finding.message, letters)}"
    for place in finding.places:
        says = f"  {place.says}" if place.says else ""
        yield (
            f"      manuscript.pgn:{place.line}:{place.column}: {words_in_letters(place.order, letters)}{says}"
        )
