"""What was published: the files under out/, served so that they can do nothing to the desk."""

from __future__ import annotations

import datetime
from typing import Any, Final

import msgspec
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from variorum.desk.moves import address
from variorum.desk.pages.frame import editions_of
from variorum.desk.render import page
from variorum.edition import Edition

__all__ = ["Result", "published_file", "results_of", "results_part"]

OUT: Final = "out"
_KINDS: Final = {
    ".html": "text/html; charset=utf-8",
    ".pdf": "application/pdf",
    ".pgn": "text/plain; charset=utf-8",
    ".epd": "text/plain; charset=utf-8",
}
_POLICY: Final = (
    "sandbox allow-scripts allow-popups allow-popups-to-escape-sandbox; connect-src 'none'; form-action 'none'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
"""A published page runs as a stranger to the desk: no origin, no requests. Its own policy names its one style and one script."""


class Result(msgspec.Struct, frozen=True):
    """A published file: its name, its address, whether a browser keeps it rather than shows it, and when it was written."""

    name: str
    href: str
    kept: bool
    time: str


def results_of(edition: Edition, name: str) -> list[Result]:
    """What lies under out/ and can be opened, the page first."""
    folder = edition.path / OUT
    order = list(_KINDS)
    files = [file for file in folder.iterdir() if file.is_file()] if folder.is_dir() else []
    files = [file for file in files if file.suffix in _KINDS and not file.name.startswith(".")]
    found = []
    for file in sorted(files, key=lambda file: (order.index(file.suffix), file.name)):
        written = datetime.datetime.fromtimestamp(file.stat().st_mtime, datetime.UTC).astimezone()
        kept = file.suffix in (".pgn", ".epd")
        found.append(Result(file.name, address(name, f"out/{file.name}"), kept, f"{written:%Y-%m-%d %H:%M}"))
    return found


def results_part(request: Request, sent: Any) -> Response:
    """The links to what was published, after it was published anew."""
    del sent
    name = request.path_params["name"]
    edition, _ = editions_of(request).settings(name)
    return page("results.html.j2", results=results_of(edition, name))


def published_file(request: Request, sent: Any) -> Response:
    """One published file; nothing else of the edition, and nothing outside of it."""
    del sent
    edition, _ = editions_of(request).settings(request.path_params["name"])
    wanted = request.path_params["file"]
    folder = (edition.path / OUT).resolve()
    file = folder / wanted
    kind = _KINDS.get(file.suffix)
    if kind is None or wanted.startswith(".") or not file.is_file() or file.resolve().parent != folder:
        raise HTTPException(404)
    headers = {"cache-control": "no-store"}
    if file.suffix == ".html":
        headers["content-security-policy"] = _POLICY
    if file.suffix in (".pgn", ".epd"):
        headers["content-disposition"] = f'attachment; filename="{file.name}"'
    return FileResponse(file, media_type=kind, headers=headers)
