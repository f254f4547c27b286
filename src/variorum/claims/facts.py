"""Facts of the digest: figures and lines that are looked up when a text is built instead of typed.

A kind of fact is a function from evidence and attributes to a value, in one registry. What the author typed between the
brackets is a cache: the page prints the looked-up value, and a diagnostic tells where the two differ.

    [57.4]{.fact kind=score at="iqp-main"}                     expected score for White, the edition's first voice
    [+0.36]{.fact kind=score at="iqp-main" voice=B show=pawns} pawns; also show=full, show=sign, side=black
    [61]{.fact kind=count at="iqp-main"}                       games; also of=orders
    [1.e4 c6 2.d4]{.fact kind=order at="iqp-main" nth=2}       the second most travelled order
    [4.3]{.fact kind=risk at="iqp-main" order="1.d4 d5 2.c4"}  what the opponent's best deviation takes on an order to it;
                                                               also show=price, show=guaranteed; the place's own line by default
    [knight on b1]{.fact kind=hinge at="pin" move="3...Qa5"}   the placement on which a move depends, by the verdicts kept
                                                               from `variorum hinges`; also show=strength, show=value, nth=2
    [49 of 171]{.fact kind=plan at="iqp" plan="d4-d5" of=playouts}   in how many games a plan is shown, as `variorum plans` writes
                                                               it; also side=black, show=share, show=move
    [two]{.fact kind=tempo at="iqp" side=black}                moves that a side has lost by the place's line; with
                                                               against="PLACE" how many more than by that one's;
                                                               also show=spent, show=standing, show=gone
    [with a3 put in]{.fact kind=contrast at="iqp" against="PLACE"}   in which units the place differs; also reversed=yes
    [Carlsbad]{.fact kind=structure at="qgd-exchange"}         its named pawn skeleton; also show=side, show=source
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Protocol

import msgspec

from variorum.base import Diagnostic, InputError, Severity
from variorum.base.shape import nearest
from variorum.board import Bands, Line, Score, Side, sign_of
from variorum.edition.digest import Span, Where
from variorum.edition.place import Place
from variorum.insight.contrast import MOST_UNITS, changed_units, changes_in_words
from variorum.insight.mirror import mirrored_position
from variorum.insight.structures import structure_of
from variorum.insight.tempo import tempo_ledger
from variorum.insight.wording import number as number_in_words

__all__ = [
    "FACT_KINDS",
    "Evidence",
    "Fact",
    "FactKind",
    "HingeReading",
    "Order",
    "OrderCost",
    "Places",
    "PlanReading",
    "Reading",
    "grouped",
    "in_words",
    "look_up",
    "values_in_words",
]


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """What one voice says of one position, as it is cited.

    Args:
        siglum: Its mark.
        expected: E for White, 0 to 100; `None` where only a count is known (methods.md 2: under 5 games).
        noise: What is printed after `±`, in points (1.96 σ, or half the interval of practice); `None` if unknown.
        score: Centipawns or mate, White's view, where the voice gives them.
        games: How many games speak, for practice and playouts.
    """

    siglum: str
    expected: float | None = None
    noise: float | None = None
    score: Score | None = None
    games: int | None = None


class Order(msgspec.Struct, frozen=True):
    """A move order that leads to a place, and how many games took it."""

    line: Line
    games: int


class OrderCost(msgspec.Struct, frozen=True, kw_only=True):
    """Risk and price of an order, and what can be guaranteed from its root, in points: at least, and at most if that is known."""

    risk: tuple[float, float | None]
    price: tuple[float, float | None]
    guaranteed: tuple[float, float | None]


class HingeReading(msgspec.Struct, frozen=True, kw_only=True):
    """A placement on which a move depends: `knight on b1`, how strong, and what the move is worth without it."""

    placement: str
    strength: float
    value: float


class PlanReading(msgspec.Struct, frozen=True, kw_only=True):
    """In how many games of a body a plan is shown, and at which move in the middle of them.

    `count` and `move` are `None` where fewer than one game in twenty shows it.
    """

    body: str
    games: int
    count: int | None
    move: int | None


class Places(Protocol):
    """What places are looked up in."""

    def place(self, text: str) -> Place:
        """The place that a text says. Raises `InputError` for one that is not known."""


class Evidence(Places, Protocol):
    """What facts are looked up in; the graph and the store stand behind it."""

    bands: Bands
    """From which expected score a sign stands (a setting of the edition)."""

    def score(self, place: Place, voice: str | None = None) -> Reading | None:
        """What the voice with this siglum says, or the edition's first voice; `None` if it has not judged the place."""

    def say(self, text: str) -> str:
        """An English phrase of the program's in the language of the edition; any other text stays as it is."""

    def count(self, place: Place) -> int:
        """How many games reached the place by any order."""

    def orders(self, place: Place) -> tuple[Order, ...]:
        """The move orders that lead to the place, the most travelled first, without a limit."""

    def order_cost(
        self, place: Place, order: Line | None, side: Side | None = None, voice: str | None = None
    ) -> OrderCost | None:
        """What an order to the place costs a side (the edition's, or White), by this voice or the first that judges it.

        `None` where no voice has judged the place, or the line is no order to it on the graph.
        """

    def hinges(self, place: Place, move: str, voice: str | None = None) -> tuple[HingeReading, ...]:
        """The placements on which a move depends, strongest first, by the verdicts that are kept.

        Raises:
            InputError: The move is not legal there.
        """

    def plan(self, place: Place, plan: str, side: Side | None, body: str) -> tuple[PlanReading, ...]:
        """How often a plan is shown from a place on, by body of games: `practice`, `playouts`, a voice, or both (empty).

        Raises:
            InputError: There is no such body of games.
        """


