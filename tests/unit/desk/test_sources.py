"""Files of games and what is said of them: changed, taken out and put back from the page."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path
from typing import Any

import html5lib
import pytest
from desk_works import until
from invented_desk import GAME, Desk

from variorum.desk.pages.games import _REASONS
from variorum.desk.work import State
from variorum.edition import load_edition
from variorum.edition.settings import SourceRule

ROOT = Path(__file__).parents[3]
OWL = '\n# games of the owl\n[[sources]]\npath = "sources/owl/*"  # all of them\nkind = "engine"\nvoice = "owl"\n'


def act(
    desk: Desk, what: str, *, rule: dict[str, str] | None = None, **sent: Any
) -> tuple[int, dict[str, str]]:
    found = re.search(r'data-hash="([0-9a-f]{64})"', desk.page("games"))
    assert found
    wish = {"act": what, "hash": found[1], "rule": rule or {}, **sent}
    return desk.post(f"/e/{desk.name}/games/act", wish)


def rule_of(desk: Desk, file: str) -> SourceRule:
    edition, faults = load_edition(desk.edition)
    assert edition is not None and not faults
    return edition.rule_for(desk.edition / file)


def bring_in(desk: Desk) -> State:
    _, told = desk.post(f"/e/{desk.name}/begin/sift", {})
    return until(desk.works, int(told["number"]), State.DONE, State.FAILED).state


def forms(text: str) -> list[Any]:
    """What the forms of the page begin with."""
    return [json.loads(html.unescape(one)) for one in re.findall(r'data-rule="([^"]*)"', text)]


def test_what_a_file_is_is_changed_and_counts_when_it_is_brought_in(desk: Desk) -> None:
    before = (desk.edition / "edition.toml").read_text()
    (form,) = forms(desk.page("games"))
    assert (form["file"], form["rule"]["kind"]) == ("sources/a.pgn", "practice")
    rule = {"kind": "correspondence", "min_rating": "2400", "since": "2015-01-01", "pace": "classical"}
    assert act(desk, "change", rule=rule, file="sources/a.pgn") == (200, {"go": f"/e/{desk.name}/games"})
    after = (desk.edition / "edition.toml").read_text()
    assert after.startswith(before)
    assert rule_of(desk, "sources/a.pgn").min_rating == 2400
    text = desk.page("games")
    html5lib.HTMLParser(strict=True).parse(text)
    assert "by correspondence; players rated 2400 or more, classical, since 2015-01-01" in text
    assert "said since it was brought in" in text
    assert forms(text)[0]["rule"]["since"] == "2015-01-01"
    assert bring_in(desk) is State.DONE  # no game has ratings: it is told, and no failure
    text = desk.page("games")
    assert "said since it was brought in" not in text
    assert "No game that reaches a root" in text
    # Back, by the page's own button.
    (sent,) = re.findall(r'settings/undo" data-send="([^"]*)"', text)
    status, told = desk.post(f"/e/{desk.name}/settings/undo", json.loads(html.unescape(sent)))
    assert (status, told) == (200, {"go": f"/e/{desk.name}/games"})
    assert (desk.edition / "edition.toml").read_text() == before


def test_one_file_of_many_is_said_to_be_something_else(desk: Desk) -> None:
    file = desk.edition / "edition.toml"
    file.write_text(file.read_text() + OWL)
    for name in ("x.pgn", "y.pgn"):
        place = desk.edition / "sources" / "owl" / name
        place.parent.mkdir(exist_ok=True)
        place.write_text(GAME)
    _, first, second = forms(desk.page("games"))
    assert first["rule"]["voice"] == second["rule"]["voice"] == "owl"
    assert "sources/owl/*" in first["meaning"]
    assert act(desk, "change", rule={"kind": "practice"}, file="sources/owl/x.pgn")[0] == 200
    assert rule_of(desk, "sources/owl/x.pgn").kind == "practice"
    assert rule_of(desk, "sources/owl/y.pgn").kind == "engine"
    assert file.read_text().endswith(OWL)


def test_tables_are_changed_and_taken_out_on_the_page_of_settings(desk: Desk) -> None:
    file = desk.edition / "edition.toml"
    before = file.read_text()
    file.write_text(before + OWL)
    text = desk.page("settings")
    html5lib.HTMLParser(strict=True).parse(text)
    assert "games of engines, owl" in text
    (form,) = forms(text)
    changed = form["rule"] | {"path": "sources/night/*", "voice": "night owl"}
    status, told = act(desk, "change", rule=changed, number=0, page="settings")
    assert (status, told) == (200, {"go": f"/e/{desk.name}/settings"})
    assert file.read_text() == before + OWL.replace("sources/owl", "sources/night").replace(
        '"owl"', '"night owl"'
    )
    assert act(desk, "drop", number=0, page="settings")[0] == 200
    assert file.read_text() == before + "\n# games of the owl\n"


def test_a_file_that_was_added_wrongly_is_taken_out_and_put_back(desk: Desk) -> None:
    file = desk.edition / "sources" / "wrong.pgn"
    content = GAME.replace("Orlo", "Wrong") + GAME.replace("1. d4 d5", "1. d4 Ke5")
    file.write_text(content)
    assert bring_in(desk) is State.DONE
    text = desk.page("games")
    assert "3 games that reach a root" in text
    asked = [json.loads(html.unescape(one)) for one in re.findall(r'data-confirm="([^"]*)"', text)]
    wrong = next(one for one in asked if one["sent"]["file"] == "sources/wrong.pgn")
    assert "can be put back. Its game is counted until" in wrong["question"]
    settings = (desk.edition / "edition.toml").read_bytes()
    assert desk.post(f"/e/{desk.name}/games/act", wrong["sent"])[0] == 200
    assert not file.exists()
    assert (desk.edition / "taken-out" / "wrong.pgn").read_text() == content
    text = desk.page("games")
    html5lib.HTMLParser(strict=True).parse(text)
    assert "not there any more" in text and "Put back" in text
    assert bring_in(desk) is State.DONE
    text = desk.page("games")
    assert "2 games that reach a root" in text and "not there any more" not in text
    assert act(desk, "back", file="taken-out/wrong.pgn")[0] == 200
    assert file.read_text() == content
    assert bring_in(desk) is State.DONE
    assert "3 games that reach a root" in desk.page("games")
    assert (desk.edition / "edition.toml").read_bytes() == settings


def test_a_file_without_a_game_is_told_of_until_it_is_taken_out(desk: Desk) -> None:
    (desk.edition / "sources" / "letter.pgn").write_text("a letter, no game")
    assert bring_in(desk) is State.DONE
    assert [len(work.shortfalls) for work in desk.works.told()] == [1]
    assert act(desk, "out", file="sources/letter.pgn")[0] == 200
    assert not desk.works.told()
    assert "not there any more" not in desk.page("games")  # no game of it is counted


def test_what_was_set_aside_of_one_file(desk: Desk) -> None:
    for name in ("x", "y"):
        (desk.edition / "sources" / f"{name}.pgn").write_text(GAME.replace("1. d4 d5", "1. d4 Ke5"))
    assert bring_in(desk) is State.DONE
    text = desk.page("games")
    assert "games?aside=sources%2Fx.pgn#aside" in text
    text = desk.page("games?aside=sources/x.pgn")
    html5lib.HTMLParser(strict=True).parse(text)
    assert text.count("Orlo, Tam – Vesk, Ina, line 7, at move 1: a move is illegal") == 1
    assert 'id="aside" open' in text
    assert "Nothing." in desk.page("games?aside=sources/absent.pgn")


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"what": "change", "file": "sources/a.pgn", "rule": {"kind": "engine"}}, "need a voice"),
        ({"what": "change", "file": "sources/a.pgn", "rule": {"kind": "poetry"}}, "cannot be so"),
        ({"what": "change", "file": "sources/a.pgn", "rule": {"min_rating": "high"}}, "a rating is"),
        ({"what": "change", "file": "sources/a.pgn", "rule": {"min_rating": "9999"}}, "min_rating"),
        ({"what": "change", "file": "sources/a.pgn", "rule": {"since": "2015-13-01"}}, "is no day"),
        (
            {
                "what": "change",
                "file": "sources/a.pgn",
                "rule": {"since": "2015-01-02", "until": "2015-01-01"},
            },
            "later than",
        ),
        ({"what": "change"}, "not said of which"),
        ({"what": "change", "number": 3, "rule": {"path": "x"}}, "no such table"),
        ({"what": "change", "number": -1, "rule": {"path": "x"}}, "no such table"),
        ({"what": "drop", "number": 0}, "no such table"),
        ({"what": "drop", "file": "sources/a.pgn"}, "not said of which"),
        ({"what": "out", "file": "manuscript.pgn"}, "no such file"),
        ({"what": "out", "file": "sources/../manuscript.pgn"}, "no such file"),
        ({"what": "back", "file": "sources/a.pgn"}, "no such file"),
        ({"what": "burn", "file": "sources/a.pgn"}, "not complete"),
    ],
)
def test_what_makes_no_sense_is_refused_and_nothing_changes(
    desk: Desk, sent: dict[str, Any], said: str
) -> None:
    before = {
        file: file.read_bytes()
        for file in desk.edition.rglob("*")
        if file.is_file() and ".variorum" not in file.parts
    }
    status, told = act(desk, **sent)
    assert status == 422
    assert said in told["fault"]
    after = {
        file: file.read_bytes()
        for file in desk.edition.rglob("*")
        if file.is_file() and ".variorum" not in file.parts
    }
    assert after == before


def test_a_change_by_another_hand_is_not_written_over(desk: Desk) -> None:
    file = desk.edition / "edition.toml"
    found = re.search(r'data-hash="([0-9a-f]{64})"', desk.page("games"))
    assert found
    file.write_text(file.read_text() + "# by another program\n")
    wish = {"act": "change", "file": "sources/a.pgn", "hash": found[1], "rule": {"kind": "correspondence"}}
    status, told = desk.post(f"/e/{desk.name}/games/act", wish)
    assert status == 422
    assert "changed outside" in told["fault"]
    assert file.read_text().endswith("# by another program\n")


def test_without_the_token_nothing_is_moved(desk: Desk) -> None:
    answer = desk.client.post(f"/e/{desk.name}/games/act", json={"act": "out", "file": "sources/a.pgn"})
    assert answer.status_code == 403
    assert (desk.edition / "sources" / "a.pgn").exists()


def test_every_reason_for_setting_a_game_aside_has_words() -> None:
    names = re.findall(
        r'"([a-z-]+)",',
        (ROOT / "crates/core/src/scan/game.rs").read_text().split("NAMES: [&str", 1)[1].split("];", 1)[0],
    )
    assert set(_REASONS) == set(names) and len(names) == 10
