"""What the program finds out, said in another language: contrasts, plans, placements, names of structures.

Findings are made in English. Each form of sentence has its counterpart in `assets/phrases.toml`; what is filled in is put into the
other language by its kind: a side, a unit, a number, a place, another phrase. What has no counterpart stays as it is: moves, the
author's names.
"""

from __future__ import annotations

import functools
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from variorum.publish import assets
from variorum.publish.wording import ENGLISH, LANGUAGES, Wording

__all__ = ["Phrases", "phrases_of"]

_SIDE = "White|Black"
_KIND = "king|queen|rook|bishop|knight|pawn"
_HOLES = {
    **dict.fromkeys(("s", "t", "v"), _SIDE),
    **dict.fromkeys(("p", "q"), _KIND),
    **dict.fromkeys(("a", "b", "c"), ".+?"),
    **dict.fromkeys(("x", "y", "z"), r"\S+?"),
    **dict.fromkeys(("n", "m"), r"[a-z]+|\d+"),
    **dict.fromkeys(("i", "j", "k", "l"), "[\\d.,\u202f]+"),
    "d": r"\d{4}(?:-\d\d){0,2}",
    "g": ".+ – .+",
    "within": "within .+",
    "u": f"(?:{_SIDE})'s (?:{_KIND})",
    "what": ".+",
}
"""What may stand in a hole; `in_a` and `to_s` are `a` and `s` in another form."""
_HOLE = re.compile(r"\{((?:in_|to_)?(\w+))\}")
_CHANGES = re.compile(
    r"(?:with (?P<put>(?:(?!with |without ).)+?) put in)?(?:, (?=with))?(?:with (?P<other>.+?))?(?:, (?=without))?(?:without (?P<left>.+))?"
)
_ITEM = re.compile(r", | and ")


@functools.cache
def _data() -> dict[str, Any]:
    return tomllib.loads(assets.read_text("phrases.toml"))


@functools.cache
def phrases_of(language: str) -> Phrases | None:
    """The phrases of a language; `None` for English, in which everything is found already."""
    return None if language == ENGLISH.language else Phrases(LANGUAGES[language])


class Phrases:
    """The phrases of one language."""

    def __init__(self, words: Wording) -> None:
        data = _data()
        self._words = words
        self._table: Mapping[str, Any] = data[words.language]
        at = [name for name in data if name != "structures"].index(words.language)
        self._structures = {_plain(name): said[at] for name, said in data["structures"].items()}
        forms = {**self._table["sentences"], **self._table["phrases"], **self._table["remarks"]}
        # What says more in words of its own comes first: what another leaves open it says.
        ranked = sorted(forms, key=lambda english: -len(_HOLE.sub("", english)))
        self._forms = [(_pattern(english), str(forms[english])) for english in ranked]
        self._of_changes = [
            (_pattern(english), said) for english, said in self._table["changes"].items() if "{" in english
        ]

    def say(self, text: str) -> str:
        """An English phrase of the program's in this language; any other text stays as it is."""
        return self._said(text) or text

    def remark(self, text: str) -> str:
        """What stands beside a claim, in this language; what has no counterpart is left out."""
        return "; ".join(filter(None, map(self._said, text.split("; "))))

    def _said(self, text: str) -> str:
        """A phrase in this language; empty where it has no counterpart."""
        return self._structure(text) or self._word(text) or self._formed(text) or self._change(text)

    def _structure(self, text: str) -> str:
        name, _, holder = _plain(text).partition(" (")
        said = self._structures.get(name, "")
        if not said or not holder:
            return str(said)
        side = self._table["sides"].get(holder.removesuffix("'s)"))
        return f"{said} ({side[2]})" if side else ""

    def _word(self, text: str) -> str:
        side = self._table["sides"].get(text)
        return str(side[2] if side else self._table["numbers"].get(text, ""))

    def _formed(self, text: str) -> str:
        for pattern, said in self._forms:
            if found := pattern.fullmatch(text):
                filled = self._filled(said, found.groupdict(), 0)
                return filled[0].upper() + filled[1:] if text[0].isupper() else filled
        return ""

    def _filled(self, said: str, found: Mapping[str, str], case: int) -> str:
        """A form with its holes filled; `case` is 1 where units follow "without"."""

        def fill(hole: re.Match[str]) -> str:
            shape, name = hole[1], hole[2]
            return self._kind(name, found[name], case if shape == name else 1)

        return _HOLE.sub(fill, said)

    def _kind(self, name: str, text: str, form: int) -> str:
        table = self._table
        match name:
            case "s" | "t" | "v":
                return str(table["sides"][text][form])
            case "a" | "b" | "c":
                return self._place(text, form)
            case "n" | "m":
                return str(table["numbers"].get(text, text))
            case "p" | "q":
                return self._words.units[_LETTERS[text]]
            case "u":
                side, kind = text.split("'s ")
                return re.sub(
                    r"\{(\w+)\}",
                    lambda found: found[1] if side == "White" else str(table["colours"][found[1]]),
                    table["units"][kind][form],
                )
            case "i" | "j" | "k" | "l":
                return self._words.figures_in(re.sub(r"(?<=\d),(?=\d{3})", "\u202f", text))
            case "x" | "y" | "z":
                return self._words.figures_in(text)
            case "d" | "g":
                return text
        return self.say(text)

    def _place(self, text: str, form: int) -> str:
        bare = text.removesuffix(" with colours reversed")
        said = self._table["places"].get(bare[:1].lower() + bare[1:], (bare, bare))[form]
        return (
            said if bare == text else str(self._table["places"]["with colours reversed"][form]).format(said)
        )

    def _change(self, text: str) -> str:
        """`with a3 put in, with White's knight on d2 instead of f3, without …c6`."""
        found = _CHANGES.fullmatch(text)
        if found is None or not any(found.groupdict().values()):
            return ""
        table = self._table["changes"]
        parts = []
        for name, form, case in (("put", "put", 0), ("other", "with", 0), ("left", "without", 1)):
            if found[name]:
                items = [self._item(item, case) for item in _ITEM.split(found[name])]
                parts.append(table[form].format(_listed(items, table["and"])))
        return ", ".join(parts)

    def _item(self, text: str, case: int) -> str:
        for pattern, said in self._of_changes:
            if found := pattern.fullmatch(text):
                return self._filled(said, found.groupdict(), case)
        return text


_LETTERS = {name: letter for letter, name in ENGLISH.units.items()}


def _plain(text: str) -> str:
    return text.replace("’", "'")


def _listed(items: Sequence[str], word: str) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} {word} {items[-1]}"


def _pattern(english: str) -> re.Pattern[str]:
    """Matches what a form of sentence can say."""
    seen: set[str] = set()

    def pieces() -> Iterator[str]:
        end = 0
        for hole in _HOLE.finditer(english):
            yield re.escape(english[end : hole.start()])
            end = hole.end()
            name = hole[2]
            yield f"(?P={name})" if name in seen else f"(?P<{name}>{_HOLES[name]})"
            seen.add(name)
        yield re.escape(english[end:])

    return re.compile("".join(pieces()))
