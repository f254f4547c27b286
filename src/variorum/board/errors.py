"""What can be wrong with a move, a line or a FEN."""

from __future__ import annotations

import enum

from variorum.base import InputError

__all__ = ["EpdError", "FenError", "MoveError", "MoveReason"]


class MoveReason(enum.StrEnum):
    """Why a token is refused."""

    ILLEGAL = "illegal"
    AMBIGUOUS = "ambiguous"
    NOT_A_MOVE = "not a move"
    MISNUMBERED = "misnumbered"


class MoveError(InputError):
    """A token that is no move where it stands.

    Args:
        token: The token as it was given.
        reason: Why it is refused.
        candidates: In SAN, the moves that an ambiguous token may mean.
        ply: The half-move of the line, from 1; `None` for a single move.
        message: What happened, where the reason alone does not say it.
    """

    def __init__(
        self,
        token: str,
        reason: MoveReason,
        *,
        candidates: tuple[str, ...] = (),
        ply: int | None = None,
        message: str | None = None,
    ) -> None:
        shown = token if len(token) <= 40 else token[:39] + "…"
        if message is None:
            message = f"'{shown}' is {reason.value}"
        remedy = f"it may mean {' or '.join(candidates)}" if candidates else None
        super().__init__(message, remedy=remedy, ply=ply)
        self.token = token
        self.reason = reason
        self.candidates = candidates

    def at_ply(self, ply: int) -> MoveError:
        """The same error with its place in a line."""
        return MoveError(self.token, self.reason, candidates=self.candidates, ply=ply, message=self.message)


class FenError(InputError):
    """A FEN or EPD that cannot be read or describes no legal position."""


class EpdError(InputError):
    """An operation of an EPD record that cannot be read or written."""
