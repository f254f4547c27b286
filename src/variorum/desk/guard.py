"""Who may speak to the desk: this computer's browser, on the desk's own pages, and for anything that writes with its token.

A page of another site can send requests to a server on this computer too. It cannot name the desk's host truly (Host), cannot
hide where it comes from (Origin, Sec-Fetch-Site), and cannot read the token that the desk's own pages carry.
"""

from __future__ import annotations

import secrets
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["TOKEN_HEADER", "Guard", "new_token"]

TOKEN_HEADER: Final = "x-variorum-token"
_READING: Final = frozenset({"GET", "HEAD"})
_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; "
    "base-uri 'none'; form-action 'self'; frame-src 'self'; frame-ancestors 'none'"
)
_HEADERS: Final = {
    "content-security-policy": _POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}


def new_token() -> str:
    """A token for one run of the server: 256 bits that nobody can guess."""
    return secrets.token_urlsafe(32)


class Guard:
    """ASGI middleware that refuses what does not come from the desk's own pages, and sets the headers of every answer."""

    def __init__(self, app: ASGIApp, *, hosts: frozenset[str], token: str) -> None:
        """`hosts` are the values of the Host header that are meant for this server, port included."""
        self._app = app
        self._hosts = hosts
        self._token = token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        fault = self._fault(scope["method"], Headers(scope=scope))
        app = self._app if fault is None else PlainTextResponse(f"{fault}\n", status_code=403)

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                set_already = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    set_already.setdefault(name, value)
            await send(message)

        await app(scope, receive, send_guarded)

    def _fault(self, method: str, headers: Headers) -> str | None:
        """Why a request is refused, `None` if it is not."""
        host = headers.get("host", "").lower()
        if host not in self._hosts:
            return "This desk answers only to its own address on this computer."
        origin = headers.get("origin")
        if origin is not None and origin.lower() not in {f"http://{name}" for name in self._hosts}:
            return "The request comes from another site."
        site = headers.get("sec-fetch-site", "none")
        navigates = method in _READING and headers.get("sec-fetch-mode") == "navigate"
        if site not in ("none", "same-origin") and not navigates:
            return "The request comes from another site."
        if method in _READING:
            return None
        if not secrets.compare_digest(headers.get(TOKEN_HEADER, "").encode(), self._token.encode()):
            return "The page is older than this run of the desk: load it again."
        return None
