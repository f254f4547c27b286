"""Whether two spellings can be one person."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache

__all__ = ["Words", "compatible_among", "compatible_names", "words_of"]

Words = tuple[str, ...]
"""A name as its words, see `words_of`."""

_LETTERS = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ß": "ss", "æ": "ae", "œ": "oe", "ı": "i"}
)
"""Letters that do not come apart into a plain letter and an accent."""

_WORD = re.compile(r"[^\W_]+")


@lru_cache(maxsize=1 << 12)
def words_of(name: str) -> Words:
    """The words of a name in plain small letters, sorted; empty for an unknown one ("", "?", "N.N.").

    >>> words_of("Lindqvist, Åke J."), words_of("ake LINDQVIST"), words_of("?")
    (('ake', 'j', 'lindqvist'), ('ake', 'lindqvist'), ())
    """
    plain = unicodedata.normalize("NFKD", name.casefold()).translate(_LETTERS)
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    words = tuple(sorted(_WORD.findall(plain.replace("'", "").replace("’", ""))))
    return () if words in (("n", "n"), ("nn",)) else words


def compatible_names(one: str, other: str) -> bool:
    """Whether two names can be the same person's: case, accents, punctuation and order of words do not count.

    Every word of the name with fewer words stands in the other, whole or as an initial, and at least one whole word of
    two letters or more is shared. Two unknown names are compatible, an unknown one and a known one are not.

    >>> compatible_names("Lindqvist, Åke", "A. Lindqvist"), compatible_names("Lindqvist, Åke", "Lindqvist, Erik")
    (True, False)
    >>> compatible_names("Orlo, Tam 1", "Orlo, Tam 14")
    False
    """
    return _compatible(words_of(one), words_of(other))


def _compatible(one: Words, other: Words) -> bool:
    fewer, more = sorted((one, other), key=len)
    if not fewer or fewer == more:
        return fewer == more
    left, apart, shared = list(more), [], False
    for word in fewer:
        if word in left:
            left.remove(word)
            shared |= len(word) > 1
        else:
            apart.append(word)
    if not shared:
        return False
    for word in apart:
        match = next((known for known in left if _is_initial(word, known)), None)
        if match is None:
            return False
        left.remove(match)
    return True


def _is_initial(one: str, other: str) -> bool:
    """Whether one of two words is the other's initial; a digit is none."""
    return 1 in (len(one), len(other)) and one[0] == other[0] and one[0].isalpha()


def compatible_among(names: Iterable[Words]) -> dict[Words, set[Words]]:
    """Of different names, given by their words, those compatible with each, itself among them.

    Names are not compared each with each: what a name has fewer words than, or as many as, has all its words, so it is
    looked for among the names with that word of it which the fewest have.
    """
    found = {name: {name} for name in names}
    with_word: dict[str, list[Words]] = {}
    with_initial: dict[str, list[Words]] = {}
    for name in found:
        for word in set(name):
            with_word.setdefault(word, []).append(name)
        for initial in {word[0] for word in name}:
            with_initial.setdefault(initial, []).append(name)

    def having(word: str) -> tuple[list[Words], list[Words]]:
        if len(word) == 1:
            return with_initial[word], []
        return with_word[word], with_word.get(word[0], [])

    for name in found:
        if not name:
            continue
        for some in min(map(having, name), key=lambda lists: len(lists[0]) + len(lists[1])):
            for other in some:
                if len(other) >= len(name) and _compatible(name, other):
                    found[name].add(other)
                    found[other].add(name)
    return found
