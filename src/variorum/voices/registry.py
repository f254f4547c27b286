"""The voices of the user: the resident, and the UCI programs named in the user's own settings.

An edition refers to voices by name and can start nothing; which program a name means is said in `settings.toml` only,
which is changed here, losslessly, and nowhere else.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Final

import msgspec
import tomlkit
import tomlkit.exceptions
from tomlkit.items import Table

from variorum.base import InputError, UsageError
from variorum.base.settings import UserSettings, settings_path
from variorum.base.shape import nearest
from variorum.edition.files import atomic_write, content_hash
from variorum.voices.resident import RESIDENT, Resident
from variorum.voices.uci import UciVoice
from variorum.voices.voice import Voice

__all__ = [
    "LETTERS",
    "OptionValue",
    "VoiceEntry",
    "VoicesReport",
    "add_voice",
    "change_voice",
    "list_voices",
    "option_of",
    "remove_voice",
    "resolved_command",
    "set_resident_threads",
    "voice_opener",
    "workers_for",
]

OptionValue = str | int | bool

LETTERS: Final = "ABCDEFHIJKLMNOPQSTUVWXYZ"
"""Sigla that are given where nobody chose one. G is the games of the sources, R the resident."""

MOST_THREADS: Final = 256
"""Of the resident, as the settings allow."""

_NAME: Final = re.compile(r"[\w.+-][\w .+-]{0,39}")


class VoiceEntry(msgspec.Struct, frozen=True, kw_only=True):
    """A voice that can be asked; `command` is empty for the resident, which needs no program."""

    name: str
    siglum: str
    command: tuple[str, ...] = ()
    options: dict[str, OptionValue] = {}


class VoicesReport(msgspec.Struct, frozen=True, kw_only=True):
    """Whom you can ask, and the file that says so."""

    settings: str
    voices: tuple[VoiceEntry, ...]


def list_voices(user: UserSettings) -> tuple[VoiceEntry, ...]:
    """The resident, then the user's programs in the order of the settings."""
    threads = user.resident.threads
    entries = [VoiceEntry(name=RESIDENT, siglum="R", options={"threads": threads} if threads > 1 else {})]
    entries += [
        VoiceEntry(name=name, siglum=voice.siglum, command=voice.command, options=voice.options)
        for name, voice in user.voices.items()
    ]
    return tuple(entries)


def voice_opener(name: str, user: UserSettings) -> Callable[[], Voice]:
    """What opens the voice of this name, once for each worker.

    Raises:
        InputError: There is none.
    """
    if name == RESIDENT:
        return lambda: Resident(threads=user.resident.threads)
    if name not in user.voices:
        guess = nearest(name, (RESIDENT, *user.voices))
        remedy = (
            f"did you mean {guess!r}?"
            if guess
            else "see variorum voices list, or add it: variorum voices add"
        )
        raise InputError(f"there is no voice {name!r} in your settings", remedy=remedy)
    settings = user.voices[name]
    return lambda: UciVoice(name, settings)


