"""What a plan is made of (methods.md 9), and what it is called. Rows of plans are the core's; this is what they mean."""

from __future__ import annotations

import enum
from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from variorum.board import Side
from variorum.insight.distance import SQUARES
from variorum.insight.structures import Holder, Recognised, catalogue
from variorum.insight.wording import PIECE_NAMES, number

__all__ = ["HORIZON", "Plan", "PlanKind", "PlanRows", "mirrored_plan", "other_takers", "plans_of"]

HORIZON: Final = 30
"""Plies after the place that are read."""

_NO_ROW: Final = 2**32 - 1
_ROLES: Final = "?PNBRQK"
_UNIT, _STEP, _EXCHANGE = 0, 1, 4


class PlanKind(enum.Enum):
    """What sort of thing it is."""

    BREAK = "break"
    ITINERARY = "itinerary"
    CASTLING = "castling"
    EXCHANGE = "exchange"
    PRESSURE = "pressure"
    STRUCTURE = "structure"


class Plan(msgspec.Struct, frozen=True, order=True):
    """A plan by what it says, so that the same plan from two positions is equal.

    `side` is whose it is; `None` for an exchange and for a structure, which need both. `text` is how it is written: `d4–d5`,
    `Nf3–e5xg6`, `castles short`, `bishop for knight` (White's unit first), `three units at d4`, `Carlsbad (White's)`. `unit` is the letter and home of the unit of an
    itinerary (`Nf3`); with `castled` castling put it there.
    """

    kind: PlanKind
    side: Side | None
    text: str
    unit: str = ""
    castled: bool = False

    def __post_init__(self) -> None:
        """Exchanges and structures are of both sides, everything else is of one."""
        assert (self.side is None) == (self.kind in (PlanKind.EXCHANGE, PlanKind.STRUCTURE))

    @property
    def words(self) -> str:
        """As a sentence names it: `the break d4–d5`, `Nf3–e5`, `castling short`, `the exchange of knights`."""
        match self.kind:
            case PlanKind.BREAK:
                return f"the break {self.text}"
            case PlanKind.CASTLING:
                return self.text.replace("castles", "castling")
            case PlanKind.EXCHANGE:
                one, other = self.text.split(" for ")
                return f"the exchange of {one}s" if one == other else f"the exchange of {one} for {other}"
            case PlanKind.PRESSURE:
                return f"the pressure of {self.text.replace(' at ', ' on ')}"
            case PlanKind.STRUCTURE:
                return f"the structure {self.text}"
        return self.text

    @property
    def steps(self) -> int:
        """How many moves an itinerary has."""
        return self.text.count("–") + self.text.count("x")


class PlanRows(msgspec.Struct, frozen=True):
    """Rows of the core's table, by which plans are traced: (n,) columns, and the rows of each plan.

    An exchange has a row for either side that may take first.
    """

    parents: NDArray[np.uint32]
    codes: NDArray[np.uint32]
    plans: dict[Plan, tuple[int, ...]]


def plans_of(parents: NDArray[np.uint32], codes: NDArray[np.uint32], chosen: Sequence[int]) -> PlanRows:
    """The plans of some rows of a table, with just the rows that they need.

    Args:
        parents: The row before each row.
        codes: What each row is.
        chosen: The rows that are plans.
    """
    needed: set[int] = set()
    for row in chosen:
        at = row
        while at != _NO_ROW and at not in needed:
            needed.add(at)
            at = int(parents[at])
    order = sorted(needed)
    renamed = {row: number for number, row in enumerate(order)}
    texts: dict[int, str] = {}
    found: dict[Plan, tuple[int, ...]] = {}
    for row in order:
        code, parent = int(codes[row]), int(parents[row])
        if code >> 16 == _UNIT:
            texts[row] = _unit(code)
        elif code >> 16 == _STEP:
            texts[row] = texts[parent] + _step(code)
    for row in chosen:
        plan = _plan(row, parents, codes, texts)
        if plan is not None:
            found[plan] = (*found.get(plan, ()), renamed[row])
    return PlanRows(
        np.array([renamed.get(int(parents[row]), _NO_ROW) for row in order], np.uint32),
        codes[order],
        found,
    )


