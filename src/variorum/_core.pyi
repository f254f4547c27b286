"""The compiled core. Private: use the packages above it."""

from collections.abc import Callable
from os import PathLike
from typing import final

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "SCAN_FAULTS",
    "Board",
    "Course",
    "GraphBuilder",
    "GraphColumns",
    "GraphCore",
    "KeyCollisionError",
    "ManuscriptColumns",
    "MoveFaultError",
    "OrderCounts",
    "PlanTable",
    "PlayedGames",
    "Resident",
    "ResidentIteration",
    "ResidentLine",
    "ResidentReport",
    "Scan",
    "ScanBatch",
    "ScanBrokenError",
    "ScorePattern",
    "StopFlag",
    "StructureCatalogue",
    "build_info",
    "fingerprints",
    "first_looks",
    "interleavings",
    "manuscript_faults",
    "merge_runs",
    "near_pairs",
    "pressure_on",
    "read_manuscript",
    "read_tags",
    "self_play",
    "square_language",
    "square_languages",
    "square_routes",
    "structure_steps",
    "trail_prints",
    "units_apart",
    "unpack_position",
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
    def attackers(self, square: str, white: bool) -> list[str]:
        """Squares of a side's units that attack a square, pinned ones too; `ValueError` for what is no square."""
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
    """The analyst that Variorum brings along, with a table of `hash_mb` MiB, on `threads` threads. One question at a time."""

    version: str
    """Version of what the resident says: the same version gives the same verdict under a node limit, on one thread."""

    def __new__(cls, hash_mb: int, threads: int = 1) -> Resident: ...
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
    callback: Callable[[PlayedGames], bool] | None = None,
) -> PlayedGames:
    """Games of the resident against itself; they depend on the arguments, but not on `threads`.

    `openings` are positions and moves from them (UCI). A plan is (index of the opening, White's nodes a move, White's
    temperature, Black's nodes, Black's temperature, seed). A temperature is the centipawns by which a move may be worse
    and still be played half as often as the best, among the best `choices`; 0 plays the best. `variety` is (plies after
    the opening, temperature there, greatest loss in centipawns of a move so chosen). `win` and `draw` end a game when
    both sides' scores agree: (centipawns, plies in a row, not before this ply); `None` plays on. `callback` hears at
    most ten times a second which games were finished since it heard last, often none, and answers whether to go on;
    after a no the finished games are returned. `ValueError` for illegal moves and senseless numbers.
    """

# scan

SCAN_FAULTS: list[str]
"""Names of the faults of games, by the numbers of `ScanBatch.fault`; 0 is none."""

class ScanBrokenError(Exception):
    """A stream that cannot be read on: args are the reason and how many (unpacked) bytes came before."""

@final
class ScanBatch:
    """Kept games, one row each in file order, and what was not kept.

    A string column is (offsets, bytes): text `i` is `bytes[offsets[i]:offsets[i + 1]]`, UTF-8.
    """

    @property
    def file_offset(self) -> _U64:
        """Where the text starts in the (unpacked) file."""
    @property
    def file_length(self) -> _U64:
        """Bytes of the text."""
    @property
    def game_number(self) -> _U32:
        """Number in the file, from 1."""
    @property
    def root(self) -> _U16:
        """Index of the first root it reaches."""
    @property
    def root_ply(self) -> _U16:
        """Plies played before that."""
    @property
    def result(self) -> _U8:
        """0 unknown, 1 White won, 2 Black won, 3 drawn."""
    @property
    def date(self) -> _U32:
        """`yyyymmdd`, 0 for what is not known."""
    @property
    def white_elo(self) -> _U16:
        """0 unknown."""
    @property
    def black_elo(self) -> _U16:
        """0 unknown."""
    @property
    def pace(self) -> _U8:
        """0 unknown, 1 classical, 2 rapid, 3 blitz."""
    @property
    def fault(self) -> _U8:
        """Why the moves end early: index into `SCAN_FAULTS`; 0 when they do not."""
    @property
    def fault_ply(self) -> _U16:
        """The ply that could not be read, 0 without a fault."""
    @property
    def fault_line(self) -> _U64:
        """The line of the file, 0 without a fault."""
    @property
    def white(self) -> _Strings:
        """Tag White."""
    @property
    def black(self) -> _Strings:
        """Tag Black."""
    @property
    def event(self) -> _Strings:
        """Tag Event."""
    @property
    def site(self) -> _Strings:
        """Tag Site."""
    @property
    def start_fen(self) -> _Strings:
        """Tag FEN, empty for the normal start."""
    @property
    def text(self) -> _Strings:
        """The whole text of the game."""
    @property
    def moves(self) -> tuple[NDArray[np.int32], _U16]:
        """Offsets (in moves) and packed moves, up to a fault."""
    @property
    def occurrences(self) -> tuple[_U64, _U32, _U16, _U16]:
        """Keys, rows of games, plies and moves played, sorted; from the first root on."""
    @property
    def rejects(self) -> list[tuple[int, int, int, int, str, int, str]]:
        """(offset, length, game number, line, reason, ply, text) of games set aside."""
    @property
    def notes(self) -> list[tuple[int, int, str]]:
        """(offset, length, what) of bytes that belong to no game."""
    @property
    def counts(self) -> dict[str, int]:
        """Of this batch: sections, untagged, kept, passed, aside."""

