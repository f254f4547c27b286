"""The user's own settings: what depends on the person and the machine, not on an edition.

They stand in `settings.toml` in the platform's folder for configuration. An edition may come from somebody else, so
whatever starts a program (a voice's command) is said here and nowhere else; an edition refers to voices by name.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Final, Literal

import msgspec
import platformdirs
from msgspec import Meta

from variorum.base.diagnostics import Diagnostic
from variorum.base.shape import read_shape
from variorum.base.toml import read_toml

__all__ = [
    "HOME_VARIABLE",
    "ResidentSettings",
    "StorePlace",
    "UserSettings",
    "VoiceSettings",
    "cache_folder",
    "load_user_settings",
    "settings_path",
]

HOME_VARIABLE: Final = "VARIORUM_HOME"
"""Where set, this environment variable names the one folder for settings and caches, in place of the platform's."""

StorePlace = Literal["edition", "cache"]
"""Where an edition's store lies: in its folder as `.variorum`, or in the user's cache folder."""


class VoiceSettings(msgspec.Struct, frozen=True, kw_only=True):
    """A UCI program that may be asked for verdicts."""

    command: Annotated[
        tuple[str, ...],
        Meta(
            description="The program and its arguments, each a text of its own; nothing passes through a shell."
        ),
    ]
    options: Annotated[
        dict[str, str | int | bool], Meta(description="UCI options that are set before it is asked.")
    ] = msgspec.field(default_factory=dict)
    siglum: Annotated[
        str,
        Meta(
            max_length=2,
            description="The mark by which it is cited, one or two letters, where an edition gives no other.",
        ),
    ] = ""


class ResidentSettings(msgspec.Struct, frozen=True, kw_only=True):
    """The resident on this machine."""

    threads: Annotated[
        int,
        Meta(
            ge=1,
            le=256,
            description="On how many threads it thinks about one position. With 1 its verdicts can be repeated to the letter; with more "
            "they come sooner and differ a little each time. Playouts always use 1 for each game.",
        ),
    ] = 1


class UserSettings(msgspec.Struct, frozen=True, kw_only=True):
    """`settings.toml`. Every key may be left out."""

    store: Annotated[
        StorePlace,
        Meta(
            description="Where stores lie when the edition does not say: in its folder, or in your cache folder."
        ),
    ] = "edition"
    pieces: Annotated[
        str,
        Meta(
            min_length=5,
            max_length=5,
            description="Letters for king, queen, rook, bishop and knight in what is printed for you.",
        ),
    ] = "KQRBN"
    resident: Annotated[ResidentSettings, Meta(description="The analyst that Variorum brings along.")] = (
        ResidentSettings()
    )
    voices: Annotated[
        dict[str, VoiceSettings],
        Meta(description="Your UCI programs, by the names that editions use for them."),
    ] = msgspec.field(default_factory=dict)


def settings_path() -> Path:
    """Where the user's `settings.toml` is looked for."""
    home = os.environ.get(HOME_VARIABLE)
    folder = Path(home) if home else platformdirs.user_config_path("variorum", appauthor=False)
    return folder / "settings.toml"


def cache_folder() -> Path:
    """The user's folder for what can be made again."""
    home = os.environ.get(HOME_VARIABLE)
    return Path(home) / "cache" if home else platformdirs.user_cache_path("variorum", appauthor=False)


def load_user_settings() -> tuple[UserSettings, list[Diagnostic]]:
    """The user's settings, faulty ones at their defaults, and the faults. Raises `OSError` for an unreadable file."""
    path = settings_path()
    try:
        source = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return UserSettings(), []
    toml, faults = read_toml(path, source)
    if toml is None:
        return UserSettings(), faults
    settings, more = read_shape(toml, UserSettings, subject="the user's settings")
    return settings or UserSettings(), faults + more