def other_takers(codes: NDArray[np.uint32], rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """The rows of the exchanges among `rows` where the other side takes first, as far as a table has them."""
    exchanges = codes[rows][codes[rows] >> 16 == _EXCHANGE]
    own, other, side = exchanges & 7, exchanges >> 3 & 7, exchanges >> 6 & 1
    turned = np.uint32(_EXCHANGE << 16) | other | own << np.uint32(3) | (side ^ np.uint32(1)) << np.uint32(6)
    return np.flatnonzero(np.isin(codes, turned))


def _plan(
    row: int, parents: NDArray[np.uint32], codes: NDArray[np.uint32], texts: dict[int, str]
) -> Plan | None:
    code = int(codes[row])
    match code >> 16:
        case 1:
            home = row
            while codes[home] >> 16 != _UNIT:
                home = int(parents[home])
            unit = int(codes[home])
            return Plan(PlanKind.ITINERARY, _side(unit >> 9), texts[row], texts[home], bool(unit >> 10 & 1))
        case 2:
            text = f"{SQUARES[code & 63]}–{SQUARES[code >> 6 & 63]}"
            return Plan(PlanKind.BREAK, _side(code >> 12), text)
        case 3:
            return Plan(PlanKind.CASTLING, _side(code >> 1), f"castles {'short' if code & 1 else 'long'}")
        case 4:
            own, other = (PIECE_NAMES[_ROLES[code >> shift & 7]] for shift in (0, 3))
            white, black = (own, other) if _side(code >> 6) is Side.WHITE else (other, own)
            return Plan(PlanKind.EXCHANGE, None, f"{white} for {black}")
        case 5:
            found = catalogue().of_code(code & 0xFFFF)
            assert found is not None  # a skeleton without a name is no structure
            return Plan(PlanKind.STRUCTURE, None, found.words)
        case 6:
            text = f"{number(code >> 6 & 7)} units at {SQUARES[code & 63]}"
            return Plan(PlanKind.PRESSURE, _side(code >> 9), text)
    return None


def _side(code: int) -> Side:
    return Side.BLACK if code & 1 else Side.WHITE


def _unit(code: int) -> str:
    letter = _ROLES[code >> 6 & 7]
    return f"{'' if letter == 'P' else letter}{SQUARES[code & 63]}"


def _step(code: int) -> str:
    promotion = code >> 7 & 7
    became = f"={_ROLES[promotion]}" if promotion else ""
    return f"{'x' if code >> 6 & 1 else '–'}{SQUARES[code & 63]}{became}"


def mirrored_plan(plan: Plan) -> Plan:
    """The same plan with colours reversed.

    >>> mirrored_plan(Plan(PlanKind.ITINERARY, Side.WHITE, "Nf3–e5xg6", "Nf3")).text
    'Nf6–e4xg3'
    """
    if plan.kind is PlanKind.EXCHANGE:
        white, black = plan.text.split(" for ")
        return msgspec.structs.replace(plan, text=f"{black} for {white}")
    if plan.kind is PlanKind.STRUCTURE:
        return msgspec.structs.replace(plan, text=_mirrored_structure(plan.text))
    turn = str.maketrans("12345678", "87654321")
    assert plan.side is not None
    return msgspec.structs.replace(
        plan, side=plan.side.other, text=plan.text.translate(turn), unit=plan.unit.translate(turn)
    )


def _mirrored_structure(words: str) -> str:
    """What a structure is called with colours reversed."""
    name, _, holder = words.partition(" (")
    structure = next(one for one in catalogue().structures if name in (one.name, one.reversed_name))
    side = {"White's)": Holder.BLACK, "Black's)": Holder.WHITE}.get(holder, Holder.BOTH)
    return Recognised(structure, side).words
