"""A small graph of lines that run together, part and meet."""

from __future__ import annotations

from variorum.board import DEFAULT_BANDS, Line
from variorum.edition import Place
from variorum.graph import Teller, grow_graph, lay_traffic
from variorum.graph.grow import TextLine

__all__ = ["told"]

LINES = (
    "e4 c6 d4 d5 exd5 cxd5 c4 Nf6 Nc3 e6 Nf3 Be7",
    "d4 d5 c4 c6 cxd5 cxd5 Nc3 Nf6 e4 e6 exd5 exd5",
    "d4 Nf6 c4 e6 Nf3 d5 Nc3 Be7",
    "d4 d5 c4 e6 Nc3 Nf6 Nf3 Be7 Bg5",
    "d4 d5 c4 e6 Nf3 Nf6 Nc3 Be7 Bf4",
    "c4 e6 d4 d5 Nc3 Nf6 Nf3 c6",
)


def told() -> Teller:
    """The graph of the lines, with what is said of it."""
    start = Line.parse("")
    texts = [TextLine(line.start, line.packed()) for line in map(Line.parse, LINES)]
    graph = grow_graph([start.start], texts=texts)
    root = Place(text="start", position=start.start, line=start, name="start")
    return Teller(graph, lay_traffic(graph), {}, {}, [root], {}, DEFAULT_BANDS)
