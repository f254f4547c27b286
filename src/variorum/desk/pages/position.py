"""The position page: one opening of the book. The board, the line, what voices and games say, the author's own words.

What look-ups tell is there at once; what takes longer comes in parts (`position_parts`).
"""

from __future__ import annotations

from typing import Any

import msgspec
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.base import InputError, UsageError
from variorum.board import Line, Position
from variorum.build.position import PositionReport, position_at_hand
from variorum.desk.inquiries import FIRST
from variorum.desk.moves import address, line_steps, name_of, place_address, spelled
from variorum.desk.pages.frame import edition_for, editions_of, frame
from variorum.desk.pages.onward import onward_at_hand
from variorum.desk.pages.position_parts import parts_at_hand, place_of
from variorum.desk.pages.words import texts_of
from variorum.desk.render import page
from variorum.edition import hash_on_disk
from variorum.edition.edit import name_place
from variorum.edition.folder import DIGEST
from variorum.edition.place import same_name
from variorum.insight.wording import number
from variorum.store import Filter

__all__ = ["name_here", "play", "position_page"]


class _Named(msgspec.Struct):
    at: str
    called: str


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
        parts = parts_at_hand(request, opened, line)
        manuscript = "" if opened.manuscript is None else opened.manuscript.content_hash
        digest = hash_on_disk(opened.edition.path / DIGEST) or ""
    at = spelled(line)
    return page(
        "position.html.j2",
        **frame(request, "position", called or "Position"),
        called=called,
        name_at=address(name, "position/name"),
        report=report,
        structure=report.structure.rsplit(" (", 1)[0].replace("'", "’"),
        ledger_sentence=_ledger_sentence(report, place.name or at),
        manuscript=manuscript,
        digest=digest,
        at=at,
        steps=line_steps(name, line),
        last=line_steps(name, line, after=len(line.moves) - 1)[-1].text if line.moves else "",
        # Whose move it is the published page says itself, under every diagram.
        caption=f"After {Line(line.positions()[-2], line.moves[-1:]).san()}." if line.moves else "",
        back=place_address(name, Line(line.start, line.moves[:-1])) if line.moves else "",
        onward=onward,
        mover=place.position.turn.value.capitalize(),
        number=_number(place.position),
        claims=[mention for mention in report.mentions if mention.what == "claim"],
        voices=voices,
        ask_at=address(name, "ask"),
        first_nodes=FIRST,
        words_part=address(name, "words", at=at),
        parts={of: (where, None if made is None else Markup(made)) for of, (where, made) in parts.items()},
        legal=" ".join(move.uci for move in place.position.legal_moves()),
        play_at=address(name, "play", at=at),
    )


def _ledger_sentence(report: PositionReport, by: str) -> str:
    """The lost moves as a sentence of the digest, by the line that the ledger is told of; "" where there is none."""
    if report.ledger is None:
        return ""
    lost = {"white": report.ledger.white.lost, "black": report.ledger.black.lost}
    white, black = (
        f'[{number(count)}]{{.fact kind=tempo at="{by}" side={side}}}' for side, count in lost.items()
    )
    return f"In moves lost White counts {white} and Black {black}."


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


def name_here(request: Request, sent: Any) -> Response:
    """Give the position a name, as a tabiya of the edition."""
    try:
        wish = msgspec.convert(sent, _Named)
    except msgspec.ValidationError as error:
        raise UsageError(f"the form is not complete: {error}") from None
    name, called = request.path_params["name"], " ".join(wish.called.split())
    if not called:
        raise UsageError("no name was given", remedy="type one, for example iqp")
    with texts_of(request).writing:
        edition, _ = editions_of(request).settings(name)
        if same_name(called) in map(same_name, edition.places):
            raise InputError(
                f"{called!r} is a name already", remedy="choose another, or change that one in the settings"
            )
        name_place(edition, called, wish.at)
    return JSONResponse({"go": address(name, "position", at=called)})
