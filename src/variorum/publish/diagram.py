"""Diagrams as SVG, in the hand of a printed one.

Everything is laid on whole pixels at the width asked for, so that the hatching of the dark squares stays even: draw again
for another width, never scale. `assets/board.js` draws by the same rules in a browser; a test compares the two.

Layers from the ground up: plate and hatching, double frame, coordinates, units each with a paper halo that knocks the
hatching out, bars over the halos, rings and itineraries.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Iterator, Mapping
from html import escape

import msgspec

from variorum.base import UsageError
from variorum.board import Position, Side
from variorum.edition.marks import Mark, MarkKind
from variorum.insight.wording import PIECE_NAMES
from variorum.publish import assets
from variorum.publish.wording import ENGLISH, Wording

__all__ = [
    "Coordinates",
    "Diagram",
    "Drawing",
    "UnitNames",
    "describe",
    "draw",
    "misfit",
    "standalone_svg",
    "unit_definitions",
]

FILES = "abcdefgh"
RANKS = "12345678"
UNIT_ORDER = "KQRBNP"
NARROWEST, WIDEST = 80, 4096
"""Pixels; below the first a square has no room for a unit."""

Point = tuple[float, float]


class Coordinates(enum.Enum):
    """Whether figures and letters stand outside the frame."""

    SHOWN = "shown"
    HIDDEN = "hidden"


class UnitNames(enum.Enum):
    """What units are called in the words for a diagram: `king g1`, or `Kg1` (a pawn by its square alone)."""

    WORDS = "words"
    LETTERS = "letters"


class Diagram(msgspec.Struct, frozen=True, kw_only=True):
    """A position, the marks over it, and the side from which it is seen. `label` begins its alternative text."""

    position: Position
    label: str = "Diagram"
    marks: tuple[Mark, ...] = ()
    view: Side = Side.WHITE
    coordinates: Coordinates = Coordinates.SHOWN


class Drawing(msgspec.Struct, frozen=True):
    """SVG elements in a box of `width` by `height` pixels; the frame begins `gutter` pixels from the left."""

    width: int
    height: int
    gutter: int
    elements: str


def misfit(mark: Mark, position: Position) -> str:
    """Why a mark does not fit a position (its letter is not that of the unit that stands at its beginning), or nothing."""
    held = position.pieces().get(mark.squares[0], "").upper()
    if not mark.unit or mark.unit == held:
        return ""
    there = PIECE_NAMES[held] if held else "nothing"
    return f"route {mark.unit}{'-'.join(mark.squares)}: on {mark.squares[0]} stands {there}"


def describe(diagram: Diagram, words: Wording = ENGLISH, names: UnitNames = UnitNames.WORDS) -> str:
    """The alternative text: label, then all units of both sides.

    >>> drawn = Diagram(position=Position.from_fen("8/8/4k3/8/8/4K3/4P3/8 w - - 0 1"), label="Figure 1")
    >>> describe(drawn)
    'Figure 1. White: king e3, pawn e2. Black: king e6.'
    >>> describe(drawn, names=UnitNames.LETTERS)
    'Figure 1. White: Ke3, e2. Black: Ke6.'
    """
    pieces = diagram.position.pieces()
    letters = dict(zip("KQRBN", words.letters, strict=True)) | {"P": ""}
    called = {unit: f"{name} " for unit, name in words.units.items()} if names is UnitNames.WORDS else letters
    parts = [diagram.label]
    for side, name in ((Side.WHITE, words.white), (Side.BLACK, words.black)):
        own = [
            (UNIT_ORDER.index(letter.upper()), square)
            for square, letter in pieces.items()
            if letter.isupper() is (side is Side.WHITE)
        ]
        said = ", ".join(f"{called[UNIT_ORDER[kind]]}{square}" for kind, square in sorted(own))
        parts.append(f"{name}: {said}")
    return ". ".join(parts) + "."


def unit_definitions() -> str:
    """The outlines of the units as `<path>` elements for a `<defs>`, once for all drawings of a page."""
    return "".join(
        f'<path id="unit-{letter}-{layer}" d="{outline}"/>'
        for letter, layers in assets.unit_outlines().items()
        for layer, outline in layers.items()
    )


def standalone_svg(
    diagram: Diagram, width: int, words: Wording = ENGLISH, ink: assets.Ink = assets.Ink.DAY
) -> str:
    """The diagram as an SVG file of its own.

    Raises:
        UsageError: `width` is not within 80 to 4096 pixels.
    """
    drawing = draw(diagram, width, key="d")
    said = escape(describe(diagram, words))
    height = drawing.height + 2  # the letter g goes below the line
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{drawing.width}" height="{height}"'
        f' viewBox="0 0 {drawing.width} {height}" role="img" aria-labelledby="said">'
        f'<title id="said">{said}</title><style>{assets.diagram_style(ink)}</style>'
        f"<defs>{unit_definitions()}</defs>{drawing.elements}</svg>\n"
    )


def draw(diagram: Diagram, width: int, *, key: str) -> Drawing:
    """The diagram at `width` pixels. `key` keeps the ids of several drawings on one page apart.

    The elements refer to `unit_definitions()` and are coloured by `assets/board.css`.

    Raises:
        UsageError: `width` is not within 80 to 4096 pixels.
    """
    if not NARROWEST <= width <= WIDEST:
        raise UsageError(f"a diagram is {NARROWEST} to {WIDEST} pixels wide, not {width}")
    sheet = _Sheet(diagram, width)
    elements = "".join([*_ground(sheet, key), *_units(sheet), *_bars(sheet), *_marks(sheet)])
    return Drawing(width, sheet.height, round(sheet.left - sheet.frame), elements)


class _Sheet:
    """Measures of one drawing, in pixels; `size` is the side of a square."""

    def __init__(self, diagram: Diagram, width: int) -> None:
        self.diagram = diagram
        self.units: Mapping[str, str] = diagram.position.pieces()
        self.flipped = diagram.view is Side.BLACK
        self.lettered = diagram.coordinates is Coordinates.SHOWN
        self.font = min(13.0, max(8.5, width * 0.028))
        gutter = _round_half_up(self.font * (1.25 if width < 260 else 1.6)) if self.lettered else 0
        self.frame = 3 if width < 300 else 5
        self.size = (width - gutter - 2 * self.frame) // 8
        self.side = 8 * self.size
        self.left = gutter + self.frame
        self.top = self.frame
        self.height = self.side + 2 * self.frame + gutter
        self.tile, self.engraved = (3, 0.55) if width < 260 else (4, 0.7)
        self.stroke = max(1.1, self.size * 0.034)
        self.silhouettes = self.size < 30
        """Squares too small for engraved detail, which would turn White grey."""

    def corner(self, square: str) -> tuple[int, int]:
        """Upper left corner of a square."""
        file, rank = FILES.index(square[0]), RANKS.index(square[1])
        column, row = (7 - file, rank) if self.flipped else (file, 7 - rank)
        return self.left + column * self.size, self.top + row * self.size

    def middle(self, square: str) -> Point:
        """Centre of a square."""
        x, y = self.corner(square)
        return x + self.size / 2, y + self.size / 2

    def shade(self, *, remainder: int) -> str:
        """Path of the 32 squares whose file and rank (each from 0) sum to `remainder` modulo 2: 0 is dark."""
        path = []
        for rank in reversed(RANKS):
            for file in FILES:
                if (FILES.index(file) + RANKS.index(rank)) % 2 == remainder:
                    x, y = self.corner(file + rank)
                    path.append(f"M{x} {y}h{self.size}v{self.size}h-{self.size}z")
        return "".join(path)


def _ground(sheet: _Sheet, key: str) -> Iterator[str]:
    """Plate, hatching of the dark squares (by night of the light ones), double frame, coordinates."""
    left, top, frame, side, tile = sheet.left, sheet.top, sheet.frame, sheet.side, sheet.tile
    yield (
        f'<defs><pattern id="hatch-{key}" patternUnits="userSpaceOnUse" x="{left}" y="{top}" width="{tile}"'
        f' height="{tile}"><path d="M0 {tile}L{tile} 0M-1 1L1 -1M{tile - 1} {tile + 1}L{tile + 1} {tile - 1}"'
        f' stroke-width="{sheet.engraved}"/></pattern></defs>'
    )
    yield _box("ground", left - frame, 0, side + 2 * frame)
    yield f'<path class="dark" d="{sheet.shade(remainder=0)}" fill="url(#hatch-{key})"/>'
    yield f'<path class="light" d="{sheet.shade(remainder=1)}" fill="url(#hatch-{key})"/>'
    yield _box("frame-in", left - 0.5, top - 0.5, side + 1)
    yield _box("frame-out", left - frame + 0.75, 0.75, side + 2 * frame - 1.5)
    if not sheet.lettered:
        return
    size, font = sheet.size, sheet.font
    for index in range(8):
        file, rank = (FILES[7 - index], RANKS[index]) if sheet.flipped else (FILES[index], RANKS[7 - index])
        along = (index + 0.5) * size
        yield _text("co f", file, left + along, sheet.height - font * 0.18, font)
        yield _text("co", rank, left - frame - font * 0.62, top + along + font * 0.33, font)


def _units(sheet: _Sheet) -> Iterator[str]:
    scale = sheet.size / 100
    bold = max(0.0, 1.05 / scale - 3.3)  # outlines never thinner than a pixel
    for square, letter in sorted(sheet.units.items(), key=lambda unit: (-int(unit[0][1]), unit[0])):
        x, y = sheet.corner(square)
        name = letter.upper()
        layers = [_unit("halo", name, "body", max(6, 2.4 / scale))]
        if sheet.silhouettes:
            layers.append(_unit("sil", name, "body", 1 / scale))
        else:
            layers.append(_unit("line", name, "line", bold))
            layers.append(_unit("solid", name, "solid", None))
        side = "w" if letter.isupper() else "b"
        yield f'<g class="unit {side}" transform="translate({x} {y}) scale({_n(scale)})">{"".join(layers)}</g>'


def _bars(sheet: _Sheet) -> Iterator[str]:
    """Bars under changed units, dotted ones under the squares that were left."""
    size, small = sheet.size, sheet.silhouettes
    for mark in sheet.diagram.marks:
        if mark.kind not in (MarkKind.CHANGED, MarkKind.VACATED):
            continue
        x, y = sheet.corner(mark.squares[0])
        thick = 2 if small else max(2.4, size * 0.055)
        path = f"M{_n(x + size * 0.1)} {_n(y + size - thick * (0.5 if small else 0.95))}h{_n(size * 0.8)}"
        dots = f' stroke-dasharray="{_n(thick)} {_n(thick)}"' if mark.kind is MarkKind.VACATED else ""
        yield f'<path class="case" d="{path}" stroke-width="{_n(thick + (1 if small else 1.6))}"/>'
        yield f'<path class="mk {mark.kind.value}{_red(mark)}" d="{path}" stroke-width="{_n(thick)}"{dots}/>'


def _marks(sheet: _Sheet) -> Iterator[str]:
    rings = {mark.squares[0] for mark in sheet.diagram.marks if mark.kind in (MarkKind.RING, MarkKind.HOLE)}
    for mark in sheet.diagram.marks:
        if mark.kind is MarkKind.ITINERARY:
            yield from _itinerary(sheet, mark, ringed=mark.squares[-1] in rings)
        elif mark.kind in (MarkKind.RING, MarkKind.HOLE):
            yield from _ring(sheet, mark)


def _ring(sheet: _Sheet, mark: Mark) -> Iterator[str]:
    """A ring in the middle of an empty square, small in the corner of one that is held; dotted for a hole."""
    square = mark.squares[0]
    held = square in sheet.units
    x, y = sheet.corner(square)
    radius = max(3.0, sheet.size * (0.11 if held else 0.17))
    centre = (x + sheet.size - radius * 1.5, y + radius * 1.5) if held else sheet.middle(square)
    yield _circle("case", centre, radius, sheet.stroke + 3.5)
    if mark.kind is MarkKind.HOLE:
        gap = f"{2 * math.pi * radius / 9:.2f}"
        dots = f' stroke-dasharray="0 {gap}" stroke-linecap="round"'
        yield _circle(f"mk hole{_red(mark)}", centre, radius, sheet.stroke * 1.7, dots)
    else:
        yield _circle(f"mk key{_red(mark)}", centre, radius, sheet.stroke * 1.15)


def _itinerary(sheet: _Sheet, mark: Mark, *, ringed: bool) -> Iterator[str]:
    """A thin line with an open circle at its origin, a dot at each halt and a solid arrowhead."""
    size, stroke, units, red = sheet.size, sheet.stroke, sheet.units, _red(mark)
    stops = [sheet.middle(square) for square in mark.squares]
    held = mark.squares[0] in units
    first, before, last = stops[1], stops[-2], stops[-1]
    origin = _toward(stops[0], first, size * 0.47) if held else stops[0]
    free = size * 0.17 + stroke * 2 if ringed else size * 0.04
    short = size * 0.42 if mark.squares[-1] in units else free
    tip = _toward(last, before, short)
    length = math.dist(tip, before) - (size * 0.47 if len(stops) == 2 and held else 0)
    head = max(4.5, min(max(6, size * 0.24), length * 0.5))
    radius = max(2.0, min(size * 0.075, length * 0.18))
    neck, base = _toward(tip, before, head * 0.8), _toward(tip, before, head)
    start = _toward(origin, first, radius)
    halts = stops[1:-1]
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in (start, *halts, neck))
    across = _toward((0, 0), (tip[0] - neck[0], tip[1] - neck[1]), head * 0.36)
    arrow = (
        f"M{_p(tip)}L{_p((base[0] - across[1], base[1] + across[0]))}"
        f"L{_p(neck)}L{_p((base[0] + across[1], base[1] - across[0]))}z"
    )
    yield f'<path class="case" d="{path}" stroke-width="{_n(stroke + 4)}"/>'
    yield f'<path class="case" d="{arrow}" stroke-width="3"/>'
    yield f'<path class="mk way{red}" d="{path}" stroke-width="{_n(stroke)}"/><path class="head{red}" d="{arrow}"/>'
    yield _circle(f"origin{red}", origin, radius, stroke)
    for halt in halts:
        yield _circle(f"stop{red}", halt, max(1.6, size * 0.05), None)
    if mark.letter:  # beside the middle of the first leg
        end = halts[0] if halts else neck
        leg = math.dist(start, end) or 1
        away = size * 0.2 + 2
        x = (start[0] + end[0]) / 2 + (end[1] - start[1]) / leg * away
        y = (start[1] + end[1]) / 2 - (end[0] - start[0]) / leg * away + size * 0.08
        yield _text(f"ltr{red}", mark.letter, x, y, max(10.0, size * 0.27))


def _toward(a: Point, b: Point, distance: float) -> Point:
    """The point `distance` from `a` on the way to `b`."""
    length = math.dist(a, b)
    return a[0] + (b[0] - a[0]) * distance / length, a[1] + (b[1] - a[1]) * distance / length


def _box(name: str, x: float, y: float, side: float) -> str:
    return f'<rect class="{name}" x="{_n(x)}" y="{_n(y)}" width="{_n(side)}" height="{_n(side)}"/>'


def _text(name: str, text: str, x: float, y: float, size: float) -> str:
    return f'<text class="{name}" font-size="{_n(size)}" x="{_n(x)}" y="{_n(y)}">{text}</text>'


def _circle(name: str, centre: Point, radius: float, stroke: float | None, more: str = "") -> str:
    width = "" if stroke is None else f' stroke-width="{_n(stroke)}"'
    x, y = centre
    return f'<circle class="{name}" cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}"{width}{more}/>'


def _unit(name: str, letter: str, layer: str, stroke: float | None) -> str:
    width = "" if stroke is None else f' stroke-width="{_n(stroke)}"'
    return f'<use class="{name}" href="#unit-{letter}-{layer}"{width}/>'


def _red(mark: Mark) -> str:
    return " red" if mark.rubric else ""


def _p(point: Point) -> str:
    return f"{_n(point[0])} {_n(point[1])}"


def _n(value: float) -> str:
    """A number with at most three decimals."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _round_half_up(value: float) -> int:
    """As `Math.round` of JavaScript, with which the drawing must agree."""
    return math.floor(value + 0.5)
