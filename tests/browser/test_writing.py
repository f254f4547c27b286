"""The author's words in a real browser: written and undone by keyboard alone, and never lost between tabs and programs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from variorum.desk.shelf import Shelf
from variorum.edition import new_edition

TEXT = '[Event "e"]\n[Result "*"]\n\n1. d4 d5 2. c4 e6 {The root.} 3. Nc3 (3. Nf3 Nf6) 3... Nf6 *\n'


@pytest.fixture
def written(address: str, browser_page: Page, tmp_path: Path) -> tuple[str, Path]:
    """The address of an edition with a manuscript, and its folder."""
    folder = tmp_path / "edition"
    new_edition(folder, "The Queen's Gambit", ["qgd: 1.d4 d5 2.c4 e6"], "white")
    (folder / "manuscript.pgn").write_text(TEXT)
    browser_page.goto(address)
    browser_page.get_by_label("Its folder").fill(str(folder))
    browser_page.get_by_role("button", name="Open it").click()
    expect(browser_page.locator("h1")).to_contain_text("Where the lines lead")
    return f"{address}/e/{Shelf().add(folder).name}", folder


def test_a_comment_is_written_and_undone_by_keyboard_alone(
    browser_page: Page, written: tuple[str, Path]
) -> None:
    page, (address, folder) = browser_page, written
    file = folder / "manuscript.pgn"
    page.goto(f"{address}/position?at=qgd 3.Nc3")
    words = page.locator("#words")
    expect(words).to_contain_text("Nothing is said here yet")
    page.keyboard.press("e")
    expect(page.get_by_label("Your words")).to_be_focused()
    page.keyboard.type("private: it looks at d5")
    expect(words).to_contain_text("Private: not published.")
    page.keyboard.press("Control+Enter")
    expect(words.locator(".said")).to_contain_text("private comment, not published")
    assert file.read_text() == TEXT.replace("3. Nc3 (", "3. Nc3 {private: it looks at d5} (")
    page.keyboard.press("u")
    expect(words).to_contain_text("Nothing is said here yet")
    assert file.read_text() == TEXT
    page.keyboard.press("r")
    expect(words.locator(".said")).to_contain_text("it looks at d5")
    page.keyboard.press("e")
    page.keyboard.type("never mind ")
    page.keyboard.press("Escape")
    expect(words.locator("textarea")).to_have_count(0)
    assert "never mind" not in file.read_text()


def test_what_another_program_wrote_meanwhile_is_shown_and_both_changes_are_kept(
    browser_page: Page, written: tuple[str, Path]
) -> None:
    page, (address, folder) = browser_page, written
    file = folder / "manuscript.pgn"
    page.goto(f"{address}/position?at=qgd 3.Nc3")
    words = page.locator("#words")
    words.get_by_role("button", name="Write", exact=True).click()
    page.keyboard.type("It looks at d5.")
    file.write_text(TEXT.replace('"e"', '"by another program"'))
    page.keyboard.press("Control+Enter")
    expect(words).to_contain_text("was changed by somebody else")
    expect(words).to_contain_text("The two changes do not touch each other")
    assert "It looks" not in file.read_text()
    words.get_by_role("button", name="Write both changes").click()
    expect(words.locator(".said")).to_contain_text("It looks at d5.")
    assert "It looks at d5." in file.read_text()
    assert "by another program" in file.read_text()


def test_the_book_is_walked_folded_and_written_by_keyboard(
    browser_page: Page, written: tuple[str, Path]
) -> None:
    page, (address, folder) = browser_page, written
    file = folder / "manuscript.pgn"
    page.goto(f"{address}/manuscript")
    here = page.locator("#book .mv.here")
    expect(here).to_have_text("The start.")
    page.keyboard.press("End")
    expect(here).to_have_text("3…♘f6")
    for _ in range(2):
        page.keyboard.press("ArrowLeft")
    expect(here).to_have_text("e6")
    expect(page.locator("#forks a")).to_have_count(2)
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowRight")
    expect(here).to_have_text("3\u00a0♘f3")
    expect(page.locator("#board")).to_have_attribute("fen", re.compile("^rnbqkbnr/ppp2ppp/4p3/3p4/2PP4/5N2/"))
    expect(page.locator("#words")).to_contain_text("Nothing is said here yet")
    page.keyboard.press("e")
    page.keyboard.type("The quiet way.")
    page.keyboard.press("Control+Enter")
    expect(page.locator("#book .remark", has_text="The quiet way.")).to_be_visible()
    expect(here).to_have_text("3\u00a0♘f3")
    assert "(3. Nf3 {The quiet way.} 3... Nf6)" in file.read_text()
    expect(page.locator("#steps")).to_contain_text("comment after")
    page.keyboard.press("x")
    expect(page.locator("#book .branches")).not_to_have_attribute("open", "")
    page.keyboard.press("u")
    expect(page.locator("#book .remark")).to_have_count(1)
    assert file.read_text() == TEXT
    page.locator("#book .remark").dblclick()
    page.keyboard.press("Control+a")
    page.keyboard.type("Where it begins.")
    page.keyboard.press("Control+Enter")
    expect(page.locator("#book .remark .its")).to_have_text("Where it begins.")
    page.locator("#merge-words").fill('[Event "x"]\n\n1. d4 d5 2. c4 c6 *\n')
    page.get_by_role("button", name="Take it in").click()
    expect(page.locator("#book")).to_contain_text("2…c6")
    expect(page.locator("#words")).to_contain_text("New: 1 move.")


def test_two_tabs_and_another_program_never_lose_words_of_the_manuscript(
    browser_page: Page, written: tuple[str, Path]
) -> None:
    page, (address, folder) = browser_page, written
    file = folder / "manuscript.pgn"
    other = page.context.new_page()
    for tab in (page, other):
        tab.goto(f"{address}/position?at=qgd 3.Nc3")
        expect(tab.locator("#words")).to_contain_text("Nothing is said here yet")
    other.keyboard.press("e")
    other.keyboard.type("From the second tab.")
    page.keyboard.press("e")
    page.keyboard.type("From the first tab.")
    page.keyboard.press("Control+Enter")
    expect(page.locator("#words .said")).to_contain_text("From the first tab.")
    expect(other.locator("#words")).to_contain_text("changed elsewhere. Nothing is lost")
    other.keyboard.press("Control+Enter")
    expect(other.locator("#words")).to_contain_text("At one place both texts were changed")
    assert "second" not in file.read_text()
    other.get_by_label("Both, one after the other").check()
    other.get_by_role("button", name="Put it together by hand").click()
    hand = other.get_by_label("The text that will be written")
    hand.fill(TEXT.replace("3. Nc3 (", "3. Nc3 {From both tabs.} ("))
    other.get_by_role("button", name="Write it as chosen").click()
    expect(other.locator("#words .said")).to_contain_text("From both tabs.")
    expect(page.locator("#words .said")).to_contain_text("From both tabs.")
    expect(page.locator("#words")).to_contain_text("This is how it reads now")
    file.write_text(TEXT.replace("3. Nc3 (", "3. Nc3 {By a program.} ("))
    for tab in (page, other):
        expect(tab.locator("#words .said")).to_contain_text("By a program.")
    other.close()


def test_two_tabs_and_another_program_never_lose_words_of_the_digest(
    browser_page: Page, written: tuple[str, Path]
) -> None:
    page, (address, folder) = browser_page, written
    file = folder / "digest.md"
    file.write_text("# A title\n\nOne.\n\nTwo.\n")
    other = page.context.new_page()
    for tab in (page, other):
        tab.goto(f"{address}/digest")
    editor, editor2 = (tab.get_by_label("digest.md", exact=True) for tab in (page, other))
    editor.fill("# A title\n\nOne, by the first.\n\nTwo.\n")
    editor2.fill("# A title\n\nOne.\n\nTwo, by the second.\n")
    page.keyboard.press("Control+s")
    expect(page.locator("#saved")).to_have_text("as on the disk")
    expect(other.locator("#conflict")).to_contain_text("was changed by somebody else")
    assert "second" not in file.read_text()
    other.get_by_role("button", name="Write both changes").click()
    expect(editor).to_have_value("# A title\n\nOne, by the first.\n\nTwo, by the second.\n")
    file.write_text("By a program.\n")
    expect(editor).to_have_value("By a program.\n")
    expect(editor2).to_have_value("By a program.\n")
    editor2.fill("Mine.\n")
    file.write_text("By a program again.\n")
    expect(other.locator("#conflict")).to_be_visible()
    other.get_by_role("button", name="Take what is on the disk").click()
    expect(editor2).to_have_value("By a program again.\n")
    assert file.read_text() == "By a program again.\n"
    other.close()


def test_what_can_stand_there_is_offered_and_publishing_opens_the_result(
    browser_page: Page, written: tuple[str, Path]
) -> None:
    page, (address, folder) = browser_page, written
    (folder / "digest.md").write_text("# A title\n\n")
    page.goto(f"{address}/digest")
    editor = page.get_by_label("digest.md", exact=True)
    editor.focus()
    page.keyboard.press("Control+End")
    choices = page.get_by_role("listbox")
    page.keyboard.type("[White is winning]{.c")
    expect(choices).to_contain_text(".claim")
    page.keyboard.press("Enter")
    expect(choices).to_contain_text("kind=")
    page.keyboard.press("Enter")
    expect(choices.get_by_role("option").first).to_contain_text("how the position stands")
    page.keyboard.press("Enter")
    page.keyboard.type(" at")
    expect(choices.get_by_role("option")).to_have_text(['at="'])
    page.keyboard.press("Tab")
    expect(choices).to_contain_text("qgd")
    page.keyboard.press("Enter")
    page.keyboard.type('" s')
    expect(choices.get_by_role("option")).to_have_text(['says="'])
    page.keyboard.press("Enter")
    expect(choices).to_contain_text("winning White")
    page.keyboard.press("Enter")
    page.keyboard.type('"}.')
    expect(editor).to_have_value(
        '# A title\n\n[White is winning]{.claim kind=score at="qgd" says="winning White"}.'
    )
    expect(page.locator("#margin li")).to_contain_text("not enough evidence")
    page.get_by_role("button", name="Publish").click()
    link = page.get_by_role("link", name="digest.html")
    expect(link).to_be_visible(timeout=60_000)  # the PDFs are set as well
    assert "White is winning" in (folder / "digest.md").read_text()
    with page.expect_popup() as opened:
        link.click()
    expect(opened.value.locator("body")).to_contain_text("White is winning")
    assert opened.value.evaluate("window.origin") == "null"
    opened.value.close()


def test_to_write_where_the_manuscript_is_not_yet_takes_one_key(
    browser_page: Page, written: tuple[str, Path]
) -> None:
    page, (address, folder) = browser_page, written
    page.goto(f"{address}/position?at=qgd 3.Nf3 Nf6 4.g3")
    expect(page.locator("#words")).to_contain_text("does not have this position yet")
    page.keyboard.press("e")
    expect(page.get_by_label("Your words")).to_be_focused()
    page.keyboard.type("a quiet move")
    page.keyboard.press("Control+Enter")
    expect(page.locator("#words")).to_contain_text("a quiet move")
    assert "4. g3 {a quiet move}" in (folder / "manuscript.pgn").read_text()


def test_notes_about_the_last_line_stand_above_the_end_of_the_margin(
    browser_page: Page, written: tuple[str, Path]
) -> None:
    page, (address, folder) = browser_page, written
    facts = " ".join(['[55.0]{.fact kind=score at="qgd"}'] * 5)
    (folder / "digest.md").write_text("A line.\n\n" * 40 + facts + "\n")
    page.goto(f"{address}/digest")
    notes = page.locator("#margin li")
    expect(notes).to_have_count(5)
    page.get_by_label("digest.md", exact=True).evaluate("field => { field.scrollTop = field.scrollHeight; }")
    page.wait_for_function(
        "() => { const strip = document.querySelector('#margin').parentElement.getBoundingClientRect();"
        " return document.querySelector('#margin li:last-child').getBoundingClientRect().bottom <= strip.bottom; }"
    )


def test_what_a_page_shows_is_cited_where_the_author_wrote_last(
    browser_page: Page, written: tuple[str, Path]
) -> None:
    page, (address, folder) = browser_page, written
    (folder / "digest.md").write_text("First.\n\nLast.\n")
    page.goto(f"{address}/digest")
    editor = page.get_by_label("digest.md", exact=True)
    editor.focus()
    page.keyboard.press("Control+Home")
    page.keyboard.press("End")
    page.goto(f"{address}/position?at=qgd")
    page.get_by_role("button", name="Cite the diagram").click()
    expect(editor).to_have_value(re.compile(r"^First\.\n\n:::diagram qgd\ncaption: After 2\.\.\.e6\.\n:::\n"))
    assert (folder / "digest.md").read_text() == "First.\n\nLast.\n"
    other = page.context.new_page()
    other.goto(f"{address}/position?at=qgd")
    other.get_by_role("button", name="Cite the line").click()
    expect(editor).to_have_value(re.compile(r"2\.c4 e6\]\{\.line of=\"qgd\"\}"))
    other.close()
    page.keyboard.press("Control+s")
    expect(page.locator("#saved")).to_have_text("as on the disk")


def test_words_that_were_not_saved_outlive_the_page(browser_page: Page, written: tuple[str, Path]) -> None:
    page, (address, folder) = browser_page, written
    file = folder / "digest.md"
    file.write_text("# A title\n\nOne.\n")
    page.on("dialog", lambda dialog: dialog.accept())
    page.goto(f"{address}/digest")
    editor = page.get_by_label("digest.md", exact=True)
    editor.fill("# A title\n\nOne, and more.\n")
    page.reload()
    expect(editor).to_have_value("# A title\n\nOne, and more.\n")
    expect(page.locator("#saved")).to_have_text("not saved yet")
    page.goto(f"{address}/map")
    file.write_text("# Another title\n\nOne.\n")
    page.goto(f"{address}/digest")
    conflict = page.locator("#conflict")
    expect(conflict).to_contain_text("was changed by somebody else")
    expect(conflict).to_contain_text("and more")
    assert file.read_text() == "# Another title\n\nOne.\n"
    page.get_by_label("digest.md", exact=True).press("Control+Home")
    conflict.get_by_role("button").first.click()
    expect(page.locator("#saved")).to_have_text("as on the disk")
    assert file.read_text() == "# Another title\n\nOne, and more.\n"
    page.reload()
    expect(editor).to_have_value("# Another title\n\nOne, and more.\n")
