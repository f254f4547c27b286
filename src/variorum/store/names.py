"""Whether two spellings can be one person."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

__all__ = ["compatible_names", "words_of"]

_LETTERS = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ß": "ss", "æ": "ae", "œ": "oe", "ı": "i"}
)
"""Letters that do not come apart into a plain letter and an accent."""

_WORD = re.compile(r"[^\W_]+")


@lru_cache(maxsize=1 << 16)
def words_of(name: str) -> tuple[str, ...]:
    """The words of a name in plain small letters, sorted; empty for an unknown one ("", "?", "N.N.").

    >>> words_of("Lindqvist, Åke J."), words_of("ake LINDQVIST"), words_of("?")
    (('ake', 'j', 'lindqvist'), ('ake', 'lindqvist'), ())
    """
    plain = unicodedata.normalize("NFKD", name.casefold()).translate(_LETTERS)
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    words = tuple(sorted(_WORD.findall(plain.replace("'", "").replace("’", ""))))
    return () if words in (("n", "n"), ("nn",)) else words


@lru_cache(maxsize=1 << 16)
def compatible_names(one: str, other: str) -> bool:
    """Whether two names can be the same person's: case, accents, punctuation and order of words do not count.

    Every word of the name with fewer words stands in the other, whole or as an initial, and at least one whole word of
    two letters or more is shared. Two unknown names are compatible, an unknown one and a known one are not.

    >>> compatible_names("Lindqvist, Åke", "A. Lindqvist"), compatible_names("Lindqvist, Åke", "Lindqvist, Erik")
    (True, False)
    """
    fewer, more = sorted((words_of(one), words_of(other)), key=len)
    if not fewer or fewer == more:
        return fewer == more
    shared = set(fewer) & set(more)
    if not any(len(word) > 1 for word in shared):
        return False
    left = list(more)
    for word in shared:
        left.remove(word)
    for word in fewer:
        if word in shared:
            continue
        match = next((known for known in left if known.startswith(word) and len(word) == 1), None)
        match = match or next((known for known in left if word.startswith(known) and len(known) == 1), None)
        if match is None:
            return False
        left.remove(match)
    return True
