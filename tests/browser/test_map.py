"""The map in a real browser: walked along by keys, unfolded and folded, searched, moved, and as a list on a narrow page."""

from __future__ import annotations

import re
import shutil
import threading
from pathlib import Path
from typing import Any

import pytest
from invented_desk import GAME
from playwright.sync_api import Page, expect

import variorum.build.first_look as first_look
import variorum.build.opened as opened_module
from variorum.cli import main

ORDERS = (
    "3. Nc3 Nf6 4. Nf3 Be7",
    "3. Nf3 Nf6 4. Nc3 Be7",
    "3. Nc3 Be7 4. Nf3 Nf6",
    "3. Nc3 Nf6 4. cxd5 exd5 5. Bg5 c6",
)


@pytest.fixture
def map_page(browser_page: Page, address: str, tmp_path: Path) -> Page:
    folder = tmp_path / "edition"
    assert (
        main(
            [
                "new",
                str(folder),
                "--title",
                "Queen's Gambit",
                "--side",
                "white",
                "--root",
                "qgd: 1.d4 d5 2.c4 e6",
            ]
        )
        == 0
    )
    games = [
        GAME.replace("3. Nc3 Nf6 4. Nf3 Be7", order).replace("Orlo", f"Orlo{number}")
        for number, order in enumerate(ORDERS * 3)
    ]
    (folder / "sources" / "a.pgn").write_text("".join(games))
    (folder / "manuscript.pgn").write_text(
        '[Event "e"]\n[White "w"]\n[Black "b"]\n[Result "*"]\n\n1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. Nf3 Be7 {todo: is 4...c5 better?} *\n'
    )
    assert main(["sift", str(folder)]) == 0
    page = browser_page
    page.set_viewport_size({"width": 1440, "height": 1000})
    page.goto(address)
    page.get_by_label("Its folder").fill(str(folder))
    page.get_by_role("button", name="Open it").click()
    expect(page.locator("#map .node").first).to_be_visible()
    return page


def here(page: Page) -> str:
    label: str = page.evaluate("document.activeElement.getAttribute('aria-label') ?? ''")
    return label.replace("\u00a0", " ")


def test_keys_walk_along_the_lines_unfold_them_and_open_a_place(map_page: Page) -> None:
    page = map_page
    expect(page.locator('#map [tabindex="0"]')).to_have_count(1)
    page.locator('#map [tabindex="0"]').focus()
    assert here(page).startswith("qgd")
    page.keyboard.press("ArrowRight")
    assert "from qgd" in here(page)
    for _ in range(4):
        page.keyboard.press("ArrowUp")
    highest = here(page)
    page.keyboard.press("ArrowDown")
    assert here(page) != highest
    assert "from qgd" in here(page)
    page.keyboard.press("ArrowUp")
    assert here(page) == highest
    page.keyboard.press("ArrowLeft")
    assert here(page).startswith("qgd")

    places = page.locator("#map .node").count()
    page.locator("a.flow").first.focus()
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"open=[0-9a-f]{16}-[0-9a-f]{16}"))
    expect(page.locator(".maptools")).to_contain_text("Unfolded")
    assert page.locator("#map .node").count() > places
    page.reload()
    expect(page.locator("#map .node").first).to_be_visible()
    assert page.locator("#map .node").count() > places
    page.get_by_role("link", name="fold", exact=True).click()
    expect(page.locator("#map .node")).to_have_count(places)
    page.go_back()
    expect(page).to_have_url(re.compile("open="))
    expect(page.locator(".maptools")).to_contain_text("Unfolded")

    page.locator("#map .node.root").focus()
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("/position"))


def test_a_search_marks_lists_and_goes_on_by_enter(map_page: Page) -> None:
    page = map_page
    page.keyboard.press("/")
    expect(page.locator("#find")).to_be_focused()
    page.keyboard.type("Nf3")
    page.keyboard.press("Enter")
    expect(page.locator("#found p")).to_contain_text("3 places")
    expect(page.locator("#map .here")).to_have_count(3)
    expect(page.locator("#found [data-now]")).to_have_count(1)
    first = page.locator("#found [data-now]").inner_text()
    page.keyboard.press("Enter")
    expect(page.locator("#found [data-now]")).not_to_have_text(first)
    page.locator("#find").fill("rnbqkb1r/ppp2ppp/4pn2/3p4/2PP4/2N5/PP2PPPP/R1BQKBNR w KQkq - 2 4")
    page.keyboard.press("Enter")
    expect(page.locator("#found li")).to_have_count(1)
    page.get_by_label("mark").select_option("unanswered")
    expect(page.locator("#found p")).to_contain_text("unanswered")
    page.locator("#find").fill("")
    page.keyboard.press("Enter")
    expect(page.locator("#found")).to_contain_text("you ask: is 4...c5 better?")
    page.get_by_role("link", name="Clear").click()
    expect(page.locator("#found")).to_have_count(0)


