"""Asking a voice from the position page: begin, look on, stop, keep or drop."""

from __future__ import annotations

from typing import Any

import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.base import InputError, UsageError
from variorum.build.spoken import VoiceSays, voices_on
from variorum.desk.inquiries import Inquiries, Inquiry
from variorum.desk.pages.frame import editions_of
from variorum.desk.render import page
from variorum.edition import resolve_place
from variorum.voices.registry import voice_opener
from variorum.voices.verdicts import Verdicts

__all__ = ["act", "begin", "look"]

_MOST_LINES = 8


class _Question(msgspec.Struct):
    at: str
    voice: str = "resident"
    lines: int = 3


class _Act(msgspec.Struct):
    act: str


def _inquiries(request: Request) -> Inquiries:
    inquiries: Inquiries = request.app.state.inquiries
    return inquiries


def begin(request: Request, sent: Any) -> Response:
    """Put a question."""
    try:
        question = msgspec.convert(sent, _Question)
    except msgspec.ValidationError as error:
        raise UsageError(f"the question did not arrive: {error}") from None
    edition, user = editions_of(request).settings(request.path_params["name"])
    place = resolve_place(edition, question.at)
    if place.position.outcome is not None:
        raise InputError("the game is over here: there is nothing to judge")
    lines = min(max(1, question.lines), _MOST_LINES)
    opener = voice_opener(question.voice, user)
    here = place.line.end if place.line else place.position
    inquiry = _inquiries(request).begin(edition, here, question.voice, opener, lines)
    return JSONResponse({"number": inquiry.number})


def _found(request: Request) -> Inquiry:
    inquiry = _inquiries(request).get(request.path_params["number"])
    if inquiry is None:
        raise InputError("this question is not known any more", remedy="ask again")
    return inquiry


def look(request: Request, sent: Any) -> Response:
    """How far it is: a part of the position page."""
    del sent
    inquiry = _found(request)
    said: VoiceSays | None = None
    if inquiry.verdict is not None:
        verdicts = Verdicts([inquiry.verdict])
        said = voices_on(inquiry.asked_at, inquiry.edition, verdicts, {inquiry.name: inquiry.name})[0]
    return page("asking.html.j2", inquiry=inquiry, said=said)


def act(request: Request, sent: Any) -> Response:
    """Stop it, or keep what it said."""
    inquiry = _found(request)
    try:
        wish = msgspec.convert(sent, _Act).act
    except msgspec.ValidationError:
        raise UsageError("say what is to be done: stop or keep") from None
    if wish not in ("stop", "keep"):
        raise UsageError(f"{wish!r} cannot be done: stop or keep")
    if wish == "keep" and inquiry.verdict is None:
        raise InputError("there is no verdict yet", remedy="wait a moment")
    inquiry.stop()
    kept = inquiry.keep() if wish == "keep" else False
    return JSONResponse({"kept": kept})
