"""A desk that listens, and a real browser before it."""

from __future__ import annotations

import shutil
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn
from invented_build import make_edition
from playwright.sync_api import Page, sync_playwright

from variorum.cli import main
from variorum.desk.app import make_app
from variorum.desk.shelf import Shelf

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="module")
def browser_page() -> Iterator[Page]:
    if CHROMIUM is None:
        pytest.skip("no chromium on this machine")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield browser.new_context(viewport={"width": 1440, "height": 1000}).new_page()
        browser.close()


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small edition with games, verdicts, claims, playouts and what was published of it; for reading only."""
    folder = make_edition(tmp_path_factory.mktemp("built") / "edition")
    assert main(["build", str(folder), "--total-nodes", "60000"]) == 0
    assert main(["playout", str(folder), "panov", "--games", "2", "--nodes", "50"]) == 0
    return folder


@pytest.fixture
def address(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    monkeypatch.setenv("VARIORUM_HOME", str(tmp_path / "home"))
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
        app = make_app(hosts=frozenset({f"127.0.0.1:{port}"}), shelf_list=Shelf())
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=1))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        thread.start()
        yield f"http://127.0.0.1:{port}"
        app.state.closing.set()
        server.should_exit = True
        thread.join()
