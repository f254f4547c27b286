"""A note in the margin of each page for whoever sees it first: what it shows, and what to try. It stays away once it was put away.

Pages are kept once they are made, and a note is not part of what they are made from: it is put in when a page is answered.
"""

from __future__ import annotations

import re
from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from variorum.base import InputError, UsageError
from variorum.desk.editions import Editions
from variorum.desk.memory import Memory
from variorum.desk.render import page

__all__ = ["NOTES", "again", "put_away", "with_note"]

_MARK: Final = re.compile(rb"<!--note ([a-z]*)-->")
"""Stands in a page where its note goes; what an author wrote is escaped, so nobody else can write it."""
_DEMONSTRATION: Final = frozenset({"iqp", "retreat", "bishop-c4", "nimzo-iqp"})
"""Names by which the demonstration is known; what is to be tried there leads to its positions."""


class Note(msgspec.Struct, frozen=True):
    """What a page shows, what to try on it, and what to try in the demonstration: words and where they lead in the edition."""

    shows: str
    attempt: str
    there: tuple[str, str] = ("", "")


NOTES: Final = {
    "shelf": Note(
        "Your editions stand here, each with the position it begins with, what turned at its last build, and the questions that you asked yourself.",
        "Open one, or make the first position of a new one on the board below.",
    ),
    "games": Note(
        "The files that your games come from. They are read and never changed; what reaches a root of the edition, by any order, is kept.",
        "Add a PGN of your own and bring it in.",
    ),
    "map": Note(
        "The lines of the edition fork and flow together again. The heavier a line, the more of the games go there; a double ring is reached by more than one move order.",
        "Walk along a line with the arrow keys; Enter opens a position.",
        ("Here two openings meet: the position iqp", "position?at=iqp"),
    ),
    "position": Note(
        "Everything that is known of one position: the line to it, what is played, your own words, and what each voice says, whatever order led here.",
        "Step along the line with the arrow keys, or press a: the resident begins to think.",
        ("See the one with most to say: iqp", "position?at=iqp"),
    ),
    "orders": Note(
        "The move orders that lead to a position, and what the other side can do instead on the way. The price of an order is what its worst way out costs.",
        "Compare the scores of one way out under the different orders.",
        ("The orders to iqp", "orders?at=iqp"),
    ),
    "plans": Note(
        "What games show from a position on: breaks, ways of single units, exchanges, and how often.",
        "Point at a plan and it is drawn on the board; a press keeps it there.",
        ("The plans from iqp", "plans?at=iqp"),
    ),
    "structures": Note(
        "Into which pawn structures the lines go, and by which move one becomes another.",
        "Look for the break that most of the traffic takes.",
        ("From iqp alone", "structures?at=iqp"),
    ),
    "contrast": Note(
        "Two positions side by side. What stands elsewhere is marked in both, and below stands what that changes.",
        "Set two places against each other that you mix up at the board.",
        ("The bishop on d3, or on c4", "contrast?at=iqp&with=bishop-c4"),
    ),
    "playouts": Note(
        "Voices play a position out, many times. That is evidence of its own kind: it tells how hard a position is to hold, not how it was played.",
        "Have twenty games played, and go on working meanwhile.",
        ("Choose the position retreat", "playouts?at=retreat"),
    ),
    "claims": Note(
        "Each sign and each marked sentence of your texts is held against the evidence. What is contradicted stands first.",
        "Press a move of a line that speaks against a claim, and step on with the arrow keys.",
        (
            "In the demonstration three sentences are wrong on purpose",
            "claims?standing=contradicted&in=digest.md",
        ),
    ),
    "drift": Note(
        "Evidence moves on while a text stands still. This page tells what turned between two builds, and where to look first.",
        "Build, bring in games or ask a voice, build again, and come back.",
    ),
    "manuscript": Note(
        "The long text: your analysis as a book, with variations folded away. The file is an ordinary PGN, and only what you change is written.",
        "Unfold a variation, and write a remark behind a move.",
    ),
    "digest": Note(
        "The short text beside the page that it becomes. Figures and claims in it are looked up, so that they stay true.",
        "Cite a score at a named place, and watch the page that it becomes.",
    ),
    "settings": Note(
        "What counts as slightly better, when a move deserves a question mark, whom the edition asks: all of it can be said here.",
        "Name a position: under Tabiyas, give it a name and the line that leads there.",
    ),
    "voices": Note(
        "Whoever can be asked. The resident is always there; other programs are added by their path and stay your own affair.",
        "Try the resident: it takes some seconds and tells how fast it is here.",
    ),
}
"""The notes by page, in the order of a tour."""


class _Which(msgspec.Struct):
    note: str


def with_note(request: Request, answer: Response) -> Response:
    """A page with its note, where that was not put away."""
    if not isinstance(answer, HTMLResponse) or "content-security-policy" in answer.headers:
        return answer  # no page of the desk: the preview of a publication has a policy of its own
    body = bytes(answer.body)
    found = _MARK.search(body)
    if found is None:
        return answer
    note = _note(request, found[1].decode())
    fresh = body[: found.start()] + note.encode() + body[found.end() :]
    headers = {name: value for name, value in answer.headers.items() if name != "content-length"}
    return HTMLResponse(fresh, status_code=answer.status_code, headers=headers)


def _note(request: Request, section: str) -> str:
    memory: Memory = request.app.state.memory
    if section not in NOTES or section in memory.read:
        return ""
    order = list(NOTES)
    name = request.path_params.get("name", "")
    note, number = NOTES[section], order.index(section) + 1
    at = f"/e/{name}/"
    is_there = bool(name) and note.there[0] and _is_demonstration(request, name)
    onward = order[number] if name and number < len(order) - 1 else ""
    return bytes(
        page(
            "tour.html.j2",
            section=section,
            note=note,
            there=(note.there[0], at + note.there[1]) if is_there else None,
            number=number,
            of=len(order),
            onward=(onward, at + onward) if onward else None,
        ).body
    ).decode()


def _is_demonstration(request: Request, name: str) -> bool:
    editions: Editions = request.app.state.editions
    try:
        return editions.settings(name)[0].names.keys() >= _DEMONSTRATION
    except InputError:
        return False


def put_away(request: Request, sent: Any) -> Response:
    """Show the note of a page no more, or (`all`) none."""
    try:
        which = msgspec.convert(sent, _Which).note
    except msgspec.ValidationError as error:
        raise UsageError(f"the wish did not arrive: {error}") from None
    if which not in (*NOTES, "all"):
        raise UsageError(f"there is no note {which!r}")
    memory: Memory = request.app.state.memory
    for one in NOTES if which == "all" else (which,):
        memory.put_away(one)
    return JSONResponse({})


def again(request: Request, sent: Any) -> Response:
    """Show all notes again."""
    del sent
    memory: Memory = request.app.state.memory
    memory.show_again()
    return JSONResponse({"go": "/"})
