"""The marks by which voices are cited."""

from __future__ import annotations

from collections.abc import Iterable

from variorum.base.settings import UserSettings
from variorum.edition import Edition
from variorum.voices.resident import RESIDENT

__all__ = ["GAMES_SIGLUM", "sigla_of"]

GAMES_SIGLUM = "G"
"""Cites the games of the sources."""

_LETTERS = "ABCDEFHIJKLMNOPQSTUVWXYZ"
"""For voices without a siglum; G is the games', R the resident's."""


def sigla_of(edition: Edition, voices: Iterable[str], user: UserSettings) -> dict[str, str]:
    """The siglum of each voice: the edition's, else the user's own, else the next free letter (then two), voices by name."""
    marks = dict(edition.settings.sigla)
    own = {RESIDENT: "R"} | {name: voice.siglum for name, voice in user.voices.items() if voice.siglum}
    for voice, mark in own.items():
        if voice not in marks and mark not in {GAMES_SIGLUM, *marks.values()}:
            marks[voice] = mark
    named = sorted(set(voices))
    pairs = (first + second for first in _LETTERS for second in _LETTERS)
    taken = {GAMES_SIGLUM, *marks.values()}
    free = (mark for some in (_LETTERS, pairs) for mark in some if mark not in taken)
    return {voice: marks.get(voice) or next(free) for voice in named}
