"""The apparatus of a publication: who says what of a position, cited by sigla, and the key to the sigla."""

from __future__ import annotations

from typing import Protocol

import msgspec

from variorum.board import Line
from variorum.claims.exhibits import ExhibitEvidence
from variorum.claims.facts import Reading
from variorum.edition.place import Place
from variorum.publish.notation import ENGLISH_LETTERS, Notation, set_line, set_san
from variorum.publish.wording import Wording

__all__ = ["Entry", "PageEvidence", "Part", "Rival", "Siglum", "entry_parts", "lemma", "reading_parts"]


class Siglum(msgspec.Struct, frozen=True):
    """A mark and what it stands for, as the key prints it: `A`, `the resident 0.1, 200 000 nodes`."""

    mark: str
    meaning: str


class Rival(msgspec.Struct, frozen=True):
    """A move that could be played instead of the one that led here, in SAN, and what the voices say of it."""

    san: str
    readings: tuple[Reading, ...]


class Entry(msgspec.Struct, frozen=True):
    """Everything cited of one position, in the order of the sigla."""

    readings: tuple[Reading, ...] = ()
    rivals: tuple[Rival, ...] = ()


class PageEvidence(ExhibitEvidence, Protocol):
    """Evidence that can also fill an apparatus."""

    def entry(self, place: Place) -> Entry:
        """What every voice says of the place, games last; empty where nobody spoke."""


class Part(msgspec.Struct, frozen=True):
    """A piece of an entry and its role: `sig`, `value`, `noise`, `pawns`, `games`, `lemma`, `rival`, `colon`, `stop`."""

    role: str
    text: str


def lemma(place: Place, letters: Notation = ENGLISH_LETTERS) -> str | None:
    """The move that leads to a place, as an entry begins: `10 Re1`; `None` where no move is known."""
    if place.line is None or not place.line.moves:
        return None
    positions = place.line.positions()
    return set_line(Line(positions[-2], place.line.moves[-1:]), letters)


def reading_parts(reading: Reading, words: Wording) -> list[Part]:
    """One voice: `A 57.4 ± 1.1 (+0.36)`, `G 59.8, 61 games`, `G 3 games`."""
    parts = [Part("sig", reading.siglum)]
    if reading.expected is not None:
        parts.append(Part("value", words.figures_in(f"{reading.expected:.1f}")))
        if reading.noise is not None:
            parts.append(Part("noise", words.figures_in(f"± {reading.noise:.1f}")))
        if reading.score is not None:
            parts.append(Part("pawns", words.figures_in(f"({reading.score.pawns_text})")))
    if reading.games is not None:
        if reading.expected is not None:
            parts[-1] = Part(parts[-1].role, parts[-1].text + ",")
        parts.append(Part("games", words.counted(reading.games, words.games)))
    return parts


def entry_parts(
    head: str, entry: Entry, words: Wording, letters: Notation = ENGLISH_LETTERS
) -> list[list[Part]]:
    """An entry as groups that are not broken: the lemma, then voices parted by a colon, then the rivals."""
    groups = [[Part("lemma", head)], *_voices(entry.readings, words)]
    for rival in entry.rivals:
        groups[-1].append(Part("stop", "."))
        groups.append([Part("rival", set_san(rival.san, letters))])
        groups += _voices(rival.readings, words)
    groups[-1].append(Part("stop", "."))
    return groups


def _voices(readings: tuple[Reading, ...], words: Wording) -> list[list[Part]]:
    groups = [reading_parts(reading, words) for reading in readings]
    for group in groups[:-1]:
        group.append(Part("colon", ":"))
    return groups
