from __future__ import annotations

import sys
from pathlib import Path

import html5lib
import pytest
from desk_works import until
from invented_desk import Desk

from variorum.base.settings import load_user_settings, settings_path
from variorum.desk.memory import Memory
from variorum.desk.work import State

FAKE = str(Path(__file__).parents[2] / "fake_engine.py")
NEW = {"name": "analyst", "program": sys.executable, "arguments": f"{FAKE}\nwell", "options": "Style=wild"}


def everything(folder: Path) -> dict[str, bytes]:
    """The author's files of an edition; the store is none."""
    files = [file for file in folder.rglob("*") if file.is_file() and ".variorum" not in file.parts]
    return {str(file.relative_to(folder)): file.read_bytes() for file in files}


def page(desk: Desk) -> str:
    answer = desk.client.get("/voices")
    assert answer.status_code == 200
    html5lib.HTMLParser(strict=True).parse(answer.text)
    return answer.text


def test_a_program_is_added_changed_and_forgotten_and_no_edition_knows_of_it(desk: Desk) -> None:
    before = everything(desk.edition)
    settings_path().parent.mkdir(parents=True, exist_ok=True)
    settings_path().write_text('# mine\npieces = "KDTLS"  # German\n')
    assert desk.post("/voices/add", NEW) == (200, {"go": "/voices"})
    text = page(desk)
    assert FAKE in text
    assert "Style=wild" in text
    voice = load_user_settings()[0].voices["analyst"]
    assert (voice.command[1:], voice.siglum, voice.options) == ((FAKE, "well"), "A", {"Style": "wild"})
    assert desk.post("/voices/change", {"name": "analyst", "siglum": "X", "options": "Threads=2"})[0] == 200
    voice = load_user_settings()[0].voices["analyst"]
    assert (voice.siglum, voice.options) == ("X", {"Threads": 2})
    assert settings_path().read_text().startswith('# mine\npieces = "KDTLS"  # German\n')
    assert desk.post("/voices/remove", {"name": "analyst"})[0] == 200
    assert "analyst" not in load_user_settings()[0].voices
    assert everything(desk.edition) == before


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"program": "/no/such/program"}, "no such program"),
        ({"program": ""}, "no program is named"),
        ({"arguments": "-c\npass"}, ""),
        ({"options": "Wildness=3"}, "Wildness"),
        ({"options": "nothing"}, "no option"),
        ({"siglum": "R"}, "siglum"),
        ({"name": "resident"}, "resident"),
        ({"name": "a/b"}, "name"),
    ],
)
def test_what_cannot_be_a_voice_is_not_written(desk: Desk, wrong: dict[str, str], said: str) -> None:
    status, told = desk.post("/voices/add", NEW | wrong)
    assert status == 422
    assert said in told["fault"]
    assert not settings_path().exists() or "voices" not in settings_path().read_text()


@pytest.mark.parametrize("path", ["add", "change", "remove", "resident", "try"])
def test_nothing_but_the_page_itself_can_name_a_program(desk: Desk, path: str) -> None:
    token = {"x-variorum-token": desk.token}
    attacks = [
        {},  # no token, as a form of another site
        {"x-variorum-token": "x" * 43},
        token | {"origin": "https://elsewhere.example"},
        token | {"sec-fetch-site": "cross-site"},
        token | {"host": "elsewhere.example"},
    ]
    for headers in attacks:
        assert desk.client.post(f"/voices/{path}", json=NEW, headers=headers).status_code == 403, headers
    assert desk.client.get(f"/voices/{path}", params=NEW).status_code == 405
    assert not settings_path().exists()


def test_an_edition_that_names_a_program_starts_nothing(desk: Desk, tmp_path: Path) -> None:
    trace = tmp_path / "started"
    program = f"import pathlib; pathlib.Path({str(trace)!r}).touch()"
    settings = desk.edition / "edition.toml"
    settings.write_text(
        settings.read_text()
        + f'\n[budget]\nvoices = ["evil"]\n\n[voices.evil]\ncommand = ["{Path(sys.executable).as_posix()}", "-c", "{program}"]\n'
    )
    for path in ("map", "position", "claims", "playouts"):
        desk.client.get(f"/e/{desk.name}/{path}")
    desk.post(f"/e/{desk.name}/ask", {"at": "start", "voice": "evil"})
    desk.post("/voices/try", {"name": "evil"})
    assert "evil" not in page(desk)
    assert not trace.exists()


def test_a_trial_tells_its_answers_and_is_kept(desk: Desk) -> None:
    assert "Not tried yet" in page(desk)
    desk.post("/voices/add", NEW)
    status, told = desk.post("/voices/try", {"name": "analyst"})
    assert status == 200
    work = until(desk.works, int(told["number"]), State.DONE, State.FAILED)
    assert (work.state, len(work.said)) == (State.DONE, 4)
    assert work.said[3].startswith("Three lines of an opening")
    text = page(desk)
    assert "Fake 7" in text
    assert "not all that it says makes sense" in text
    kept = Memory().trial("analyst")
    assert kept is not None and not kept.report.sound
    desk.post("/voices/remove", {"name": "analyst"})
    assert Memory().trial("analyst") is None


def test_a_voice_that_there_is_not(desk: Desk) -> None:
    for path in ("change", "remove", "try"):
        assert desk.post(f"/voices/{path}", {"name": "nobody"})[0] == 422
    assert desk.post("/voices/remove", {"name": "resident"})[0] == 422


@pytest.mark.parametrize("kept", [b"", b"{", b'{"trials": 3}', b"\xff"])
def test_a_damaged_memory_is_begun_anew(tmp_path: Path, kept: bytes) -> None:
    file = tmp_path / "desk.json"
    file.write_bytes(kept)
    memory = Memory(file)
    assert memory.read == frozenset()
    memory.put_away("map")
    assert Memory(file).read == {"map"}
    memory.show_again()
    assert Memory(file).read == frozenset()


def test_the_resident_is_given_threads(desk: Desk) -> None:
    assert desk.post("/voices/resident", {"threads": "3"})[0] == 200
    assert load_user_settings()[0].resident.threads == 3
    assert 'value="3"' in page(desk)
    for wrong in ({"threads": "0"}, {"threads": "257"}, {"threads": "many"}, {}):
        assert desk.post("/voices/resident", wrong)[0] == 422
    assert load_user_settings()[0].resident.threads == 3
