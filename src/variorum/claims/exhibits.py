"""Blocks of the digest that are looked up: lines, cited games, plans, orders, contrasts, the apparatus of a place.

    :::line iqp                         :::game Orlo – Vesk, 2019          :::plans iqp
    moves: 10...Nf6 11.a3               moves: 10-22                       of: playouts
    :::                                 :::                                :::

    :::orders iqp                       :::contrast iqp                    :::apparatus iqp
    most: 5                             against: bishop-c4                 :::
    :::                                 :::

Each kind has the options that it takes, each with the values it takes (a pattern); beside them every block takes `caption`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Protocol

import msgspec

from variorum.base import Diagnostic, InputError, Severity
from variorum.base.shape import nearest
from variorum.board import Line
from variorum.claims.facts import Evidence, in_words, values_in_words
from variorum.claims.lines import read_line
from variorum.edition.digest import Exhibit, ExhibitKind, Span, SpanKind, Text, Where
from variorum.edition.place import Place
from variorum.insight.contrast_report import Colours
from variorum.insight.plans_report import BodyPlans

__all__ = [
    "EXHIBIT_OPTIONS",
    "CitedGame",
    "ExhibitEvidence",
    "Exhibited",
    "OrderRow",
    "ShownApparatus",
    "ShownContrast",
    "ShownGame",
    "ShownLine",
    "ShownOrders",
    "ShownPlans",
    "look_up_exhibit",
]

_NUMBER = "[1-9][0-9]?"
EXHIBIT_OPTIONS: Mapping[ExhibitKind, Mapping[str, str]] = {
    ExhibitKind.LINE: {"moves": r"[\s\S]+"},
    ExhibitKind.GAME: {
        "event": ".+",
        "year": r"[12]\d{3}",
        "source": ".+",
        "number": r"[1-9]\d*",
        "from": ".+",
        "moves": r"[1-9]\d{0,2}(?:\s*[-–]\s*[1-9]\d{0,2})?",
    },
    ExhibitKind.PLANS: {"of": ".+", "side": "white|black", "most": _NUMBER},
    ExhibitKind.ORDERS: {"most": _NUMBER, "side": "white|black"},
    ExhibitKind.CONTRAST: {"against": ".+", "reversed": "yes|no"},
    ExhibitKind.APPARATUS: {},
}
"""The registry: options by kind."""

_DASH = re.compile(r"\s+[-–—]\s+|\s*[–—]\s*")
_YEAR = re.compile(r"(?:^|[\s,])([12]\d{3})$")
MOST_ORDERS = 5
MOST_PLANS = 8


class CitedGame(msgspec.Struct, frozen=True, kw_only=True):
    """A game of the sources: who played it, where and when (`date` yyyymmdd, 0 for unknown parts), and its moves.

    It is game `number` of the file `source`.
    """

    white: str
    black: str
    event: str
    site: str
    date: int
    result: str
    line: Line
    source: str
    number: int


class OrderRow(msgspec.Struct, frozen=True, kw_only=True):
    """An order to a place: its share of what arrives there, in percent; risk and price in points, at least and at most.

    Risk and price are `None` where no voice has judged the place.
    """

    line: Line
    share: float
    risk: tuple[float, float | None] | None
    price: tuple[float, float | None] | None


class ExhibitEvidence(Evidence, Protocol):
    """In what exhibits are looked up, beside facts."""

    def cited(self, white: str, black: str) -> tuple[CitedGame, ...]:
        """The games of the sources that these players may have played, doubles once."""

    def plans(self, place: Place, body: str) -> tuple[BodyPlans, ...]:
        """What games show from a place on: of `practice`, `playouts`, a voice, or (empty) of both.

        Raises:
            InputError: There is no such body of games, or there are no games yet.
        """

    def order_rows(self, place: Place, most: int, side: str) -> tuple[OrderRow, ...]:
        """The most travelled orders to a place, for a side (`white`, `black`, or empty for the edition's).

        Raises:
            InputError: No order on the graph leads there.
        """

    def contrast(self, here: Place, there: Place, colours: Colours) -> tuple[str, ...]:
        """Two places side by side, in sentences."""


class ShownLine(msgspec.Struct, frozen=True):
    """Moves from a place on."""

    line: Line


class ShownGame(msgspec.Struct, frozen=True):
    """A cited game and the part of it that is printed; `whole` tells that nothing comes before or after."""

    game: CitedGame
    part: Line
    whole: bool


class ShownPlans(msgspec.Struct, frozen=True):
    """What games show, by body."""

    bodies: tuple[BodyPlans, ...]


class ShownOrders(msgspec.Struct, frozen=True):
    """Orders to a place."""

    place: Place
    rows: tuple[OrderRow, ...]


class ShownContrast(msgspec.Struct, frozen=True):
    """Two places side by side."""

    sentences: tuple[str, ...]


class ShownApparatus(msgspec.Struct, frozen=True):
    """What every voice says of a place."""

    place: Place


Exhibited = ShownLine | ShownGame | ShownPlans | ShownOrders | ShownContrast | ShownApparatus


class _FaultError(Exception):
    """The exhibit cannot be shown."""

    def __init__(self, code: str, message: str, hint: str | None = None, where: Where | None = None) -> None:
        super().__init__(message)
        self.code, self.message, self.hint, self.where = code, message, hint, where


def look_up_exhibit(
    block: Exhibit, evidence: ExhibitEvidence, path: Path
) -> tuple[Exhibited | None, list[Diagnostic]]:
    """What a block of the digest at `path` shows, `None` where it cannot be shown, and what is wrong with it."""
    try:
        _check_options(block)
        return _LOOK_UPS[block.kind](block, evidence), []
    except _FaultError as fault:
        where = fault.where or block.where
        told = Diagnostic(
            code=fault.code,
            severity=Severity.WARNING if fault.code == "exhibit-unknown" else Severity.ERROR,
            path=path,
            message=fault.message,
            line=where.line,
            column=where.column,
            hint=fault.hint,
        )
        return None, [told]


def _check_options(block: Exhibit) -> None:
    known = EXHIBIT_OPTIONS[block.kind]
    for name, value in block.options.items():
        where = block.option_places.get(name)
        if name not in known:
            near = nearest(name, (*known, "caption"))
            hint = f"did you mean {near}:?" if near else f"it has {', '.join((*known, 'caption'))}"
            raise _FaultError("exhibit-option", f"':::{block.kind.value}' has no line '{name}:'", hint, where)
        if not re.fullmatch(known[name], value):
            raise _FaultError(
                "exhibit-option", f"'{value}' is no value of '{name}:'", values_in_words(known[name]), where
            )


def _place(block: Exhibit, text: str, evidence: ExhibitEvidence, where: Where | None = None) -> Place:
    if not text:
        raise _FaultError(
            "exhibit-place", f":::{block.kind.value} needs a place", f"write ':::{block.kind.value} NAME'"
        )
    try:
        return evidence.place(text)
    except InputError as error:
        raise _FaultError("exhibit-place", in_words(error), error.remedy, where) from None


def _line(block: Exhibit, evidence: ExhibitEvidence) -> Exhibited:
    place = _place(block, block.subject, evidence)
    if "moves" not in block.options:
        if place.line is None or not place.line.moves:
            raise _FaultError("exhibit-line", "no moves lead to the place", "write 'moves: 10...Nf6 11.a3'")
        return ShownLine(place.line)
    typed = " ".join(block.options["moves"].split())
    where = block.option_places.get("moves", block.where)
    span = Span(SpanKind.LINE, (Text(typed),), {"of": block.subject}, where)
    line, faults = read_line(span, evidence, Path())
    if line is None:
        raise _FaultError("exhibit-line", faults[0].message, faults[0].hint, where)
    if not line.moves:
        raise _FaultError("exhibit-line", "no moves are given", None, where)
    return ShownLine(line)


def _game(block: Exhibit, evidence: ExhibitEvidence) -> Exhibited:
    said = block.subject
    year = int(block.options["year"]) if "year" in block.options else None
    names, _, rest = said.partition(", ") if not _DASH.search(said.partition(",")[2]) else (said, "", "")
    if found := _YEAR.search(rest or names):
        year = year or int(found[1])
        cut = found.start()
        names, rest = (names, rest[:cut]) if rest else (names[:cut], "")
    players = _DASH.split(names.strip(), maxsplit=1)
    if len(players) != 2 or not all(players):
        raise _FaultError(
            "exhibit-option", "a game is cited by its players", "write ':::game White – Black, Event 2019'"
        )
    event = block.options.get("event", rest.strip(" ,"))
    games = [
        one
        for one in evidence.cited(*players)
        if _fits(one, event, year)
        and one.source.endswith(block.options.get("source", ""))
        and str(one.number) == block.options.get("number", str(one.number))
    ]
    if not games:
        told = ", ".join(filter(None, [" – ".join(players), event, str(year or "")]))
        raise _FaultError(
            "game-missing",
            f"no game of the sources is {told}",
            "sift the file that holds it, or correct the names",
        )
    if len(games) > 1:
        listed = list(dict.fromkeys(map(_in_short, games)))
        more = f" and {len(listed) - 4} more" if len(listed) > 4 else ""
        message = f"{len(games)} games fit: {'; '.join(listed[:4])}{more}"
        raise _FaultError("game-several", message, "say 'event:' and 'year:', or 'source:' and 'number:'")
    return _fragment(block, games[0], evidence)


def _in_short(game: CitedGame) -> str:
    return (
        f"{game.event or 'no event'}, {game.date // 10_000 or 'no date'} ({game.source}, game {game.number})"
    )


def _fits(game: CitedGame, event: str, year: int | None) -> bool:
    words = f"{game.event} {game.site}".casefold()
    return event.casefold() in words and year in (None, game.date // 10_000)


def _fragment(block: Exhibit, game: CitedGame, evidence: ExhibitEvidence) -> ShownGame:
    """The part of a game that is asked for: from a position on, and by move numbers."""
    positions = game.line.positions()
    first, last = 0, len(game.line)
    if "from" in block.options:
        place = _place(block, block.options["from"], evidence, block.option_places.get("from"))
        at = next((ply for ply, position in enumerate(positions) if position == place.position), None)
        if at is None:
            raise _FaultError(
                "exhibit-option",
                f"the game does not reach {block.options['from']}",
                None,
                block.option_places.get("from"),
            )
        first = at
    if "moves" in block.options:
        numbers = [int(number) for number in re.findall(r"\d+", block.options["moves"])]
        inside = [ply for ply in range(first, last) if numbers[0] <= positions[ply].fullmove <= numbers[-1]]
        if not inside:
            message = (
                f"the game has no moves {block.options['moves']}; it ends with move {positions[-2].fullmove}"
            )
            raise _FaultError("exhibit-option", message, None, block.option_places.get("moves"))
        first, last = inside[0], inside[-1] + 1
    part = Line(positions[first], game.line.moves[first:last])
    return ShownGame(game, part, len(part) == len(game.line))


def _plans(block: Exhibit, evidence: ExhibitEvidence) -> Exhibited:
    place = _place(block, block.subject, evidence)
    try:
        bodies = evidence.plans(place, block.options.get("of", ""))
    except InputError as error:
        raise _FaultError(
            "exhibit-unknown", error.message, error.remedy, block.option_places.get("of")
        ) from None
    side = block.options.get("side", "")
    most = int(block.options.get("most", MOST_PLANS))
    chosen = []
    for body in bodies:
        plans = [one for one in body.plans if not side or (one.side is not None and one.side.value == side)]
        plans.sort(key=lambda one: -one.count)
        if plans:
            chosen.append(msgspec.structs.replace(body, plans=tuple(plans[:most])))
    if not chosen:
        raise _FaultError("exhibit-unknown", f"no game shows a plan from {block.subject} on", None)
    return ShownPlans(tuple(chosen))


def _orders(block: Exhibit, evidence: ExhibitEvidence) -> Exhibited:
    place = _place(block, block.subject, evidence)
    try:
        rows = evidence.order_rows(
            place, int(block.options.get("most", MOST_ORDERS)), block.options.get("side", "")
        )
    except InputError as error:
        raise _FaultError("exhibit-unknown", error.message, error.remedy) from None
    if not rows:
        raise _FaultError("exhibit-unknown", f"no move order to {block.subject} is known", None)
    return ShownOrders(place, rows)


def _contrast(block: Exhibit, evidence: ExhibitEvidence) -> Exhibited:
    here = _place(block, block.subject, evidence)
    if "against" not in block.options:
        raise _FaultError("exhibit-option", "a contrast needs another place", "write 'against: NAME'")
    there = _place(block, block.options["against"], evidence, block.option_places.get("against"))
    turned = Colours.REVERSED if block.options.get("reversed") == "yes" else Colours.KEPT
    return ShownContrast(evidence.contrast(here, there, turned))


def _apparatus(block: Exhibit, evidence: ExhibitEvidence) -> Exhibited:
    return ShownApparatus(_place(block, block.subject, evidence))


_LOOK_UPS: Mapping[ExhibitKind, Callable[[Exhibit, ExhibitEvidence], Exhibited]] = {
    ExhibitKind.LINE: _line,
    ExhibitKind.GAME: _game,
    ExhibitKind.PLANS: _plans,
    ExhibitKind.ORDERS: _orders,
    ExhibitKind.CONTRAST: _contrast,
    ExhibitKind.APPARATUS: _apparatus,
}
