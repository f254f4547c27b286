"""What is made in the background: once, kept as long as it is true, and never in the way of the page."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from invented_desk import GAME, Desk
from starlette.testclient import TestClient

from variorum.base import InputError
from variorum.build.opened import OpenEdition
from variorum.desk.app import make_app
from variorum.desk.pages import position_parts
from variorum.desk.parts import Part, Parts
from variorum.desk.progress import Recorder
from variorum.edition import hash_on_disk

ADDRESS = "a part"


@pytest.fixture
def parts(desk: Desk) -> Iterator[Parts]:
    made = Parts(desk.client.app.state.editions)  # type: ignore[attr-defined]
    yield made
    made.close()


def waited(parts: Parts, desk: Desk, make: object, address: str = ADDRESS) -> Part:
    return parts.get(desk.name, address, make, patience=60)  # type: ignore[arg-type]


def test_a_part_is_made_once_for_a_reload_and_a_second_tab(desk: Desk, parts: Parts) -> None:
    begun, go_on, made = threading.Event(), threading.Event(), []

    def make(opened: OpenEdition, recorder: Recorder) -> str:
        with recorder.task("count", total=200, unit="games") as task:
            task.advance(40)
            begun.set()
            go_on.wait(60)
            made.append(opened.edition.title)
        return "done"

    assert not parts.get(desk.name, ADDRESS, make).is_ready
    assert begun.wait(60)
    told = parts.get(desk.name, ADDRESS, make)  # the second tab
    assert (told.text, told.words) == (None, "count, 40 of 200 games")
    go_on.set()
    assert waited(parts, desk, make).text == "done"
    assert waited(parts, desk, make).text == "done"  # the reload
    assert parts.at_hand(desk.name, [ADDRESS]) == {ADDRESS: "done"}
    assert len(made) == 1


def test_a_changed_file_has_it_made_anew(desk: Desk, parts: Parts) -> None:
    def make(opened: OpenEdition, recorder: Recorder) -> str:
        assert opened.manuscript is not None
        return opened.manuscript.content_hash

    file = desk.edition / "manuscript.pgn"
    assert waited(parts, desk, make).text == hash_on_disk(file)
    file.write_text(file.read_text().replace("3. Nc3 $14", "3. Nc3 $14 {longer}"))
    assert parts.at_hand(desk.name, [ADDRESS]) == {}
    assert waited(parts, desk, make).text == hash_on_disk(file)


@pytest.mark.parametrize(
    "file",
    [
        "verdicts/first.epd",
        "verdicts/hinges/first.epd",
        "digest.md",
        "edition.toml",
        ".history/builds.jsonl",
        "playouts/a.pgn",
    ],
)
def test_every_file_that_an_edition_is_made_from_counts(desk: Desk, parts: Parts, file: str) -> None:
    assert waited(parts, desk, lambda opened, recorder: "made").text == "made"
    path = desk.edition / file
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text((path.read_text() if path.exists() else "") + "\n")
    assert parts.at_hand(desk.name, [ADDRESS]) == {}


def test_new_games_have_it_made_anew(desk: Desk, parts: Parts) -> None:
    from variorum.cli import main

    def make(opened: OpenEdition, recorder: Recorder) -> str:
        return str(opened.store.count if opened.store else 0)

    assert waited(parts, desk, make).text == "2"
    (desk.edition / "sources" / "b.pgn").write_text(GAME.replace("Orlo", "Orla"))
    assert main(["sift", str(desk.edition)]) == 0
    assert waited(parts, desk, make).text == "3"


def test_what_took_long_is_found_by_the_next_run_of_the_desk(
    desk: Desk, parts: Parts, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("variorum.desk.parts._WORTH_KEEPING", -1.0)
    assert waited(parts, desk, lambda opened, recorder: "dear").text == "dear"
    again = Parts(desk.client.app.state.editions)  # type: ignore[attr-defined]

    def never(opened: OpenEdition, recorder: Recorder) -> str:
        raise AssertionError("made a second time")

    assert waited(again, desk, never).text == "dear"
    assert waited(again, desk, lambda opened, recorder: "other", "another part").text == "other"
    again.close()


def test_what_cannot_be_made_says_so_and_is_tried_again_later(
    desk: Desk, parts: Parts, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(opened: OpenEdition, recorder: Recorder) -> str:
        raise InputError("no such thing", remedy="do another")

    def breaks(opened: OpenEdition, recorder: Recorder) -> str:
        return str(1 // 0)

    error = waited(parts, desk, fails).error
    assert error is not None
    assert error.message == "no such thing"
    defect = waited(parts, desk, breaks, "b").error
    assert defect is not None
    assert "defect: ZeroDivisionError" in defect.message
    monkeypatch.setattr("variorum.desk.parts._FAULTS_KEPT", 0.0)
    assert waited(parts, desk, lambda opened, recorder: "now", "b").text == "now"


def test_the_page_stands_without_its_parts(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(asked: object) -> str:
        raise InputError("the part is broken", remedy="mend it")

    for name in list(position_parts.PARTS):
        monkeypatch.setitem(position_parts.PARTS, name, fails)
    page = desk.page("position?at=qgd")
    rows = re.findall(r"data-onward>([^<]+)</a></td><td class=\"n\">(\d*)", page)
    assert rows == [("3\u00a0♘c3", "1"), ("3\u00a0♘f3", "1")]
    address = re.search(r'data-part="([^"]*part/near[^"]*)"', page)
    assert address is not None
    answer = part(desk, address[1])
    assert answer.status_code == 422
    assert answer.json() == {"fault": "the part is broken", "remedy": "mend it"}
    assert desk.page("position?at=qgd")


def part(desk: Desk, address: str) -> Any:
    """The answer once it is there, as the page's script asks for it."""
    while True:
        answer = desk.client.get(address.replace("&amp;", "&"), headers={"accept": "application/json"})
        if answer.status_code != 202:
            return answer
        assert answer.json()["words"]


