"""The user's own settings."""

from __future__ import annotations

from pathlib import Path

import platformdirs
import pytest

from variorum.base.settings import (
    HOME_VARIABLE,
    UserSettings,
    cache_folder,
    load_user_settings,
    settings_path,
)


def test_none_is_fine() -> None:
    assert load_user_settings() == (UserSettings(), [])


def test_voices(own_settings: Path) -> None:
    text = '[voices.analyst]\ncommand = ["a b", "-q"]\noptions = { Hash = 64, Ponder = false, Path = "x" }\n'
    (own_settings / "settings.toml").write_text(text)
    settings, faults = load_user_settings()
    assert not faults
    assert settings.voices["analyst"].command == ("a b", "-q")
    assert settings.voices["analyst"].options == {"Hash": 64, "Ponder": False, "Path": "x"}


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("stor = 'cache'", "unknown-key", "the user's settings (did you mean 'store'?)"),
        ("pieces = 'KQRB'", "bad-value", "must have 5 characters, not 4"),
        ("[resident]\nthreads = 0", "bad-value", "threads"),
        ("[resident]\nthread = 2", "unknown-key", "did you mean 'threads'?"),
        ("[voices.a]\n", "missing-key", "[voices.a] needs 'command'"),
        (
            "[voices.a]\ncommand = ['x']\noptions = { Hash = 1.5 }",
            "wrong-type",
            "a text or a whole number or true or false",
        ),
        ("voices = ", "toml-syntax", ""),
    ],
)
def test_faults_leave_the_defaults(own_settings: Path, text: str, code: str, words: str) -> None:
    (own_settings / "settings.toml").write_text(text)
    settings, (fault,) = load_user_settings()
    assert fault.code == code and words in str(fault)
    assert (settings.store, settings.pieces) == ("edition", "KQRBN")


def test_the_platforms_folders(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(HOME_VARIABLE)
    assert settings_path() == platformdirs.user_config_path("variorum", appauthor=False) / "settings.toml"
    assert cache_folder() == platformdirs.user_cache_path("variorum", appauthor=False)
