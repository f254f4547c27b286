"""Every page of the desk by the rules of WCAG, wide and narrow, by day and by night."""

from __future__ import annotations

from pathlib import Path

from accessible import faults
from playwright.sync_api import Page, expect

from variorum.desk.shelf import Shelf

FOCUS = """(() => {
  const one = document.activeElement;
  if (!one || one === document.body) return null;
  const style = getComputedStyle(one), box = one.getBoundingClientRect();
  const ring = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  return [one.outerHTML.slice(0, 120), ring && box.width > 0 && box.bottom > 0 && box.top < innerHeight];
})()"""


def turn_to(page: Page, reading: str, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 1000})
    page.evaluate("reading => document.documentElement.dataset.reading = reading", reading)


def test_no_page_has_a_serious_fault(address: str, browser_page: Page, built: Path) -> None:
    folder = built
    page = browser_page
    page.goto(address)
    page.get_by_label("Its folder").fill(str(folder))
    page.get_by_role("button", name="Open it").click()
    expect(page.locator("h1")).to_contain_text("Where the lines lead")
    name = Shelf().add(folder).name
    addresses: list[str] = page.locator("nav a").evaluate_all("links => links.map(link => link.href)")
    assert len(addresses) > 8
    at = "?at=panov Nf6 5.Nc3 e6"
    addresses += [f"{address}/e/{name}/{part}{at}" for part in ("position", "orders", "plans")]
    addresses.append(f"{address}/e/{name}/position?at=panov Nf6 5.Nc3 a5 6.a4")  # nobody knows it
    addresses += [f"{address}/e/{name}/{part}" for part in ("games/here?at=main", "game/1?at=main")]
    addresses.append(f"{address}/voices")
    found = []
    for one in addresses:
        page.goto(one)
        page.wait_for_load_state("networkidle")
        for reading, width in (("day", 1440), ("day", 390), ("night", 1440)):
            turn_to(page, reading, width)
            found += [f"{one.removeprefix(address)} {reading} {width}: {fault}" for fault in faults(page)]
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (one, width)
    assert not found, "\n".join(found)
    page.goto((folder / "out" / "digest.html").as_uri())
    for reading in ("day", "night"):
        turn_to(page, reading, 1024)
        assert faults(page) == []


def test_whoever_comes_by_keyboard_sees_where_he_is(address: str, browser_page: Page, built: Path) -> None:
    page = browser_page
    page.set_viewport_size({"width": 1440, "height": 1000})
    page.goto(address)
    page.get_by_label("Its folder").fill(str(built))
    page.get_by_role("button", name="Open it").click()
    expect(page.locator("h1")).to_contain_text("Where the lines lead")
    name = Shelf().add(built).name
    for part in ("position?at=panov", "plans?at=panov", "claims", "settings"):
        page.goto(f"{address}/e/{name}/{part}")
        expect(page.locator("[data-awaited]")).to_have_count(0)
        seen = set()
        for _ in range(50):
            page.keyboard.press("Tab")
            told = page.evaluate(FOCUS)
            if told is None:
                break
            seen.add(tuple(told))
        assert len(seen) > 15, part
        assert [what for what, shown in seen if not shown] == [], part


def test_the_reading_is_the_one_that_the_computer_prefers_until_one_is_chosen(
    address: str, browser_page: Page, built: Path
) -> None:
    page, root = browser_page, browser_page.locator("html")
    page.goto(address)
    for scheme, reading, other in (("dark", "night", "Day"), ("light", "day", "Night")):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        expect(root).to_have_attribute("data-reading", reading)
        expect(page.locator(".running .reading")).to_have_text(other)
    page.get_by_role("button", name="Night").click()
    page.reload()
    expect(root).to_have_attribute("data-reading", "night")
    page.evaluate("localStorage.clear()")
    page.emulate_media(color_scheme="dark")
    page.goto((built / "out" / "digest.html").as_uri())
    expect(root).to_have_attribute("data-reading", "night")
    page.get_by_role("button", name="Day").click()
    expect(root).to_have_attribute("data-reading", "day")
    page.emulate_media(color_scheme="light")


def test_the_check_finds_what_is_wrong(browser_page: Page) -> None:
    browser_page.goto("about:blank")
    browser_page.set_content(
        '<html lang="en"><title>x</title><main><h1>x</h1><img src="data:,"><p style="color:#bbb;background:#fff">pale</p></main>'
    )
    assert {fault.split(":")[0] for fault in faults(browser_page)} == {
        "critical image-alt",
        "serious color-contrast",
    }
