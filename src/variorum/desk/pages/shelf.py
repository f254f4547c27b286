"""The shelf: the editions on this computer, a new one, another folder; and long work on an edition, begun from any page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from itertools import islice
from pathlib import Path
from typing import Any, Final, Literal

import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.base import InputError, UsageError
from variorum.board import Line, Position
from variorum.build.drift_counts import count_drift
from variorum.claims.signs import questions_in
from variorum.desk.moves import address, printed, spelled, text_address
from variorum.desk.pages.frame import begin_work, editions_of, frame
from variorum.desk.render import page
from variorum.desk.shelf import Shelved
from variorum.desk.texts import Texts
from variorum.desk.work import Running
from variorum.edition import load_edition, new_edition
from variorum.edition.folder import MANUSCRIPT, SETTINGS, SOURCES
from variorum.edition.place import parse_place

__all__ = ["line", "new", "open_folder", "remove", "shelf_page", "start_work", "state_part"]

_LOOKED_AT: Final = 500
_MOST_FOUND: Final = 20
"""Folders that are looked at for editions, and editions that are told of."""
_QUESTIONS: Final = 5
_UNANSWERED: Final = 3


class _New(msgspec.Struct):
    title: str
    folder: str
    root: str
    side: Literal["white", "black", "both"] = "white"


class _Folder(msgspec.Struct):
    folder: str


class _Name(msgspec.Struct):
    name: str


class ShelfRow(msgspec.Struct, frozen=True):
    """An edition on the shelf: what it is called, whose it is, its roots in words, and what is wrong with its settings.

    `fen` is the position of its first root, `visited` the day it was looked at last.
    """

    name: str
    title: str
    side: str
    folder: str
    roots: tuple[tuple[str, str], ...]
    fault: str
    fen: str = ""
    visited: str = ""


def shelf_page(request: Request, sent: Any) -> Response:
    """The editions on this computer, the latest opened first."""
    del sent
    shelved = request.app.state.shelf.all()
    return page(
        "shelf.html.j2",
        **frame(request, "", "Shelf"),
        rows=[_row(one) for one in shelved],
        found=_found([one.folder for one in shelved]),
        home=str(_home()),
        start=Position.start().fen,
    )


def _home() -> Path:
    """Where new editions are put unless the author says otherwise."""
    return Path.home() / "Variorum"


def _found(shelved: Sequence[Path]) -> list[str]:
    """Folders with an edition that lie beside those on the shelf or in the usual place, and are not on it."""
    found: dict[Path, None] = {}
    for folder in dict.fromkeys((_home(), *(one.parent for one in shelved))):
        with suppress(OSError):
            for one in islice(sorted(folder.iterdir()), _LOOKED_AT):
                if (one / SETTINGS).is_file() and one not in shelved:
                    found[one] = None
    return [str(one) for one in islice(found, _MOST_FOUND)]


def state_part(request: Request, sent: Any) -> Response:
    """How things stand with an edition: what drifted between its last two builds, and what its author asks himself."""
    del sent
    name = request.path_params["name"]
    edition, _ = editions_of(request).settings(name)
    texts: Texts = request.app.state.texts
    questions = list(questions_in(texts.manuscript(edition), edition))
    return page(
        "shelf_state.html.j2",
        drift=count_drift(edition.path),
        drift_at=address(name, "drift"),
        contradicted_at=address(name, "claims", standing="contradicted"),
        undecided_at=address(name, "claims", standing="undecided"),
        questions=[
            (one, text_address(name, MANUSCRIPT, one.line, one.column)) for one in questions[:_QUESTIONS]
        ],
        more=max(0, len(questions) - _QUESTIONS),
        claims_at=address(name, "claims") + "#questions",
    )


def line(request: Request, sent: Any) -> Response:
    """A line that is typed or made on the board before there is an edition: where it leads, and the moves that are legal there."""
    del sent
    asked = request.query_params
    place = parse_place(asked.get("line", "").strip() or "start", {})
    so_far = place.line or Line(place.position)
    move = asked.get("move", "").strip()
    if move == "back":
        so_far = Line(so_far.start, so_far.moves[:-1])
    elif move:
        so_far = so_far.play(so_far.end.parse(move))
    position = so_far.end
    return JSONResponse(
        {
            "line": spelled(so_far) if so_far.moves or so_far.start != Position.start() else "",
            "printed": printed(so_far.san()),
            "fen": position.fen,
            "legal": [one.uci for one in position.legal_moves()],
            "mover": position.turn.value.capitalize(),
        }
    )


def _row(one: Shelved) -> ShelfRow:
    edition, faults = load_edition(one.folder)
    if edition is None:
        fault = faults[0].message if faults else "the settings cannot be read"
        return ShelfRow(one.name, one.folder.name, "", str(one.folder), (), fault, visited=one.visited)
    roots = tuple(
        (root.name or root.text, root.line.san() if root.line else root.position.fen)
        for root in edition.roots
    )
    fen = edition.roots[0].position.fen
    return ShelfRow(one.name, edition.title, edition.side, str(one.folder), roots, "", fen, one.visited)


def new(request: Request, sent: Any) -> Response:
    """Begin a new edition and put it on the shelf."""
    wish = _read(sent, _New)
    if not wish.folder.strip():
        raise UsageError("the folder is empty", remedy="say where the edition's files shall lie")
    folder = _whole_path(wish.folder)
    try:
        new_edition(folder, wish.title, [wish.root], wish.side)
    except OSError as error:
        raise InputError(f"cannot be written: {error.strerror}", path=folder) from None
    return _opened(request, folder, "games")


def open_folder(request: Request, sent: Any) -> Response:
    """Put an edition's folder on the shelf."""
    return _opened(request, _whole_path(_read(sent, _Folder).folder), "map")


