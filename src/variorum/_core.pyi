"""The compiled core. Private: use the packages above it."""

from collections.abc import Callable
from typing import final

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Board",
    "ManuscriptColumns",
    "MoveFaultError",
    "OrderCounts",
    "PlayedGames",
    "Resident",
    "ResidentIteration",
    "ResidentLine",
    "ResidentReport",
    "ScorePattern",
    "StopFlag",
    "build_info",
    "fingerprints",
    "manuscript_faults",
    "merge_runs",
    "read_manuscript",
    "self_play",
    "verify_hits",
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

# manuscript

@final
class ManuscriptColumns:
    """One array a column, one row a token, tag, game, node, variation or fault; -1 is "none", offsets are bytes."""

    @property
    def token_kind(self) -> NDArray[np.uint8]: ...
    @property
    def token_start(self) -> NDArray[np.uint32]: ...
    @property
    def token_end(self) -> NDArray[np.uint32]: ...
    @property
    def token_value(self) -> NDArray[np.uint16]: ...
    @property
    def token_node(self) -> NDArray[np.int32]: ...
    @property
    def token_variation(self) -> NDArray[np.int32]: ...
    @property
    def tag_token(self) -> NDArray[np.uint32]: ...
    @property
    def tag_name_start(self) -> NDArray[np.uint32]: ...
    @property
    def tag_name_end(self) -> NDArray[np.uint32]: ...
    @property
    def tag_value_start(self) -> NDArray[np.uint32]: ...
    @property
    def tag_value_end(self) -> NDArray[np.uint32]: ...
    @property
    def tag_closed(self) -> NDArray[np.bool_]: ...
    @property
    def game_first_token(self) -> NDArray[np.uint32]: ...
    @property
    def game_tags_start(self) -> NDArray[np.uint32]: ...
    @property
    def game_tags_end(self) -> NDArray[np.uint32]: ...
    @property
    def game_root(self) -> NDArray[np.uint32]: ...
    @property
    def game_start(self) -> NDArray[np.uint8]: ...
    @property
    def game_result(self) -> NDArray[np.uint8]: ...
    @property
    def game_result_token(self) -> NDArray[np.int32]: ...
    @property
    def game_complete(self) -> NDArray[np.bool_]: ...
    @property
    def node_parent(self) -> NDArray[np.int32]: ...
    @property
    def node_token(self) -> NDArray[np.int32]: ...
    @property
    def node_move(self) -> NDArray[np.uint16]: ...
    @property
    def node_ply(self) -> NDArray[np.uint32]: ...
    @property
    def node_variation(self) -> NDArray[np.int32]: ...
    @property
    def node_key(self) -> NDArray[np.uint64]: ...
    @property
    def variation_game(self) -> NDArray[np.uint32]: ...
    @property
    def variation_open(self) -> NDArray[np.uint32]: ...
    @property
    def variation_close(self) -> NDArray[np.int32]: ...
    @property
    def variation_outer(self) -> NDArray[np.int32]: ...
    @property
    def variation_depth(self) -> NDArray[np.uint32]: ...
    @property
    def variation_branch(self) -> NDArray[np.uint32]: ...
    @property
    def fault_kind(self) -> NDArray[np.uint8]: ...
    @property
    def fault_start(self) -> NDArray[np.uint32]: ...
    @property
    def fault_end(self) -> NDArray[np.uint32]: ...
    @property
    def fault_game(self) -> NDArray[np.uint32]: ...
    @property
    def fault_ply(self) -> NDArray[np.uint32]: ...
    @property
    def fault_detail(self) -> list[str]: ...

def read_manuscript(text: bytes) -> ManuscriptColumns:
    """Tokens and tree of a PGN text; `ValueError` when it is 2 GiB or more."""

def manuscript_faults() -> list[tuple[str, bool]]:
    """Code of each kind of fault, and whether it leaves something out, by the numbers of `fault_kind`."""

# resident

@final
class ResidentLine:
    """A line: exactly one of `cp` and `mate` (full moves) is set, for the side to move at the root."""

    @property
    def moves(self) -> list[str]:
        """UCI; empty only when there is no legal move."""
    @property
    def cp(self) -> int | None:
        """Centipawns."""
    @property
    def mate(self) -> int | None:
        """Mate in so many moves; negative when the side to move is mated, 0 when it is mated already."""
    @property
    def depth(self) -> int:
        """The iteration that found it."""

@final
class ResidentIteration:
    """A finished iteration with its best lines, best first."""

    @property
    def depth(self) -> int:
        """Plies."""
    @property
    def nodes(self) -> int:
        """Positions visited since the search began."""
    @property
    def lines(self) -> list[ResidentLine]:
        """Best first."""

@final
class ResidentReport:
    """The answer to one question."""

    @property
    def lines(self) -> list[ResidentLine]:
        """Best first; never empty."""
    @property
    def nodes(self) -> int:
        """Positions visited."""
    @property
    def depth(self) -> int:
        """The deepest finished iteration."""
    @property
    def iterations(self) -> list[ResidentIteration]:
        """All finished iterations."""

@final
class StopFlag:
    """Ends one question from another thread; made for that question only."""

    def __new__(cls) -> StopFlag: ...
    def set(self) -> None:
        """End it soon."""

