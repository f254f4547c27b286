"""Takes the pictures of the desk that README.md and docs/how-to/desk.md show: `python tools/pictures.py`, after `make demo`.

They are taken of the demonstration after its second build, in demo/build/later, for which some games are played out first, with
the Chromium of the system, and kept in few colours: ink, paper and rubric need no more.
"""

from __future__ import annotations

import io
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).parent.parent
EDITION = ROOT / "demo" / "build" / "later"
IMAGES = ROOT / "docs" / "images"
COLOURS = 64
WIDE, NARROW = (1440, 1000), (390, 844)

PAGES = {
    "shelf": "/",
    "map": "map",
    "position": "position?at=iqp",
    "orders": "orders?at=iqp",
    "plans": "plans?at=iqp",
    "structures": "structures",
    "contrast": "contrast?at=iqp&with=nimzo-iqp",
    "playouts": "playouts",
    "claims": "claims",
    "drift": "drift",
    "manuscript": "manuscript",
    "digest": "digest",
}
# Where things lie on the machine that takes the pictures is nobody's business.
AT_HOME = """places => {
  const say = text => places.reduce((said, place) => said.replaceAll(place, '~/Variorum'), text);
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) texts.currentNode.data = say(texts.currentNode.data);
  for (const field of document.querySelectorAll('input')) {
    field.value = say(field.value);
    field.placeholder = say(field.placeholder);
  }
}"""
HELD_IN_HAND = ("map", "position", "manuscript")
BY_NIGHT = ("position",)


def main() -> int:
    """Take all pictures, or those of the pages that are named."""
    if not EDITION.is_dir():
        print("There is no demo/build/later yet: run `make demo` first.", file=sys.stderr)
        return 2
    wanted = sys.argv[1:] or list(PAGES)
    with tempfile.TemporaryDirectory() as home, socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
        probe.close()
        environment = os.environ | {"VARIORUM_HOME": home}
        program = [sys.executable, "-m", "variorum"]
        played = [*program, "playout", "iqp", "--games", "40", "--nodes", "2000"]
        subprocess.run(played, cwd=EDITION, env=environment, check=True, stdout=subprocess.DEVNULL)
        call = [*program, "desk", str(EDITION), "--no-browser", "--port", str(port)]
        with subprocess.Popen(call, env=environment) as desk, sync_playwright() as playwright:
            try:
                base = f"http://127.0.0.1:{port}"
                edition = first_edition(base)
                browser = playwright.chromium.launch(
                    executable_path=shutil.which("chromium") or shutil.which("chromium-browser"),
                    args=["--no-sandbox", "--disable-gpu"],
                )
                without_notes(browser, f"{base}{edition}/map")
                for name in wanted:
                    address = base + (PAGES[name] if PAGES[name] == "/" else f"{edition}/{PAGES[name]}")
                    take(browser, address, name, "day", WIDE)
                    if name in HELD_IN_HAND:
                        take(browser, address, f"{name}-narrow", "day", NARROW)
                    if name in BY_NIGHT:
                        take(browser, address, f"{name}-night", "night", WIDE)
                browser.close()
            finally:
                desk.terminate()
    return 0


def first_edition(base: str) -> str:
    """The address of the one edition on the shelf, as soon as the desk listens."""
    until = time.monotonic() + 60
    while True:
        try:
            with urllib.request.urlopen(base) as answer:
                shelf = answer.read().decode()
            return "/e/" + shelf.split('href="/e/')[1].split("/")[0]
        except (OSError, IndexError):
            if time.monotonic() > until:
                raise
            time.sleep(0.2)


def without_notes(browser: Browser, address: str) -> None:
    """Put away what is told to whoever sees the pages first."""
    page = browser.new_page()
    page.goto(address)
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        page.get_by_role("button", name="No notes any more").click()
    page.close()


def take(browser: Browser, address: str, name: str, reading: str, size: tuple[int, int]) -> None:
    """One picture of a page, when all its parts have come."""
    page = browser.new_page(viewport={"width": size[0], "height": size[1]}, reduced_motion="reduce")
    page.add_init_script(f"localStorage.setItem('variorum-reading', '{reading}')")
    page.goto(address)
    page.wait_for_load_state("networkidle")
    page.wait_for_function("() => !document.querySelector('[aria-busy=\"true\"], [data-awaited], .awaited')")
    page.evaluate(AT_HOME, [str(EDITION.parent), str(Path.home() / "Variorum")])
    image = (
        Image.open(io.BytesIO(page.screenshot()))
        .convert("RGB")
        .quantize(COLOURS, Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
    )
    IMAGES.mkdir(exist_ok=True)
    image.save(IMAGES / f"desk-{name}.png", optimize=True)
    page.close()
    print(f"docs/images/desk-{name}.png")


if __name__ == "__main__":
    sys.exit(main())
