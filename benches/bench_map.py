"""How long the map takes: choosing and laying out its places on graphs of 50 to 50,000 positions, and moving it in a browser.

    python benches/bench_map.py [--browser] [POSITIONS ...]

The graphs are grown from invented games, in which each side takes one of a few moves, the first far more often than the
second, as in practice; so lines run together, part and meet. The peer, in the same run, is Sugiyama's layout of the same chart
by igraph. With `--browser` the sheet of each is moved and drawn nearer and farther by a script in Chromium, and the longest
task that the browser tells of is printed: more than 50 ms at once is felt.
"""

from __future__ import annotations

import contextlib
import io
import random
import shutil
import socket
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

from variorum.base.settings import UserSettings
from variorum.board import Line, Position
from variorum.build.opened import OpenEdition
from variorum.cli import main as cli
from variorum.desk.pages.map_asked import MapAsked
from variorum.desk.pages.map_sheet import draw_map
from variorum.edition import load_edition, new_edition

SIZES = (50, 500, 5_000, 50_000)
ROOTS = ["panov: 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4", "queen's gambit: 1.d4 d5 2.c4 e6"]


def edition_of(positions: int, folder: Path) -> OpenEdition:
    """An edition whose graph has about so many positions."""
    new_edition(folder, f"{positions} positions", ROOTS, "both")
    chance = random.Random(positions)
    seen: set[int] = set()
    games = []
    starts = [Line.parse(root.partition(": ")[2]) for root in ROOTS]
    kept: dict[int, list[Any]] = {}
    while len(seen) < positions:
        line = starts[len(games) % len(starts)]
        position: Position = line.end
        moves = list(line.moves)
        for _ in range(24):
            seen.add(position.key)
            known = kept.get(position.key)
            if known is None:
                legal = list(position.legal_moves())
                known = kept[position.key] = random.Random(position.key).sample(legal, min(6, len(legal)))
            if not known or len(seen) >= positions:
                break
            move = known[min(int(chance.expovariate(1.0)), len(known) - 1)]
            moves.append(move)
            position = position.play(move)
        games.append(
            f'[Event "invented"]\n[Result "1/2-1/2"]\n\n{Line(line.start, tuple(moves)).san()} 1/2-1/2\n'
        )
    (folder / "sources" / "invented.pgn").write_text("\n".join(games), encoding="utf-8")
    with contextlib.redirect_stdout(io.StringIO()):
        assert cli(["sift", str(folder)]) == 0
    edition, _ = load_edition(folder)
    assert edition is not None
    return OpenEdition(edition, UserSettings())


def seconds(places: int, opened: OpenEdition) -> tuple[float, int]:
    """The quickest of three, each without what was laid out before; and the bytes that the browser gets."""
    from variorum.desk import layout

    best, size = 1e9, 0
    for _ in range(3):
        layout._laid_out.cache_clear()
        began = time.perf_counter()
        drawn = draw_map(opened, "x", MapAsked(places=places))
        best = min(best, time.perf_counter() - began)
        size = len(drawn.data) if drawn else 0
    return best, size


def peer(places: int, opened: OpenEdition) -> float:
    """Igraph's own layered layout of all places and lines of the same chart, labels and heights left out."""
    import igraph

    from variorum.graph.chart import chart
    from variorum.graph.landmarks import landmarks

    drawn = chart(opened.tell, landmarks(opened.tell, places, least=0.2 / places), least=0.2 / places)
    began = time.perf_counter()
    igraph.Graph([(flow.start, flow.end) for flow in drawn.flows], directed=True).layout_sugiyama()
    return time.perf_counter() - began


def longest_task(folder: Path, places: int) -> tuple[float, int, float]:
    """Milliseconds of the longest task while the sheet is moved, how many took over 50 ms, and seconds until it could be used."""
    import uvicorn
    from playwright.sync_api import sync_playwright

    from variorum.desk.app import make_app
    from variorum.desk.shelf import Shelf

    shelf = Shelf()
    name = shelf.add(folder).name
    with socket.create_server(("127.0.0.1", 0)) as listener, sync_playwright() as playwright:
        host = f"127.0.0.1:{listener.getsockname()[1]}"
        app = make_app(hosts=frozenset({host}), shelf_list=shelf)
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=1))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        thread.start()
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": 1440, "height": 1000})
        page.goto(f"http://{host}/e/{name}/map")  # opens the edition; what is measured is the second visit
        page.wait_for_selector("#map .node")
        began = time.perf_counter()
        page.goto(f"http://{host}/e/{name}/map?places={places}")
        page.wait_for_selector("#map .node")
        usable = time.perf_counter() - began
        page.evaluate(
            "window.long = []; new PerformanceObserver(list => window.long.push(...list.getEntries().map(one => one.duration)))"
            ".observe({ type: 'longtask' })"
        )
        box = page.locator("#sheet").bounding_box()
        assert box is not None
        middle = box["x"] + box["width"] / 2, box["y"] + min(box["height"], 700) / 2
        page.mouse.move(*middle)
        for turn in range(4):
            page.mouse.down()
            for step in range(30):
                page.mouse.move(middle[0] - 12 * step * (-1) ** turn, middle[1] + 4 * step * (-1) ** turn)
            page.mouse.up()
            page.mouse.move(*middle)
            page.keyboard.down("Control")
            for _ in range(12):
                page.mouse.wheel(0, 60 * (-1) ** turn)
            page.keyboard.up("Control")
        page.wait_for_timeout(300)
        long: list[float] = page.evaluate("window.long")
        browser.close()
        app.state.closing.set()
        server.should_exit = True
        thread.join()
    return max(long, default=0.0), len(long), usable


def main() -> None:
    """Print one row for each size."""
    for size in [int(word) for word in sys.argv[1:] if word.isdigit()] or SIZES:
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder) / "edition"
            opened = edition_of(size, place)
            assert opened.graph.nodes
            for places in (8, 160):
                took, sent = seconds(places, opened)
                beside = peer(places, opened)
                row = f"{opened.graph.nodes:>7,} positions, {places:>3} places: {took:.3f} s ({took / beside:.0f} × layers alone), {sent / 1024:.0f} KiB"
                if "--browser" in sys.argv:
                    longest, number, usable = longest_task(place, places)
                    row += f"; usable after {usable:.2f} s, {number} tasks over 50 ms, the longest {longest:.0f} ms"
                print(row, flush=True)
            opened.close()


if __name__ == "__main__":
    main()
