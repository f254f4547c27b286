"""The published page in a real browser: nothing is refused or fetched, and the script draws what Python has drawn."""

from __future__ import annotations

import datetime
import re
import shutil
import subprocess
from pathlib import Path

import html5lib
import pytest
from invented_evidence import InventedEvidence

from variorum.edition.digest_reader import parse_digest
from variorum.publish import diagram
from variorum.publish.compose import compose_digest
from variorum.publish.html import html_of
from variorum.publish.page import PageSetting

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
QUIET = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--enable-logging=stderr",
]
TEXT = """\
# Drawn twice

:::diagram iqp-main
marks: ring e5; hole d5!; changed c3; vacated d2!; route Nf3-e5-d7 a; route d4-d5!; ring a5; hole c4
:::

:::diagram before the break
view: black
marks: route a3-a4; changed c2!
:::
"""

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")


def open_page(html: str, folder: Path, width: int) -> tuple[html5lib.treebuilders.base.Node, str]:
    """The page as a tree after its script ran, and what the browser complained of."""
    page = folder / "digest.html"
    page.write_text(html, encoding="utf-8")
    assert CHROMIUM is not None
    command = [
        CHROMIUM,
        *QUIET,
        f"--user-data-dir={folder / 'profile'}",
        f"--window-size={width},1600",
        "--virtual-time-budget=3000",
        "--dump-dom",
        page.as_uri(),
    ]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    complaints = [line for line in done.stderr.splitlines() if "CONSOLE" in line or "Refused" in line]
    return html5lib.parse(done.stdout, namespaceHTMLElements=False), "\n".join(complaints)


def shapes(svg: html5lib.treebuilders.base.Node) -> list[tuple[str, str, list[float]]]:
    """Class and numbers of everything that is drawn, in order; outlines of units count by their stroke only."""
    found = []
    for element in svg.iter():
        if not element.get("class"):
            continue
        attributes = dict(element.attrib)
        if attributes["class"] in ("halo", "line", "solid", "sil"):
            attributes.pop("d", None)
        numbers: list[float] = []
        for name in (
            "d",
            "transform",
            "x",
            "y",
            "width",
            "height",
            "cx",
            "cy",
            "r",
            "font-size",
            "stroke-dasharray",
        ):
            numbers += map(float, re.findall(r"-?(?:\d+\.?\d*|\.\d+)(?:e-?\d+)?", attributes.get(name, "")))
        numbers.append(float(attributes.get("stroke-width", 0)))
        found.append((attributes["class"], (element.text or "").strip(), numbers))
    return found


@pytest.mark.parametrize("width", [1440, 1024, 500])
def test_the_script_draws_what_python_has_drawn(
    tmp_path: Path, width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    digest, faults = parse_digest(TEXT, Path("digest.md"))
    setting = PageSetting(edition="Drawn", made_on=datetime.date(2026, 11, 25))
    composed = compose_digest(digest, InventedEvidence(), setting)
    assert (faults, composed.diagnostics) == ([], ())
    tree, complaints = open_page(html_of(composed.page), tmp_path, width)
    assert complaints == ""
    boards = list(tree.iter("v-board"))
    assert len(boards) == 2
    for number, board in enumerate(boards, 1):
        svg = next(element for element in board.iter() if str(element.tag).endswith("svg"))
        drawn_width = int(svg.get("width"))
        assert diagram.NARROWEST < drawn_width < width
        assert svg.get("aria-label") == board.get("alt")
        monkeypatch.setattr("variorum.publish.html.DIAGRAM_WIDTH", drawn_width)
        again = html_of(composed.page)
        static = list(html5lib.parse(again, namespaceHTMLElements=False).iter("v-board"))[number - 1]
        expected = shapes(next(element for element in static.iter() if str(element.tag).endswith("svg")))
        found = shapes(svg)
        assert [shape[:2] for shape in found] == [shape[:2] for shape in expected]
        for one, other in zip(found, expected, strict=True):
            assert one[2] == pytest.approx(other[2], abs=0.06), one[0]
