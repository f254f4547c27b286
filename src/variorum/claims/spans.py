"""Claims of the digest: which kinds there are, how one is written, and what is wrong with one that cannot be read.

[White is better]{.claim kind=score at="iqp" says="slight White"}          a band of the expected score, by its words or sign
[a mistake]{.claim kind=concedes at="iqp" move="10...b6" says="?"}         what a move concedes: ?!, ? or ??
[10...Nf6 is better]{.claim kind=better at="iqp" move="10...Nf6" than="10...b6"}
[the only move]{.claim kind=only-move at="retreat" move="13...g6"}
[it transposes]{.claim kind=transposes at="1.d4 d5 2.c4" to="main"}        the two are one position
[a tempo up]{.claim kind=tempo at="iqp" side=black says="one" against="main"}   moves lost by a line, or more than by another
[new]{.claim kind=novelty at="iqp" move="10...h5"}                         in no game that was given
[the main move]{.claim kind=popularity at="iqp" move="10...Nf6" says="most played"}   or common, or rare
[an isolani]{.claim kind=structure at="iqp" says="isolated queen's pawn"}  its pawn skeleton, by name, or by name and side
[White breaks]{.claim kind=plan at="iqp" side=white says="d4-d5" share=30 of=practice}   in so many percent of the games, or more
[it depends on the knight]{.claim kind=hinge at="pin" move="3...Qa5" says="knight on b1"}
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import msgspec

from variorum.base import Diagnostic, InputError, Severity
from variorum.base.shape import nearest
from variorum.board import SIGNS, Line, Move, MoveError, Position, Side, Sign, sign_named
from variorum.claims.by_rules import POPULARITIES, same_words
from variorum.claims.by_verdicts import CONCEDING
from variorum.claims.exhibits import ExhibitEvidence, look_up_exhibit
from variorum.claims.facts import Places, in_words, look_up
from variorum.claims.lines import read_line
from variorum.edition.digest import Digest, Span, SpanKind, Where
from variorum.edition.place import Place
from variorum.insight.structures import catalogue
from variorum.insight.wording import number as number_in_words

__all__ = [
    "CLAIM_KINDS",
    "ClaimForm",
    "SpanClaim",
    "UnreadableError",
    "claim_of",
    "claim_with",
    "digest_faults",
    "place_faults",
    "read_claim",
]


class ClaimForm(msgspec.Struct, frozen=True):
    """The attributes that a kind of claim needs beside `kind`, and those that it may have."""

    needs: tuple[str, ...]
    may: tuple[str, ...] = ()


CLAIM_KINDS = {
    "score": ClaimForm(("at", "says")),
    "concedes": ClaimForm(("at", "move", "says")),
    "better": ClaimForm(("at", "move", "than")),
    "only-move": ClaimForm(("at", "move")),
    "transposes": ClaimForm(("at", "to")),
    "tempo": ClaimForm(("at", "says"), ("side", "against")),
    "novelty": ClaimForm(("at", "move")),
    "popularity": ClaimForm(("at", "move", "says")),
    "structure": ClaimForm(("at", "says")),
    "plan": ClaimForm(("at", "says"), ("side", "share", "of")),
    "hinge": ClaimForm(("at", "move", "says")),
}
"""The kinds of claim by the word an author writes after `kind=`."""


class SpanClaim(msgspec.Struct, frozen=True, kw_only=True):
    """A claim that was read: its kind, its place, and what the kind has beside.

    `says` is a sign for a score, a NAG for what a move concedes, a number for tempi, else words.
    """

    kind: str
    place: Place
    says: Sign | int | str = ""
    move: Move | None = None
    than: Move | None = None
    other: Place | None = None
    side: Side = Side.WHITE
    share: float | None = None
    """For a plan: percent of the games; the edition's `common` where it is not given."""
    of: str = "practice"
    """For a plan: whose games."""

    @property
    def positions(self) -> tuple[Position, ...]:
        """Positions on which verdicts are needed before it can be judged."""
        before = self.place.position
        after = [before.play(move) for move in (self.move, self.than) if move is not None]
        found: list[Position] = []
        if self.kind == "score":
            found = [before]
        elif self.kind in ("concedes", "only-move", "better"):
            found = [before, *after]
        return tuple(position for position in found if position.outcome is None)


