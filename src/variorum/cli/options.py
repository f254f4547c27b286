"""Arguments and options that several commands share, and what they mean."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from variorum.base import InputError, Severity, UsageError

if TYPE_CHECKING:
    from variorum.base.settings import UserSettings
    from variorum.edition import Edition, Place

__all__ = [
    "AsJson",
    "EditionFolder",
    "edition_and_place",
    "edition_and_rest",
    "edition_folder",
    "open_edition",
    "user_settings",
]

AsJson = Annotated[
    bool, typer.Option("--json", help="Print the result as JSON; `variorum schema COMMAND` shows its form.")
]
EditionFolder = Annotated[
    Path | None,
    typer.Argument(
        metavar="[EDITION]",
        help="The edition's folder; by default the edition around the current folder.",
        show_default=False,
    ),
]


def edition_folder(given: Path | None) -> Path:
    """The folder of the edition that was named, or of the one around the current folder.

    Raises:
        InputError: There is none.
    """
    from variorum.edition.folder import SETTINGS, find_edition

    if given is None:
        return find_edition(Path.cwd())
    return given.parent if given.name == SETTINGS else given


def open_edition(given: Path | None) -> Edition:
    """The edition that was named, or the one around the current folder; its warnings are printed.

    Raises:
        InputError: There is none, or its settings have errors (which are printed): work on half an edition would give
            answers to questions that were not asked.
    """
    from variorum.cli.output import print_diagnostics
    from variorum.edition import load_edition
    from variorum.edition.folder import SETTINGS

    folder = edition_folder(given)
    edition, diagnostics = load_edition(folder)
    print_diagnostics(diagnostics)
    errors = sum(fault.severity is Severity.ERROR for fault in diagnostics)
    if edition is None or errors:
        what = "there is 1 error" if errors == 1 else f"there are {errors} errors"
        raise InputError(f"{what} in the settings", path=folder / SETTINGS, remedy="mend them first")
    return edition


def user_settings() -> UserSettings:
    """The user's own settings; what is wrong with them is printed."""
    from variorum.base.settings import load_user_settings
    from variorum.cli.output import print_diagnostics

    settings, diagnostics = load_user_settings()
    print_diagnostics(diagnostics)
    return settings


def edition_and_rest(arguments: list[str]) -> tuple[Edition, list[str]]:
    """Divide `[EDITION] …`: the first argument is the edition if it is a folder that holds an `edition.toml`, or that file."""
    from variorum.edition.folder import SETTINGS

    if arguments:
        first = Path(arguments[0])
        if (first / SETTINGS).is_file() or (first.name == SETTINGS and first.is_file()):
            return open_edition(first), arguments[1:]
    return open_edition(None), arguments


def edition_and_place(arguments: list[str]) -> tuple[Edition, Place]:
    """Divide `[EDITION] PLACE`; the words of PLACE need no quotes.

    Raises:
        UsageError: There is no PLACE.
        InputError: The edition or the place cannot be used.
    """
    from variorum.edition import resolve_place

    edition, words = edition_and_rest(arguments)
    if not words:
        raise UsageError(
            "PLACE is missing", remedy="give a name of the edition, a line such as 1.e4 c6, or a FEN"
        )
    return edition, resolve_place(edition, " ".join(words))
