"""The desk in a real browser: the main path of an author, by mouse and by keyboard, and what the browser complains of."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from invented_desk import GAME
from playwright.sync_api import Page, expect

from variorum.desk.shelf import Shelf


def test_from_a_new_edition_to_a_checked_sentence(browser_page: Page, address: str, tmp_path: Path) -> None:
    page, complaints = browser_page, []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    edition = tmp_path / "edition"

    page.goto(address)
    page.get_by_label("Title").fill("The Queen's Gambit")
    page.get_by_label("Its first position").fill("1.d4 d5 2.c4")
    expect(page.locator("#pick-line")).to_have_text(re.compile("c4"))
    page.locator('#pick [data-sq="e7"]').click()
    page.locator('#pick [data-sq="e6"]').click()
    expect(page.get_by_label("Its first position")).to_have_value("1.d4 d5 2.c4 e6")
    page.get_by_label("Folder, made").fill(str(edition))
    page.get_by_role("button", name="Begin it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Where the games come from")

    games = [GAME.replace("Orlo", f"Orlo{number}") for number in range(3)]
    games.append(GAME.replace("3. Nc3 Nf6 4. Nf3", "3. Nf3 Nf6 4. Nc3"))
    (edition / "sources" / "a.pgn").write_text("".join(games))
    page.get_by_role("button", name="Bring in the games").click()
    expect(page.locator("#files")).to_contain_text("4 games that reach a root")
    page.get_by_role("link", name="See the map").click()
    expect(page.locator("main")).to_contain_text("4 games of practice")
    expect(page.locator("#map .node")).to_have_count(2)  # the root, and where the two orders meet

    page.get_by_role("link", name="Position", exact=True).click()
    expect(page.locator("tr", has_text="♘c3")).to_contain_text("3")
    page.wait_for_load_state()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#line")).to_have_text(re.compile("3\u00a0♘c3"))
    page.wait_for_load_state()
    page.keyboard.press("ArrowLeft")
    expect(page.locator("#line")).not_to_contain_text("♘c3")
    page.wait_for_load_state()
    page.locator('[data-sq="g1"]').click()
    page.locator('[data-sq="f3"]').click()
    expect(page.locator("#line")).to_contain_text("♘f3")
    page.wait_for_load_state()
    page.keyboard.press("m")
    page.keyboard.type("Nf6")
    page.keyboard.press("Enter")
    expect(page.locator("#line")).to_contain_text("♘f6")
    page.wait_for_load_state()
    page.keyboard.press("t")
    expect(page.locator("v-board")).to_have_attribute("flip", "")

    page.keyboard.press("a")
    keep = page.get_by_role("button", name="Keep the verdict")
    keep.click()
    expect(page.locator(".apparatus .entries")).to_contain_text("nodes")

    page.get_by_role("link", name="Digest", exact=True).click()
    editor = page.get_by_label("digest.md", exact=True)
    editor.fill(
        '# A page\n\n[White is winning]{.claim kind=score at="root 3.Nf3 Nf6" says="winning White"}.\n'
    )
    expect(page.locator("#margin")).to_contain_text("contradicted")
    expect(page.frame_locator("#page").locator("body")).to_contain_text("White is winning")
    page.keyboard.press("Control+s")
    expect(page.locator("#saved")).to_have_text("as on the disk")
    assert "White is winning" in (edition / "digest.md").read_text()

    page.get_by_role("link", name="Claims", exact=True).click()
    expect(page.locator(".contradicted")).to_contain_text("White is winning")
    page.get_by_role("button", name="Night").click()
    page.reload()
    expect(page.locator("html")).to_have_attribute("data-reading", "night")
    assert complaints == []


@pytest.mark.parametrize("width", [1440, 1024, 390])
def test_no_page_is_wider_than_the_window(
    browser_page: Page, address: str, tmp_path: Path, width: int
) -> None:
    from variorum.edition import new_edition

    folder = tmp_path / "narrow"
    new_edition(
        folder, "A title that is not short at all, and goes on", ["a root: 1.d4 d5 2.c4 e6 3.Nc3"], "both"
    )
    name = Shelf().add(folder).name
    page = browser_page
    page.set_viewport_size({"width": width, "height": 900})
    # The shelf of the server was read before: it learns of the edition as a user would tell it.
    page.goto(address)
    page.get_by_label("Its folder").fill(str(folder))
    page.get_by_role("button", name="Open it").click()
    expect(page.locator("h1")).to_contain_text("Where the lines lead")
    for path in (
        "map",
        "position",
        "orders",
        "contrast",
        "claims",
        "manuscript",
        "digest",
        "structures",
        "drift",
    ):
        page.goto(f"{address}/e/{name}/{path}")
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= width, path


def test_a_unit_is_carried_by_mouse(address: str, browser_page: Page, tmp_path: Path) -> None:
    page = browser_page
    page.goto(address)
    page.get_by_label("Title").fill("Carried")
    page.get_by_label("Its first position").fill("1.d4 d5 2.c4")
    page.get_by_label("Folder, made").fill(str(tmp_path / "edition"))
    page.get_by_role("button", name="Begin it").click()
    page.get_by_role("link", name="Position", exact=True).click()
    expect(page.locator("#line")).to_contain_text("c4")
    page.wait_for_load_state()
    page.locator('[data-sq="e7"]').drag_to(page.locator('[data-sq="h3"]'))
    expect(page.locator("#live")).to_contain_text("e7 to h3 is not legal")
    page.locator('[data-sq="e7"]').drag_to(page.locator('[data-sq="e6"]'))
    expect(page.locator("#line")).to_contain_text("e6")
    # What was carried is put down: a click takes up anew.
    page.wait_for_load_state()
    page.locator('[data-sq="b1"]').click()
    page.locator('[data-sq="c3"]').click()
    expect(page.locator("#line")).to_contain_text("♘c3")