class Fact(msgspec.Struct, frozen=True):
    """A value that was looked up: its text, and the line where it is one (printed in the notation of the page)."""

    place: Place
    text: str
    line: Line | None = None


class NoEvidenceError(Exception):
    """The fact cannot be looked up yet; the message says what is missing."""


Query = Callable[[Evidence, Place, Mapping[str, str]], Fact]


class FactKind(msgspec.Struct, frozen=True):
    """One kind: its query, and its attributes beside `kind` and `at`, each with the values it takes (a pattern)."""

    name: str
    meaning: str
    attributes: dict[str, str]
    query: Query


def grouped(number: int) -> str:
    """A count as printed: groups of three from five digits on, parted by a narrow no-break space (ISO 80000-1, 7.3.1).

    >>> grouped(9999), grouped(12345) == "12\u202f345"
    ('9999', True)
    """
    return str(number) if abs(number) < 10_000 else f"{number:,}".replace(",", "\u202f")


def _score(evidence: Evidence, place: Place, attributes: Mapping[str, str]) -> Fact:
    voice = attributes.get("voice")
    reading = evidence.score(place, voice)
    if reading is None or reading.expected is None:
        raise NoEvidenceError(
            f"{f'voice {voice}' if voice else 'no voice'} has {'not ' if voice else ''}judged it yet"
        )
    side = Side(attributes.get("side", "white"))
    expected = reading.expected if side is Side.WHITE else 100 - reading.expected
    pawns = reading.score.seen_from(side).pawns_text if reading.score else None
    match attributes.get("show", "expected"):
        case "sign":
            return Fact(place, sign_of(reading.expected, evidence.bands).glyph)
        case "pawns":
            if pawns is None:
                raise NoEvidenceError(f"voice {reading.siglum} gives no pawns")
            return Fact(place, pawns)
        case "full":
            noise = "" if reading.noise is None else f" ± {reading.noise:.1f}"
            return Fact(place, f"{expected:.1f}{noise}" + ("" if pawns is None else f" ({pawns})"))
    return Fact(place, f"{expected:.1f}")


def _count(evidence: Evidence, place: Place, attributes: Mapping[str, str]) -> Fact:
    of_orders = attributes.get("of") == "orders"
    return Fact(place, grouped(len(evidence.orders(place)) if of_orders else evidence.count(place)))


def _order(evidence: Evidence, place: Place, attributes: Mapping[str, str]) -> Fact:
    nth = int(attributes.get("nth", "1"))
    orders = evidence.orders(place)
    if nth > len(orders):
        raise NoEvidenceError(f"{len(orders) or 'no'} move orders are known, not {nth}")
    line = orders[nth - 1].line
    return Fact(place, line.san(), line)


def _risk(evidence: Evidence, place: Place, attributes: Mapping[str, str]) -> Fact:
    typed = attributes.get("order")
    order = place.line if typed is None else evidence.place(typed).line
    side = Side(attributes["side"]) if "side" in attributes else None
    cost = evidence.order_cost(place, order, side, attributes.get("voice"))
    if cost is None:
        raise NoEvidenceError("the graph has no such order to it, or no voice has judged it")
    show = attributes.get("show", "risk")
    least, most = {"risk": cost.risk, "price": cost.price, "guaranteed": cost.guaranteed}[show]
    if most is None:
        raise NoEvidenceError(f"not all is judged that the opponent can play on this order ({show})")
    low, high = f"{least:.1f}", f"{most:.1f}"
    return Fact(place, low if low == high else f"{low} to {high}")


