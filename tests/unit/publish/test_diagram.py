from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import chess
import pytest

from variorum.base import UsageError
from variorum.board import Position, Side
from variorum.edition.marks import parse_marks
from variorum.publish import assets
from variorum.publish.diagram import Coordinates, Diagram, describe, draw, standalone_svg, unit_definitions

SVG = "{http://www.w3.org/2000/svg}"
TABIYA = "r1bq1rk1/pp2bppp/2n1p3/3n4/3P4/2NB1N2/PP3PPP/R1BQR1K1 b - - 5 10"


def diagram(fen: str = TABIYA, marks: str = "", **more: object) -> Diagram:
    parsed, errors = parse_marks(marks)
    assert errors == []
    return Diagram(position=Position.from_fen(fen), marks=tuple(parsed), **more)  # type: ignore[arg-type]


def parse(drawn: Diagram, width: int = 400) -> ET.Element:
    return ET.fromstring(standalone_svg(drawn, width))


def test_the_alternative_text_lists_all_units() -> None:
    """Compared with what `chess` has on the board."""
    said = describe(diagram(label="Figure 1. Black to move"))
    head, white, black = re.fullmatch(r"(.*)\. White: (.*)\. Black: (.*)\.", said).groups()  # type: ignore[union-attr]
    assert head == "Figure 1. Black to move"
    board = chess.Board(TABIYA)
    for text, colour in ((white, chess.WHITE), (black, chess.BLACK)):
        expected = {
            f"{chess.piece_name(piece.piece_type)} {chess.square_name(square)}"
            for square, piece in board.piece_map().items()
            if piece.color is colour
        }
        assert set(text.split(", ")) == expected
        assert len(text.split(", ")) == len(expected)
    assert white.startswith("king g1, queen d1, rook a1, rook e1, bishop c1")


def test_units_stand_on_their_squares_from_either_side() -> None:
    for view in Side:
        root = parse(diagram(view=view), 400)
        ground = next(element for element in root.iter(f"{SVG}rect") if element.get("class") == "ground")
        frame, size = 5, (float(ground.get("width", "0")) - 10) / 8
        assert size == int(size)
        found = {}
        for group in root.iter(f"{SVG}g"):
            x, y = map(int, re.match(r"translate\((\d+) (\d+)\)", group.get("transform", "")).groups())  # type: ignore[union-attr]
            column = (x - float(ground.get("x", "0")) - frame) / size
            row = (y - frame) / size
            file, rank = (int(column), 7 - int(row)) if view is Side.WHITE else (7 - int(column), int(row))
            name = group[0].get("href", "").split("-")[1]
            side = group.get("class", "").split()[1]
            found[chess.square(file, rank)] = name if side == "w" else name.lower()
        assert found == {square: piece.symbol() for square, piece in chess.Board(TABIYA).piece_map().items()}


def test_a1_is_dark_and_there_are_32_dark_squares() -> None:
    root = parse(diagram(), 400)
    dark = next(element for element in root.iter(f"{SVG}path") if element.get("class") == "dark").get("d", "")
    corners = re.findall(r"M(\d+) (\d+)h(\d+)", dark)
    assert len(corners) == 32
    size = int(corners[0][2])
    assert (min(int(x) for x, _, _ in corners), max(int(y) for _, y, _ in corners)) in {
        (int(x), int(y)) for x, y, _ in corners
    }, "the square at the lower left, a1, is dark"
    assert size * 8 + 10 <= 400


@pytest.mark.parametrize("width", [80, 180, 259, 260, 299, 300, 419, 520, 4096])
def test_everything_lies_on_whole_pixels_within_the_width(width: int) -> None:
    drawing = draw(diagram(), width, key="x")
    root = ET.fromstring(f"<svg>{drawing.elements}</svg>")
    ground = next(element for element in root.iter("rect") if element.get("class") == "ground")
    assert ground.get("x") == str(drawing.gutter)
    assert drawing.gutter + int(ground.get("width", "")) <= width
    assert width - drawing.gutter - int(ground.get("width", "")) < 8


@pytest.mark.parametrize("width", [79, 4097])
def test_other_widths_are_refused(width: int) -> None:
    with pytest.raises(UsageError, match="80 to 4096 pixels"):
        draw(diagram(), width, key="x")


def test_small_diagrams_have_silhouettes_and_no_coordinates_when_hidden() -> None:
    root = parse(diagram(coordinates=Coordinates.HIDDEN), 180)
    classes = {element.get("class") for element in root.iter()}
    assert "sil" in classes and "line" not in classes and "co" not in classes


def test_marks_are_drawn_each_in_its_form() -> None:
    marks = "ring e5; hole d5!; changed c3; vacated d2!; route f3-e5-d7 a; route d4-d5!"
    root = parse(diagram(marks=marks), 400)
    by_class: dict[str, list[ET.Element]] = {}
    for element in root.iter():
        by_class.setdefault(element.get("class", ""), []).append(element)
    assert len(by_class["mk key"]) == len(by_class["mk hole red"]) == 1
    assert by_class["mk hole red"][0].get("stroke-dasharray", "").startswith("0 ")
    assert by_class["mk changed"][0].get("stroke-dasharray") is None
    assert by_class["mk vacated red"][0].get("stroke-dasharray")
    assert [element.text for element in by_class["ltr"]] == ["a"]
    assert len(by_class["stop"]) == 1 and len(by_class["head"]) == 1 and len(by_class["head red"]) == 1


def test_a_drawing_uses_only_outlines_that_are_defined() -> None:
    defined = set(re.findall(r'id="(unit-[^"]+)"', unit_definitions()))
    assert defined == {f"unit-{letter}-{layer}" for letter in "KQRBNP" for layer in ("body", "line", "solid")}
    for width in (100, 400):
        used = set(re.findall(r'href="#([^"]+)"', draw(diagram(), width, key="x").elements))
        assert used and used <= defined


def test_a_label_cannot_break_out_of_its_attribute() -> None:
    label = '"><script>alert(1)</script>&'
    root = parse(diagram(label=label))
    assert root.find(f"{SVG}title").text.startswith(label)  # type: ignore[union-attr]
    assert not list(root.iter(f"{SVG}script"))


def test_the_style_of_a_standalone_diagram_names_no_variable() -> None:
    style = assets.diagram_style()
    assert "var(" not in style and "v-board" not in style and ".frame-out" in style
    assert "#9c2714" in style


def test_snapshot(snapshot) -> None:  # type: ignore[no-untyped-def]
    marks = "ring e5; hole c4; changed d3; vacated c4!; route f3-e5 a; route d4-d5!"
    svg = standalone_svg(diagram(marks=marks, label="The tabiya"), 300)
    snapshot(re.sub(r"<(path|g|text|rect|use|circle|defs|style)", r"\n<\1", svg), extension="svg")