class UnreadableError(Exception):
    """An attribute that says nothing; `hint` is what it could say."""

    def __init__(self, message: str, hint: str | None, code: str = "claim-attribute") -> None:
        super().__init__(message)
        self.hint, self.code = hint, code


def read_claim(span: Span, places: Places, path: Path) -> tuple[SpanClaim | None, list[Diagnostic]]:
    """The claim of a span of the digest at `path`; `None` and diagnostics where it cannot be read."""
    faults = [
        _fault(code, span.where, path, message, hint) for code, message, hint in _form_faults(span.attributes)
    ]
    if faults:
        return None, faults
    try:
        return claim_of(span.attributes, places), []
    except UnreadableError as error:
        return None, [_fault(error.code, span.where, path, str(error), error.hint)]


def claim_with(kind: str, says: str, place: Place, move: Move, other: Place | None) -> SpanClaim:
    """The claim of words behind a move of the manuscript: about the position before it where the kind asks for a move.

    Raises:
        UnreadableError: There is no such kind, it needs more than words can say, or `says` is no word of it.
    """
    form = CLAIM_KINDS.get(kind)
    if form is None or "than" in form.needs:
        kinds = [name for name, one in CLAIM_KINDS.items() if "than" not in one.needs]
        raise UnreadableError(f"words cannot claim '{kind}'", f"kinds are {', '.join(kinds)}")
    if "to" in form.needs and other is None:
        raise UnreadableError("no place follows the words", "write a name or a line behind them")
    if "move" not in form.needs:
        return SpanClaim(kind=kind, place=place, says=_says(kind, says), other=other)
    line = place.line
    assert line is not None
    before = Place(text="", position=line.positions()[-2], line=Line(line.start, line.moves[:-1]))
    return SpanClaim(kind=kind, place=before, says=_says(kind, says), move=move)


def claim_of(attributes: Mapping[str, str], places: Places) -> SpanClaim:
    """The claim of attributes that have the form of their kind.

    Raises:
        UnreadableError: One of them says nothing.
    """
    kind = attributes["kind"]
    place = _place(attributes["at"], places)
    moves = {name: _move(attributes[name], place) for name in ("move", "than") if name in attributes}
    other = next((attributes[name] for name in ("to", "against") if name in attributes), None)
    side = attributes.get("side", "white")
    if side not in ("white", "black"):
        raise UnreadableError(f"'{side}' is no side", "sides are white and black")
    return SpanClaim(
        kind=kind,
        place=place,
        says=_says(kind, attributes.get("says", "")),
        move=moves.get("move"),
        than=moves.get("than"),
        other=None if other is None else _place(other, places),
        side=Side(side),
        share=_share(attributes.get("share")),
        of=attributes.get("of", "practice"),
    )


def _share(text: str | None) -> float | None:
    if text is None:
        return None
    if not text.isdecimal() or not 0 < int(text) <= 100:
        raise UnreadableError(f"'{text}' is no share", "give percent of the games, 1 to 100")
    return float(text)


