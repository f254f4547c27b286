"""Running the desk: on this computer only unless the user says otherwise, until Ctrl-C."""

from __future__ import annotations

import contextlib
import os
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator
from types import FrameType
from typing import Final

import uvicorn
from starlette.applications import Starlette

from variorum.base import UsageError
from variorum.desk.app import make_app
from variorum.desk.shelf import Shelf

__all__ = ["LOOPBACK", "serve"]

LOOPBACK: Final = "127.0.0.1"
_FIRST_PORT: Final = 7411
_TURN: Final = 0.0005
"""Seconds after which a thread that computes lets others have their turn: a page asks for it many times."""
_PORTS: Final = 20
"""Where the usual port is taken, so many after it are tried."""


def serve(
    shelf: Shelf,
    *,
    host: str = LOOPBACK,
    port: int | None = None,
    open_at: str | None = "/",
    told: Callable[[str], None] = lambda address: None,
) -> None:
    """Serve until Ctrl-C.

    Args:
        shelf: The editions on this computer.
        host: The address that is listened on.
        port: The port; by default the first free one of the desk's own.
        open_at: The page that a browser is opened at, `None` for no browser.
        told: Is told the desk's address once it answers.

    Raises:
        UsageError: The port cannot be had.
    """
    with _listening(host, port) as listener:
        number = listener.getsockname()[1]
        names = {"localhost", "127.0.0.1", "[::1]"} if host == LOOPBACK else {host}
        app = make_app(hosts=frozenset(f"{name}:{number}" for name in names), shelf_list=shelf)
        server = _Server(
            uvicorn.Config(
                app, log_level="warning", access_log=False, server_header=False, timeout_graceful_shutdown=3
            )
        )
        sys.setswitchinterval(_TURN)
        address = f"http://{host}:{number}"
        told(address)
        if open_at is not None:
            # The listener queues what comes before the server answers.
            threading.Thread(target=webbrowser.open, args=(address + open_at,), daemon=True).start()
        with contextlib.suppress(KeyboardInterrupt):  # the way to close it, no interruption
            server.run(sockets=[listener])


class _Server(uvicorn.Server):
    """Told to end, it first lets the streams to open pages end: else it would wait for them in vain."""

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        app = self.config.app
        assert isinstance(app, Starlette)
        app.state.closing.set()
        super().handle_exit(sig, frame)


@contextlib.contextmanager
def _listening(host: str, port: int | None) -> Iterator[socket.socket]:
    tried = range(_FIRST_PORT, _FIRST_PORT + _PORTS) if port is None else [port]
    fault = ""
    for number in tried:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        # With the protocol said, asyncio sends what is written at once; else each answer waits some 40 ms for an ACK.
        listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        # A desk that was closed a moment ago leaves its port waiting; Windows alone would share a port that is in use.
        if os.name == "posix":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, number))
            listener.listen(128)
        except OSError as error:
            listener.close()
            fault = error.strerror or str(error)
            continue
        with listener:
            yield listener
        return
    where = f"port {port}" if port is not None else f"each port from {tried[0]} to {tried[-1]}"
    raise UsageError(f"{where} of {host} cannot be had: {fault}", remedy="choose another with --port")