def _hinge(evidence: Evidence, place: Place, attributes: Mapping[str, str]) -> Fact:
    move = attributes.get("move")
    if move is None:
        raise InputError("a hinge needs a move", remedy='write move="Nxd5"')
    nth = int(attributes.get("nth", "1"))
    found = evidence.hinges(place, move, attributes.get("voice"))
    if nth > len(found):
        raise NoEvidenceError(
            f"{len(found) or 'no'} hinges of {move} are known, not {nth}: variorum hinges finds them"
        )
    hinge = found[nth - 1]
    match attributes.get("show", "placement"):
        case "strength":
            return Fact(place, f"{hinge.strength:+.1f}".replace("-", "−"))
        case "value":
            return Fact(place, f"{hinge.value:.1f}")
    return Fact(place, hinge.placement)


def _plan(evidence: Evidence, place: Place, attributes: Mapping[str, str]) -> Fact:
    if "plan" not in attributes:
        raise InputError("a plan needs to be named", remedy='write plan="d4-d5", as variorum plans prints it')
    side = Side(attributes["side"]) if "side" in attributes else None
    found = evidence.plan(place, attributes["plan"], side, attributes.get("of", ""))
    if not found:
        raise NoEvidenceError("no game goes through it")
    reading = found[0]
    if reading.count is None or reading.move is None:
        raise NoEvidenceError(f"fewer than one in twenty of {reading.games} games show {attributes['plan']}")
    match attributes.get("show", "count"):
        case "share":
            return Fact(place, f"{100 * reading.count / reading.games:.0f} %")
        case "move":
            return Fact(place, str(reading.move))
    return Fact(place, f"{grouped(reading.count)} of {grouped(reading.games)}")


def _tempo(evidence: Evidence, place: Place, attributes: Mapping[str, str]) -> Fact:
    side = Side(attributes.get("side", "white"))
    places = [place] + ([evidence.place(attributes["against"])] if "against" in attributes else [])
    lines = [one.line for one in places if one.line is not None and one.line.moves]
    if len(lines) < len(places):
        raise NoEvidenceError(
            "no line leads to it" if len(places) == 1 else "no line leads to one of the two"
        )
    if any(line.start != lines[0].start for line in lines):
        raise NoEvidenceError("their lines start from different positions")
    figures = [int(getattr(tempo_ledger(line).of(side), attributes.get("show", "lost"))) for line in lines]
    value = figures[0] - sum(figures[1:])
    return Fact(place, number_in_words(value) if value >= 0 else f"−{-value}")


def _contrast(evidence: Evidence, place: Place, attributes: Mapping[str, str]) -> Fact:
    if "against" not in attributes:
        raise InputError("a contrast needs another place", remedy='write against="NAME"')
    other = evidence.place(attributes["against"]).position
    if attributes.get("reversed") == "yes":
        other = mirrored_position(other)
    changes = changed_units(place.position, other)
    if not changes:
        raise NoEvidenceError("no unit differs")
    if len(changes) > MOST_UNITS:
        raise NoEvidenceError(f"these are different structures: {len(changes)} units differ")
    return Fact(place, changes_in_words(changes))


def _structure(evidence: Evidence, place: Place, attributes: Mapping[str, str]) -> Fact:
    found = structure_of(place.position)
    if found is None:
        raise NoEvidenceError("its pawn skeleton has no name here")
    match attributes.get("show", "name"):
        case "side":
            return Fact(
                place, {"both": "both sides"}.get(found.holder.value, found.holder.value.capitalize())
            )
        case "source":
            return Fact(place, "; ".join(found.structure.sources))
    return Fact(place, found.name.replace("'", "’"))


FACT_KINDS = {
    kind.name: kind
    for kind in (
        FactKind(
            "score",
            "what a voice says of the place",
            {"voice": r".{1,8}", "show": "expected|pawns|full|sign", "side": "white|black"},
            _score,
        ),
        FactKind("count", "how many games, or move orders, reach the place", {"of": "games|orders"}, _count),
        FactKind("order", "a move order that leads to the place", {"nth": "[1-9][0-9]?"}, _order),
        FactKind(
            "risk",
            "what an order to the place costs its side",
            {
                "order": ".+",
                "show": "risk|price|guaranteed",
                "side": "white|black",
                "voice": r".{1,8}",
            },
            _risk,
        ),
        FactKind(
            "hinge",
            "on which placement a move there depends",
            {
                "move": ".+",
                "show": "placement|strength|value",
                "nth": "[1-9][0-9]?",
                "voice": r".{1,8}",
            },
            _hinge,
        ),
        FactKind(
            "plan",
            "in how many games a plan is shown from the place on",
            {"plan": ".+", "side": "white|black", "of": ".+", "show": "count|share|move"},
            _plan,
        ),
        FactKind(
            "tempo",
            "moves that a side has spent or lost by the place's line",
            {"side": "white|black", "show": "lost|spent|standing|gone", "against": ".+"},
            _tempo,
        ),
        FactKind(
            "contrast",
            "in which units the place differs from another",
            {"against": ".+", "reversed": "yes|no"},
            _contrast,
        ),
        FactKind(
            "structure",
            "which named pawn skeleton the place has",
            {"show": "name|side|source"},
            _structure,
        ),
    )
}
"""The registry, by the word an author writes after `kind=`."""


