"""The user's list of voices: what is written, and what is refused."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from variorum.base import InputError
from variorum.base.settings import HOME_VARIABLE, UserSettings, load_user_settings, settings_path
from variorum.board import Position, Request
from variorum.voices.registry import (
    add_voice,
    list_voices,
    remove_voice,
    resolved_command,
    voice_opener,
    workers_for,
)
from variorum.voices.resident import Resident
from variorum.voices.uci import UciVoice

BEFORE = '# mine\npieces = "KDTLS"   # German letters\n\n[voices.old]\ncommand = ["old"]\n'


@pytest.fixture(autouse=True)
def _home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path))


def now() -> UserSettings:
    settings, faults = load_user_settings()
    assert not faults
    return settings


def test_the_file_is_made_and_read_back() -> None:
    entry = add_voice(
        now(), "analyst", ("/bin/analyst", "-q"), {"Hash": 64, "Style": "calm", "Own Book": False}
    )
    assert entry.siglum == "A"
    assert list_voices(now())[1:] == (entry,)
    assert [one.name for one in list_voices(now())] == ["resident", "analyst"]


def test_the_rest_of_the_file_stays() -> None:
    settings_path().write_text(BEFORE)
    add_voice(now(), "new one", ("new",), {}, "Nw")
    text = settings_path().read_text()
    assert text.startswith(BEFORE)
    assert now().voices["new one"].siglum == "Nw"
    remove_voice(now(), "new one")
    assert settings_path().read_text().strip() == BEFORE.strip()


@pytest.mark.parametrize(
    ("name", "siglum", "said"),
    [
        ("old", "", "there is a voice 'old' already"),
        ("resident", "", "there is a voice 'resident' already"),
        ("", "", "cannot be the name"),
        ("a/b", "", "cannot be the name"),
        ("new", "G", "is the siglum of the games"),
        ("new", "R", "is the siglum of resident"),
        ("new", "abc", "cannot be a siglum"),
        ("new", "1", "cannot be a siglum"),
    ],
)
def test_what_is_refused_changes_nothing(name: str, siglum: str, said: str) -> None:
    settings_path().write_text(BEFORE)
    with pytest.raises(InputError, match=said):
        add_voice(now(), name, ("new",), {}, siglum)
    assert settings_path().read_text() == BEFORE


def test_damaged_settings_are_not_written_over() -> None:
    settings_path().write_text("pieces = ")
    with pytest.raises(InputError, match="your settings cannot be read"):
        add_voice(UserSettings(), "new", ("new",), {})
    assert settings_path().read_text() == "pieces = "


def test_whom_a_name_opens() -> None:
    add_voice(now(), "analyst", (sys.executable,), {})
    resident = voice_opener("resident", now())()
    own = voice_opener("analyst", now())()
    assert isinstance(resident, Resident)
    assert isinstance(own, UciVoice)
    own.close()
    with pytest.raises(InputError) as caught:
        voice_opener("analist", now())
    assert caught.value.remedy == "did you mean 'analyst'?"


def test_the_threads_of_the_resident(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the settings say counts wherever it is opened; the processors are filled once, not once a worker."""
    monkeypatch.setattr("os.cpu_count", lambda: 8)
    assert (workers_for(now()), list_voices(now())[0].options) == (8, {})
    settings_path().write_text("[resident]\nthreads = 3\n")
    assert (workers_for(now()), list_voices(now())[0].options) == (2, {"threads": 3})
    voice = voice_opener("resident", now())()
    verdict = voice.ask(Request(position=Position.start(), voice="resident", nodes=3000))
    assert verdict.threads == 3
    settings_path().write_text("[resident]\nthreads = 9\n")
    assert workers_for(now()) == 1


def test_programs_are_found_and_others_are_not(tmp_path: Path) -> None:
    assert resolved_command([sys.executable, "-q"])[1:] == ("-q",)
    (tmp_path / "text").write_text("no program")
    for words, said in (
        (["/no/such"], "no such program"),
        ([str(tmp_path)], "folder"),
        ([str(tmp_path / "text")], "no program"),
    ):
        with pytest.raises(InputError, match=said):
            resolved_command(words)
