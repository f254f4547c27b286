"""Known transpositions become confluences, look-alikes do not: `data/known_facts.md`, sections a and a2.

Their sources stand there: common practice for T1 to T25, FIDE Laws of Chess, article 9.2, for N1 to N3.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from variorum.board import Line, Position
from variorum.graph import TextLine, grow_graph

FACTS = (Path(__file__).parent / "data" / "known_facts.md").read_text(encoding="utf-8")
MERGING = re.findall(r"^- \*\*(T\d+)\*\* [^`]*`([^`]+)` = `([^`]+)` -> `([^`]+)`", FACTS, re.M)
APART = re.findall(r"^- \*\*(N[123])\*\* [^`]*`([^`]+)` and `([^`]+)`", FACTS, re.M)


def test_all_facts_are_read() -> None:
    assert [name for name, *_ in MERGING] == [f"T{number}" for number in range(1, 26)]
    assert [name for name, *_ in APART] == ["N1", "N2", "N3"]


@pytest.mark.parametrize(("name", "one", "two", "epd"), MERGING, ids=[fact[0] for fact in MERGING])
def test_both_orders_lead_to_one_confluence(name: str, one: str, two: str, epd: str) -> None:
    del name
    start = Position.start()
    graph = grow_graph([start], texts=[TextLine(start, Line.parse(line).packed()) for line in (one, two)])
    ends = {graph.node_of(Line.parse(line).end) for line in (one, two)}
    assert ends == {graph.node_of(Position.from_fen(epd))}
    basin = {int(node) for end in ends if end is not None for node in graph.basin(end)}
    merging = [node for node in graph.confluences().tolist() if node in basin]
    assert merging, "somewhere on the way the orders meet"
    passed = [{graph.node_of(position) for position in Line.parse(line).positions()} for line in (one, two)]
    assert any(node in passed[0] & passed[1] for node in merging)


@pytest.mark.parametrize(("name", "one", "two"), APART, ids=[fact[0] for fact in APART])
def test_look_alikes_stay_apart(name: str, one: str, two: str) -> None:
    del name
    start = Position.start()
    graph = grow_graph([start], texts=[TextLine(start, Line.parse(line).packed()) for line in (one, two)])
    ends = [graph.node_of(Line.parse(line).end) for line in (one, two)]
    assert None not in ends
    assert ends[0] != ends[1]
