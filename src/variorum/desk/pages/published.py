"""What was published: the files under out/, served so that they can do nothing to the desk."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import msgspec
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

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
    "sandbox allow-scripts allow-popups allow-popups-to-escape-sandbox; default-src 'none'; connect-src 'none'; "
    "script-src 'unsafe-inline'; style-src 'unsafe-inline'; font-src data:; img-src data:; form-action 'none'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
"""A published page runs as a stranger to the desk: no origin, no requests, whoever made it. Its own policy names its one style and
one script."""


class Result(msgspec.Struct, frozen=True):
    """A published file: its name, its address, whether a browser keeps it rather than shows it, and when it was written."""

    name: str
    href: str
    kept: bool
    time: str


def results_of(edition: Edition, name: str) -> list[Result]:
    """What lies under out/ and can be opened, the page first."""
    order = list(_KINDS)
    found = []
    for file in sorted(_files(edition), key=lambda file: (order.index(file.suffix), file.name)):
        written = datetime.datetime.fromtimestamp(file.stat().st_mtime, datetime.UTC).astimezone()
        kept = file.suffix in (".pgn", ".epd")
        href = address(name, f"out/{quote(file.name)}")
        found.append(Result(file.name, href, kept, f"{written:%Y-%m-%d %H:%M}"))
    return found


def _files(edition: Edition) -> list[Path]:
    """What can be opened: ordinary files of the edition itself; neither `out` nor they may be links to something else."""
    folder = edition.path.resolve() / OUT
    there = [file for file in (folder.iterdir() if folder.is_dir() else ()) if file.suffix in _KINDS]
    named = [file for file in there if file.name.isprintable() and not file.name.startswith(".")]
    return [file for file in named if file.is_file() and file.resolve() == file]


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
    file = next((one for one in _files(edition) if one.name == wanted), None)
    if file is None:
        raise HTTPException(404)
    headers = {"cache-control": "no-store"}
    if file.suffix == ".html":
        headers["content-security-policy"] = _POLICY
    if file.suffix in (".pgn", ".epd"):
        headers["content-disposition"] = f"attachment; filename*=utf-8''{quote(file.name)}"
    # Read whole: it may be published anew this moment.
    return Response(file.read_bytes(), media_type=_KINDS[file.suffix], headers=headers)
