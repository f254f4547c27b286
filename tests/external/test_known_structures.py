"""Every pawn structure of the published facts is recognised, in either colour."""

from __future__ import annotations

from known_facts import facts, named

from variorum.board import Position
from variorum.insight.mirror import mirrored_position
from variorum.insight.structures import structure_of

NAMES = {
    "S1": ("Carlsbad", "white"),
    "S2": ("isolated queen's pawn", "white"),
    "S3": ("isolated queen's pawn", "black"),
    "S4": ("hanging pawns", "black"),
    "S5": ("Maroczy bind", "white"),
    "S6": ("Hedgehog", "black"),
    "S7": ("Stonewall", "black"),
    "S8": ("French Advance chain", "white"),
    "S9": ("Modern Benoni", "black"),
    "S10": ("Czech Benoni", "black"),
    "S11": ("King's Indian closed centre", "black"),
    "S12": ("Scheveningen", "black"),
    "S13": ("Boleslavsky hole", "black"),
    "S14": ("Dragon", "black"),
    "S15": ("Caro-Kann Exchange", "black"),
    "S16": ("Slav Exchange", "both"),
    "S17": ("Caro-Kann", "black"),
    "S18": ("French Exchange", "both"),
    "S19": ("Grünfeld Exchange centre", "white"),
    "S20": ("doubled c-pawns", "white"),
    "S21": ("Winawer", "white"),
    "S22": ("Berlin ending majority", "white"),
    "S23": ("Spanish Exchange majority", "white"),
    "S24": ("Closed Spanish", "white"),
    "S25": ("Botvinnik set-up", "white"),
    "S26": ("Semi-Slav triangle", "black"),
}
"""Our name of each, and whose it is: the side that the fact's own name speaks of; common practice, no source."""

FACTS = facts("S")


def test_all_facts_have_a_name_here() -> None:
    assert [fact[0] for fact in FACTS] == list(NAMES)


@named(FACTS)
def test_structure_is_recognised(fact: list[str]) -> None:
    position = Position.from_fen(fact[2])
    found = structure_of(position)
    assert found is not None
    assert (found.name, found.holder.value) == NAMES[fact[0]]


@named(FACTS)
def test_structure_is_recognised_with_colours_reversed(fact: list[str]) -> None:
    found = structure_of(mirrored_position(Position.from_fen(fact[2])))
    assert found is not None
    name, holder = NAMES[fact[0]]
    other = {"white": "black", "black": "white", "both": "both"}
    assert (found.structure.name, found.holder.value) == (name, other[holder])
