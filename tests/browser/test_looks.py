"""The main pages look as they did when somebody last looked at them: pictures compared, coarsely enough for another font rasteriser.

`pytest tests/browser/test_looks.py --snapshot-update` writes the pictures; then they are looked at.
"""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image, ImageChops, ImageDraw
from playwright.sync_api import Page, expect

from variorum.desk.shelf import Shelf

PICTURES = Path(__file__).parent / "pictures"
COARSER = 4
FAR, FEW = 40, 0.01
"""A point of the coarse picture is another one from so many of 255 levels; of all points so many may be."""

PAGES = {
    "map": "map",
    "position": "position?at=panov Nf6 5.Nc3 e6 6.Nf3",
    "orders": "orders?at=main",
    "plans": "plans?at=panov",
    "structures": "structures",
    "contrast": "contrast?at=panov&with=main",
    "playouts": "playouts",
    "claims": "claims",
    "game": "game/1?at=main",
    "manuscript": "manuscript",
    "digest": "digest",
}


def coarse(picture: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(picture)).convert("L")
    return image.resize((image.width // COARSER, image.height // COARSER), Image.Resampling.BOX)


def differing(one: Image.Image, other: Image.Image) -> float:
    """The share of points that differ; all of them where the sizes do."""
    if one.size != other.size:
        return 1.0
    levels = ImageChops.difference(one, other).histogram()
    return sum(levels[FAR:]) / (one.width * one.height)


@pytest.mark.parametrize(("reading", "width", "height"), [("day", 1440, 1000), ("night", 390, 844)])
def test_the_main_pages(
    address: str,
    browser_page: Page,
    built: Path,
    request: pytest.FixtureRequest,
    reading: str,
    width: int,
    height: int,
) -> None:
    page, update = browser_page, request.config.getoption("--snapshot-update")
    page.emulate_media(reduced_motion="reduce")
    page.set_viewport_size({"width": width, "height": height})
    page.goto(address)
    page.get_by_label("Its folder").fill(str(built))
    page.get_by_role("button", name="Open it").click()
    expect(page.locator("h1")).to_contain_text("Where the lines lead")
    page.evaluate("reading => localStorage.setItem('variorum-reading', reading)", reading)
    found = {}
    for name, path in PAGES.items():
        page.goto(f"{address}/e/{Shelf().add(built).name}/{path}")
        page.wait_for_load_state("networkidle")
        expect(page.locator("[data-awaited], .awaited")).to_have_count(0)
        expect(page.get_by_text("Counting.", exact=True)).to_have_count(0)
        page.evaluate("document.fonts.ready")
        assert page.locator("html").evaluate("root => root.dataset.reading ?? 'day'") == reading
        seen, file = coarse(page.screenshot()), PICTURES / f"{name}-{reading}-{width}.png"
        if update:
            file.parent.mkdir(parents=True, exist_ok=True)
            seen.save(file, optimize=True)
        elif (share := differing(seen, Image.open(file))) > FEW:
            seen.save(request.getfixturevalue("tmp_path") / file.name)
            found[file.name] = f"{share:.1%} of the points"
    assert not found, "look at the pages, then --snapshot-update"


def test_a_picture_moved_or_missing_is_found() -> None:
    page = Image.new("L", (360, 250), 244)
    ImageDraw.Draw(page).rectangle((40, 30, 140, 130), outline=27, width=4)
    moved = ImageChops.offset(page, 3, 0)
    assert differing(page, page.copy()) == 0
    assert differing(page, moved) > FEW
    assert differing(page, Image.new("L", page.size, 244)) > FEW
