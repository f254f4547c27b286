"""Games of the resident against itself: seeded, the same on each machine and on any number of threads."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence

import msgspec

from variorum import _core
from variorum.base import Progress
from variorum.board import Line, Position, Score

__all__ = ["Adjudication", "PlayedGame", "Seat", "Variety", "play_games"]


class Seat(msgspec.Struct, frozen=True):
    """How one side plays.

    `nodes` a move; `temperature` is by how many centipawns a move may be worse and still be played half as often as
    the best (0 plays the best).
    """

    nodes: int
    temperature: int = 0


class Variety(msgspec.Struct, frozen=True):
    """How games from one opening are made to differ.

    In the first `plies` after it moves are drawn with `temperature` (centipawns), none that loses more than `margin`.
    """

    plies: int = 6
    temperature: int = 20
    margin: int = 60


class Adjudication(msgspec.Struct, frozen=True):
    """When a game is decided by agreement of both sides' scores.

    On more than `score` centipawns for `plies` in a row, not before ply `earliest`; for a draw, on less than `score`.
    """

    score: int
    plies: int
    earliest: int


class PlayedGame(msgspec.Struct, frozen=True, kw_only=True):
    """A finished game. `scores[i]` is the mover's verdict (White's view) when it chose move `opening_plies + i`.

    `depths[i]` and `nodes[i]` are its effort.
    """

    plan: int
    line: Line
    result: str
    ending: str
    opening_plies: int
    scores: tuple[Score, ...]
    depths: tuple[int, ...]
    nodes: tuple[int, ...]


def play_games(
    openings: Sequence[Line],
    plans: Sequence[tuple[int, Seat, Seat, int]],
    *,
    progress: Progress,
    variety: Variety = Variety(),  # noqa: B008  frozen
    win: Adjudication | None = Adjudication(700, 6, 40),  # noqa: B008
    draw: Adjudication | None = Adjudication(8, 12, 100),  # noqa: B008
    choices: int = 5,
    max_plies: int = 300,
    threads: int | None = None,
    keep: Callable[[list[PlayedGame]], bool] = lambda games: True,
) -> list[PlayedGame]:
    """Play a game for each plan: (index of its opening, White, Black, seed).

    `keep` hears at most ten times a second which games were finished since, often none, and answers whether to go on;
    after a no what is being played is given up.

    Raises:
        Interrupted: The user stopped.
    """
    with progress.task("games", total=len(plans), unit="games") as task:

        def hear(games: _core.PlayedGames) -> bool:
            go_on = keep(_games(games, openings, plans))
            task.advance(len(games.result))
            return go_on

        played = _core.self_play(
            [(line.start._board, [move.uci for move in line.moves]) for line in openings],
            [
                (opening, white.nodes, white.temperature, black.nodes, black.temperature, seed)
                for opening, white, black, seed in plans
            ],
            variety=(variety.plies, variety.temperature, variety.margin),
            choices=choices,
            win=None if win is None else (win.score, win.plies, win.earliest),
            draw=None if draw is None else (draw.score, draw.plies, draw.earliest),
            max_plies=max_plies,
            threads=threads or os.cpu_count() or 1,
            callback=hear,
        )
    return _games(played, openings, plans)


def _games(
    played: _core.PlayedGames, openings: Sequence[Line], plans: Sequence[tuple[int, Seat, Seat, int]]
) -> list[PlayedGame]:
    return [_game(played, index, openings, plans) for index in range(len(played.result))]


def _game(
    played: _core.PlayedGames,
    index: int,
    openings: Sequence[Line],
    plans: Sequence[tuple[int, Seat, Seat, int]],
) -> PlayedGame:
    begin, end = (int(offset) for offset in played.offsets[index : index + 2])
    plan, opening_plies = int(played.plan[index]), int(played.opening_plies[index])
    start: Position = openings[plans[plan][0]].start
    own = range(begin + opening_plies, end)
    return PlayedGame(
        plan=plan,
        line=Line.unpack(played.moves[begin:end], start),
        result=played.result[index],
        ending=played.ending[index],
        opening_plies=opening_plies,
        scores=tuple(
            Score.of_mate(int(played.mate[at])) if played.mate[at] else Score.of_cp(int(played.cp[at]))
            for at in own
        ),
        depths=tuple(int(played.depth[at]) for at in own),
        nodes=tuple(int(played.nodes[at]) for at in own),
    )
