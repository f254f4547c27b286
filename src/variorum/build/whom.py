"""Whom an edition has asked: the voices it names, as far as this user has them."""

from __future__ import annotations

from collections.abc import Iterable

from variorum.base.settings import UserSettings
from variorum.build.kept import OpenVoice
from variorum.edition import Edition
from variorum.voices.registry import list_voices, voice_opener

__all__ = ["edition_voices", "named_voices"]


def edition_voices(edition: Edition, user: UserSettings) -> tuple[dict[str, OpenVoice], tuple[str, ...]]:
    """What opens each voice that the edition's settings name, and the names that this user's settings do not know."""
    there = {entry.name for entry in list_voices(user)}
    names = dict.fromkeys(edition.settings.budget.voices)
    known = {name: voice_opener(name, user) for name in names if name in there}
    return known, tuple(name for name in names if name not in there)


def named_voices(names: Iterable[str], user: UserSettings) -> dict[str, OpenVoice]:
    """What opens each of these voices.

    Raises:
        InputError: The user has none of that name.
    """
    return {name: voice_opener(name, user) for name in names}