@final
class Resident:
    """The analyst that Variorum brings along, with a table of `hash_mb` MiB. One question at a time."""

    version: str
    """Version of what the resident says: the same version gives the same verdict under a node limit."""

    def __new__(cls, hash_mb: int) -> Resident: ...
    def analyse(
        self,
        start: Board,
        moves: list[str] = ...,
        *,
        nodes: int | None = None,
        depth: int | None = None,
        seconds: float | None = None,
        multipv: int = 1,
        only: list[str] = ...,
        stop: StopFlag | None = None,
        callback: Callable[[ResidentIteration], bool] | None = None,
    ) -> ResidentReport:
        """What the position after `moves` (UCI) is worth; the moves before it count for repetition.

        The memory is empty at the beginning, so that under `nodes` or `depth` the answer depends on the arguments
        alone. `only` limits the first moves. `callback` hears of iterations at most ten times a second and answers
        whether to go on. After `stop.set()` it answers with what it has; with a flag no limit is needed. `ValueError`
        for an illegal move or a limit of zero.
        """
    def evaluate(self, board: Board) -> int:
        """Static evaluation in centipawns for the side to move."""

# runs

_U8 = NDArray[np.uint8]
_U16 = NDArray[np.uint16]
_U32 = NDArray[np.uint32]
_U64 = NDArray[np.uint64]
_Strings = tuple[NDArray[np.int32], _U8]

def merge_runs(
    chunks: list[tuple[_U64, _U32, _U16, _U16, bool]], live_starts: _U32, live_ends: _U32
) -> tuple[list[int], tuple[_U64, _U32, _U16, _U16]]:
    """Merge parts of sorted runs: (keys, games, plies, moves, whether the run goes on).

    Gives how many rows of each part were used up and the merged columns; rows of games outside the live ranges are
    dropped. At least one part that goes on is used up whole.
    """

def fingerprints(starts: _Strings, moves: _Strings) -> _U64:
    """One fingerprint a game, of start position and first 30 plies; equal for games that can be doubles.

    `moves` holds packed moves, little-endian; a string column is its offsets and its bytes, as in Arrow.
    """

def verify_hits(
    board: Board, starts: _Strings, moves: _Strings, rows: _U32, plies: _U16
) -> NDArray[np.bool_]:
    """Whether game `rows[i]` stands at the position of `board` after `plies[i]` plies, by replay."""

@final
class OrderCounts:
    """Counts, by result (0 unknown, 1 White won, 2 Black won, 3 drawn), the orders of moves that reach a position."""

    def __new__(cls) -> OrderCounts: ...
    def add(self, starts: _Strings, moves: _Strings, rows: _U32, plies: _U16, results: _U8) -> None:
        """Count game `rows[i]` with its first `plies[i]` moves under `results[i]`."""
    def most_frequent(self, limit: int) -> list[tuple[str, bytes, list[int]]]:
        """Start FEN (empty: the normal start), packed moves and counts by result; most frequent first."""
    def __len__(self) -> int: ...

# self-play

@final
class PlayedGames:
    """Columns of the games that were finished, in the order of their plans.

    The moves of game `i` are `moves[offsets[i]:offsets[i + 1]]`, packed as by `Board.pack_line`; columns by move have
    the same length. Moves of the opening have 0 in all of them.
    """

    @property
    def plan(self) -> NDArray[np.uint32]:
        """Index of each game's plan."""
    @property
    def result(self) -> list[str]:
        """`1-0`, `0-1`, `1/2-1/2`, or `*` for a game that grew too long."""
    @property
    def ending(self) -> list[str]:
        """`mate`, `stalemate`, `repetition`, `fifty moves`, `dead position`, `agreed` or `length`."""
    @property
    def opening_plies(self) -> NDArray[np.uint16]:
        """How many moves of each game were given by its opening."""
    @property
    def offsets(self) -> NDArray[np.uint64]:
        """(n_games + 1,) Where each game's moves begin."""
    @property
    def moves(self) -> NDArray[np.uint16]:
        """Packed moves, openings included."""
    @property
    def cp(self) -> NDArray[np.int16]:
        """By move: centipawns, White's view; 0 beside a mate."""
    @property
    def mate(self) -> NDArray[np.int16]:
        """By move: mate in so many full moves, White's view; 0 for none."""
    @property
    def depth(self) -> NDArray[np.uint8]:
        """By move: plies."""
    @property
    def nodes(self) -> NDArray[np.uint32]:
        """By move: positions visited."""

def self_play(
    openings: list[tuple[Board, list[str]]],
    plans: list[tuple[int, int, int, int, int, int]],
    *,
    variety: tuple[int, int, int] = ...,
    choices: int = 5,
    win: tuple[int, int, int] | None = ...,
    draw: tuple[int, int, int] | None = ...,
    max_plies: int = 400,
    threads: int = 1,
    callback: Callable[[int], bool] | None = None,
) -> PlayedGames:
    """Games of the resident against itself; they depend on the arguments, but not on `threads`.

    `openings` are positions and moves from them (UCI). A plan is (index of the opening, White's nodes a move, White's
    temperature, Black's nodes, Black's temperature, seed). A temperature is the centipawns by which a move may be worse
    and still be played half as often as the best, among the best `choices`; 0 plays the best. `variety` is (plies after
    the opening, temperature there, greatest loss in centipawns of a move so chosen). `win` and `draw` end a game when
    both sides' scores agree: (centipawns, plies in a row, not before this ply); `None` plays on. `callback` hears at
    most ten times a second how many games are finished and answers whether to go on; after a no the finished games
    are returned. `ValueError` for illegal moves and senseless numbers.
    """

# scores in comments

@final
class ScorePattern:
    """A pattern that reads score, depth and time from the start of a comment; `ValueError` says why it cannot."""

    def __new__(cls, pattern: str) -> ScorePattern: ...
    def read(self, comment: str) -> tuple[int | None, int | None, int | None, float | None] | None:
        """Centipawns, moves to mate (one of the two), depth, seconds; `None` when the comment tells no score."""