def values_in_words(pattern: str) -> str:
    """What an attribute or an option takes, for an author: `it takes white or black`, `it takes a number`.

    >>> values_in_words("white|black"), values_in_words("[1-9][0-9]?")
    ('it takes white or black', 'it takes a number from 1 to 99')
    """
    if re.fullmatch(r"[a-z|-]+", pattern):
        *others, last = pattern.split("|")
        return f"it takes {', '.join(others)}{' or ' if others else ''}{last}"
    return f"it takes {_IN_WORDS.get(pattern, 'some text')}"


_IN_WORDS = {
    "[1-9][0-9]?": "a number from 1 to 99",
    r"[1-9]\d*": "a number",
    r"[12]\d{3}": "a year such as 2019",
    r"[1-9]\d{0,2}(?:\s*[-–]\s*[1-9]\d{0,2})?": "numbers of moves such as 10-22",
    r".{1,8}": "the mark of a voice",
}
"""The patterns of the registries, for an author."""


def in_words(error: InputError) -> str:
    """What is wrong with a place or line, with the ply in it."""
    return f"{error.where}: {error.message}" if error.where else error.message


def look_up(span: Span, evidence: Evidence, path: Path) -> tuple[Fact | None, list[Diagnostic]]:
    """The value of a fact span of the digest at `path`, `None` where it cannot be had, and what is wrong with it."""
    faults = _Faults(path, span.where)
    kind = FACT_KINDS.get(span.attributes.get("kind", ""))
    if kind is None:
        written = span.attributes.get("kind")
        message = f"there is no fact of kind '{written}'" if written else "a fact needs a kind"
        near = nearest(written, FACT_KINDS) if written else None
        faults.add(
            "fact-kind", message, f"did you mean {near}?" if near else f"kinds are {', '.join(FACT_KINDS)}"
        )
        return None, faults.found
    if not _check_attributes(span, kind, faults):
        return None, faults.found
    try:
        place = evidence.place(span.attributes["at"])
        fact = kind.query(evidence, place, span.attributes)
        if fact.line is None:
            fact = msgspec.structs.replace(fact, text=evidence.say(fact.text))
    except InputError as error:
        faults.add("fact-place", in_words(error), error.remedy)
        return None, faults.found
    except NoEvidenceError as missing:
        faults.add("fact-unknown", f"{span.attributes['at']}: {missing}; the page prints what was typed")
        return None, faults.found
    if _same(span.text) != _same(fact.text):
        faults.add(
            "fact-changed", f"'{span.text}' was typed; it is '{fact.text}' now, and so the page prints it"
        )
    return fact, faults.found


def _check_attributes(span: Span, kind: FactKind, faults: _Faults) -> bool:
    known = {"kind": ".*", "at": ".+", **kind.attributes}
    whole = True
    for name, value in span.attributes.items():
        if name not in known:
            near = nearest(name, known)
            hint = f"did you mean {near}?" if near else f"it has {', '.join(known)}"
            faults.add("fact-attribute", f"a {kind.name} has no attribute '{name}'", hint)
            whole = False
        elif not re.fullmatch(known[name], value):
            faults.add(
                "fact-attribute", f"'{value}' is not a value of '{name}'", values_in_words(known[name])
            )
            whole = False
    if "at" not in span.attributes:
        faults.add("fact-attribute", f"a {kind.name} needs a place", 'write at="NAME"')
        whole = False
    return whole


def _same(text: str) -> str:
    """What a typed and a looked-up value have in common, whatever their spaces, dashes, dots, apostrophes, decimal sign and grouping."""
    text = re.sub(r"(?<=\d)[,\u202f\u00a0 ](?=\d{3}\b)", "", text)
    text = re.sub(r"(?<=\d),(?=\d{1,2}(?!\d))", ".", text)
    text = " ".join(text.split()).replace("−", "-").replace("–", "-").replace("…", "...").replace("’", "'")
    return re.sub(r"(?<=\d\.) +", "", text)


_NO_FAULT = ("fact-unknown", "fact-changed")
"""What is no mistake of the author's: evidence is missing, or it has moved on."""


class _Faults:
    def __init__(self, path: Path, where: Where) -> None:
        self.path = path
        self.where = where
        self.found: list[Diagnostic] = []

    def add(self, code: str, message: str, hint: str | None = None) -> None:
        """One more fault at the span."""
        self.found.append(
            Diagnostic(
                code=code,
                severity=Severity.WARNING if code in _NO_FAULT else Severity.ERROR,
                path=self.path,
                message=message,
                line=self.where.line,
                column=self.where.column,
                hint=hint,
            )
        )