@final
class Scan:
    """A file being scanned by `threads` threads (0: one a core); what is found depends on neither threads nor blocks.

    `since` and `until` are `yyyymmdd`, `pace` as in a batch; 0 asks for nothing. `OSError` when it cannot be opened.
    """

    def __new__(
        cls,
        path: str | PathLike[str],
        roots: list[Board],
        *,
        min_rating: int = 0,
        since: int = 0,
        until: int = 0,
        pace: int = 0,
        threads: int = 0,
    ) -> Scan: ...
    @property
    def bytes_total(self) -> int:
        """Bytes of the file on disk."""
    def next_batch(self, callback: Callable[[int], object] | None = None) -> ScanBatch | None:
        """The next batch, `None` at the end.

        `callback` hears at most ten times a second, and at the end, how many bytes were read; it may raise to stop.

        `ScanBrokenError` when the stream cannot be read to its end; all before that place was given.
        """

def read_tags(text: str) -> list[tuple[str, str]]:
    """Tag pairs at the start of a game's text, in order, as they stand, unescaped."""

# scores in comments

@final
class ScorePattern:
    """A pattern that reads score, depth and time from the start of a comment; `ValueError` says why it cannot."""

    def __new__(cls, pattern: str) -> ScorePattern: ...
    def read(self, comment: str) -> tuple[int | None, int | None, int | None, float | None] | None:
        """Centipawns, moves to mate (one of the two), depth, seconds; `None` when the comment tells no score."""

# graph

class KeyCollisionError(Exception):
    """Two positions share a key: args are the key and both FENs."""

_Voice = tuple[
    NDArray[np.uint32], NDArray[np.uint64], NDArray[np.uint32], NDArray[np.uint16], NDArray[np.float64]
]
_Values = tuple[
    NDArray[np.float64],
    NDArray[np.uint64],
    NDArray[np.uint32],
    NDArray[np.uint16],
    NDArray[np.uint8],
    NDArray[np.uint8],
]

@final
class GraphCore:
    """Edges, with the arithmetic over them. `ValueError` where columns do not fit together."""

    def __new__(cls, offsets: NDArray[np.uint32], targets: NDArray[np.uint32]) -> GraphCore:
        """The edges of node `n` are `offsets[n]:offsets[n + 1]`; `targets` says where each leads."""
    def arrivals(self, node: int) -> list[tuple[int, int]]:
        """The edges that lead to `node`: the node each comes from, and the edge; ascending."""
    def components(self) -> NDArray[np.uint32]:
        """The strongly connected component of each node; every edge leads to the same or a lower number."""
    def basin(self, target: int) -> NDArray[np.uint32]:
        """Every node from which `target` can be reached, itself included, ascending."""
    def values(
        self,
        moves: NDArray[np.uint16],
        legal: NDArray[np.uint16],
        white: NDArray[np.bool_],
        outcome: NDArray[np.uint8],
        voices: list[_Voice],
    ) -> list[_Values]:
        """Back up each voice's verdicts (methods.md 3).

        `moves` are packed, ascending within a node; `legal` counts each node's legal moves; `outcome` is 0 while the
        game goes on, 1 and 2 where White or Black has mated, 3 where it is drawn. A voice is: nodes with a verdict
        (ascending), their efforts, offsets into its scored moves, those moves, and their E for White.

        For each voice the columns: E for White (NaN when unknown), effort of the deciding leaf, that leaf (2**32 - 1
        for none), the move that leads there, certainty (0 unknown, 1 bound, 2 value), basis (0 nothing, 1 verdict, 2
        rules, 3 repetition).
        """
    def course(self, roots: NDArray[np.uint32]) -> Course:
        """How traffic runs from `roots`."""

