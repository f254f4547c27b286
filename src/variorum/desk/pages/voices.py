"""The page of voices: the programs of this user that can be asked, tried, added, changed and forgotten.

To add a voice is to name a program that will be run. That is done here alone, by a request with the token of the desk's own page
(`guard`), and is kept in the user's own settings; nothing that an edition holds can do it.
"""

from __future__ import annotations

import datetime
from typing import Any

import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.base import InputError, Progress, UsageError
from variorum.base.settings import UserSettings, VoiceSettings, load_user_settings, settings_path
from variorum.desk.memory import KeptTrial, Memory
from variorum.desk.pages.frame import frame, last_work
from variorum.desk.render import page
from variorum.voices.registry import (
    OptionValue,
    VoiceEntry,
    add_voice,
    change_voice,
    list_voices,
    option_of,
    remove_voice,
    resolved_command,
    set_resident_threads,
    voice_opener,
)
from variorum.voices.resident import RESIDENT
from variorum.voices.trial import TrialQuestion, try_voice
from variorum.voices.uci import UciVoice

__all__ = ["add", "change", "remove", "resident", "try_one", "voices_page"]

_HERE = "/voices"


class VoiceRow(msgspec.Struct, frozen=True):
    """A voice as the page shows it, with its last trial and its options as they are typed."""

    entry: VoiceEntry
    trial: KeptTrial | None
    options: str


class _New(msgspec.Struct):
    name: str
    program: str
    arguments: str = ""
    options: str = ""
    siglum: str = ""


class _Change(msgspec.Struct):
    name: str
    options: str = ""
    siglum: str = ""


class _Resident(msgspec.Struct):
    threads: int


class _Name(msgspec.Struct):
    name: str


def memory_of(request: Request) -> Memory:
    """What the desk remembers of its user."""
    memory: Memory = request.app.state.memory
    return memory


def voices_page(request: Request, sent: Any) -> Response:
    """All voices of this user."""
    del sent
    user, faults = load_user_settings()
    memory = memory_of(request)
    rows = [
        VoiceRow(
            entry,
            memory.trial(entry.name),
            "\n".join(f"{name}={_typed(value)}" for name, value in entry.options.items()),
        )
        for entry in list_voices(user)
    ]
    return page(
        "voices.html.j2",
        **frame(request, "voices", "Voices"),
        rows=rows,
        threads=user.resident.threads,
        faults=[str(one) for one in faults],
        settings=str(settings_path()),
        last=last_work(request, "trial"),
    )


def _typed(value: OptionValue) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def add(request: Request, sent: Any) -> Response:
    """Add a program: it is started once, to see that it answers and takes its options."""
    wish = _read(sent, _New)
    if not wish.program.strip():
        raise UsageError("no program is named", remedy="give the whole path of a UCI program")
    arguments = [one.strip() for one in wish.arguments.splitlines() if one.strip()]
    options = _options(wish.options)
    user = _user()
    command = resolved_command([wish.program.strip(), *arguments])
    _see(wish.name, VoiceSettings(command=command, options=options))
    add_voice(user, wish.name.strip(), command, options, wish.siglum.strip())
    memory_of(request).forget_trial(wish.name.strip())
    return JSONResponse({"go": _HERE})


def change(request: Request, sent: Any) -> Response:
    """Give a program another siglum or other options."""
    del request
    wish = _read(sent, _Change)
    user, options = _user(), _options(wish.options)
    known = user.voices.get(wish.name)
    if known is not None and options != known.options:
        _see(wish.name, msgspec.structs.replace(known, options=options))
    change_voice(user, wish.name, options, wish.siglum.strip())
    return JSONResponse({"go": _HERE})


def remove(request: Request, sent: Any) -> Response:
    """Forget a program; what it said stays in the editions."""
    name = _read(sent, _Name).name
    remove_voice(_user(), name)
    memory_of(request).forget_trial(name)
    return JSONResponse({"go": _HERE})


def resident(request: Request, sent: Any) -> Response:
    """Say on how many threads the resident thinks."""
    threads = _read(sent, _Resident).threads
    _user()  # a file with faults is mended first
    set_resident_threads(threads)
    memory_of(request).forget_trial(RESIDENT)
    return JSONResponse({"go": _HERE})


def try_one(request: Request, sent: Any) -> Response:
    """Try a voice in the background; each answer is told as it comes, and the trial is kept."""
    name = _read(sent, _Name).name
    opener, memory = voice_opener(name, _user()), memory_of(request)

    def in_background(progress: Progress) -> str:
        voice = opener()
        try:
            report = try_voice(voice, progress, answered=lambda question: progress.say(_told(question)))
        finally:
            voice.close()
        memory.keep_trial(KeptTrial(datetime.datetime.now(datetime.UTC).date().isoformat(), report))
        return _HERE

    number = request.app.state.works.start("", "trial", name, in_background, writes=False)
    return JSONResponse({"number": number})


def _told(question: TrialQuestion) -> str:
    return f"{question.asked[0].upper()}{question.asked[1:]}: {question.answer}{'' if question.sound else ' – not sound'}."


def _see(name: str, settings: VoiceSettings) -> None:
    """Start a program once.

    Raises:
        VoiceError: It is no UCI program, or does not take its options.
    """
    voice = UciVoice(name, settings)
    try:
        voice.offered()
    finally:
        voice.close()


def _user() -> UserSettings:
    user, faults = load_user_settings()
    if faults:
        raise InputError(
            f"your settings have faults: {faults[0].message}", path=settings_path(), remedy="mend them first"
        )
    return user


def _options(text: str) -> dict[str, OptionValue]:
    return dict(option_of(line) for line in text.splitlines() if line.strip())


def _read(sent: Any, kind: type[Any]) -> Any:
    try:
        return msgspec.convert(sent, kind, strict=False)
    except msgspec.ValidationError as error:
        raise UsageError(f"the form is not complete: {error}") from None
