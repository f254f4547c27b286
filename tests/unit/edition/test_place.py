"""Names, typed lines and FENs."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.base import InputError
from variorum.board import FenError, MoveError, Position
from variorum.edition import Edition, read_edition, resolve_place
from variorum.edition.place import name_fault
from variorum.edition.reachable import cannot_follow

TEXT = """
title = "IQP"
side = "both"
[roots]
panov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
"Semi Tarrasch" = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5"
ending = "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"
"""


@pytest.fixture
def edition() -> Edition:
    edition, faults = read_edition(Path("edition.toml"), TEXT.encode())
    assert edition is not None and not faults
    return edition


@pytest.mark.parametrize(
    ("text", "line", "name"),
    [
        ("panov", "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4", "panov"),
        ("  semi   TARRASCH ", "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5", "Semi Tarrasch"),
        ("Semi Tarrasch 5.cxd5 Nxd5", "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5", None),
        ("panov Nf6", "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6", None),
        ("e4 c6 d4", "1.e4 c6 2.d4", None),
        ("start", "", "start"),
        ("start 1.e4", "1.e4", None),
        ("ending e4", "1.e4", None),
    ],
)
def test_ways_to_say_a_position(edition: Edition, text: str, line: str, name: str | None) -> None:
    place = resolve_place(edition, text)
    assert place.line is not None
    assert (place.line.san(), place.name) == (line, name)
    assert place.position == place.line.end


def test_fen(edition: Edition) -> None:
    fen = "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"
    assert resolve_place(edition, fen).line is None
    assert resolve_place(edition, fen).position == resolve_place(edition, "ending").position
    assert resolve_place(edition, f"{fen} 1.e4").position.epd == "4k3/8/8/8/4P3/8/8/4K3 b - -"


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("panof", InputError, "did you mean 'panov'?"),
        ("zzz", InputError, "names of this edition: panov, Semi Tarrasch, ending"),
        ("", InputError, "the place is empty"),
        ("1.e4 e5 2.Nf6", MoveError, "ply 3: 'Nf6' is illegal"),
        ("1.xyzzy", MoveError, "ply 1: 'xyzzy' is not a move"),
        ("panov Nxc4", MoveError, "ply 1: 'Nxc4' is illegal"),
        ("8/8/8/8/8/8/8/8 w - -", FenError, "a king is missing"),
    ],
)
def test_what_is_no_place(edition: Edition, text: str, kind: type[InputError], words: str) -> None:
    with pytest.raises(kind) as caught:
        resolve_place(edition, text)
    assert words in str(caught.value)


@given(st.text(max_size=60))
def test_any_text_is_answered(text: str) -> None:
    edition, _ = read_edition(Path("edition.toml"), TEXT.encode())
    assert edition is not None
    try:
        resolve_place(edition, text)
    except InputError as error:
        assert error.message


@pytest.mark.parametrize("name", ["iqp-main", "Semi Tarrasch", "Bb4-lines", "bad", "Größe", "fen", "10 good"])
def test_names(name: str) -> None:
    assert name_fault(name) is None


@pytest.mark.parametrize(
    "name", ["", " ", "a  b", "a\nb", 'a"b', "a{b", "e4", "Nf3+ lines", "O-O", "1.e4 x", "Start", "x" * 81]
)
def test_names_that_would_be_misread(name: str) -> None:
    assert name_fault(name)


@pytest.mark.parametrize(
    ("earlier", "later", "reason"),
    [
        ("8/8/8/4k3/8/8/4P3/4K3 w - - 0 1", "8/8/8/4k3/8/4P3/8/4K3 w - - 0 1", None),
        (
            "8/8/8/4k3/8/4P3/8/4K3 w - - 0 1",
            "8/8/8/4k3/8/8/4P3/4K3 w - - 0 1",
            "a White pawn would have to step back",
        ),
        ("8/4p3/8/4k3/8/8/8/4K3 w - - 0 1", "8/8/4p3/4k3/8/8/8/4K3 w - - 0 1", None),
        (
            "8/8/4p3/4k3/8/8/8/4K3 w - - 0 1",
            "8/4p3/8/4k3/8/8/8/4K3 w - - 0 1",
            "a Black pawn would have to step back",
        ),
        (
            "8/8/8/4k3/8/8/8/4K2R w - - 0 1",
            "8/8/8/4k3/8/8/8/4K2R w K - 0 1",
            "castling rights (K) would have to return",
        ),
        (
            "8/8/8/4k3/8/8/8/4K2R w K - 0 1",
            "8/8/8/4k3/8/8/8/4K1RR w - - 0 1",
            "White has 3 units there and 2 at the root",
        ),
    ],
)
def test_a_sure_no(earlier: str, later: str, reason: str | None) -> None:
    assert cannot_follow(Position.from_fen(earlier), Position.from_fen(later)) == reason


@given(st.lists(st.integers(0, 10_000), max_size=120), st.integers(0, 120))
def test_what_is_played_can_follow(choices: list[int], ply: int) -> None:
    """Every later position of a random game can follow every earlier one: a sure no is never wrong."""
    position = Position.start()
    earlier = position
    for number, choice in enumerate(choices):
        moves = position.legal_moves()
        if not moves:
            break
        position = position.play(moves[choice % len(moves)])
        if number == ply:
            earlier = position
    if ply >= len(choices):
        earlier = Position.start()
    assert cannot_follow(earlier, position) is None
