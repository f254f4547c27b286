"""What can stand where the author is writing in the digest: directives, kinds, attributes, places, moves."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Final

import msgspec

from variorum.base import InputError
from variorum.board import Line, Position
from variorum.board.words import SIGNS
from variorum.claims.by_rules import POPULARITIES
from variorum.claims.exhibits import EXHIBIT_OPTIONS
from variorum.claims.facts import FACT_KINDS
from variorum.claims.spans import CLAIM_KINDS
from variorum.edition import Edition, Manuscript, resolve_place
from variorum.edition.digest import ExhibitKind
from variorum.edition.manuscript_find import nodes_on
from variorum.edition.marks import MarkKind
from variorum.insight.structures import catalogue

__all__ = ["Choice", "Completion", "complete"]

_MOST: Final = 14
_DIRECTIVE: Final = re.compile(r":{3,}[ \t]*([\w-]*)$")
_SUBJECT: Final = re.compile(r":{3,}[ \t]*([\w-]+)[ \t]+(.*)$")
_OPEN: Final = re.compile(r":{3,}[ \t]*([\w-]+)")
_OPTION: Final = re.compile(r"([\w-]*)$")
_SETTING: Final = re.compile(r"([\w-]+):[ \t]*(.*)$")
_BRACE: Final = re.compile(r"\{([^{}]*)$")
_QUOTED: Final = re.compile(r"([\w-]+)=\"([^\"]*)$")
_BARE: Final = re.compile(r"([\w-]+)=([^\s\"]*)$")
_NAME: Final = re.compile(r"(?:^|\s)(\.?[\w-]*)$")
_WRITTEN: Final = re.compile(r"([\w-]+)=(?:\"([^\"]*)\"|([^\s\"]+))")
_CLASS: Final = re.compile(r"\.(fact|claim|line)\b")
_ONE_OF: Final = re.compile(r"[\w-]+(?:\|[\w-]+)+")
_DIGITS: Final = re.compile(r"\d+\.+")

_DIRECTIVES: Final = {
    "diagram": "a diagram of a place",
    ExhibitKind.LINE.value: "the moves to a place, or on from it",
    ExhibitKind.GAME.value: "a game of the sources",
    ExhibitKind.PLANS.value: "what games show from a place on",
    ExhibitKind.ORDERS.value: "the move orders that lead to a place",
    ExhibitKind.CONTRAST.value: "two places side by side",
    ExhibitKind.APPARATUS.value: "what voices and games say of a place",
}
_DIAGRAM_OPTIONS: Final = {"marks": "", "caption": "", "view": "white|black", "against": ".+"}
_CLASSES: Final = {
    ".fact": "a value that is looked up",
    ".claim": "a sentence that is checked",
    ".line": "moves of a line",
}
_CLAIMS: Final = {
    "score": "how the position stands",
    "concedes": "what a move gives away",
    "better": "one move before another",
    "only-move": "the one move that holds, or that wins",
    "transposes": "the place is another one",
    "tempo": "moves lost by a line",
    "novelty": "a move in no game",
    "popularity": "how often a move is played",
    "structure": "the pawn skeleton by its name",
    "plan": "how often a plan is shown",
    "hinge": "on which unit a move depends",
}
_PLACES: Final = frozenset({"at", "to", "against", "from"})
_MOVES: Final = frozenset({"move", "than"})
_QUOTE: Final = frozenset({"at", "to", "against", "move", "than", "says", "plan", "order"})


class Choice(msgspec.Struct, frozen=True):
    """Words that can be put in, and what they are."""

    words: str
    note: str = ""


class Completion(msgspec.Struct, frozen=True):
    """How many characters before the caret are replaced, and by which of these."""

    typed: int
    choices: tuple[Choice, ...]


def complete(edition: Edition, manuscript: Manuscript | None, before: str) -> Completion:
    """What can stand at the end of a text.

    Args:
        edition: Its names and roots are offered.
        manuscript: Its moves come first.
        before: The text before the caret, from the last empty line on or longer.
    """
    line = before[before.rfind("\n") + 1 :]
    asker = _Asker(edition, manuscript)
    if found := _DIRECTIVE.match(line):
        return _of(found[1], (Choice(word, note) for word, note in _DIRECTIVES.items()), "", " ")
    if found := _SUBJECT.match(line):
        return asker.place(found[2]) if found[1] in _DIRECTIVES and found[1] != "game" else _nothing()
    paragraph = before[before.rfind("\n\n") + 1 :]
    if found := _BRACE.search(paragraph):
        return _in_braces(asker, found[1])
    kind = _open_directive(before)
    if kind is None:
        return _nothing()
    return _in_directive(asker, kind, line)


def _nothing() -> Completion:
    return Completion(0, ())


def _of(typed: str, choices: Iterable[Choice], head: str = "", tail: str = "") -> Completion:
    """Those that begin as typed; all of them where nothing is typed."""
    fitting = [one for one in choices if one.words.casefold().startswith(typed.casefold())]
    ready = (Choice(head + one.words + tail, one.note) for one in fitting if one.words != typed or tail)
    return Completion(len(typed), tuple(ready)[:_MOST])


def _open_directive(before: str) -> str | None:
    """The directive in which the last line stands, `None` outside of any."""
    kind = None
    for line in before.split("\n")[:-1]:
        if line.startswith(":::"):
            found = _OPEN.match(line)
            kind = found[1] if found and found[1] in _DIRECTIVES else None
    return kind


def _in_directive(asker: _Asker, kind: str, line: str) -> Completion:
    options: Mapping[str, str] = _DIAGRAM_OPTIONS
    if kind != "diagram":
        options = {**EXHIBIT_OPTIONS[ExhibitKind(kind)], "caption": ""}
    if found := _SETTING.match(line):
        name, typed = found[1], found[2]
        if name in _PLACES:
            return asker.place(typed)
        if name == "marks":
            last = typed[typed.rfind(";") + 1 :].lstrip()
            return _of(last, (Choice(mark.value) for mark in MarkKind), "", " ")
        if name == "of" and kind == "plans":
            return _of(typed, map(Choice, ("practice", "playouts")))
        return _of(typed, _one_of(options.get(name, "")))
    if found := _OPTION.match(line):
        return _of(found[1], (Choice(name) for name in options), "", ": ")
    return _nothing()


def _one_of(pattern: str) -> Iterable[Choice]:
    """The words of a pattern that is a list of words."""
    return map(Choice, pattern.split("|")) if _ONE_OF.fullmatch(pattern) else ()


def _in_braces(asker: _Asker, text: str) -> Completion:
    written = {name: quoted or bare for name, quoted, bare in _WRITTEN.findall(text)}
    kind_of_span = _CLASS.search(text)
    span = kind_of_span[1] if kind_of_span else ""
    if found := _QUOTED.search(text):
        return _value(asker, span, found[1], found[2], written)
    if found := _BARE.search(text):
        if not found[2] and _is_quoted(span, found[1]):
            values = _value(asker, span, found[1], "", written)
            return Completion(0, tuple(Choice(f'"{one.words}"', one.note) for one in values.choices))
        return _value(asker, span, found[1], found[2], written)
    if (found := _NAME.search(text)) is None:
        return _nothing()
    if not span:
        return _of(found[1], (Choice(word, note) for word, note in _CLASSES.items()), "", " ")
    names = [name for name in _attributes(span, written.get("kind", "")) if name not in written]
    return _of(found[1], (Choice(f'{name}="' if _is_quoted(span, name) else f"{name}=") for name in names))


def _is_quoted(span: str, name: str) -> bool:
    """Whether a value is mostly written in quotation marks: it may have blanks."""
    return name in _QUOTE or (span == "line" and name == "of")


def _attributes(span: str, kind: str) -> Iterable[str]:
    if span == "line":
        return ("of",)
    if span == "fact":
        return ("kind", "at", *(FACT_KINDS[kind].attributes if kind in FACT_KINDS else ()))
    form = CLAIM_KINDS.get(kind)
    return ("kind", *(form.needs + form.may if form else ("at",)))


def _value(asker: _Asker, span: str, name: str, typed: str, written: Mapping[str, str]) -> Completion:
    kind = written.get("kind", "")
    if name == "kind":
        if span == "fact":
            return _of(typed, (Choice(one.name, one.meaning) for one in FACT_KINDS.values()))
        return _of(typed, (Choice(one, _CLAIMS.get(one, "")) for one in CLAIM_KINDS))
    if name in _PLACES or (name == "of" and span == "line"):
        return asker.place(typed)
    if name in _MOVES:
        return asker.move(written.get("at", ""), typed)
    if name == "says":
        return _of(typed, map(Choice, _says(kind)))
    if name == "of" and kind == "plan":
        return _of(typed, map(Choice, ("practice", "playouts")))
    if name == "side":
        return _of(typed, map(Choice, ("white", "black")))
    if span == "fact" and kind in FACT_KINDS:
        return _of(typed, _one_of(FACT_KINDS[kind].attributes.get(name, "")))
    return _nothing()


def _says(kind: str) -> Iterable[str]:
    match kind:
        case "score":
            return [sign.words for sign in reversed(SIGNS)]
        case "concedes":
            return ("?!", "?", "??")
        case "tempo":
            return ("zero", "one", "two", "three")
        case "popularity":
            return POPULARITIES
        case "structure":
            return catalogue().names()
    return ()


class _Asker:
    """Places and moves of an edition."""

    def __init__(self, edition: Edition, manuscript: Manuscript | None) -> None:
        self._edition, self._manuscript = edition, manuscript

    def place(self, typed: str) -> Completion:
        """Names that begin so; behind a place, the moves on from it."""
        names = [
            Choice(name, place.line.san() if place.line else place.position.fen)
            for name, place in self._edition.places.items()
        ]
        named = _of(typed, names)
        head, blank, last = typed.rpartition(" ")
        if named.choices or not blank:
            return named
        try:
            place = resolve_place(self._edition, head)
        except InputError:
            return named
        continues = bool(re.search(r"\d\.(?!\.)\s*\S+$", head)) and place.position.turn.value == "black"
        return self._moves(place.position, last, numbered=not continues)

    def move(self, at: str, typed: str) -> Completion:
        """The moves of a place."""
        try:
            place = resolve_place(self._edition, at)
        except InputError:
            return _nothing()
        return self._moves(place.position, typed, numbered=True)

    def _moves(self, position: Position, typed: str, *, numbered: bool) -> Completion:
        own = []
        if self._manuscript is not None:
            own = [child.move for node in nodes_on(self._manuscript, position) for child in node.children]
        legal = position.legal_moves()
        ordered = dict.fromkeys([*(move for move in own if move in legal), *legal])
        wanted = _DIGITS.sub("", typed)
        choices = []
        for move in ordered:
            san = Line(position, (move,)).san()
            bare = _DIGITS.sub("", san)
            if bare.startswith(wanted):
                note = "in the manuscript" if move in own else ""
                choices.append(Choice(san if numbered or _DIGITS.match(typed) else bare, note))
        return Completion(len(typed), tuple(one for one in choices if one.words != typed)[:_MOST])
