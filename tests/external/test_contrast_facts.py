"""Contrasts against `data/known_facts.md`: transpositions, look-alikes, reversals, tempo facts, pairs; common practice, no source."""

from __future__ import annotations

import pytest
from known_facts import facts, named

from variorum.board import DEFAULT_BANDS, Line, Position, Side
from variorum.edition import Place
from variorum.insight.contrast import changed_units
from variorum.insight.contrast_report import Colours, ContrastReport, contrast_report
from variorum.insight.mirror import mirrored_position
from variorum.voices.verdicts import Verdicts


def compared(first: str, second: str, colours: Colours = Colours.KEPT) -> ContrastReport:
    lines = Line.parse(first), Line.parse(second)
    places = [Place(text=str(line), position=line.end, line=line) for line in lines]
    return contrast_report(places[0], places[1], Verdicts(), {}, DEFAULT_BANDS, colours)


@named(facts("T"))
def test_a_transposition_is_the_same_position(fact: list[str]) -> None:
    found = compared(fact[1], fact[2])
    assert found.unit_count == 0
    assert found.sentences[0] == "The first and the second are the same position."
    assert found.tempo is not None
    assert found.tempo.net == 0


@named(facts("N")[:3])
def test_a_look_alike_differs_in_rights_only(fact: list[str]) -> None:
    """FIDE Laws of Chess, article 9.2."""
    found = compared(fact[1], fact[2])
    assert found.unit_count == 0
    assert found.sentences[0] == "The units stand alike in the first and the second."
    assert any("castle" in text or "in passing" in text for text in found.sentences)


@named(facts("R"))
def test_a_reversal_is_a_twin_a_tempo_up(fact: list[str]) -> None:
    found = compared(fact[1], fact[2], Colours.REVERSED)
    assert found.unit_count == 0
    assert found.here.to_move is found.there.to_move is Side.WHITE
    assert found.sentences[1].endswith("White is a tempo up.")
    assert mirrored_position(Line.parse(fact[2]).end).pieces() == Line.parse(fact[1]).end.pieces()


@named(facts("Z")[:9])
def test_a_tempo_fact_is_a_net_tempo(fact: list[str]) -> None:
    found = compared(fact[1], fact[2])
    assert found.unit_count == 0
    assert found.tempo is not None
    assert found.tempo.net == (1 if found.here.to_move is Side.WHITE else -1)


PAIRS = facts("P")


@pytest.mark.parametrize("fact", PAIRS, ids=[row[0] for row in PAIRS])
def test_a_pair_differs_by_one_unit(fact: list[str]) -> None:
    first, second = (Position.from_fen(text) for text in fact[1:] if text.count("/") == 7)
    assert len(changed_units(first, second)) == 1