@final
class Course:
    """How traffic runs from roots through a graph. Moves that return within a cycle end there."""

    @property
    def depth(self) -> NDArray[np.uint32]:
        """Least plies from a root; 2**32 - 1 where none leads."""
    @property
    def returns(self) -> NDArray[np.bool_]:
        """For each edge whether its traffic ends as a repetition."""
    def flow(
        self, starts: NDArray[np.float64], shares: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """What passes each node and each edge, given what starts at each node and the share each edge takes."""
    def order_counts(self) -> NDArray[np.uint64]:
        """How many orders lead from a root to each node; the greatest number means that many or more."""
    def last_shared(self) -> NDArray[np.uint32]:
        """The last node before each that every order to it passes; 2**32 - 1 for none."""
    def orders_to(
        self,
        target: int,
        since: int | None,
        starts: NDArray[np.float64],
        shares: NDArray[np.float64],
        limit: int,
    ) -> tuple[list[tuple[int, list[int], float]], int]:
        """The heaviest orders to `target` from `since` (or the roots), and how many there are in all.

        Each is its start, its edges, and its weight: the product of its shares, and of what starts at its root.
        """
    def least_worst(self, weights: NDArray[np.float64]) -> NDArray[np.float64]:
        """For each node the least that an order to it can make of the greatest weight it passes; infinite where none leads."""
    def passing(self, target: int) -> NDArray[np.uint64]:
        """How many orders to `target` pass each node; the greatest number means that many or more."""
    def guarantee(
        self,
        own: NDArray[np.bool_],
        takes: NDArray[np.float64],
        leaves: NDArray[np.float64],
        back: list[tuple[int, int]],
    ) -> NDArray[np.float64]:
        """For each node the least that the side which chooses at `own` nodes can make of the greatest take to come.

        At the others its opponent leaves, which takes `takes` (one for each node), or goes on; after that the side may
        leave for what `leaves` says (one for each edge, infinite for never). Or he plays one of the moves `back` (node,
        node).
        """

_Batch = tuple[
    NDArray[np.uint64],
    NDArray[np.uint16],
    NDArray[np.uint16],
    NDArray[np.uint8],
    NDArray[np.uint16],
    list[tuple[int, Board]],
]

@final
class GraphBuilder:
    """Takes in roots, then texts, verdicts and games, and makes the columns of a graph.

    A batch of games is: offsets into its moves, packed moves, plies before each game's root, results (0 unknown, 1 White
    won, 2 Black won, 3 drawn), channels, and (game, start) for games that start elsewhere. `ValueError` for an illegal
    move, `KeyCollisionError` where two positions share a key.
    """

    def __new__(cls, min_games: int, horizon: int, expected: int) -> GraphBuilder:
        """Positions that `min_games` games meet within `horizon` plies of their root; `expected` positions in all."""
    def add_root(self, board: Board) -> None:
        """Add a root."""
    def add_verdict(self, board: Board) -> None:
        """Add the position of a verdict."""
    def add_text(self, start: Board, moves: NDArray[np.uint16], channel: int) -> bool:
        """Add a line of a text, from the first root it passes, else the whole of it; tells whether it passes one."""
    @property
    def counts_first(self) -> bool:
        """Whether all games must go through `count` before `collect`."""
    def count(self, games: _Batch) -> None:
        """First pass over a batch of games."""
    def collect(self, games: _Batch) -> None:
        """Second, or only, pass over a batch of games."""
    def finish(self) -> GraphColumns:
        """Make the graph; the builder is of no use after that."""

@final
class GraphColumns:
    """The columns of a graph: nodes by depth and key, edges by node and packed move. Each is copied when asked for."""

    @property
    def keys(self) -> NDArray[np.uint64]:
        """Key of each node."""
    @property
    def positions(self) -> NDArray[np.uint8]:
        """Packed positions, 32 bytes a node, one after the other."""
    @property
    def flags(self) -> NDArray[np.uint8]:
        """Why each node is here: 1 root, 2 text, 4 verdict, 8 enough games; 16 a text starts here that meets no root."""
    @property
    def legal(self) -> NDArray[np.uint16]:
        """How many legal moves each node has."""
    @property
    def white(self) -> NDArray[np.bool_]:
        """Whether White is to move."""
    @property
    def outcome(self) -> NDArray[np.uint8]:
        """How the rules end the game: 0 not, 1 White has mated, 2 Black has, 3 drawn."""
    @property
    def offsets(self) -> NDArray[np.uint32]:
        """Edges of each node."""
    @property
    def targets(self) -> NDArray[np.uint32]:
        """Node that each edge leads to."""
    @property
    def moves(self) -> NDArray[np.uint16]:
        """Packed move of each edge."""
    @property
    def roots(self) -> NDArray[np.uint32]:
        """The roots, in the order given."""
    @property
    def elsewhere(self) -> NDArray[np.uint32]:
        """Where texts start that meet no root."""
    def node_counts(self) -> tuple[NDArray[np.uint32], NDArray[np.uint16], NDArray[np.uint32]]:
        """Node, channel, and games by result (4 numbers a row) that pass the node, each once."""
    def edge_counts(self) -> tuple[NDArray[np.uint32], NDArray[np.uint16], NDArray[np.uint32]]:
        """Edge, channel, and games by result (4 numbers a row) that take the edge, each once."""
    def off_counts(
        self,
    ) -> tuple[NDArray[np.uint32], NDArray[np.uint16], NDArray[np.uint16], NDArray[np.uint32]]:
        """Node, packed move, channel, and games by result of moves that leave the graph."""
    @property
    def unreached(self) -> tuple[int, int]:
        """Positions that enough games meet, and others, to which no order on the graph leads."""

def interleavings(start: Board, moves: NDArray[np.uint16], limit: int) -> tuple[NDArray[np.uint8], int]:
    """The positions that legal orders of a packed line's moves pass to the same end, packed, and how many orders there are.

    `ValueError` where more than `limit` states are met, or the line is not legal.
    """

def unpack_position(packed: NDArray[np.uint8]) -> Board:
    """The board of 32 packed bytes."""

# near

def near_pairs(
    graph: GraphCore,
    packed: NDArray[np.uint8],
    values: NDArray[np.float64],
    noise: NDArray[np.float64],
    flow: NDArray[np.float64],
    roots: NDArray[np.uint32],
    *,
    node: int | None,
    limit: int,
    callback: Callable[[int, int], bool] | None = None,
) -> tuple[list[tuple[bool, int, int, list[tuple[int, int, float]]]], int, int, int]:
    """Near pairs and reversed twins of a graph, or of one node, in groups of one difference (methods.md 6).

    Columns are by node: packed positions in one row, E for White (NaN unknown), its sigma, share of the traffic; `roots`
    are where openings start. `callback` hears parts done and parts in all, and stops the work by `False`.

    Gives the `limit` most interesting groups (whether of twins, units that differ, pairs, the three best pairs with how
    interesting each is), then how many near pairs, twins and groups there are. `ValueError` where columns do not fit.
    """

def units_apart(board: Board, packed: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """In how many units each packed position differs from the board (methods.md 6), 255 for more than two."""

# structures

@final
class StructureCatalogue:
    """Named pawn skeletons, compiled once."""

    def __new__(cls, entries: list[tuple[str, str, bool]]) -> StructureCatalogue:
        """Compile (words on White's pawns, words on Black's, whether White has it) of each; `ValueError` for bad words."""
    def recognise(self, board: Board) -> tuple[int, int] | None:
        """Index of the structure and whose it is (0 White's, 1 Black's, 2 both sides'), `None` where none is known."""
    def codes(self, packed: NDArray[np.uint8]) -> NDArray[np.uint16]:
        """For packed positions in one row: three times the index plus whose it is, 65535 for none; on all cores."""
    def order(self) -> list[int]:
        """Indices in the order in which structures take precedence."""

def structure_steps(
    course: Course,
    packed: NDArray[np.uint8],
    codes: NDArray[np.uint16],
    moves: NDArray[np.uint16],
    weights: NDArray[np.float64],
) -> list[
    tuple[
        int,
        int,
        tuple[bool, int, int, int, bool],
        tuple[bool, int, int, int, bool] | None,
        tuple[float, float, float] | list[float],
    ]
]:
    """How traffic goes from structure to structure: codes of both, the break, the recapture that follows at once, weights.

    `packed` and `codes` are by node, `moves` by edge, `weights` three numbers by edge, all in one row. A break is: whether White
    plays it, kind of unit (1 pawn to 6 king), file a pawn comes from (8 for others), square it goes to, whether it takes.
    `ValueError` where columns do not fit.
    """

# squares

def square_languages(packed: NDArray[np.uint8]) -> NDArray[np.uint64]:
    """Square language of packed positions in one row: for each White's ten numbers, then Black's (methods.md 8).

    Holes, outposts, isolated, backward and doubled pawns, bad bishops, squares of levers (bits from a1); open and half-open
    files (bits from a); squares of space.
    """

def square_language(board: Board) -> list[list[int]]:
    """The same numbers of one board."""

def square_routes(board: Board, white: bool, targets: int) -> list[tuple[int, int, int, int]]:
    """Knights and bishops of a side that can come to squares: to, in how many moves, kind (2, 3), from; by target and moves."""

# plans

@final
class PlanTable:
    """The plans that games show from one position on, one row each (methods.md 9).

    A row is a code and the row that comes before it (2**32 - 1 for none, and always a smaller number). `code >> 16` is its
    kind; the bits below, from the lowest:

    - 0, a unit: home square 6, role 3, Black 1, put there by castling 1. The rows of its itinerary go on from it; it is
      itself no plan, and its count is 0.
    - 1, a step of an itinerary: square 6, takes something 1, promotion 3 (a role or 0).
    - 2, a break: from 6, to 6, Black 1.
    - 3, castling: short 1, Black 1.
    - 4, an exchange: role given 3, role got 3, and the side that took first: Black 1.
    - 5, a structure: its code in the catalogue 16.
    - 6, pressure on an isolated pawn: its square 6, units that attack it at least 3, Black 1.

    Roles are 1 pawn, 2 knight, 3 bishop, 4 rook, 5 queen, 6 king.
    """

    def __new__(
        cls,
        board: Board,
        horizon: int,
        structures: StructureCatalogue,
        parents: NDArray[np.uint32],
        codes: NDArray[np.uint32],
    ) -> PlanTable:
        """A table of these rows, read over `horizon` plies (1 to 254) after the board. `ValueError` where rows do not fit."""
    def collect(
        self,
        starts: tuple[NDArray[np.int32], NDArray[np.uint8]],
        moves: tuple[NDArray[np.int32], NDArray[np.uint8]],
        rows: NDArray[np.uint32],
        plies: NDArray[np.uint16],
    ) -> None:
        """Add what games show that reach the board after so many plies (which is not verified)."""
    def columns(self) -> tuple[NDArray[np.uint32], NDArray[np.uint32], NDArray[np.uint32]]:
        """Parents, codes, and how many of the games collected show each row."""
    def trace(
        self,
        starts: tuple[NDArray[np.int32], NDArray[np.uint8]],
        moves: tuple[NDArray[np.int32], NDArray[np.uint8]],
        rows: NDArray[np.uint32],
        plies: NDArray[np.uint16],
    ) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
        """For games by rows, the ply (from 1; 0 never) at which each row is first shown; and the plies read of each game."""

def trail_prints(
    starts: tuple[NDArray[np.int32], NDArray[np.uint8]],
    moves: tuple[NDArray[np.int32], NDArray[np.uint8]],
    rows: NDArray[np.uint32],
    plies: NDArray[np.uint16],
    most: int,
) -> NDArray[np.uint64]:
    """A number for the next `most` moves of each game after its ply: games that go on alike have the same one."""

def first_looks(
    board: Board,
    starts: tuple[NDArray[np.int32], NDArray[np.uint8]],
    moves: tuple[NDArray[np.int32], NDArray[np.uint8]],
    rows: NDArray[np.uint32],
    plies: NDArray[np.uint16],
    horizon: int,
    threads: int,
) -> NDArray[np.int16]:
    """For games by plies (the board itself, then `horizon` more), the resident's evaluation once captures have come to rest.

    Centipawns for White, mates near 30,000. Where a game has ended its last position goes on.
    """

def pressure_on(board: Board) -> list[int]:
    """How many units, kings apart, attack each isolated pawn of a board, by square from a1; 0 elsewhere."""
