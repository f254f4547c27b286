"""The writing desk: digest.md beside the page that it becomes, its faults and how its claims stand."""

from __future__ import annotations

import datetime
import difflib
import threading
from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from variorum.base import Diagnostic, InputError, UsageError
from variorum.build.preview import preview_digest
from variorum.desk.moves import address
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.render import page
from variorum.edition.files import ChangedOutsideError, atomic_write, content_hash, hash_on_disk
from variorum.edition.folder import DIGEST

__all__ = ["digest_page", "preview", "preview_page", "save"]

_POLICY: Final = "frame-ancestors 'self'; connect-src 'none'"
"""The page carries a stricter policy of its own, with the hashes of its one style and one script."""


class _Text(msgspec.Struct):
    text: str
    hash: str | None = None


class Previews:
    """The last page made for each edition, for the frame beside the text."""

    def __init__(self) -> None:
        self._pages: dict[str, str] = {}
        self._lock = threading.Lock()

    def put(self, name: str, html: str) -> None:
        """Keep the page that is to be shown."""
        with self._lock:
            self._pages[name] = html

    def get(self, name: str) -> str | None:
        """The page, `None` where none was made yet."""
        with self._lock:
            return self._pages.get(name)


def digest_page(request: Request, sent: Any) -> Response:
    """The text, ready to be gone on with."""
    del sent
    name = request.path_params["name"]
    edition, _ = editions_of(request).settings(name)
    path = edition.path / DIGEST
    data = path.read_bytes() if path.is_file() else b""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        raise InputError(
            "is not written in UTF-8, so the desk does not change it",
            path=path,
            remedy="save it as UTF-8 with your editor, then load this page again",
        ) from None
    return page(
        "digest.html.j2",
        **frame(request, "digest", "Digest"),
        text=text,
        hash=hash_on_disk(path) or "",
        places=list(edition.places),
        at=address(name, "digest"),
    )


def preview(request: Request, sent: Any) -> Response:
    """Make the page of a text that is being written; what is wrong with it and how its claims stand."""
    name, text = request.path_params["name"], _read(sent).text
    today = datetime.datetime.now(datetime.UTC).date()
    with editions_of(request).reading(name) as opened:
        made = preview_digest(opened, text, today)
    request.app.state.previews.put(name, made.html)
    claims = [
        {"line": one.line, "says": one.says, "standing": one.standing, "remark": one.remark or one.refutation}
        for one in made.claims
    ]
    return JSONResponse({"faults": [_fault(one) for one in made.diagnostics], "claims": claims})


def _fault(one: Diagnostic) -> dict[str, Any]:
    return {
        "line": one.line,
        "column": one.column,
        "severity": one.severity.value,
        "message": one.message,
        "hint": one.hint or "",
    }


def preview_page(request: Request, sent: Any) -> Response:
    """The page that was made last."""
    del sent
    html = request.app.state.previews.get(request.path_params["name"])
    if html is None:
        raise UsageError("no page was made of this text yet")
    return HTMLResponse(html, headers={"content-security-policy": _POLICY, "cache-control": "no-store"})


def save(request: Request, sent: Any) -> Response:
    """Write the text, unless the file was changed by somebody else meanwhile; then both are kept apart and shown."""
    wish = _read(sent)
    edition, _ = editions_of(request).settings(request.path_params["name"])
    path = edition.place_to_write(DIGEST)
    try:
        written = atomic_write(path, wish.text.encode("utf-8"), expected_hash=wish.hash or None)
    except ChangedOutsideError as error:
        theirs = path.read_bytes() if path.is_file() else b""
        text = theirs.decode("utf-8", "replace")
        lines = difflib.unified_diff(
            text.splitlines(), wish.text.splitlines(), "on the disk", "here", lineterm="", n=2
        )
        told = {
            "fault": error.message,
            "remedy": error.remedy or "",
            "theirs": text,
            "hash": content_hash(theirs) if path.is_file() else "",
            "difference": "\n".join(lines),
        }
        return JSONResponse(told, status_code=409)
    return JSONResponse({"hash": written})


def _read(sent: Any) -> _Text:
    try:
        return msgspec.convert(sent, _Text)
    except msgspec.ValidationError as error:
        raise UsageError(f"the text did not arrive: {error}") from None
