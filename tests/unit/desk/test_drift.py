from __future__ import annotations

import html
import re

import html5lib
from desk_works import AFTER_NC3, build, say
from invented_desk import GAME, Desk

from variorum.build.drift_counts import count_drift


def turned(desk: Desk) -> None:
    """A claim that held is contradicted after the second build, and two games came, one with a new move."""
    say(desk.edition, 60)
    build(desk.edition)
    say(desk.edition, -300, line=("f8b4", "e2e3"), nodes=25_600_000)
    (desk.edition / "sources" / "b.pgn").write_text(
        GAME.replace("Orlo", "Renn")
        + GAME.replace("Orlo", "Sull").replace("4. Nf3 Be7 1-0", "4. Bg5 Be7 1-0")
    )
    build(desk.edition)


def test_before_the_first_build_the_page_says_what_to_do(desk: Desk) -> None:
    text = desk.page("drift")
    assert "No build has kept yet" in text
    assert f'data-post="/e/{desk.name}/begin/build"' in text
    assert "no build has kept" in desk.page("drift/found").lower()
    assert count_drift(desk.edition) is None


def test_one_build_has_nothing_to_be_compared_with(desk: Desk) -> None:
    build(desk.edition)
    assert "the next build tells" in desk.page("drift/found")
    counts = count_drift(desk.edition)
    assert counts is not None and counts.is_empty


def test_what_turned_stands_first_with_its_links(desk: Desk) -> None:
    turned(desk)
    text = desk.page("drift/found")
    html5lib.HTMLParser(strict=True).parseFragment(text)
    headings = re.findall(r'aria-label="([^"]+)"><h2>', text)
    assert headings[0] == "Contradicted now"
    assert headings[-1] == "Where new games leave the manuscript"
    links = [html.unescape(link) for link in re.findall(r'href="(/e/[^"]+)"', text)]
    assert any(link.startswith(f"/e/{desk.name}/manuscript?place=6%3A") for link in links)
    for link in {link for link in links if "/position" in link}:
        assert desk.client.get(link).status_code == 200
    assert "it held before" in text
    assert "4\u00a0♗g5" in text
    assert "ever played before" in text


def test_the_diagram_has_the_move_that_was_best_and_the_one_that_is(desk: Desk) -> None:
    turned(desk)
    marks = dict(re.findall(r'data-beside="([^"]+)" data-marks="([^"]+)"', desk.page("drift/found")))
    assert marks[" ".join(AFTER_NC3.split()[:4])] == "itinerary g8-f6; itinerary f8-b4!"


def test_a_build_or_a_day_can_be_chosen(desk: Desk) -> None:
    turned(desk)
    assert '<option value="1" selected>' in desk.page("drift?since=1")
    assert "compared with build 1" in desk.page("drift/found?since=1")
    assert "compared with build 1" in desk.page("drift/found?since=1999-01-01")
    assert "Erratum" in desk.page("drift/found?since=77")
    assert "Erratum" in desk.page("drift/found?since=soon")


def test_the_counts_of_the_log_agree_with_the_page(desk: Desk) -> None:
    turned(desk)
    counts = count_drift(desk.edition)
    assert counts is not None
    assert (counts.before, counts.build, counts.games) == (1, 2, 2)
    assert (counts.newly_contradicted, counts.contradicted) == (1, 1)
    assert counts.verdicts == 1
    assert "1 sentence is contradicted now" in " ".join(re.sub(r"<[^>]+>", " ", desk.page("claims")).split())
