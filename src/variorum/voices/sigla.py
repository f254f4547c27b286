"""The marks by which voices are cited."""

from __future__ import annotations

from collections.abc import Iterable

from variorum.edition import Edition

__all__ = ["GAMES_SIGLUM", "sigla_of"]

GAMES_SIGLUM = "G"
"""Cites the games of the sources."""

_LETTERS = "ABCDEFHIJKLMNOPQRSTUVWXYZ"
"""For voices without a siglum of the author's; G is the games'."""


def sigla_of(edition: Edition, voices: Iterable[str]) -> dict[str, str]:
    """The siglum of each voice: the author's, else the next free letter (then two letters), voices by name."""
    given = edition.settings.sigla
    named = sorted(set(voices))
    pairs = (first + second for first in _LETTERS for second in _LETTERS)
    taken = {GAMES_SIGLUM, *given.values()}
    free = (mark for marks in (_LETTERS, pairs) for mark in marks if mark not in taken)
    return {voice: given.get(voice) or next(free) for voice in named}
