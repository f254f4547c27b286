"""A published digest with every kind of block: valid by the HTML standard, without a fault of access, its diagrams played by keyboard."""

from __future__ import annotations

import datetime
from pathlib import Path

import html5lib
import pytest
from invented_evidence import InventedEvidence
from playwright.sync_api import Page, expect

from tests.browser.test_access import faults, turn_to
from variorum.board import Line
from variorum.claims.standing import Standing
from variorum.edition.digest import SpanKind
from variorum.edition.digest_reader import parse_digest
from variorum.publish.compose import compose_digest
from variorum.publish.html import html_of
from variorum.publish.page import ClaimNote, PageSetting
from variorum.publish.wording import LANGUAGES

TEXT = """\
# Every block

*What a digest can hold.*

White builds [10...Nf6 11.a3 b6]{.line of="iqp-main"}, and [stands well]{.claim kind=score at="iqp-main" says="slight White"}.

:::diagram iqp-main
marks: ring d5
caption: The tabiya.
:::

:::diagram 8/8/4k3/8/8/4K3/4P3/8 w - - 0 1
:::

:::line iqp-main
moves: 10...Nf6 11.a3 b6 12.Bc2
caption: A line.
:::

:::game Orlo – Vesk, 2019
moves: 10-15
:::

:::plans iqp-main
:::

:::orders iqp-main
:::

:::contrast iqp-main
against: before the break
:::

:::apparatus iqp-main
:::

- a list
  1. in it another

> quoted

---

    typed

One more stands alone:

:::diagram iqp-main
caption: Alone.
:::
"""
PANOV = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"


def published(language: str) -> str:
    setting = PageSetting(edition="Blocks", made_on=datetime.date(2026, 11, 25), words=LANGUAGES[language])
    digest, faults = parse_digest(TEXT, Path("digest.md"))
    claims = {
        span.where: ClaimNote(Standing.CONTRADICTED, remark="40 of 61 games")
        for span in digest.spans()
        if span.kind is SpanKind.CLAIM
    }
    composed = compose_digest(digest, InventedEvidence(), setting, claims)
    assert (faults, composed.diagnostics) == ([], ())
    return html_of(composed.page)


@pytest.fixture
def page(browser_page: Page, tmp_path: Path) -> Page:
    file = tmp_path / "digest.html"
    file.write_text(published("en"), encoding="utf-8")
    browser_page.set_viewport_size({"width": 1440, "height": 1000})
    browser_page.goto(file.as_uri())
    return browser_page


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_a_page_with_every_block_is_valid(language: str) -> None:
    """By the parser of the WHATWG standard, strict: any parse error fails."""
    tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(published(language))
    found = {element.tag for element in tree.iter() if isinstance(element.tag, str)}
    assert {"v-board", "figure", "table", "ol", "ul", "blockquote", "pre", "hr", "q"} <= found
    names = [element.attrib["id"] for element in tree.iter() if element.attrib.get("id")]
    assert len(names) == len(set(names)), "an id stands once (HTML standard, 3.2.6)"


def test_no_fault_of_access_and_no_page_wider_than_its_window(page: Page) -> None:
    for reading, width in (("day", 1440), ("day", 390), ("night", 1024)):
        turn_to(page, reading, width)
        assert faults(page) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), width
    page.locator("v-board").first.focus()
    assert faults(page) == [], "with the moves of the first diagram shown"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_on_paper_a_diagram_alone_has_its_caption_beside_it_and_lines_are_not_too_long(page: Page) -> None:
    page.set_viewport_size({"width": 794, "height": 1123})  # A4
    page.emulate_media(media="print")
    alone = page.locator(".plates > figure:only-child").first
    board, words, text = (
        one.bounding_box()
        for one in (alone.locator("v-board"), alone.locator("figcaption"), page.locator(".digest > p").first)
    )
    page.emulate_media(media="screen")
    assert board
    assert words
    assert text
    assert words["x"] > board["x"] + board["width"]
    assert board["y"] < words["y"] < words["y"] + words["height"] <= board["y"] + board["height"]
    assert text["width"] <= 37 * 16


def test_a_diagram_is_played_by_keyboard(page: Page) -> None:
    line = Line.parse(f"{PANOV} Nf6 11.a3 b6")
    positions = [position.fen for position in line.positions()]
    figure = page.locator("#figure-1")
    board, moves = figure.locator("v-board"), figure.locator(".played")
    picture = board.locator("svg")
    expect(moves).to_be_hidden()
    marks, alternative = board.get_attribute("marks"), picture.get_attribute("aria-label")
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.tagName") == "V-BOARD":
            break
    expect(moves).to_be_visible()
    home = len(Line.parse(PANOV))
    expect(board).to_have_attribute("fen", positions[home])
    page.keyboard.press("ArrowLeft")
    expect(board).to_have_attribute("fen", positions[home - 1])
    expect(board).to_have_attribute("marks", "itinerary e8-g8")
    expect(figure.get_by_role("status")).to_have_text("9…O-O")
    assert "black" not in (picture.get_attribute("aria-label") or "").lower().split(":")[0]
    page.keyboard.press("Home")
    expect(board).to_have_attribute("fen", positions[0])
    page.keyboard.press("ArrowLeft")
    expect(board).to_have_attribute("fen", positions[0])
    page.keyboard.press("End")
    expect(board).to_have_attribute("fen", positions[-1])
    page.keyboard.press("Escape")
    expect(board).to_have_attribute("fen", positions[home])
    expect(board).to_have_attribute("marks", marks or "")
    assert picture.get_attribute("aria-label") == alternative
    moves.get_by_role("button", name="6 Nf3").click()
    expect(board).to_have_attribute("fen", positions[11])
    page.locator("h1").click()
    expect(moves).to_be_hidden()
    expect(board).to_have_attribute("fen", positions[home])
    assert page.locator("#figure-2 .played").count() == 0, "no moves lead to it"
