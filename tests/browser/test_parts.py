"""What comes after a page, in a real browser: its progress, its arrival, its faults."""

from __future__ import annotations

import threading

import pytest
from playwright.sync_api import Page, expect

from variorum.base import InputError
from variorum.desk.pages import position_parts


def test_a_part_tells_how_far_it_is_and_arrives(
    browser_page: Page, two_games: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    page, go_on = browser_page, threading.Event()
    made = position_parts.PARTS["orders"]

    def slowly(asked: position_parts.Asked) -> str:
        with asked.progress.task("orders", total=200, unit="games") as task:
            task.advance(40)
            go_on.wait(60)
        return made(asked)

    monkeypatch.setitem(position_parts.PARTS, "orders", slowly)
    page.goto(f"{two_games}/position?at=qgd 3.Nc3 Nf6 4.Nf3")
    expect(page.locator("#board")).to_be_visible()
    orders = page.get_by_role("region", name="Orders")
    expect(orders).to_have_text("Orders: orders, 40 of 200 games…")
    go_on.set()
    expect(orders).to_contain_text("What each allows")
    expect(orders.locator("li")).to_have_count(2)


def test_a_part_that_fails_says_so_and_the_page_stands(
    browser_page: Page, two_games: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(asked: position_parts.Asked) -> str:
        raise InputError("the orders cannot be told", remedy="try later")

    monkeypatch.setitem(position_parts.PARTS, "orders", fails)
    page = browser_page
    page.goto(f"{two_games}/position?at=qgd")
    expect(page.get_by_role("region", name="Orders")).to_have_text(
        "Orders: Erratum: the orders cannot be told; try later."
    )
    expect(page.locator("[data-onward]")).to_have_count(2)
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowRight")
    expect(page.locator("#line")).to_contain_text("♘f3")


def test_a_page_that_is_not_made_yet_shows_itself_when_it_is(
    browser_page: Page, two_games: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from variorum.desk.pages import structures

    go_on = threading.Event()
    counted = structures.edition_structures

    def slowly(*given: object, **named: object) -> object:
        go_on.wait(60)
        return counted(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(structures, "edition_structures", slowly)
    page = browser_page
    page.goto(f"{two_games}/structures")
    expect(page.locator("h1")).to_have_text("This page is being worked out")
    go_on.set()
    expect(page.locator("h1")).not_to_have_text("This page is being worked out")
    expect(page).to_have_title("Structures · Variorum")
