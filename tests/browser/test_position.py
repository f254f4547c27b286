"""The position page and its games in a real browser: claims in the margin, what is renewed when words change, games read by keyboard."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from invented_desk import GAME
from playwright.sync_api import Page, expect

from variorum.base.settings import UserSettings
from variorum.cli import main
from variorum.voices.voice import Voice

TEXT = '[Event "e"]\n[White "w"]\n[Black "b"]\n[Result "*"]\n\n1. d4 d5 2. c4 e6 3. Nc3 $14 Nf6 *\n'


@pytest.fixture
def edition(two_games: str, tmp_path: Path) -> str:
    """The address of an edition with two games and a manuscript."""
    (tmp_path / "edition" / "manuscript.pgn").write_text(TEXT)
    return two_games


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


def test_a_game_is_opened_from_its_position_and_read_by_keyboard(
    browser_page: Page, edition: str, tmp_path: Path
) -> None:
    page = browser_page
    page.goto(f"{edition}/position?at=qgd")
    games = page.get_by_role("region", name="Games")
    expect(games).to_contain_text("Practice, 2")
    games.get_by_role("link", name="Every game that came here").click()
    expect(page.locator("h1")).to_have_text("2 games")
    page.locator(".found-games tr", has_text="3\u00a0♘f3").get_by_role("link").click()
    expect(page.locator("h1")).to_have_text("Orlo, Tam – Vesk, Ina")
    caption = page.locator("figcaption b")
    expect(caption).to_have_text("After 2…e6. White to move.")
    page.keyboard.press("ArrowRight")
    expect(caption).to_have_text("After 3\u00a0♘f3. Black to move.")
    assert re.search(
        r"^rnbqkbnr/ppp2ppp/4p3/3p4/2PP4/5N2/", page.locator("#board").get_attribute("fen") or ""
    )
    page.keyboard.press("End")
    expect(caption).to_have_text("After 4…♗e7.")
    page.keyboard.press("Home")
    expect(caption).to_have_text("Before the first move. White to move.")
    with_it = page.get_by_role("region", name="With the manuscript")
    expect(with_it).to_contain_text("With the manuscript to 2…e6, line 6. 3\u00a0♘f3 leaves it.")
    with_it.get_by_role("button", name="3\u00a0♘f3").click()
    expect(caption).to_have_text("After 3\u00a0♘f3. Black to move.")
    page.keyboard.press("ArrowRight")
    expect(caption).to_have_text("After 3…♘f6. White to move.")
    page.reload()
    expect(caption).to_have_text("After 3…♘f6. White to move.")
    page.get_by_role("button", name="Add it to the manuscript to 3…♘f6").click()
    expect(with_it).to_contain_text("With the manuscript to 3…♘f6")
    expect(caption).to_have_text("After 3…♘f6. White to move.")  # the page made anew listens to keys
    text = " ".join((tmp_path / "edition" / "manuscript.pgn").read_text().split())
    assert "(3. Nf3 Nf6 {Orlo – Vesk, x 2020})" in text
    page.keyboard.press("o")
    expect(page.locator("#line")).to_contain_text("♘f6")


def test_what_is_being_asked_is_said_at_once(
    browser_page: Page, edition: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from variorum.desk.pages import asking

    go_on, opener = threading.Event(), asking.voice_opener

    def slow(name: str, user: UserSettings) -> Callable[[], Voice]:
        go_on.wait(60)
        return opener(name, user)

    monkeypatch.setattr(asking, "voice_opener", slow)
    page = browser_page
    page.goto(f"{edition}/position?at=qgd")
    answer = page.locator("#answer")
    page.locator("#ask-lines").select_option("2")
    page.get_by_role("button", name="Ask", exact=True).click()
    expect(answer).to_have_text(
        "resident is being started: 2 lines, 50,000 nodes at first, then twice as many each time."
    )
    go_on.set()
    expect(answer.locator("li")).to_have_count(2)
    expect(answer).to_contain_text("nodes, depth")
    page.get_by_role("button", name="Drop it").click()
    expect(answer).to_be_empty()


def test_a_plan_is_cited_as_a_sentence(browser_page: Page, edition: str, tmp_path: Path) -> None:
    games = [GAME.replace("Orlo", f"Orlo{number}") for number in range(3)]
    (tmp_path / "edition" / "sources" / "a.pgn").write_text("".join(games))
    assert main(["sift", str(tmp_path / "edition")]) == 0
    page = browser_page
    page.goto(f"{edition}/position?at=qgd")
    plans = page.get_by_role("region", name="Plans")
    plans.get_by_role("button", name="♘b1–c3").click()
    expect(page.locator("#board")).to_have_attribute("marks", re.compile("^itinerary b1-c3 [a-z]$"))
    plans.get_by_role("link", name="all").click()
    expect(page.locator("h1")).to_have_text("What is played from here on")
    row = page.locator(".plans li", has_text="♘b1–c3")
    row.hover()
    row.get_by_role("button", name="Cite").click()
    expect(page.get_by_label("digest.md", exact=True)).to_have_value(
        re.compile(
            r"White's Nb1–c3 is seen in \[3 of 3\]\{\.fact kind=plan at=\"qgd\" plan=\"Nb1-c3\" side=white of=practice\}"
        )
    )


def test_who_steps_on_finds_the_board_where_it_was(browser_page: Page, edition: str) -> None:
    page = browser_page
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{edition}/position?at=qgd")
    assert page.evaluate("scrollY") == 0
    top = "document.getElementById('board').getBoundingClientRect().top"
    page.evaluate("scrollTo(0, 250)")
    before = page.evaluate(top)
    page.keyboard.press("m")
    page.keyboard.type("Nc3")
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("Nc3"))
    page.wait_for_load_state("load")
    page.wait_for_function(f"Math.abs({top} - {before}) < 2")
    page.goto(f"{edition}/map")
    page.goto(f"{edition}/position?at=qgd")
    assert page.evaluate("scrollY") == 0
