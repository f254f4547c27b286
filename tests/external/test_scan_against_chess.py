"""Kept games against a full replay with PyPI `chess` (the independent reference): no rule of giving up is too hasty.

5,000 seeded games are played with `chess`, many captures and promotions among them, from the normal start position, from
FENs and from Chess960 start positions; 60 roots are positions of these games at plies 4 to 40, among them some behind
promotions and without castling rights. What the scan keeps must be what the replay says, game for game.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import chess
import numpy as np
import pytest

from variorum._core import ScanBatch
from variorum.base import Silent
from variorum.board import Position
from variorum.sources.scan import ScanFilter, scan_file

GAMES = 5_000
ROOTS = 60

FENS = [
    # Pawns about to promote on both sides.
    "1n2k3/P1P3pp/8/8/8/8/p1p3PP/1N2K3 w - - 0 1",
    "4k2r/PPP2ppp/8/8/8/8/ppp2PPP/4K2R w Kk - 0 1",
    # An isolated queen's pawn, Black to move; White has lost the right to castle short.
    "r1bq1rk1/pp2bppp/2n1pn2/8/3P4/2N2N2/PP2BPPP/R1BQ1RK1 b - - 0 10",
    # Rights of all kinds, en passant possible.
    "r3k2r/pp3ppp/2n5/3pP3/3P4/2N5/PP3PPP/R3K2R w KQkq d6 0 12",
]
# Both sides' usual moves of an isolated queen's pawn opening: dealt in any legal order, so that games transpose.
WHITE = ["e4", "d4", "c4", "Nc3", "Nf3", "exd5", "cxd5", "Bd3", "O-O"]
BLACK = ["c6", "d5", "Nf6", "e6", "cxd5", "Nxd5", "exd5", "Be7", "O-O", "Nc6"]


class Game(NamedTuple):
    text: str
    places: list[int]
    """What each position from the start on is (`place`)."""
    fens: list[str]
    chess960: bool
    promoted: int
    """Plies before the first position behind a promotion; beyond the end when there is none."""


def place(board: chess.Board) -> int:
    """The position by the repetition rule (FIDE Laws, article 9.2), as a number."""
    en_passant = board.ep_square if board.has_legal_en_passant() else None
    men = (board.pawns, board.knights, board.bishops, board.rooks, board.queens, board.kings)
    return hash((*men, board.occupied_co[chess.WHITE], board.turn, board.clean_castling_rights(), en_passant))


def start_board(number: int, dice: random.Random) -> chess.Board:
    if number % 8 == 0:
        return chess.Board(dice.choice(FENS))
    if number % 8 == 1:
        return chess.Board.from_chess960_pos(dice.choice([0, 518, 959, dice.randrange(960)]))
    return chess.Board()


def usual_move(board: chess.Board, dice: random.Random) -> chess.Move | None:
    for san in dice.sample(WHITE if board.turn else BLACK, 5):
        try:
            return board.parse_san(san)
        except ValueError:
            continue
    return None


def lively_move(board: chess.Board, dice: random.Random) -> chess.Move | None:
    moves = list(board.legal_moves)
    if not moves:
        return None
    choice = dice.random()
    if choice < 0.15:
        moves = [move for move in moves if move.promotion] or moves
    elif choice < 0.35:
        moves = [move for move in moves if board.is_capture(move)] or moves
    elif choice < 0.5:
        moves = [move for move in moves if board.piece_type_at(move.from_square) == chess.PAWN] or moves
    return dice.choice(moves)


def play(number: int, dice: random.Random) -> Game:
    board = start_board(number, dice)
    start = board.fen()
    tags = f'[Event "Game {number}"]\n[Result "*"]\n'
    if board.chess960:
        tags += f'[Variant "Chess960"]\n[SetUp "1"]\n[FEN "{start}"]\n'
    elif start != chess.STARTING_FEN:
        tags += f'[SetUp "1"]\n[FEN "{start}"]\n'
    usual = dice.randrange(4, 18) if start == chess.STARTING_FEN else 0
    sans: list[str] = []
    places, fens = [place(board)], [start]
    length = dice.randrange(12, 60)
    promoted = length + 1
    for ply in range(length):
        move = usual_move(board, dice) if ply < usual else None
        move = move or lively_move(board, dice)
        if move is None:
            break
        if board.turn or ply == 0:
            sans.append(f"{board.fullmove_number}{'.' if board.turn else '...'}")
        sans.append(board.san(move))
        board.push(move)
        if move.promotion:
            promoted = min(promoted, ply + 1)
        places.append(place(board))
        fens.append(board.fen())
    return Game(f"{tags}\n{' '.join(sans)} *\n\n", places, fens, board.chess960, promoted)


def choose_roots(games: Sequence[Game], dice: random.Random) -> list[tuple[int, Position]]:
    """Positions of games at plies 4 to 40, each as `place` and as ours."""
    longest = 40
    kinds = [
        lambda game, ply: True,
        lambda game, ply: ply >= game.promoted,
        lambda game, ply: game.fens[ply].split()[2] == "-",
        lambda game, ply: game.chess960,
        lambda game, ply: game.fens[0] in FENS,
    ]
    roots: dict[int, Position] = {}
    while len(roots) < ROOTS:
        wanted = kinds[len(roots) % len(kinds)]
        game = dice.choice(games)
        last = min(longest, len(game.places) - 1)
        ply = dice.randint(4, last) if last >= 4 else 0
        # Half of the plain roots are shallow, so that many games reach them.
        if len(roots) % 10 == 0:
            ply = min(ply, dice.randint(4, 6))
        if ply >= 4 and wanted(game, ply):
            roots.setdefault(game.places[ply], Position.from_fen(game.fens[ply], chess960=game.chess960))
    return list(roots.items())


@pytest.fixture(scope="module")
def games() -> list[Game]:
    dice = random.Random(20)
    return [play(number, dice) for number in range(GAMES)]


def scan(path: Path, roots: Sequence[Position]) -> Iterator[ScanBatch]:
    return scan_file(path, roots, ScanFilter(), Silent(), name=path.name)


def kept_by(batches: Iterator[ScanBatch]) -> list[tuple[int, int, int]]:
    """Number of the game, ply and number of the root."""
    kept = []
    for batch in batches:
        assert batch.counts["aside"] == 0
        kept += zip(batch.game_number.tolist(), batch.root_ply.tolist(), batch.root.tolist(), strict=True)
    return kept


def replayed(games: Sequence[Game], roots: Sequence[int]) -> list[tuple[int, int, int]]:
    numbers = {root: number for number, root in enumerate(roots)}
    kept = []
    for number, game in enumerate(games, start=1):
        for ply, here in enumerate(game.places):
            if here in numbers:
                kept.append((number, ply, numbers[here]))
                break
    return kept


def test_kept_games_are_those_of_a_full_replay(games: list[Game], tmp_path: Path) -> None:
    path = tmp_path / "games.pgn"
    path.write_text("".join(game.text for game in games), encoding="ascii")
    roots = choose_roots(games, random.Random(7))
    plies = {game.places.index(root) for root, _ in roots for game in games if root in game.places}
    assert min(plies) <= 6
    assert max(plies) >= 35

    together = kept_by(scan(path, [position for _, position in roots]))
    assert together == replayed(games, [root for root, _ in roots])
    assert len(together) >= 2 * ROOTS

    # One root at a time as well: then nothing is kept alive by another root.
    for root, position in roots:
        alone = kept_by(scan(path, [position]))
        assert alone == replayed(games, [root])
        assert alone


def test_columns_of_kept_games_are_those_of_a_full_replay(games: list[Game], tmp_path: Path) -> None:
    sample = games[:300]
    path = tmp_path / "games.pgn"
    path.write_text("".join(game.text for game in sample), encoding="ascii")
    starts = {game.fens[0]: Position.from_fen(game.fens[0], chess960=game.chess960) for game in sample}
    rows = 0
    for batch in scan(path, list(starts.values())):
        ends, moves = batch.moves
        keys, game_rows, plies, played = batch.occurrences
        assert np.all(keys[:-1] <= keys[1:])
        for row, number in enumerate(batch.game_number.tolist()):
            game = sample[number - 1]
            line = moves[ends[row] : ends[row + 1]]
            mine = game_rows == row
            order = np.argsort(plies[mine])
            positions = [Position.from_fen(fen, chess960=game.chess960) for fen in game.fens]
            assert keys[mine][order].tolist() == [position.key for position in positions]
            assert plies[mine][order].tolist() == list(range(len(positions)))
            assert played[mine][order].tolist() == [*line.tolist(), 0]
            assert starts[game.fens[0]].replay(line).fen == positions[-1].fen
            rows += 1
    assert rows == len(sample)