def test_a_part_arrives_and_stands_in_the_page_from_then_on(desk: Desk) -> None:
    say = "Nc3 Nf6 Nf3"
    page = desk.page(f"position?at=qgd+3.{say.replace(' ', '+')}")
    addresses = re.findall(r'data-part="([^"]*)"( data-made)?', page)
    assert {re.split(r"part/|\?", one)[1] for one, _ in addresses} == set(position_parts.PARTS)
    assert not any(made for _, made in addresses)
    texts = [part(desk, address).text for address, _ in addresses]
    assert any(
        "2</span></h2>" in text and "What each allows" in text for text in texts
    )  # two orders lead here
    page = desk.page(f"position?at=qgd+3.{say.replace(' ', '+')}")
    assert len(re.findall(r"data-part=\"[^\"]*\" data-made", page)) == len(addresses)
    assert "What each allows" in page


def test_a_part_that_there_is_not_is_refused(desk: Desk) -> None:
    assert desk.client.get(f"/e/{desk.name}/part/nothing").status_code == 422


def test_a_page_that_takes_long_says_how_far_it_is(desk: Desk, tmp_path: Path) -> None:
    app = make_app(hosts=frozenset({"127.0.0.1:7411"}), shelf_list=desk.shelf, patience=0.0)
    with TestClient(app, base_url="http://127.0.0.1:7411") as client:
        first = client.get(f"/e/{desk.name}/map")
        assert first.status_code in (200, 202)
        while (
            answer := client.get(f"/e/{desk.name}/map", headers={"accept": "application/json"})
        ).status_code == 202:
            assert answer.json()["words"]
        page = client.get(f"/e/{desk.name}/map")
        assert page.status_code == 200
        assert "Where the lines lead" in page.text
        assert f'content="{app.state.token}"' in page.text  # and no kept page holds it
