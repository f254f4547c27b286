"""Two positions side by side as a result to print: units, tempi, rights, what the voices say (methods.md 6)."""

from __future__ import annotations

import enum
import math
from collections.abc import Iterator, Mapping, Sequence

import msgspec

from variorum.board import Bands, Line, Move, MoveError, Position, Side, Verdict, sign_of
from variorum.edition import Place
from variorum.insight.contrast import MOST_UNITS, UnitChange, changed_units, changes_in_words
from variorum.insight.mirror import mirrored_move, mirrored_position
from variorum.insight.tempo import tempo_ledger
from variorum.insight.wording import and_list, moves, number, side_name
from variorum.voices.noise import INTERVAL, noise_of
from variorum.voices.scale import expected_of
from variorum.voices.verdicts import Verdicts

__all__ = [
    "Colours",
    "ContrastReport",
    "PlaceSaid",
    "TempoDifference",
    "VoicePair",
    "VoiceSaid",
    "contrast_report",
    "unit_sentences",
]


class Colours(enum.Enum):
    """Whether the second position is taken as it is, or with colours reversed."""

    KEPT = "kept"
    REVERSED = "reversed"


class PlaceSaid(msgspec.Struct, frozen=True, kw_only=True):
    """A position of the pair: how it is called in the sentences, its line (empty without one), and what FEN says of it."""

    called: str
    line: str
    fen: str
    to_move: Side


class TempoDifference(msgspec.Struct, frozen=True, kw_only=True):
    """Moves lost by the line here and by the line there, and net: how many tempi White has won by it here."""

    white: tuple[int, int]
    black: tuple[int, int]
    net: int


class VoiceSaid(msgspec.Struct, frozen=True, kw_only=True):
    """A voice's verdict: E for White, what is printed after `±` (`None` for a mate), pawns, effort, sign, best moves."""

    expected: float
    noise: float | None
    pawns: str
    nodes: int
    sign: str
    words: str
    best: tuple[str, ...]


class VoicePair(msgspec.Struct, frozen=True, kw_only=True):
    """One voice on both. `differs` tells whether the scores differ by more than their noise, `None` where one is missing.

    With colours reversed, what is said there is turned round with them.
    """

    siglum: str
    voice: str
    here: VoiceSaid | None
    there: VoiceSaid | None
    differs: bool | None


class ContrastReport(msgspec.Struct, frozen=True, kw_only=True):
    """Two positions side by side; `there` is as typed, its units are told with its colours reversed where that was asked.

    `unit_count` units differ; `units` is empty where they are more than six, which are different structures. `plans` says
    what changes in the plans, where games went through both.
    """

    here: PlaceSaid
    there: PlaceSaid
    colours: Colours
    unit_count: int
    units: tuple[UnitChange, ...]
    tempo: TempoDifference | None
    voices: tuple[VoicePair, ...]
    sentences: tuple[str, ...]
    plans: tuple[str, ...] = ()


def contrast_report(
    here: Place,
    there: Place,
    verdicts: Verdicts,
    sigla: Mapping[str, str],
    bands: Bands,
    colours: Colours = Colours.KEPT,
) -> ContrastReport:
    """Set two places side by side.

    Args:
        here: The first.
        there: The second.
        verdicts: What the voices said.
        sigla: The mark of each voice.
        bands: From which score a word stands.
        colours: Whether the second is taken with colours reversed.
    """
    turned = colours is Colours.REVERSED
    second = mirrored_position(there.position) if turned else there.position
    changes = changed_units(here.position, second)
    names = _names(here, there)
    tempo = None if turned else _tempo(here.line, there.line)
    voices = tuple(_voices(here, there, verdicts, sigla, bands, colours))
    said = [_said(place, name) for place, name in zip((here, there), names, strict=True)]
    alike = len(changes) <= MOST_UNITS
    called = names[0], f"{names[1]} with colours reversed" if turned else names[1]
    sentences = list(unit_sentences(here.position, second, called, changes, turned=turned))
    if alike:
        sentences += _tempo_sentences(tempo, here, there, called) if not turned else []
    sentences += _voice_sentences(voices, here.position, second, called)
    return ContrastReport(
        here=said[0],
        there=said[1],
        colours=colours,
        unit_count=len(changes),
        units=changes if alike else (),
        tempo=tempo,
        voices=voices,
        sentences=tuple(sentences),
    )


