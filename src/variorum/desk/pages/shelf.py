"""The shelf: the editions on this computer, a new one, another folder; and long work on an edition, begun from any page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.base import InputError, UsageError, VariorumError
from variorum.desk.moves import address
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.render import page
from variorum.desk.shelf import Shelved
from variorum.edition import load_edition, new_edition
from variorum.edition.folder import SOURCES

if TYPE_CHECKING:
    from variorum.base import Progress

__all__ = ["new", "open_folder", "remove", "shelf_page", "start_work"]


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
    """An edition on the shelf: what it is called, whose it is, its roots in words, and what is wrong with its settings."""

    name: str
    title: str
    side: str
    folder: str
    roots: tuple[tuple[str, str], ...]
    fault: str


def shelf_page(request: Request, sent: Any) -> Response:
    """The editions on this computer, the latest opened first."""
    del sent
    rows = [_row(one) for one in request.app.state.shelf.all()]
    return page("shelf.html.j2", **frame(request, "", "Shelf"), rows=rows, home=str(Path.home() / "Variorum"))


def _row(one: Shelved) -> ShelfRow:
    edition, faults = load_edition(one.folder)
    if edition is None:
        fault = faults[0].message if faults else "the settings cannot be read"
        return ShelfRow(one.name, one.folder.name, "", str(one.folder), (), fault)
    roots = tuple(
        (root.name or root.text, root.line.san() if root.line else root.position.fen)
        for root in edition.roots
    )
    return ShelfRow(one.name, edition.title, edition.side, str(one.folder), roots, "")


def new(request: Request, sent: Any) -> Response:
    """Begin a new edition and put it on the shelf."""
    wish = _read(sent, _New)
    if not wish.folder.strip():
        raise UsageError("the folder is empty", remedy="say where the edition's files shall lie")
    folder = Path(wish.folder).expanduser()
    if not folder.is_absolute():
        raise UsageError(
            f"{wish.folder!r} is no whole path", remedy="begin it at the top, or with ~ for your own folder"
        )
    try:
        new_edition(folder, wish.title, [wish.root], wish.side)
    except OSError as error:
        raise InputError(f"cannot be written: {error.strerror}", path=folder) from None
    return _opened(request, folder)


def open_folder(request: Request, sent: Any) -> Response:
    """Put an edition's folder on the shelf."""
    folder = Path(_read(sent, _Folder).folder.strip()).expanduser()
    if not folder.is_absolute():
        raise UsageError("this is no whole path", remedy="begin it at the top, or with ~ for your own folder")
    return _opened(request, folder)


def _opened(request: Request, folder: Path) -> Response:
    one = request.app.state.shelf.add(folder)
    return JSONResponse({"go": address(one.name, "map")})


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
    del sent
    name, kind = request.path_params["name"], request.path_params["kind"]
    if kind not in _WORKS:
        raise UsageError(f"there is no work called {kind!r}")
    run, subject = _WORKS[kind]
    editions = editions_of(request)
    editions.settings(name)  # refuse now what could not be opened in the background either

    def in_background(progress: Progress) -> str:
        run(editions, name, progress)
        return address(name, "map")

    number = request.app.state.works.start(name, kind, subject, in_background)
    return JSONResponse({"number": number})


def _sift(editions: Any, name: str, progress: Progress) -> None:
    from variorum.sources import SiftOptions, fault_of, sift
    from variorum.store import Mode, open_store

    edition, user = editions.settings(name)
    with open_store(edition.store_folder(user), mode=Mode.WRITE) as store:
        report = sift(edition, store, [edition.path / SOURCES], SiftOptions(), progress)
    if (fault := fault_of(report)) is not None:
        raise fault if isinstance(fault, VariorumError) else InputError(str(fault))


def _build(editions: Any, name: str, progress: Progress) -> None:
    from variorum.build.building import BuildLimits, build_edition

    edition, user = editions.settings(name)
    build_edition(edition, user, BuildLimits(), progress)


_WORKS: Final[dict[str, tuple[Callable[[Any, str, Any], None], str]]] = {
    "sift": (_sift, "the games under sources/"),
    "build": (_build, "the whole edition"),
}
