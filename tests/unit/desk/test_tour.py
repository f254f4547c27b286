from __future__ import annotations

import html
import re

import html5lib
import pytest
from invented_desk import Desk

from variorum.desk.memory import Memory
from variorum.desk.tour import NOTES


def get(desk: Desk, section: str) -> str:
    path = {"shelf": "/", "voices": "/voices"}.get(section, f"/e/{desk.name}/{section}")
    answer = desk.client.get(path)
    assert answer.status_code == 200
    return answer.text


@pytest.mark.parametrize("section", list(NOTES))
def test_each_page_has_its_note_until_it_is_put_away(desk: Desk, section: str) -> None:
    text = get(desk, section)
    html5lib.HTMLParser(strict=True).parse(text)
    assert html.escape(NOTES[section].shows) in text.replace("&#39;", "&#x27;")
    assert desk.post("/notes/put-away", {"note": section}) == (200, {})
    assert "What you see here" not in get(desk, section)
    assert Memory().read == {section}, "it is kept for the next run"
    other = next(one for one in NOTES if one != section)
    assert "What you see here" in get(desk, other)


def test_all_are_put_away_and_shown_again(desk: Desk) -> None:
    desk.post("/notes/put-away", {"note": "all"})
    assert not any("What you see here" in get(desk, section) for section in NOTES)
    assert desk.post("/notes/again", {})[0] == 200
    assert all("What you see here" in get(desk, section) for section in NOTES)


def test_the_tour_leads_on_from_page_to_page(desk: Desk) -> None:
    section, walked = "games", ["games"]
    while onward := re.search(rf'href="/e/{desk.name}/([a-z]+)">Go on to', get(desk, section)):
        section = onward[1]
        walked.append(section)
    assert walked == [one for one in NOTES if one not in ("shelf", "voices")]


def test_only_the_demonstration_is_led_to_its_own_positions(desk: Desk) -> None:
    assert "two openings meet" not in get(desk, "map")
    file = desk.edition / "edition.toml"
    names = "\n".join(
        f'{name} = "qgd 3.Nc3 {move}"'
        for name, move in (("iqp", "Nf6"), ("retreat", "Be7"), ("bishop-c4", "Bb4"), ("nimzo-iqp", "c6"))
    )
    file.write_text(file.read_text().replace("[names]\n", f"[names]\n{names}\n"))
    for section, note in NOTES.items():
        if note.there[0]:
            text = get(desk, section)
            link = f'href="/e/{desk.name}/{html.escape(note.there[1])}"'
            assert link in text
            answer = desk.client.get(f"/e/{desk.name}/{note.there[1]}")
            assert answer.status_code == 200, answer.text


def test_what_an_author_writes_is_no_note(desk: Desk) -> None:
    file = desk.edition / "edition.toml"
    file.write_text(re.sub(r'title = ".*"', 'title = "<!--note map-->"', file.read_text()))
    desk.post("/notes/put-away", {"note": "settings"})
    assert "What you see here" not in get(desk, "settings")
    assert "&lt;!--note map--&gt;" in get(desk, "settings")


@pytest.mark.parametrize("sent", [{}, {"note": 3}, {"note": "nothing"}])
def test_a_note_that_there_is_not(desk: Desk, sent: dict[str, object]) -> None:
    assert desk.post("/notes/put-away", sent)[0] == 422
    assert Memory().read == frozenset()
    assert desk.client.post("/notes/put-away", json={"note": "map"}).status_code == 403
