"""`variorum desk`: the whole job in the browser."""

from __future__ import annotations

from typing import Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, EditionFolder
from variorum.cli.output import write_json


class DeskAddress(msgspec.Struct, frozen=True):
    """Where the desk answers, and the page of the edition that was named ("/" for the shelf)."""

    address: str
    page: str


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    return DeskAddress


def command(
    edition: EditionFolder = None,
    port: Annotated[
        int | None,
        typer.Option(
            min=0,
            max=65535,
            help="The port; by default the first free one from 7411, 0 for any that is free.",
        ),
    ] = None,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open a browser at it.")] = True,
    as_json: AsJson = False,
) -> None:
    """Open the desk: a web application on this computer, for all of the work, until Ctrl-C.

    Nobody else can reach it: it listens on this computer's own address only.
    """
    from variorum.base import InputError
    from variorum.cli.options import edition_folder
    from variorum.desk.serve import serve
    from variorum.desk.shelf import Shelf

    shelf = Shelf()
    page = "/"
    try:
        folder = edition_folder(edition)
    except InputError:
        folder = None  # no edition around the current folder: the shelf is where to begin
    if folder is not None:
        page = f"/e/{shelf.add(folder).name}/map"

    def told(address: str) -> None:
        if as_json:
            write_json(DeskAddress(address, page))
        else:
            typer.echo(f"The desk is open at {address}{page}")
            typer.echo("Ctrl-C closes it; what is under way then stops and goes on from there next time.")

    serve(shelf, port=port, open_at=page if browser else None, told=told)