def test_the_sheet_is_moved_and_drawn_nearer(map_page: Page) -> None:
    page = map_page
    paper = page.locator("#map")
    page.get_by_role("button", name="Nearer").click()
    expect(paper).to_have_attribute("style", re.compile(r"scale\(1\.3"))
    page.keyboard.press("0")
    expect(paper).not_to_have_attribute("style", re.compile(r"scale\(1\.3"))
    page.keyboard.press("+")
    page.keyboard.press("+")
    before = paper.get_attribute("style")
    box = page.locator("#sheet").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 600, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + 300, box["y"] + 30, steps=5)
    page.mouse.up()
    expect(paper).not_to_have_attribute("style", before or "")
    page.get_by_role("button", name="Whole").click()
    pinch = """([first, second]) => {
        const box = document.getElementById('sheet'), at = box.getBoundingClientRect();
        const finger = (kind, id, x) => box.dispatchEvent(new PointerEvent(kind, { pointerId: id, pointerType: 'touch', clientX: at.x + x, clientY: at.y + 60, bubbles: true }));
        finger('pointerdown', 1, 300); finger('pointerdown', 2, first);
        finger('pointermove', 2, second);
        finger('pointerup', 1, 300); finger('pointerup', 2, second);
    }"""
    page.evaluate(pinch, [400, 460])  # two fingers go from 100 to 160 pixels apart
    expect(paper).to_have_attribute("style", re.compile(r"scale\(1\.6"))
    assert "/map" in page.url  # a drag that ends on a place opens nothing


def test_a_narrow_page_tells_the_same_as_a_list(map_page: Page) -> None:
    page = map_page
    names = page.locator("#map .node").evaluate_all("all => all.map(one => one.getAttribute('href'))")
    page.set_viewport_size({"width": 390, "height": 800})
    expect(page.locator("#map")).to_be_hidden()
    page.locator(".down details").evaluate_all("all => all.forEach(one => { one.open = true; })")
    links = page.locator(".down a.to:visible").evaluate_all("all => all.map(one => one.getAttribute('href'))")
    assert set(names) <= set(links)
    expect(page.locator(".down")).to_contain_text("here also comes")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.locator(".down .unfold").first.click()
    expect(page).to_have_url(re.compile("open="))
    expect(page.locator(".maptools")).to_contain_text("Unfolded")


@pytest.mark.parametrize("width", [1440, 390])
def test_the_whole_takes_the_place_of_a_first_map_where_the_reader_is(
    map_page: Page, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, width: int
) -> None:
    page, grown, go_on = map_page, opened_module.kept_graph, threading.Event()

    def slowly(*given: Any, **named: Any) -> Any:
        assert go_on.wait(120)
        return grown(*given, **named)

    monkeypatch.setattr(opened_module, "kept_graph", slowly)
    monkeypatch.setattr(first_look, "_GAMES", 4)
    monkeypatch.setattr(first_look, "_MIN_GAMES", 1)
    monkeypatch.setattr("variorum.desk.editions._QUICK", -1.0)
    folder = tmp_path / "another"
    shutil.copytree(tmp_path / "edition", folder)
    page.set_viewport_size({"width": width, "height": 700})
    page.goto(page.url.partition("/e/")[0])
    page.get_by_label("Its folder").fill(str(folder))
    page.get_by_label("Its folder").press("Enter")
    expect(page.locator("#growing")).to_contain_text("A first map, of one game in 3", timeout=30_000)
    if width > 600:
        page.get_by_role("button", name="Nearer").click()
        page.locator("#map .node.root").focus()
        page.keyboard.press("ArrowRight")
        page.keyboard.press("ArrowRight")
        watched = page.locator("#map .node:focus")
    else:
        page.locator(".down details").last.evaluate("one => { one.open = !one.open; }")
        page.locator(".down details").last.scroll_into_view_if_needed()
        watched = page.locator(".down details").last
    page.locator("main").evaluate("() => scrollBy(0, 40)")
    label, opened = watched.get_attribute("aria-label"), watched.get_attribute("open")
    before = watched.bounding_box()
    go_on.set()
    expect(page.locator("#growing")).to_have_text("The whole map is there.", timeout=30_000)
    expect(page.locator("#maphead")).to_contain_text("12 games")
    after = watched.bounding_box()
    assert before is not None
    assert after is not None
    assert (label or "").partition(" ")[0] == (watched.get_attribute("aria-label") or "").partition(" ")[0]
    assert opened == watched.get_attribute("open")
    assert abs(after["y"] - before["y"]) < 3, (before, after)
    assert abs(after["x"] - before["x"]) < 30, (before, after)  # at its edge the sheet itself is held
