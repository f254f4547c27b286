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
from invented_desk import GAME
from playwright.sync_api import Page, expect, sync_playwright

from variorum.cli import main
from variorum.desk.app import make_app
from variorum.desk.shelf import Shelf
from variorum.edition import new_edition

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


@pytest.fixture
def two_games(address: str, browser_page: Page, tmp_path: Path) -> str:
    """The address of an edition with two games, which has been opened."""
    folder = tmp_path / "edition"
    new_edition(folder, "The Queen's Gambit", ["qgd: 1.d4 d5 2.c4 e6"], "white")
    (folder / "sources" / "a.pgn").write_text(GAME + GAME.replace("3. Nc3 Nf6 4. Nf3", "3. Nf3 Nf6 4. Nc3"))
    assert main(["sift", str(folder)]) == 0
    browser_page.goto(address)
    browser_page.get_by_label("Its folder").fill(str(folder))
    browser_page.get_by_role("button", name="Open it").click()
    expect(browser_page.locator("h1")).to_contain_text("Where the lines lead")
    return f"{address}/e/{Shelf().add(folder).name}"
