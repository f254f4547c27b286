"""The line that can be played through on a diagram: what leads to its position, and on as far as the text goes."""

from __future__ import annotations

from collections.abc import Iterable

from variorum.board import Line, Side
from variorum.edition.marks import Mark, MarkKind
from variorum.publish.diagram import Diagram, describe
from variorum.publish.notation import set_line
from variorum.publish.page import PageSetting, Played, Step

__all__ = ["played_on"]


def played_on(own: Line | None, ways: Iterable[Line], setting: PageSetting, view: Side) -> Played | None:
    """A line to be played through on a diagram, `None` where no moves lead to it.

    Args:
        own: The line to the diagram.
        ways: The lines of the text; the longest of those that go on from the diagram is followed.
        setting: Letters and language.
        view: From whose side the diagram is seen.
    """
    if own is None or not own.moves:
        return None
    longer = [way for way in ways if way.start == own.start and way.moves[: len(own)] == own.moves]
    line = max(longer, key=len, default=own)
    positions, texts = line.positions(), set_line(line, setting.letters).split(" ")

    def drawn(at: int) -> Diagram:
        if at == 0:
            return Diagram(position=positions[0], label="", view=view)
        move = Line(positions[at - 1], line.moves[at - 1 : at])
        uci = move.moves[0].uci
        marks = (Mark(MarkKind.ITINERARY, (uci[:2], uci[2:4])),) if uci != "0000" else ()
        return Diagram(position=positions[at], label=set_line(move, setting.letters), marks=marks, view=view)

    start = drawn(0)
    drawings = [drawn(at) for at in range(1, len(line.moves) + 1)]
    said = [describe(one, setting.words) for one in drawings]
    steps = tuple(map(Step, texts, drawings, said))
    return Played(start, describe(start, setting.words).removeprefix(". "), steps, len(own))
