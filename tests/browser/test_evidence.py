"""The pages that say how things stand, in a real browser: claims, drift, playouts, voices, settings, and the notes on them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from desk_works import build, say
from invented_desk import GAME
from playwright.sync_api import Page, expect

from variorum.cli import main


@pytest.fixture
def edition(address: str, browser_page: Page, tmp_path: Path) -> str:
    """The address of an edition on the shelf in which one sign of the manuscript is contradicted."""
    folder = tmp_path / "qgd"
    root = "qgd: 1.d4 d5 2.c4 e6"
    assert main(["new", str(folder), "--title", "Queen's Gambit", "--side", "white", "--root", root]) == 0
    (folder / "sources" / "a.pgn").write_text(GAME)
    (folder / "manuscript.pgn").write_text(
        '[Event "e"]\n[White "w"]\n[Black "b"]\n[Result "*"]\n\n1. d4 d5 2. c4 e6 3. Nc3 $14 Nf6 4. Nf3 *\n'
    )
    assert main(["sift", str(folder)]) == 0
    say(folder, -300)
    build(folder)
    page = browser_page
    page.set_viewport_size({"width": 1440, "height": 1000})
    page.goto(address)
    page.get_by_label("Its folder").fill(str(folder))
    page.get_by_role("button", name="Open it").last.click()
    expect(page.locator("h1")).to_contain_text("Where the lines lead")
    return page.url.rsplit("/", 1)[0]


def test_the_line_against_a_claim_is_played_through_by_keyboard(edition: str, browser_page: Page) -> None:
    page = browser_page
    page.goto(f"{edition}/claims")
    line = page.locator(".contradicted .replay")
    line.get_by_role("button").first.focus()
    page.keyboard.press("Enter")
    board = line.locator("v-board")
    expect(board).to_have_attribute("fen", re.compile("^rnbqkb1r/"))
    page.keyboard.press("ArrowRight")
    expect(line.locator("figcaption")).to_contain_text("After 4\u00a0♘f3")
    page.keyboard.press("End")
    expect(line.locator("figcaption")).to_contain_text("After 4…♗e7")
    page.keyboard.press("Home")
    expect(line.locator("figcaption")).to_contain_text("Before the line")
    page.keyboard.press("Escape")
    expect(board).to_have_count(0)
    line.get_by_role("button").nth(1).click()
    line.locator("figcaption a").click()
    expect(page.locator("h1")).to_be_visible()
    assert "/position?at=" in page.url


def test_games_are_added_and_brought_in(edition: str, browser_page: Page) -> None:
    page = browser_page
    page.goto(f"{edition}/games")
    text = GAME.replace("Orlo", "Brim") + GAME.replace("Orlo", "Cade")
    page.get_by_label("PGN files").set_input_files(
        {"name": "more.pgn", "mimeType": "application/x-chess-pgn", "buffer": text.encode()}
    )
    page.get_by_role("button", name="Add and bring in").click()
    expect(page.locator("main")).to_contain_text("3 games that reach a root")
    expect(page.locator(".files")).to_contain_text("sources/more.pgn")
    expect(page.locator(".files")).not_to_contain_text("not brought in yet")


def test_a_claim_of_the_digest_leads_to_its_line(edition: str, browser_page: Page, tmp_path: Path) -> None:
    lines = [
        *(f"Line {number}.\n" for number in range(40)),
        '[Level]{.claim kind=score at="qgd" says="level"}',
    ]
    (tmp_path / "qgd" / "digest.md").write_text("\n".join(lines) + "\n")
    page = browser_page
    page.goto(f"{edition}/claims?in=digest.md")
    page.get_by_role("link", name="digest, line 81").click()
    editor = page.get_by_label("digest.md", exact=True)
    expect(editor).to_be_focused()
    before = editor.evaluate("field => field.value.slice(0, field.selectionStart)")
    assert before.count("\n") == 80


def test_a_note_that_is_put_away_stays_away(edition: str, browser_page: Page) -> None:
    page = browser_page
    page.goto(f"{edition}/claims")
    note = page.locator("#tour")
    expect(note).to_contain_text("What you see here")
    note.get_by_role("button", name="Put it away").click()
    expect(note).to_have_count(0)
    page.reload()
    expect(page.locator("h1")).to_be_visible()
    expect(note).to_have_count(0)
    page.goto(f"{edition}/drift")
    expect(note).to_be_visible()


def test_settings_are_written_and_taken_back(edition: str, browser_page: Page) -> None:
    page = browser_page
    page.goto(f"{edition}/settings")
    save = page.get_by_role("button", name="Save")
    expect(save).to_be_disabled()
    page.get_by_label("Title").fill("Another title")
    page.locator('[data-table="names"] [data-key]').last.fill("main line")
    page.locator('[data-table="names"] [data-value]').last.fill("qgd 3.Nc3 Nf6")
    expect(page.locator("#settings-state")).to_have_text("2 lines to be written.")
    save.click()
    expect(page.locator(".running .edition")).to_have_text("Another title")
    expect(page.locator('[data-table="names"] tr')).to_have_count(2)
    page.get_by_role("button", name="Take back").click()
    expect(page.locator(".running .edition")).to_have_text("Queen’s Gambit")


def test_playouts_are_played_and_looked_at(edition: str, browser_page: Page) -> None:
    page = browser_page
    page.goto(f"{edition}/playouts")
    page.get_by_role("combobox", name="From").fill("qgd")
    page.get_by_label("until there are").fill("2")
    page.get_by_label("nodes a move").fill("50")
    page.get_by_role("button", name="Play", exact=True).click()
    games = page.locator("details[data-game]")
    expect(games).to_have_count(2, timeout=30_000)
    expect(page.locator("main")).to_contain_text("2 games played, 0 were there before")
    games.first.locator("summary").click()
    expect(games.first.locator("v-board")).to_be_visible()
    expect(games.first.locator("figcaption")).to_contain_text("After 3")
    page.keyboard.press("ArrowRight")
    expect(games.first.locator("figcaption")).to_contain_text("After 3…")


def test_a_voice_is_tried_and_its_answers_come(edition: str, browser_page: Page) -> None:
    page = browser_page
    page.goto(f"{edition}/claims")
    page.get_by_role("link", name="Shelf", exact=True).click()
    page.get_by_role("link", name="Voices", exact=True).click()
    page.get_by_role("button", name="Try it").click()
    expect(page.locator('[data-trial="resident"]')).to_contain_text("It is asked")
    expect(page.locator(".voices")).to_contain_text("nodes a second", timeout=30_000)


def test_a_second_build_tells_what_turned(edition: str, browser_page: Page, tmp_path: Path) -> None:
    page = browser_page
    page.goto(f"{edition}/drift")
    expect(page.locator("main")).to_contain_text("the next build tells")
    say(tmp_path / "qgd", 60, line=("f8b4", "e2e3"), nodes=25_600_000)
    build(tmp_path / "qgd")
    page.goto(f"{edition}/drift")
    row = page.locator("[data-beside]", has_text="3\u00a0♘c3").first
    expect(row).to_be_visible()
    row.hover()
    expect(page.locator("#beside v-board")).to_be_visible()
