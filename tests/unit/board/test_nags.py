from __future__ import annotations

from variorum.board import NAGS, NagScope, nag_of_sign


def test_scopes() -> None:
    assert NAGS[0].scope is NagScope.NONE
    assert {NAGS[number].scope for number in range(1, 10)} == {NagScope.MOVE}
    assert {NAGS[number].scope for number in range(106, 130)} == {NagScope.GAME}


def test_signs() -> None:
    assert nag_of_sign("!?") == NAGS[5]
    assert nag_of_sign("+=") == nag_of_sign("⩲") == NAGS[14]
    assert nag_of_sign("=") == NAGS[10]
    assert nag_of_sign("") is None
    assert nag_of_sign("↑") is None  # White's or Black's initiative
    assert str(NAGS[7]) == "$7"
