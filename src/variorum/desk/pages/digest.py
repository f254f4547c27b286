"""The writing desk: digest.md beside the page that it becomes, its faults and how its claims stand."""

from __future__ import annotations

import datetime
import threading
from pathlib import Path
from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from variorum.base import Diagnostic, InputError, UsageError
from variorum.build.preview import preview_digest
from variorum.desk.completion import complete
from variorum.desk.moves import address
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.pages.published import results_of
from variorum.desk.pages.words import texts_of
from variorum.desk.reconcile import pieces_of
from variorum.desk.render import page, quoted
from variorum.edition.files import ChangedOutsideError, atomic_write, content_hash, read_file
from variorum.edition.folder import DIGEST
from variorum.edition.history import History
from variorum.edition.plain_text import PlainText, decode_text
from variorum.publish.html import policy
from variorum.publish.notation import ENGLISH_LETTERS, set_moves_in_text

__all__ = ["compare", "completions", "digest_page", "preview", "preview_page", "save"]

_MOST_BEFORE: Final = 8000


class _Text(msgspec.Struct):
    """The text as it is in the editor, the hash of the file that it was made from, and what that file said."""

    text: str
    hash: str | None = None
    base: str | None = None


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
    path = edition.place_to_write(DIGEST)
    data = read_file(path) if path.exists() else None
    try:
        text = (data or b"").decode("utf-8")
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
        hash="" if data is None else content_hash(data),  # of this text, not of what may be there by now
        places=list(edition.places),
        at=address(name, "digest"),
        results=results_of(edition, name),
    )


def preview(request: Request, sent: Any) -> Response:
    """Make the page of a text that is being written; what is wrong with it and how its claims stand."""
    name, text = request.path_params["name"], _read(sent).text
    today = datetime.datetime.now(datetime.UTC).date()
    with editions_of(request).reading(name) as opened:
        made = preview_digest(opened, text, today)
    request.app.state.previews.put(name, made.html)
    claims = [
        {
            "line": one.line,
            "says": one.says,
            "standing": one.standing,
            "remark": _in_letters(one.remark or one.refutation),
        }
        for one in made.claims
    ]
    return JSONResponse({"faults": [_fault(one) for one in made.diagnostics], "claims": claims})


def _in_letters(text: str) -> str:
    """Moves in small print."""
    return "".join(piece for piece, _ in set_moves_in_text(text, ENGLISH_LETTERS))


def _fault(one: Diagnostic) -> dict[str, Any]:
    return {
        "line": one.line,
        "column": one.column,
        "severity": one.severity.value,
        "message": quoted(one.message),
        "hint": quoted(one.hint or ""),
    }


class _Before(msgspec.Struct):
    """The text before the caret, or its end."""

    before: str


def completions(request: Request, sent: Any) -> Response:
    """What can stand where the author is writing."""
    try:
        wish = msgspec.convert(sent, _Before)
    except msgspec.ValidationError as error:
        raise UsageError(f"the text did not arrive: {error}") from None
    edition, _ = editions_of(request).settings(request.path_params["name"])
    found = complete(edition, texts_of(request).manuscript(edition), wish.before[-_MOST_BEFORE:])
    return JSONResponse(msgspec.to_builtins(found))


def preview_page(request: Request, sent: Any) -> Response:
    """The page that was made last."""
    del sent
    html = request.app.state.previews.get(request.path_params["name"])
    if html is None:
        raise UsageError("no page was made of this text yet")
    # As in the page itself; here nothing that stands before it there can come first.
    headers = {"content-security-policy": f"{policy()}; frame-ancestors 'self'", "cache-control": "no-store"}
    return HTMLResponse(html, headers=headers)


def save(request: Request, sent: Any) -> Response:
    """Write the text, unless the file was changed by somebody else meanwhile; then both are kept apart and shown."""
    wish = _read(sent)
    edition, _ = editions_of(request).settings(request.path_params["name"])
    path = edition.place_to_write(DIGEST)
    with texts_of(request).writing:
        before = read_file(path) if path.exists() else None
        if (None if before is None else content_hash(before)) != (wish.hash or None):
            return _conflict(path, wish)
        data = PlainText(before or b"").encode(wish.text)
        try:
            if before is not None:
                written = History(path).save(
                    data, expected_hash=content_hash(before), what="write the digest"
                )
            else:
                written = atomic_write(path, data, expected_hash=None)
        except ChangedOutsideError:
            return _conflict(path, wish)
    return JSONResponse({"hash": written})


def compare(request: Request, sent: Any) -> Response:
    """The text in the editor beside the one on the disk; nothing is written."""
    edition, _ = editions_of(request).settings(request.path_params["name"])
    return _conflict(edition.place_to_write(DIGEST), _read(sent))


def _conflict(path: Path, wish: _Text) -> Response:
    found = read_file(path) if path.exists() else None
    theirs = _plain(decode_text(found or b""))
    base = None if wish.base is None else _plain(wish.base)
    told = {
        "fault": f"{DIGEST} was changed by somebody else since you began",
        "remedy": "",
        "theirs": theirs,
        "hash": "" if found is None else content_hash(found),
        "pieces": msgspec.to_builtins(pieces_of(base, _plain(wish.text), theirs)),
    }
    return JSONResponse(told, status_code=409)


def _plain(text: str) -> str:
    """A text as the editor of a browser has it: lines end with a line feed."""
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _read(sent: Any) -> _Text:
    try:
        return msgspec.convert(sent, _Text)
    except msgspec.ValidationError as error:
        raise UsageError(f"the text did not arrive: {error}") from None
