"""Files of games in the browser: added, said to be something else, taken out and put back; what was interrupted is offered."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest
from accessible import faults
from invented_desk import GAME
from playwright.sync_api import Page, expect

from variorum.desk.journal import Begun, Entry, Journal
from variorum.desk.shelf import Shelf
from variorum.edition import load_edition, new_edition


def opened(page: Page, address: str, folder: Path) -> str:
    """The page of games of a new edition."""
    new_edition(folder, "The Queen's Gambit", ["qgd: 1.d4 d5 2.c4 e6"], "white")
    page.goto(address)
    page.get_by_label("Its folder").fill(str(folder))
    page.get_by_role("button", name="Open it").click()
    expect(page.locator("h1")).to_contain_text("Where the lines lead")
    page.get_by_role("link", name="Games", exact=True).click()
    return f"{address}/e/{Shelf().add(folder).name}"


def test_a_wrong_file_does_not_spoil_the_rest_and_is_taken_out(
    browser_page: Page, address: str, tmp_path: Path
) -> None:
    page, folder = browser_page, tmp_path / "edition"
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    opened(page, address, folder)
    files = page.locator("#files")
    page.get_by_label("PGN files, as they are").set_input_files(
        [
            {"name": "a.pgn", "mimeType": "", "buffer": GAME.encode()},
            {
                "name": "b.pgn.gz",
                "mimeType": "",
                "buffer": gzip.compress(GAME.replace("Orlo", "Brim").encode()),
            },
            {"name": "letter.pgn", "mimeType": "", "buffer": b"Dear editor,\nthis is no game.\n"},
        ]
    )
    page.get_by_role("button", name="Add and bring in").click()
    expect(files).to_contain_text("2 games that reach a root")
    expect(files.locator("tr", has_text="letter.pgn")).to_contain_text("no game in it")
    works = page.locator("#works")
    expect(works).to_contain_text("sources/letter.pgn: there is no game in it")
    page.get_by_role("link", name="Map", exact=True).click()  # it is told on every page, until it is put away
    expect(works).to_contain_text("sources/letter.pgn: there is no game in it")
    works.get_by_role("link", name="See the files").click()

    # By keyboard: the question is asked once, and Escape leaves it.
    page.get_by_role("button", name="Take out sources/letter.pgn").press("Enter")
    expect(page.get_by_role("button", name="Take it out")).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.get_by_role("button", name="Take out sources/letter.pgn")).to_be_focused()
    assert (folder / "sources" / "letter.pgn").exists()
    page.keyboard.press("Enter")
    expect(files).to_contain_text("Take sources/letter.pgn out? The file is moved")
    assert faults(page) == []
    page.keyboard.press("Enter")
    expect(page.get_by_role("region", name="Files that were taken out")).to_contain_text("letter.pgn")
    expect(works).to_be_hidden()
    assert not (folder / "sources" / "letter.pgn").exists()
    page.get_by_role("button", name="Put taken-out/letter.pgn back").click()
    expect(files.locator("tr", has_text="letter.pgn")).to_have_count(1)
    assert complaints == []


def test_what_a_file_is_is_changed_below_its_row(browser_page: Page, address: str, tmp_path: Path) -> None:
    page, folder = browser_page, tmp_path / "edition"
    opened(page, address, folder)
    (folder / "sources" / "a.pgn").write_text(GAME)
    page.reload()
    before = (folder / "edition.toml").read_text()
    change = page.get_by_role("button", name="Change what sources/a.pgn is")
    change.click()
    form = page.locator("form.rule")
    expect(form.get_by_label("The engine’s name")).to_be_hidden()
    expect(form.get_by_label("Files, as a path")).to_be_hidden()
    form.get_by_label("They are").select_option("engine")
    form.get_by_label("The engine’s name").fill("owl")
    form.get_by_label("Only players rated at least").fill("2400")
    page.set_viewport_size({"width": 390, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert faults(page) == []
    page.set_viewport_size({"width": 1440, "height": 1000})
    form.get_by_role("button", name="Save").click()
    row = page.locator("#files tr", has_text="a.pgn")
    expect(row).to_contain_text("games of engines, owl; players rated 2400 or more")
    edition, _ = load_edition(folder)
    assert edition is not None
    assert edition.rule_for(folder / "sources" / "a.pgn").min_rating == 2400
    # The same table on the page of settings, with its path; then all of it is taken back.
    page.get_by_role("link", name="Settings", exact=True).click()
    page.get_by_role("button", name="Change what is said of sources/a.pgn").click()
    expect(form.get_by_label("Files, as a path")).to_be_focused()
    form.get_by_label("Only players rated at least").fill("2500")
    form.get_by_label("Only players rated at least").press("Enter")
    expect(page.locator(".rules")).to_contain_text("players rated 2500 or more")
    for taken_back in (1, 2):
        page.get_by_role("button", name="Take back").click()
        expect(page.locator(".rules")).to_contain_text(
            ("", "2400", "All of them are games of practice")[taken_back]
        )
    assert (folder / "edition.toml").read_text() == before


@pytest.fixture
def left(tmp_path: Path) -> Path:
    """An edition whose games a desk was bringing in when it was killed; before the desk of the test begins."""
    folder = tmp_path / "edition"
    new_edition(folder, "The Queen's Gambit", ["qgd: 1.d4 d5 2.c4 e6"], "white")
    (folder / "sources" / "a.pgn").write_text(GAME)
    name = Shelf(tmp_path / "other.json").add(folder).name
    journal = Journal(tmp_path / "home" / "cache" / "works")
    begun = Begun(f"/e/{name}/begin/sift")
    journal.keep([Entry(edition=name, kind="sift", subject="the games under sources/", begun=begun)])
    journal.close()
    return folder


def test_what_a_killed_desk_left_is_told_by_the_next_which_goes_on(
    left: Path, address: str, browser_page: Page
) -> None:
    page = browser_page
    page.goto(address)
    works = page.locator("#works")
    expect(works).to_contain_text("was interrupted when the desk ended; what was finished is kept")
    page.get_by_label("Its folder").fill(str(left))
    page.get_by_role("button", name="Open it").click()
    page.get_by_role("link", name="Games", exact=True).click()
    expect(works).to_contain_text("Bringing in the games under sources/ was interrupted")
    works.get_by_role("button", name="Go on").click()
    expect(page.locator("#files")).to_contain_text("1 game that reaches a root")
    expect(works).to_be_hidden()
    page.reload()
    expect(works).to_be_hidden()