def _names(here: Place, there: Place) -> tuple[str, str]:
    """What the two are called: by the edition's names where both have one and they differ."""
    if here.name and there.name and here.name != there.name:
        return here.name, there.name
    return "the first", "the second"


def _said(place: Place, called: str) -> PlaceSaid:
    line = place.line.san() if place.line is not None else ""
    return PlaceSaid(called=called, line=line, fen=place.position.fen, to_move=place.position.turn)


def _tempo(here: Line | None, there: Line | None) -> TempoDifference | None:
    """`None` where a place has no line, or the lines start from different positions."""
    if here is None or there is None or here.start != there.start:
        return None
    one, other = tempo_ledger(here), tempo_ledger(there)
    white, black = (one.white.lost, other.white.lost), (one.black.lost, other.black.lost)
    return TempoDifference(white=white, black=black, net=(black[0] - black[1]) - (white[0] - white[1]))


def unit_sentences(
    here: Position, there: Position, called: tuple[str, str], changes: Sequence[UnitChange], *, turned: bool
) -> Iterator[str]:
    """Which units differ, who is to move, and rights that differ, in words; `turned` where colours were reversed there."""
    one, other = called
    if here == there:
        yield f"{_capital(one)} and {other} are the same position."
        return
    if len(changes) > MOST_UNITS:
        pawns = sum(change.letter == "P" for change in changes)
        yield (
            f"These are different structures: {number(len(changes))} units differ, "
            f"{number(pawns) if pawns else 'none'} of them {'a pawn' if pawns == 1 else 'pawns'}."
        )
        return
    if changes:
        yield f"{_capital(one)} is as {other}, but {changes_in_words(changes)}."
    else:
        yield f"The units stand alike in {one} and {other}."
    if here.turn is there.turn:
        yield f"{side_name(here.turn)} is to move in both."
    elif changes:
        yield f"In {one} it is {side_name(here.turn)}'s move, in {other} {side_name(there.turn)}'s."
    elif turned:
        yield f"It is {side_name(here.turn)}'s move in {one}, and there it is the other side's: {side_name(here.turn)} is a tempo up."
    else:
        yield (
            f"It is {side_name(here.turn)}'s move in {one} and {side_name(there.turn)}'s in {other}: "
            f"{side_name(here.turn)} is a tempo up in {one}."
        )
    yield from _rights(here, there, called)


def _rights(here: Position, there: Position, called: tuple[str, str]) -> Iterator[str]:
    (mine, my_square), (theirs, their_square) = (position.epd.split()[2:4] for position in (here, there))
    words = {"K": "White may castle short", "Q": "White may castle long"} | {
        "k": "Black may castle short",
        "q": "Black may castle long",
    }
    if set(mine + theirs) <= set("KQkq-"):
        for right, text in words.items():
            if (right in mine) != (right in theirs):
                yield f"{text} in {called[0] if right in mine else called[1]} only."
    elif mine != theirs:
        yield f"Castling rights are {mine} in {called[0]} and {theirs} in {called[1]}."
    if my_square != their_square:
        told = [
            f"on {square} in {name}"
            for square, name in ((my_square, called[0]), (their_square, called[1]))
            if square != "-"
        ]
        yield f"A pawn may be taken in passing {and_list(told)}{' only' if len(told) == 1 else ''}."


def _tempo_sentences(
    tempo: TempoDifference | None, here: Place, there: Place, called: tuple[str, str]
) -> Iterator[str]:
    if tempo is None:
        without = [name for name, place in zip(called, (here, there), strict=True) if place.line is None]
        if without:
            yield f"No line leads to {and_list(without)}, so lost tempi cannot be compared."
        else:
            yield "Their lines start from different positions, so lost tempi cannot be compared."
        return
    for side, lost in ((Side.WHITE, tempo.white), (Side.BLACK, tempo.black)):
        if lost[0] != lost[1]:
            more = 0 if lost[0] > lost[1] else 1
            yield (
                f"By its line {side_name(side)} has lost {moves(abs(lost[0] - lost[1]))} more in {called[more]} "
                f"than in {called[1 - more]}."
            )
    if tempo.white == tempo.black == (0, 0):
        yield "Neither line loses a tempo."
    elif tempo.net == 0:
        yield "Between the two no tempo is won or lost."


