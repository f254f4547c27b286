"""Strangers in a real browser: another site, a page that came with somebody else's edition, markup in a text that is being written.

Attacks after OWASP, Cross-Site Request Forgery Prevention and Cross Site Scripting Prevention Cheat Sheets (from memory).
"""

from __future__ import annotations

import http.server
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from invented_desk import HOSTILE
from playwright.sync_api import Page, expect

from variorum.edition import new_edition

ATTACK = """
const told = word => { document.title += ` ${word}`; };
const desk = 'DESK', sent = '{"name": "NAME"}';
const tries = {
  read: () => fetch(`${desk}/`).then(answer => answer.text()),
  write: () => fetch(`${desk}/shelf/remove`, { method: 'POST', headers: { 'x-variorum-token': 'x' }, body: sent }).then(answer => { if (!answer.ok) throw 0; }),
  blind: () => fetch(`${desk}/shelf/remove`, { method: 'POST', mode: 'no-cors', body: sent }).then(() => { throw 0; }),
  store: () => { if (!localStorage || location.origin !== desk || origin === 'null') throw 0; },
  around: () => { if (parent === window || !parent.document.querySelector('meta[name=token]')) throw 0; },
  opener: () => { if (!opener?.document.querySelector('meta[name=token]')) throw 0; },
  script: () => new Promise((yes, no) => { const one = document.createElement('script'); one.src = `${desk}/works`; one.onload = yes; one.onerror = no; document.head.append(one); }),
  listen: () => new Promise((yes, no) => { const one = new EventSource(`${desk}/works`); one.onmessage = yes; one.onerror = () => { one.close(); no(); }; }),
  worker: () => navigator.serviceWorker.register(`${desk}/static/desk.js`),
  form: () => { const one = document.createElement('form'), field = one.appendChild(document.createElement('input')); one.method = 'post'; one.enctype = 'text/plain'; one.action = `${desk}/shelf/remove`; one.target = 'frame'; field.name = '{"name": "NAME", "x": "'; field.value = '"}'; document.body.append(one); one.submit(); throw 0; },
};
(async () => {
  for (const [name, attempt] of Object.entries(tries)) await (async () => attempt())().then(() => told(name), () => {});
  told('END');
})();
"""


@pytest.fixture
def edition(browser_page: Page, address: str, tmp_path: Path) -> Path:
    """Somebody else's edition, on the shelf of the desk; the browser shows its map."""
    folder = tmp_path / "edition"
    new_edition(folder, "A title", ["qgd: 1.d4 d5 2.c4 e6"], "white")
    browser_page.goto(address)
    browser_page.get_by_label("Its folder").fill(str(folder))
    browser_page.get_by_role("button", name="Open it").click()
    expect(browser_page.locator("h1")).to_contain_text("Where the lines lead")
    return folder


def name_of(page: Page) -> str:
    return page.url.split("/e/")[1].split("/")[0]


def attack(desk: str, name: str) -> str:
    script = ATTACK.replace("DESK", desk).replace("NAME", name)
    frames = f'<iframe name="frame"></iframe><iframe name="framed" src="{desk}/"></iframe>'
    return f"<!doctype html><title>:</title><body>{frames}<script>{script}</script>"


@pytest.fixture
def other_site() -> Iterator[tuple[str, dict[str, str]]]:
    """Another site on this computer: its address, and its one page, to be filled in."""
    pages = {"/": ""}

    class Site(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("content-type", "text/html")
            self.end_headers()
            self.wfile.write(pages.get(self.path, "").encode())

        def log_message(self, *_: object) -> None:
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Site) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://localhost:{server.server_port}", pages
        server.shutdown()


def test_another_site_reads_and_writes_nothing(
    browser_page: Page, address: str, edition: Path, other_site: tuple[str, dict[str, str]]
) -> None:
    page, (site, pages) = browser_page, other_site
    name = name_of(page)
    pages["/"] = attack(address, name)
    page.goto(site)
    expect(page).to_have_title(": END", timeout=20_000)
    framed = page.frame("framed")
    assert framed is not None
    assert "Variorum" not in framed.content()
    page.goto(address)
    expect(page.locator(f'a[href^="/e/{name}/"]').first).to_be_visible()


def test_a_page_that_came_with_an_edition_is_a_stranger(
    browser_page: Page, address: str, edition: Path
) -> None:
    page, name = browser_page, name_of(browser_page)
    (edition / "out").mkdir(exist_ok=True)
    (edition / "out" / "digest.html").write_text(attack(address, name))
    page.goto(f"{address}/e/{name}/digest")
    with page.expect_popup() as opened:
        page.get_by_role("link", name="digest.html").click()
    stranger = opened.value
    expect(stranger).to_have_title(": END", timeout=20_000)
    stranger.close()
    page.goto(address)
    expect(page.locator(f'a[href^="/e/{name}/"]').first).to_be_visible()


def test_a_text_that_is_being_written_runs_nothing(browser_page: Page, address: str, edition: Path) -> None:
    page, name, asked = browser_page, name_of(browser_page), []
    page.on("dialog", lambda dialog: (asked.append(dialog.message), dialog.dismiss()))
    (edition / "digest.md").write_text(
        f"# {HOSTILE}\n\n<iframe srcdoc='<script>parent.alert(3)</script>'></iframe><svg onload=alert(4)>\n\n"
        f"[here](javascript:alert(5)) [there](data:text/html,<script>alert(6)</script>) [word](http://localhost:1/)\n\n"
        f'[{HOSTILE}]{{.claim kind=score at="qgd" says="level"}}\n\n:::diagram qgd\ncaption: {HOSTILE}\n:::\n'
    )
    page.goto(f"{address}/e/{name}/digest")
    shown = page.frame_locator("#page")
    expect(shown.locator("v-board svg").first).to_be_visible(timeout=20_000)  # its own script runs
    assert shown.locator("main img, main iframe, main script, main [onerror], main [onload]").count() == 0
    assert [
        one.get_attribute("href") for one in shown.locator("main p a").all() if one.get_attribute("href")
    ] == ["http://localhost:1/"]
    expect(page.locator("#margin li").first).to_be_visible()
    for part in ("position?at=qgd", "claims", "map", "settings"):
        page.goto(f"{address}/e/{name}/{part}")
        expect(page.locator("main")).to_be_visible()
    assert asked == []
