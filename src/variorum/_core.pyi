"""The compiled core. Private: use the packages above it."""

from typing import final

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Board",
    "MoveFaultError",
    "build_info",
]

def build_info() -> tuple[str, str]:
    """Version and build profile (`release` or `debug`) of the compiled core."""

# board

class MoveFaultError(Exception):
    """A token that is no legal move: args are the reason and the candidates in SAN."""

@final
class Board:
    """A legal position. Equality and hash follow the repetition rule: move counters do not count."""

    @staticmethod
    def start() -> Board:
        """The start position of standard chess."""
    @staticmethod
    def from_fen(fen: str, *, chess960: bool) -> Board:
        """Position of a FEN of four to six fields; `ValueError` says why there is none."""
    @property
    def fen(self) -> str:
        """Six fields."""
    @property
    def epd(self) -> str:
        """Four fields."""
    @property
    def key(self) -> int:
        """Zobrist key, unsigned 64 bit."""
    @property
    def white_to_move(self) -> bool:
        """Whose move it is."""
    @property
    def chess960(self) -> bool:
        """Whether castling is written king takes rook."""
    @property
    def is_check(self) -> bool:
        """Whether the side to move is in check."""
    @property
    def fullmove(self) -> int:
        """Move number."""
    @property
    def halfmove_clock(self) -> int:
        """Plies since the last capture or pawn move."""
    @property
    def outcome(self) -> str | None:
        """Result by mate, stalemate or dead material."""
    def pieces(self) -> list[tuple[str, str]]:
        """Square and letter of each piece."""
    def legal_moves(self) -> list[str]:
        """Legal moves in UCI."""
    def play(self, uci: str) -> Board:
        """After a move or null move; `MoveFaultError` when it is not legal."""
    def parse(self, token: str) -> str:
        """UCI of a leniently read move; `MoveFaultError`."""
    def san(self, uci: str) -> str:
        """SAN of a move; `MoveFaultError`."""
    def uci(self, uci: str) -> str:
        """UCI as this position writes it; `MoveFaultError`."""
    def pack_line(self, ucis: list[str]) -> NDArray[np.uint16]:
        """Moves one after the other, packed; `MoveFaultError`."""
    def unpack_line(self, packed: NDArray[np.uint16]) -> list[str]:
        """UCI of packed moves one after the other; `MoveFaultError`."""
    def replay(self, packed: NDArray[np.uint16]) -> Board:
        """After packed moves; `MoveFaultError`."""
    def __eq__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...