def workers_for(user: UserSettings) -> int:
    """How many questions are asked at a time where nobody says: so many that the resident's threads fill the processors once."""
    return max(1, (os.cpu_count() or 1) // user.resident.threads)


def resolved_command(words: Sequence[str]) -> tuple[str, ...]:
    """A program and its arguments as they are kept: the path whole, so that it is found from every folder.

    Raises:
        InputError: There is no such program.
    """
    program = shutil.which(words[0])
    if program is None:
        path = Path(words[0])
        what = (
            "this is a folder"
            if path.is_dir()
            else "this is no program"
            if path.exists()
            else "there is no such program"
        )
        raise InputError(what, path=words[0], remedy="give the path of a UCI program")
    return (str(Path(program).absolute()), *words[1:])


def add_voice(
    user: UserSettings,
    name: str,
    command: tuple[str, ...],
    options: Mapping[str, OptionValue],
    siglum: str = "",
) -> VoiceEntry:
    """Write a program into the user's settings; the rest of the file stays as it is.

    Args:
        user: The settings as they are now.
        name: The name under which editions know it.
        command: The program and its arguments.
        options: UCI options that are set before it is asked.
        siglum: One or two letters; where it is empty, the next free letter is taken.

    Raises:
        InputError: The name or siglum cannot be used or is taken, or the file cannot be written.
    """
    if not _NAME.fullmatch(name) or name != name.strip():
        raise InputError(
            f"{name!r} cannot be the name of a voice",
            remedy="up to 40 letters, digits, spaces, and . + -",
        )
    if name == RESIDENT or name in user.voices:
        remedy = (
            "choose another name" if name == RESIDENT else f"remove it first: variorum voices remove {name}"
        )
        raise InputError(f"there is a voice {name!r} already", remedy=remedy)
    siglum = _free_siglum(user, name, siglum)
    entry = VoiceEntry(name=name, siglum=siglum, command=command, options=dict(options))
    path, document, found = _read()
    voices = document.setdefault("voices", tomlkit.table(is_super_table=True))
    table = tomlkit.table()
    table["command"] = list(command)
    _say(table, options, siglum)
    voices[name] = table
    _write(path, document, found)
    return entry


def change_voice(
    user: UserSettings, name: str, options: Mapping[str, OptionValue], siglum: str = ""
) -> VoiceEntry:
    """Give a program of the user's settings other options or another siglum; the rest of the file stays as it is.

    Raises:
        InputError: There is none of that name, the siglum cannot be used or is taken, or the file cannot be written.
    """
    known = _known(user, name)
    siglum = _free_siglum(user, name, siglum)
    path, document, found = _read()
    voices = document["voices"]
    assert isinstance(voices, Table)
    table = voices[name]
    assert isinstance(table, Table)
    _say(table, options, siglum)
    _write(path, document, found)
    return msgspec.structs.replace(known, options=dict(options), siglum=siglum)


def set_resident_threads(threads: int) -> None:
    """Say in the user's settings on how many threads the resident thinks; the rest of the file stays as it is.

    Raises:
        UsageError: It cannot think on so many.
        InputError: The file cannot be read or written.
    """
    if not 1 <= threads <= MOST_THREADS:
        raise UsageError(f"the resident cannot think on {threads} threads", remedy=f"say 1 to {MOST_THREADS}")
    path, document, found = _read()
    document.setdefault("resident", tomlkit.table())["threads"] = threads
    _write(path, document, found)


def option_of(text: str) -> tuple[str, OptionValue]:
    """A UCI option as it is typed: `Hash=256`.

    Raises:
        UsageError: It is none.

    >>> option_of("Hash = 256"), option_of("Ponder=false")
    (('Hash', 256), ('Ponder', False))
    """
    name, equals, value = text.partition("=")
    if not equals or not name.strip():
        raise UsageError(f"{text!r} is no option", remedy="write Name=Value, for instance Hash=256")
    plain = value.strip()
    if plain.casefold() in ("true", "false"):
        return name.strip(), plain.casefold() == "true"
    try:
        return name.strip(), int(plain)
    except ValueError:
        return name.strip(), plain


def _free_siglum(user: UserSettings, name: str, siglum: str) -> str:
    """A siglum that no other voice has: the one that is wanted, else the next letter."""
    taken = {entry.siglum: entry.name for entry in list_voices(user) if entry.name != name}
    taken["G"] = "the games"
    if not siglum:
        return next((letter for letter in LETTERS if letter not in taken), "")
    if not (siglum.isalpha() and len(siglum) <= 2):
        raise InputError(f"{siglum!r} cannot be a siglum", remedy="one or two letters")
    if siglum in taken:
        raise InputError(f"{siglum!r} is the siglum of {taken[siglum]}", remedy="choose another")
    return siglum


def _say(table: Table, options: Mapping[str, OptionValue], siglum: str) -> None:
    for key in ("options", "siglum"):
        table.pop(key, None)
    if options:
        inline = tomlkit.inline_table()
        inline.update(options)
        table["options"] = inline
    if siglum:
        table["siglum"] = siglum


def remove_voice(user: UserSettings, name: str) -> VoiceEntry:
    """Take a program out of the user's settings; what it said stays in the editions.

    Raises:
        InputError: There is none of that name, or the file cannot be written.
    """
    entry = _known(user, name)
    path, document, found = _read()
    voices = document["voices"]
    assert isinstance(voices, Table)
    del voices[name]
    _write(path, document, found)
    return entry


def _known(user: UserSettings, name: str) -> VoiceEntry:
    if name == RESIDENT:
        raise InputError(
            "the resident belongs to Variorum",
            remedy="only programs that were added can be changed or removed",
        )
    entry = next((entry for entry in list_voices(user) if entry.name == name), None)
    if entry is None:
        guess = nearest(name, user.voices)
        remedy = f"did you mean {guess!r}?" if guess else "see variorum voices list"
        raise InputError(f"there is no voice {name!r} in your settings", remedy=remedy)
    return entry


def _read() -> tuple[Path, tomlkit.TOMLDocument, str | None]:
    path = settings_path()
    try:
        source = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return path, tomlkit.document(), None
    try:
        return path, tomlkit.parse(source.decode("utf-8")), content_hash(source)
    except (tomlkit.exceptions.ParseError, UnicodeDecodeError) as error:
        raise InputError(
            f"your settings cannot be read: {error}", path=path, remedy="mend them first"
        ) from None


def _write(path: Path, document: tomlkit.TOMLDocument, found: str | None) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"the folder for your settings cannot be made: {error.strerror}", path=path.parent
        ) from None
    atomic_write(path, tomlkit.dumps(document).encode(), expected_hash=found)
