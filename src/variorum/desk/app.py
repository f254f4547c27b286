"""The desk as an ASGI application: which address is which page, and what wraps them all."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any, Final

import anyio.to_thread
import msgspec
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from variorum.base import Defect, VariorumError, in_words
from variorum.desk import assets, events
from variorum.desk.editions import Editions
from variorum.desk.guard import Guard, new_token
from variorum.desk.inquiries import Inquiries
from variorum.desk.journal import Journal
from variorum.desk.later import later, soon
from variorum.desk.memory import Memory
from variorum.desk.pages import (
    asking,
    claims,
    contrast,
    digest,
    drift,
    edition_map,
    game,
    games,
    games_here,
    manuscript,
    orders,
    plans,
    playouts,
    position,
    position_parts,
    published,
    settings,
    shelf,
    sources,
    structures,
    voices,
    words,
)
from variorum.desk.parts import Parts
from variorum.desk.render import page
from variorum.desk.shelf import Shelf
from variorum.desk.texts import Texts
from variorum.desk.tour import again, put_away, with_note
from variorum.desk.work import Works

__all__ = ["make_app"]

_MOST_SENT: Final = 64 << 20
"""Bytes of a request: as long as a text of the author may be."""


def make_app(
    *,
    hosts: frozenset[str],
    shelf_list: Shelf | None = None,
    works: Works | None = None,
    patience: float = 0.3,
) -> Starlette:
    """The application. Whoever serves it sets `state.closing` before it ends: what streams to open pages ends then.

    Args:
        hosts: Values of the Host header that it answers to.
        shelf_list: The editions on this computer.
        works: Where long work runs.
        patience: Seconds that a page made in the background may take before its place tells how far it is.
    """
    token = new_token()
    routes = [
        Route("/", _answer(shelf.shelf_page)),
        Route("/shelf/new", _answer(shelf.new), methods=["POST"]),
        Route("/shelf/open", _answer(shelf.open_folder), methods=["POST"]),
        Route("/shelf/line", _answer(shelf.line)),
        Route("/e/{name}/state", _answer(shelf.state_part)),
        Route("/shelf/remove", _answer(shelf.remove), methods=["POST"]),
        Route("/e/{name}/map", _answer(soon(edition_map.map_page))),
        Route("/e/{name}/map/sheet", _answer(soon(edition_map.map_part))),
        Route("/e/{name}/position", _answer(position.position_page)),
        Route("/e/{name}/position/name", _answer(position.name_here), methods=["POST"]),
        Route("/e/{name}/play", _answer(position.play)),
        Route("/e/{name}/words", _answer(words.words_part)),
        Route("/e/{name}/words", _answer(words.change), methods=["POST"]),
        Route("/e/{name}/part/{part}", _answer(position_parts.answer)),
        Route("/e/{name}/ask", _answer(asking.begin), methods=["POST"]),
        Route("/e/{name}/ask/{number:int}", _answer(asking.look)),
        Route("/e/{name}/ask/{number:int}", _answer(asking.act), methods=["POST"]),
        Route("/e/{name}/orders", _answer(later(orders.orders_page))),
        Route("/e/{name}/plans", _answer(later(plans.plans_page))),
        Route("/e/{name}/structures", _answer(later(structures.structures_page))),
        Route("/e/{name}/contrast", _answer(contrast.contrast_page)),
        Route("/e/{name}/digest", _answer(digest.digest_page)),
        Route("/e/{name}/digest/preview", _answer(digest.preview), methods=["POST"]),
        Route("/e/{name}/digest/preview", _answer(digest.preview_page)),
        Route("/e/{name}/digest/compare", _answer(digest.compare), methods=["POST"]),
        Route("/e/{name}/digest/complete", _answer(digest.completions), methods=["POST"]),
        Route("/e/{name}/digest/results", _answer(published.results_part)),
        Route("/e/{name}/out/{file}", _answer(published.published_file)),
        Route("/e/{name}/digest/save", _answer(digest.save), methods=["POST"]),
        Route("/e/{name}/manuscript", _answer(manuscript.manuscript_page)),
        Route("/e/{name}/manuscript/book", _answer(manuscript.book_part)),
        Route("/e/{name}/manuscript/tidy", _answer(manuscript.tidy_part)),
        Route("/e/{name}/manuscript/steps", _answer(manuscript.steps_part)),
        Route("/e/{name}/claims", _answer(later(claims.claims_page))),
        Route("/e/{name}/claims/decide", _answer(claims.decide), methods=["POST"]),
        Route("/e/{name}/drift", _answer(drift.drift_page)),
        Route("/e/{name}/drift/found", _answer(later(drift.found_part))),
        Route("/e/{name}/playouts", _answer(later(playouts.playouts_page))),
        Route("/e/{name}/playouts/plans", _answer(later(playouts.plans_part))),
        Route("/e/{name}/playouts/play", _answer(playouts.play), methods=["POST"]),
        Route("/e/{name}/playouts/game/{number:int}", _answer(playouts.game_part)),
        Route("/e/{name}/games/here", _answer(games_here.games_here_page)),
        Route("/e/{name}/game/{number:int}", _answer(game.game_page)),
        Route("/e/{name}/games", _answer(games.games_page)),
        Route("/e/{name}/games/add", _receiving(games.receive), methods=["POST"]),
        Route("/e/{name}/games/act", _answer(sources.act), methods=["POST"]),
        Route("/e/{name}/settings", _answer(settings.settings_page)),
        Route("/e/{name}/settings/change", _answer(settings.change), methods=["POST"]),
        Route("/e/{name}/settings/undo", _answer(settings.undo), methods=["POST"]),
        Route("/e/{name}/begin/{kind}", _answer(shelf.start_work), methods=["POST"]),
        Route("/voices", _answer(voices.voices_page)),
        Route("/voices/add", _answer(voices.add), methods=["POST"]),
        Route("/voices/change", _answer(voices.change), methods=["POST"]),
        Route("/voices/remove", _answer(voices.remove), methods=["POST"]),
        Route("/voices/resident", _answer(voices.resident), methods=["POST"]),
        Route("/voices/try", _answer(voices.try_one), methods=["POST"]),
        Route("/notes/put-away", _answer(put_away), methods=["POST"]),
        Route("/notes/again", _answer(again), methods=["POST"]),
        Route("/works", events.works),
        Route("/works/{number:int}/stop", events.stop, methods=["POST"]),
        Route("/works/{number:int}/put-away", events.put_away, methods=["POST"]),
        Route("/static/{name:path}", assets.static),
    ]

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        for latest in app.state.shelf.all()[:1]:
            app.state.editions.warm(latest.name)
        yield
        app.state.inquiries.stop_all()
        await anyio.to_thread.run_sync(app.state.parts.close)
        await anyio.to_thread.run_sync(app.state.works.stop_all)
        app.state.editions.close()

    app = Starlette(
        routes=routes,
        middleware=[Middleware(Guard, hosts=hosts, token=token)],
        exception_handlers={404: _not_found},
        lifespan=lifespan,
    )
    app.state.token = token
    app.state.closing = threading.Event()
    app.state.shelf = shelf_list or Shelf()
    app.state.editions = Editions(app.state.shelf)
    app.state.parts = Parts(app.state.editions)
    app.state.patience = patience
    app.state.works = works or Works(Journal())
    app.state.inquiries = Inquiries()
    app.state.texts = Texts()
    app.state.memory = Memory()
    app.state.previews = digest.Previews()
    return app


Page = Callable[[Request, Any], Response]
"""A page: from the request and, where it was sent, its JSON."""


def _answer(make: Page) -> Callable[[Request], Any]:
    """Run a page in a thread of its own; whatever goes wrong is told as an erratum."""

    async def endpoint(request: Request) -> Response:
        sent: Any = None
        if request.method == "POST":
            try:
                sent = await _sent(request)
            except ValueError as error:
                return JSONResponse({"fault": str(error), "remedy": ""}, status_code=400)
        try:
            return await anyio.to_thread.run_sync(lambda: with_note(request, make(request, sent)))
        except HTTPException:
            raise
        except Exception as failure:  # noqa: BLE001  no traceback reaches a user
            return _failed(request, failure)

    return endpoint


def _receiving(take: Callable[[Request], Awaitable[Response]]) -> Callable[[Request], Any]:
    """Take in a file, as it comes; whatever goes wrong is told as an erratum."""

    async def endpoint(request: Request) -> Response:
        try:
            return await take(request)
        except Exception as failure:  # noqa: BLE001  no traceback reaches a user
            return _failed(request, failure)

    return endpoint


def _failed(request: Request, failure: Exception) -> Response:
    told = in_words(failure)
    status = 500 if isinstance(told, Defect) else 422
    if request.method == "POST" or request.headers.get("accept", "").startswith("application/json"):
        return JSONResponse({"fault": str(told.message), "remedy": told.remedy or ""}, status_code=status)
    return _erratum(request, told, status)


async def _sent(request: Request) -> dict[str, Any]:
    """The JSON object that was sent.

    Raises:
        ValueError: It is none, too large, or broke off.
    """
    body = bytearray()
    try:
        async for chunk in request.stream():
            body += chunk
            if len(body) > _MOST_SENT:
                raise ValueError("the request is too large")
    except ClientDisconnect:  # a page was left while it sent; nobody hears the answer
        raise ValueError("the request broke off") from None
    try:
        sent = msgspec.json.decode(bytes(body))
    except (msgspec.DecodeError, RecursionError):
        raise ValueError("the request is no JSON") from None
    if not isinstance(sent, dict):
        raise ValueError("the request is no JSON object")
    return sent


def _erratum(request: Request, error: VariorumError, status: int) -> Response:
    known = {one.name for one in request.app.state.shelf.all()}
    name = request.path_params.get("name", "")
    return page(
        "erratum.html.j2",
        status=status,
        token=request.app.state.token,
        edition=name if name in known else "",
        title="Erratum",
        section="",
        what=error.message,
        where=error.where,
        remedy=error.remedy or "",
    )


async def _not_found(request: Request, error: Exception) -> Response:
    del error
    return page(
        "erratum.html.j2",
        status=404,
        token=request.app.state.token,
        edition="",
        title="Erratum",
        section="",
        what="There is no such page.",
        where=request.url.path,
        remedy="The shelf leads to every edition.",
    )