def _whole_path(typed: str) -> Path:
    try:
        folder = Path(typed.strip()).expanduser()
    except RuntimeError:  # ~ with the name of nobody
        folder = Path()
    if not folder.is_absolute() or "\0" in typed:
        raise UsageError(
            f"{typed!r} is no whole path", remedy="begin it at the top, or with ~ for your own folder"
        )
    return folder


def _opened(request: Request, folder: Path, first: str) -> Response:
    one = request.app.state.shelf.add(folder)
    return JSONResponse({"go": address(one.name, first)})


def remove(request: Request, sent: Any) -> Response:
    """Take an edition from the shelf; its files stay."""
    request.app.state.shelf.remove(_read(sent, _Name).name)
    return JSONResponse({"go": "/"})


def _read(sent: Any, kind: type[Any]) -> Any:
    try:
        return msgspec.convert(sent, kind)
    except msgspec.ValidationError as error:
        raise UsageError(f"the form is not complete: {error}") from None


def start_work(request: Request, sent: Any) -> Response:
    """Begin long work on an edition."""
    name, kind = request.path_params["name"], request.path_params["kind"]
    if kind not in _WORKS:
        raise UsageError(f"there is no work called {kind!r}")
    run, subject = _WORKS[kind]
    editions = editions_of(request)
    editions.settings(name)  # refuse now what could not be opened in the background either

    def in_background(progress: Running) -> str:
        run(editions, name, progress)
        return address(name, "map")

    return begin_work(request, sent, kind, subject, in_background)


def _sift(editions: Any, name: str, progress: Running) -> None:
    from variorum.sources import SiftOptions, fault_of, faults_of, sift
    from variorum.store import Mode, open_store

    edition, user = editions.settings(name)
    with open_store(edition.store_folder(user), mode=Mode.WRITE) as store:
        report = sift(edition, store, [edition.path / SOURCES], SiftOptions(), progress)
    if not report.sources and (fault := fault_of(report)) is not None:
        raise fault
    for one in faults_of(report):
        progress.fall_short(str(one))


def _build(editions: Any, name: str, progress: Running) -> None:
    from variorum.build.building import BuildLimits, build_edition

    edition, user = editions.settings(name)
    report = build_edition(edition, user, BuildLimits(), progress)
    for one in report.sources:
        if one.fault:
            progress.fall_short(f"{one.source}: {one.fault}; mend it, or take it out on the page of games")
    for absent in report.absent:
        progress.fall_short(f"{absent}, whom the edition asks, is not among your voices and was passed over")
    for unanswered in report.unanswered[:_UNANSWERED]:
        progress.fall_short(f"no answer: {unanswered}")


def _publish(editions: Any, name: str, progress: Running) -> None:
    import datetime

    from variorum.build.opened import OpenEdition
    from variorum.build.publishing import publish_edition

    edition, user = editions.settings(name)
    with progress.task("setting both texts", total=None, unit="steps"), OpenEdition(edition, user) as opened:
        report, _ = publish_edition(opened, made_on=datetime.datetime.now(datetime.UTC).date())
    for path in report.written:
        progress.say(f"written: {path}")
    if not report.written:
        raise InputError("there is no digest.md and no manuscript.pgn yet", remedy="write one first")


_WORKS: Final[dict[str, tuple[Callable[[Any, str, Running], None], str]]] = {
    "sift": (_sift, "the games under sources/"),
    "build": (_build, "the whole edition"),
    "publish": (_publish, "both texts"),
}
