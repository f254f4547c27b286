"""The position page: one opening of the book. The board, the line, what voices and games say, the author's own words.

What look-ups tell is there at once; what takes longer comes in parts (`position_parts`).
"""

from __future__ import annotations

from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.base import InputError
from variorum.board import Line, Position
from variorum.build.position import position_at_hand
from variorum.desk.later import parts_of
from variorum.desk.moves import address, line_steps, name_of, place_address, spelled
from variorum.desk.pages.frame import edition_for, frame
from variorum.desk.pages.onward import onward_at_hand
from variorum.desk.pages.position_parts import PARTS, part_address, place_of
from variorum.desk.render import page
from variorum.store import Filter

__all__ = ["play", "position_page"]


def position_page(request: Request, sent: Any) -> Response:
    """Everything that is known of one position."""
    del sent
    name = request.path_params["name"]
    with edition_for(request) as opened:
        place = place_of(opened, request.query_params.get("at", ""))
        report = position_at_hand(opened, place, Filter())
        line = place.line or Line(place.position)
        called = name_of(opened.edition, place)
        onward = onward_at_hand(opened, name, line, report.games.moves if report.games else ())
        voices = ["resident", *sorted(opened.user.voices)]
    at = spelled(line)
    parts = {of: part_address(name, of, at) for of in PARTS}
    made = parts_of(request).at_hand(name, parts.values())
    return page(
        "position.html.j2",
        **frame(request, "position", called or "Position"),
        called=called,
        report=report,
        at=at,
        steps=line_steps(name, line),
        back=place_address(name, Line(line.start, line.moves[:-1])) if line.moves else "",
        onward=onward,
        mover=place.position.turn.value.capitalize(),
        number=_number(place.position),
        claims=[mention for mention in report.mentions if mention.what == "claim"],
        voices=voices,
        ask_at=address(name, "ask"),
        words_part=address(name, "words", at=at),
        parts={of: (where, Markup(made[where]) if where in made else None) for of, where in parts.items()},
        legal=" ".join(move.uci for move in place.position.legal_moves()),
        play_at=address(name, "play", at=at),
    )


def _number(position: Position) -> str:
    """What stands before the next move: `11.` or `10…`."""
    return f"{position.fullmove}." if position.turn.value == "white" else f"{position.fullmove}…"


def play(request: Request, sent: Any) -> Response:
    """Where a move leads that was typed or made on the board; the reader is sent there."""
    del sent
    name = request.path_params["name"]
    with edition_for(request) as opened:
        place = place_of(opened, request.query_params.get("at", ""))
    typed = request.query_params.get("move", "")
    if not typed.strip():
        raise InputError("no move was given", remedy="type one in letters, for example Bg5")
    line = place.line or Line(place.position)
    move = place.position.parse(typed)
    return JSONResponse({"go": place_address(name, line.play(move))})