def _form_faults(attributes: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """Code, message and hint of what is missing or too much."""
    kind = attributes.get("kind", "")
    if kind not in CLAIM_KINDS:
        near = nearest(kind, CLAIM_KINDS) if kind else None
        message = f"there is no claim of kind '{kind}'" if kind else "a claim needs a kind"
        return [
            (
                "claim-kind",
                message,
                f"did you mean {near}?" if near else f"kinds are {', '.join(CLAIM_KINDS)}",
            )
        ]
    form = CLAIM_KINDS[kind]
    known = ("kind", *form.needs, *form.may)
    faults = []
    for name in sorted(attributes.keys() - set(known)):
        near = nearest(name, known)
        hint = f"did you mean {near}?" if near else f"it has {', '.join(known)}"
        faults.append(("claim-attribute", f"a claim of kind {kind} has no attribute '{name}'", hint))
    missing = [name for name in form.needs if name not in attributes]
    return faults + [
        ("claim-attribute", f"a claim of kind {kind} needs '{name}'", f'write {name}="…"') for name in missing
    ]


def _place(text: str, places: Places) -> Place:
    try:
        return places.place(text)
    except InputError as error:
        raise UnreadableError(in_words(error), error.remedy, "claim-place") from None


def _move(text: str, place: Place) -> Move:
    try:
        line = Line.parse(text, start=place.position)
    except MoveError as error:
        raise UnreadableError(in_words(error), error.remedy) from None
    if len(line.moves) != 1:
        raise UnreadableError(f"'{text}' is not one move", "give one move, such as 10...Nf6")
    return line.moves[0]


def _says(kind: str, text: str) -> Sign | int | str:
    match kind:
        case "score":
            try:
                return sign_named(text)
            except KeyError:
                raise _no_word(text, "are no words of a score", [sign.words for sign in SIGNS]) from None
        case "concedes":
            signs = {sign: nag for nag, sign in CONCEDING.items()}
            if text not in signs:
                raise _no_word(text, "is no sign of a move that concedes", list(signs))
            return signs[text]
        case "tempo":
            words = {number_in_words(value): value for value in range(11)}
            if same_words(text) in words:
                return words[same_words(text)]
            if not text.lstrip("-−").isdecimal():
                raise _no_word(text, "is no number", list(words))
            return int(text.replace("−", "-"))
        case "popularity":
            if text not in POPULARITIES:
                raise _no_word(text, "does not say how often", POPULARITIES)
        case "structure":
            bare = same_words(text).removesuffix(" (white's)").removesuffix(" (black's)")
            names = catalogue().names()
            if bare not in map(same_words, names):
                raise _no_word(text, "is no name of a structure", names)
    return text


def _no_word(text: str, what: str, words: Sequence[str]) -> UnreadableError:
    near = nearest(text, words)
    return UnreadableError(
        f"'{text}' {what}", f"did you mean '{near}'?" if near else f"words are {', '.join(words)}"
    )


def digest_faults(digest: Digest, evidence: ExhibitEvidence) -> list[Diagnostic]:
    """What is wrong with facts, lines, claims, diagrams and exhibits of a digest, in the order of the text."""
    found: list[Diagnostic] = []
    for span in digest.spans():
        match span.kind:
            case SpanKind.FACT:
                found += look_up(span, evidence, digest.path)[1]
            case SpanKind.LINE:
                found += read_line(span, evidence, digest.path)[1]
            case SpanKind.CLAIM:
                found += read_claim(span, evidence, digest.path)[1]
    found += place_faults(digest, evidence, spans=())
    for block in digest.exhibits():
        found += look_up_exhibit(block, evidence, digest.path)[1]
    return _in_order(found)


def place_faults(
    digest: Digest, places: Places, spans: Iterable[SpanKind] = tuple(SpanKind)
) -> list[Diagnostic]:
    """The places that a digest names and nobody knows, in diagrams and in spans of these kinds."""
    named = [("diagram-place", diagram.place, diagram.where) for diagram in digest.diagrams()]
    for span in digest.spans():
        text = span.attributes.get("of" if span.kind is SpanKind.LINE else "at")
        if span.kind in spans and text is not None:
            named.append((f"{span.kind.value}-place", text, span.where))
    found = []
    for code, text, where in named:
        try:
            places.place(text)
        except InputError as error:
            found.append(_fault(code, where, digest.path, in_words(error), error.remedy))
    return _in_order(found)


def _in_order(faults: Iterable[Diagnostic]) -> list[Diagnostic]:
    return sorted(faults, key=lambda fault: (fault.line or 0, fault.column or 0))


def _fault(code: str, where: Where, path: Path, message: str, hint: str | None) -> Diagnostic:
    return Diagnostic(
        code=code,
        severity=Severity.ERROR,
        path=path,
        message=message,
        line=where.line,
        column=where.column,
        hint=hint,
    )