def _voices(
    here: Place,
    there: Place,
    verdicts: Verdicts,
    sigla: Mapping[str, str],
    bands: Bands,
    colours: Colours,
) -> Iterator[VoicePair]:
    mine, theirs = verdicts.on(here.position), verdicts.on(there.position)
    for voice in sorted({*mine, *theirs}):
        one = _voice(here.position, mine.get(voice), bands, Colours.KEPT)
        other = _voice(there.position, theirs.get(voice), bands, colours)
        differs = None
        if one is not None and other is not None:
            # A mate has no noise.
            half = INTERVAL * math.hypot(
                *(0.0 if said.noise is None else noise_of(said.nodes, said.expected) for said in (one, other))
            )
            differs = abs(one.expected - other.expected) > half
        yield VoicePair(siglum=sigla[voice], voice=voice, here=one, there=other, differs=differs)


def _voice(position: Position, verdict: Verdict | None, bands: Bands, colours: Colours) -> VoiceSaid | None:
    if verdict is None or not verdict.lines:
        return None
    score = verdict.lines[0].score
    best = [Move(line.moves[0]) for line in verdict.lines[:3]]
    if colours is Colours.REVERSED:
        score, position, best = (
            score.seen_from(Side.BLACK),
            mirrored_position(position),
            list(map(mirrored_move, best)),
        )
    expected = expected_of(verdict, score)
    sign = sign_of(expected, bands)
    return VoiceSaid(
        expected=expected,
        noise=None if score.mate is not None else INTERVAL * noise_of(verdict.nodes, expected),
        pawns=score.pawns_text,
        nodes=verdict.nodes,
        sign=sign.glyph,
        words=sign.words,
        best=tuple(map(position.san, best)),
    )


def _voice_sentences(
    voices: Sequence[VoicePair], here: Position, there: Position, called: tuple[str, str]
) -> Iterator[str]:
    if here == there:
        return
    if not any(pair.here and pair.there for pair in voices):
        yield "No voice has judged both yet."
        return
    for pair in voices:
        if pair.here is None or pair.there is None:
            continue
        gap = pair.here.expected - pair.there.expected
        better = Side.WHITE if gap > 0 else Side.BLACK
        if pair.differs:
            yield (
                f"By {pair.siglum} {called[0]} is better for {side_name(better)} by {abs(gap):.1f} points, more than noise."
            )
        else:
            yield f"By {pair.siglum} the two differ by {abs(gap):.1f} points, no more than noise."
        if here.turn is there.turn:
            yield from _best_moves(pair, here, there, called)


def _best_moves(pair: VoicePair, here: Position, there: Position, called: tuple[str, str]) -> Iterator[str]:
    """Whether the same voice plays the same move in both, and whether the move of the one is legal in the other."""
    assert pair.here is not None
    assert pair.there is not None
    mine, theirs = here.parse(pair.here.best[0]), there.parse(pair.there.best[0])
    if mine.uci == theirs.uci:
        yield f"{pair.siglum} plays {pair.here.best[0]} in both."
        return
    text = f"{pair.siglum} plays {pair.here.best[0]} in {called[0]}, {pair.there.best[0]} in {called[1]}"
    absent = [
        f"{said} is not possible in {name}"
        for move, said, position, name in (
            (mine, pair.here.best[0], there, called[1]),
            (theirs, pair.there.best[0], here, called[0]),
        )
        if not _legal(position, move)
    ]
    yield f"{text}{f' ({and_list(absent)})' if absent else ''}."


def _legal(position: Position, move: Move) -> bool:
    try:
        position.play(move)
    except MoveError:
        return False
    return True


def _capital(text: str) -> str:
    """A sentence's first letter; a name of the author's stays as it is."""
    return f"The {text[4:]}" if text.startswith("the ") else text
