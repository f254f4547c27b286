"""The position page in a real browser: claims in its margin, what is renewed when words change, faults that go when they are mended."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from invented_desk import GAME
from playwright.sync_api import Page, expect

from variorum.cli import main
from variorum.desk.shelf import Shelf
from variorum.edition import new_edition

TEXT = '[Event "e"]\n[White "w"]\n[Black "b"]\n[Result "*"]\n\n1. d4 d5 2. c4 e6 3. Nc3 $14 Nf6 *\n'


@pytest.fixture
def edition(address: str, browser_page: Page, tmp_path: Path) -> str:
    """The address of an edition with two games and a manuscript."""
    folder = tmp_path / "edition"
    new_edition(folder, "The Queen's Gambit", ["qgd: 1.d4 d5 2.c4 e6"], "white")
    (folder / "sources" / "a.pgn").write_text(GAME + GAME.replace("3. Nc3 Nf6 4. Nf3", "3. Nf3 Nf6 4. Nc3"))
    (folder / "manuscript.pgn").write_text(TEXT)
    assert main(["sift", str(folder)]) == 0
    browser_page.goto(address)
    browser_page.get_by_label("Its folder").fill(str(folder))
    browser_page.get_by_role("button", name="Open it").click()
    expect(browser_page.locator("h1")).to_contain_text("Where the lines lead")
    return f"{address}/e/{Shelf().add(folder).name}"


def test_moves_and_claims_change_with_the_words_at_once(browser_page: Page, edition: str) -> None:
    page = browser_page
    page.goto(f"{edition}/position?at=qgd 3.Nc3 Nf6 4.Bg5")
    page.get_by_role("button", name="Add the line").click()
    expect(page.locator("#words")).to_contain_text("Nothing is said here yet")
    claims = page.get_by_role("complementary", name="Claims")
    expect(claims).to_contain_text("Neither text claims anything")
    page.get_by_role("button", name="Signs").click()
    page.get_by_role("button", name=re.compile("^⩲")).click()
    expect(claims.locator(".claim")).to_contain_text("not enough evidence")
    expect(claims.locator("q")).to_have_text("4\u00a0♗g5 ⩲")
    claims.get_by_role("link", name="not enough evidence").click()
    expect(page.locator(".entry-claim")).to_have_count(1)
    expect(page.locator(".entry-claim")).to_contain_text("♗g5")


def test_a_change_of_another_program_is_seen_at_once(
    browser_page: Page, edition: str, tmp_path: Path
) -> None:
    page, file = browser_page, tmp_path / "edition" / "manuscript.pgn"
    with page.expect_event("requestfinished", lambda request: "/part/claims" in request.url):
        page.goto(f"{edition}/position?at=qgd")
    here = page.get_by_role("region", name="From here")
    expect(here.locator("[data-onward]")).to_have_count(2)
    expect(page.locator("#words")).to_contain_text("Nothing is said here yet")
    file.write_text(TEXT.replace("Nc3 $14", "Nc3 $14 (3. g3 $6)"))
    expect(here).to_contain_text("♘c3")
    expect(here.locator("[data-onward]")).to_have_count(3)
    expect(page.get_by_role("complementary", name="Claims")).to_contain_text("3\u00a0g3 ?!")
    (tmp_path / "edition" / "digest.md").write_text(
        "After [3.Nc3]{.line of=qgd} it is [2]{.fact kind=count at=qgd}.\n"
    )
    expect(page.get_by_role("region", name="In the digest")).to_contain_text("“2” fact, line 1")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowRight")
    expect(page.locator("#line")).to_contain_text("g3")


def test_a_fault_is_told_until_it_is_answered(browser_page: Page, edition: str, tmp_path: Path) -> None:
    page, settings = browser_page, tmp_path / "edition" / "edition.toml"
    page.goto(f"{edition}/position?at=qgd")
    page.keyboard.press("m")
    page.keyboard.type("Qh8")
    page.keyboard.press("Enter")
    expect(page.locator("#erratum")).to_contain_text("Erratum")
    page.keyboard.press("Backspace")
    expect(page.locator("#erratum")).to_be_hidden()
    before = settings.read_text()
    settings.write_text(before + "\nnonsense = [\n")
    page.goto(f"{edition}/position?at=qgd")
    expect(page.locator("main")).to_contain_text("Erratum")
    settings.write_text(before)
    page.evaluate("dispatchEvent(new Event('focus'))")
    expect(page.locator("#board")).to_be_visible()
