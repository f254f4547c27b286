"""Made-up batches, as the scan gives them: games of random legal moves, played and keyed by the core itself."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from variorum.board import Line, Position


@dataclass
class MadeUpGame:
    line: Line
    white: str = "Aldous, Pia"
    black: str = "Brix, Tor"
    result: int = 1
    date: int = 20240105
    white_elo: int = 2400
    black_elo: int = 2300
    pace: int = 1
    event: str = "Invented Open"
    site: str = "Nowhere"
    start_fen: str = ""


@dataclass
class MadeUpBatch:
    """The columns of `variorum.store.Batch`."""

    occurrences: Any
    moves: Any
    rejects: list[Any] = field(default_factory=list)
    notes: list[Any] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)


def strings(texts: Sequence[str]) -> tuple[Any, Any]:
    encoded = [text.encode() for text in texts]
    offsets = np.cumsum([0, *map(len, encoded)]).astype(np.int32)
    return offsets, np.frombuffer(b"".join(encoded), np.uint8)


def batch_of(
    games: Sequence[MadeUpGame], *, first: int = 1, rejects: Sequence[Any] = (), notes: Sequence[Any] = ()
) -> Any:
    """A batch of games numbered from `first`; every position from the start is an occurrence."""
    packed = [game.line.packed() for game in games]
    rows = []
    for row, (game, moves) in enumerate(zip(games, packed, strict=True)):
        for ply, position in enumerate(game.line.positions()):
            rows.append((position.key, row, ply, int(moves[ply]) if ply < len(moves) else 0))
    rows.sort()
    keys, game_rows, plies, played = zip(*rows, strict=True) if rows else ((), (), (), ())
    made = MadeUpBatch(
        occurrences=(
            np.array(keys, np.uint64),
            np.array(game_rows, np.uint32),
            np.array(plies, np.uint16),
            np.array(played, np.uint16),
        ),
        moves=(
            np.cumsum([0, *map(len, packed)]).astype(np.int32),
            np.concatenate([*packed, np.zeros(0, np.uint16)]),
        ),
        rejects=list(rejects),
        notes=list(notes),
        counts={
            "sections": len(games) + len(rejects),
            "untagged": 0,
            "kept": len(games),
            "passed": 0,
            "aside": len(rejects),
        },
    )
    texts = [f'[White "{game.white}"]\n\n{game.line.san()} *\n' for game in games]
    lengths = [len(text.encode()) for text in texts]
    for name, values, kind in (
        ("file_offset", np.cumsum([0, *lengths])[:-1], np.uint64),
        ("file_length", lengths, np.uint64),
        ("game_number", range(first, first + len(games)), np.uint32),
        ("root", [0] * len(games), np.uint16),
        ("root_ply", [0] * len(games), np.uint16),
        ("result", [game.result for game in games], np.uint8),
        ("date", [game.date for game in games], np.uint32),
        ("white_elo", [game.white_elo for game in games], np.uint16),
        ("black_elo", [game.black_elo for game in games], np.uint16),
        ("pace", [game.pace for game in games], np.uint8),
        ("fault", [0] * len(games), np.uint8),
        ("fault_ply", [0] * len(games), np.uint16),
        ("fault_line", [0] * len(games), np.uint64),
    ):
        setattr(made, name, np.array(list(values), kind))
    for name in ("white", "black", "event", "site", "start_fen"):
        setattr(made, name, strings([getattr(game, name) for game in games]))
    made.text = strings(texts)
    return made


def random_games(count: int, seed: int = 1, *, plies: int = 40) -> list[MadeUpGame]:
    """Games of random legal moves; few first moves, so that positions are shared."""
    chance = random.Random(seed)
    games = []
    for number in range(count):
        position, moves = Position.start(), []
        for ply in range(chance.randrange(plies // 2, plies)):
            legal = sorted(position.legal_moves())
            if not legal or position.outcome:
                break
            move = chance.choice(legal[:3] if ply < 6 else legal)
            moves.append(move)
            position = position.play(move)
        games.append(
            MadeUpGame(
                Line(Position.start(), tuple(moves)),
                white=f"White{number}, Ina",
                black=f"Black{number}, Ole",
                result=chance.randrange(4),
                date=20200101 + chance.randrange(28),
                white_elo=chance.choice([0, 2200, 2500]),
                black_elo=chance.choice([0, 2300, 2450]),
                pace=chance.randrange(4),
            )
        )
    return games


def sift_in(
    store: Any,
    source: str,
    games: Sequence[MadeUpGame],
    *,
    key: str = "k",
    kind: str = "practice",
    voice: str = "",
    size: int = 50,
) -> None:
    """Sift games into a store, `size` a batch, and settle."""
    sift = store.begin_sift(source, key, kind=kind, voice=voice)
    for begin in range(0, len(games), size):
        sift.add_batch(batch_of(games[begin : begin + size], first=begin + 1))
    sift.finish()
    store.settle()
