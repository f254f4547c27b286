"""Playing: voices move against each other until a rule, an agreement of their scores or the length ends the game.

The resident against itself under a limit of nodes plays in the core; whoever else plays is asked move by move. Either way
a game depends on its plan, its recipe and its voices alone, not on how many are played at once.
"""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from variorum.base import Interrupted, Progress, VariorumError, VoiceError
from variorum.board import Line, Move, MoveError, Position, Request, Score, Side, VerdictLine
from variorum.voices.crew import Crew
from variorum.voices.playout import Ending, Playout, PlayoutPlan, Recipe, Thought
from variorum.voices.resident import RESIDENT
from variorum.voices.selfplay import Adjudication, PlayedGame, Seat, Variety, play_games
from variorum.voices.voice import Voice

__all__ = ["CHOICES", "ending_of", "play_playouts"]

CHOICES = 5
"""Lines that are weighed where a move is drawn."""

_MATE = 30_000
"""Centipawns that stand for a mate where scores are compared."""


def play_playouts(
    plans: Sequence[PlayoutPlan],
    recipe: Recipe,
    openers: Mapping[str, Callable[[], Voice]],
    *,
    workers: int,
    deadline: float | None,
    progress: Progress,
    keep: Callable[[Playout], bool],
) -> None:
    """Play games, several at a time.

    Args:
        plans: The games; begun in this order.
        recipe: How they are played.
        openers: Opens each voice that plays, once a worker.
        workers: Games at a time.
        deadline: When to stop, a `time.monotonic()` value; games being played then are given up.
        progress: Where to report.
        keep: Called in the calling thread with each finished game, before the next is waited for; answers whether to go
            on, and after a no games being played are given up. A game that a fault ended comes with that fault.

    Raises:
        Interrupted: The user stopped; games given to `keep` are kept.
    """
    if not plans:
        return
    if recipe.nodes and all(plan.white == plan.black == RESIDENT for plan in plans):
        _by_the_core(plans, recipe, workers, deadline, progress, keep)
        return
    names = sorted({name for plan in plans for name in (plan.white, plan.black)})

    def open_voices() -> list[Voice]:
        return [openers[name]() for name in names]

    def act(voices: Sequence[Voice], plan: PlayoutPlan) -> Playout | None:
        return _play(dict(zip(names, voices, strict=True)), plan, recipe, lambda: crew.stopped)

    crew = Crew(plans, open_voices, act, deadline)
    try:
        with progress.task("playouts", total=len(plans), unit="games") as task:
            crew.start(workers)
            for _, playout in crew.results():
                go_on = keep(playout)
                task.advance(1)
                if not go_on:
                    break
    finally:
        crew.close()


def _by_the_core(
    plans: Sequence[PlayoutPlan],
    recipe: Recipe,
    workers: int,
    deadline: float | None,
    progress: Progress,
    keep: Callable[[Playout], bool],
) -> None:
    seat = Seat(recipe.nodes)

    def hear(games: list[PlayedGame]) -> bool:
        wanted = [keep(_playout(plans[game.plan], game)) for game in games]
        return all(wanted) and (deadline is None or time.monotonic() < deadline)

    play_games(
        [Line(plan.start) for plan in plans],
        [(index, seat, seat, plan.seed(recipe)) for index, plan in enumerate(plans)],
        progress=progress,
        variety=Variety(recipe.plies, recipe.temperature, recipe.margin),
        win=recipe.win,
        draw=recipe.draw,
        choices=CHOICES,
        max_plies=recipe.longest,
        threads=workers,
        keep=hear,
    )


def _playout(plan: PlayoutPlan, game: PlayedGame) -> Playout:
    agreed = Ending.AGREED_DRAW if game.result == "1/2-1/2" else Ending.AGREED_WIN
    return Playout(
        plan=plan,
        line=game.line,
        result=game.result,
        ending=agreed if game.ending == "agreed" else Ending(game.ending),
        thoughts=tuple(map(Thought, game.scores, game.nodes, game.depths)),
    )


def _play(
    voices: Mapping[str, Voice], plan: PlayoutPlan, recipe: Recipe, stopped: Callable[[], bool]
) -> Playout | None:
    """One game, asked move by move; `None` when it was stopped."""
    chance = random.Random(plan.seed(recipe))
    here, moves, thoughts = plan.start, list[Move](), list[Thought]()
    seen = Counter([here])
    fault = ""
    while (ending := ending_of(here, seen[here], thoughts, recipe)) is None:
        if stopped():
            return None
        name = plan.player(here.turn)
        drawn = len(moves) < recipe.plies
        request = Request(
            position=here,
            voice=name,
            nodes=recipe.nodes or None,
            seconds=recipe.seconds or None,
            multipv=CHOICES if drawn else 1,
            game=Line(plan.start, tuple(moves)),
        )
        try:
            verdict = voices[name].ask(request)
            line = _drawn(verdict.lines, here.turn, recipe, chance) if drawn else verdict.lines[0]
            move, after = _played(here, line, name)
        except Interrupted:
            return None
        except VariorumError as error:
            ending, fault = Ending.FAULT, error.message
            break
        moves.append(move)
        thoughts.append(Thought(Score(line.score.cp, line.score.mate), verdict.nodes, verdict.depth))
        here = after
        seen[here] += 1
    return Playout(
        plan=plan,
        line=Line(plan.start, tuple(moves)),
        result=_result(ending, here, thoughts),
        ending=ending,
        thoughts=tuple(thoughts),
        fault=fault,
    )


def _played(here: Position, line: VerdictLine, name: str) -> tuple[Move, Position]:
    try:
        move = Move(line.moves[0])
        return move, here.play(move)
    except MoveError:
        raise VoiceError(f"{name} played {line.moves[0]}, which is no legal move") from None


def ending_of(here: Position, times_seen: int, thoughts: Sequence[Thought], recipe: Recipe) -> Ending | None:
    """How a game that has come to a position ends there, `None` while it goes on.

    Args:
        here: The position.
        times_seen: How often it stood on the board in this game, this time included.
        thoughts: One for each move that was played; the last is that of the side that is not to move.
        recipe: What is agreed, and the greatest length.
    """
    match here.outcome:
        case "1-0" | "0-1":
            return Ending.MATE
        case "1/2-1/2":
            return Ending.DEAD_POSITION if here.legal_moves() else Ending.STALEMATE
    if here.halfmove_clock >= 100:
        return Ending.FIFTY_MOVES
    if times_seen >= 3:
        return Ending.REPETITION
    if len(thoughts) >= recipe.longest:
        return Ending.LENGTH
    win, draw = recipe.win, recipe.draw
    if win is not None and (last := _last(thoughts, win)) and max(min(last), -max(last)) >= win.score:
        return Ending.AGREED_WIN
    if draw is not None and (last := _last(thoughts, draw)) and max(map(abs, last)) <= draw.score:
        return Ending.AGREED_DRAW
    return None


def _last(thoughts: Sequence[Thought], rule: Adjudication) -> list[int]:
    """The scores that have to agree; none where it is too early."""
    if len(thoughts) < max(rule.plies, rule.earliest):
        return []
    return [_value(one) for one in thoughts[len(thoughts) - rule.plies :]]


def _value(thought: Thought) -> int:
    """Centipawns for White."""
    score = thought.score
    if score.mate is not None:
        return _MATE if score.mate > 0 else -_MATE
    assert score.cp is not None
    return score.cp


def _result(ending: Ending, here: Position, thoughts: Sequence[Thought]) -> str:
    if ending is Ending.MATE:
        return here.outcome or "*"
    if ending is Ending.AGREED_WIN:
        return "1-0" if _value(thoughts[-1]) > 0 else "0-1"
    return "*" if ending in (Ending.LENGTH, Ending.FAULT) else "1/2-1/2"


def _drawn(lines: Sequence[VerdictLine], side: Side, recipe: Recipe, chance: random.Random) -> VerdictLine:
    """One of the lines, its chance halved for each temperature by which it is worse than the first."""
    values = [_value(Thought(line.score.seen_from(side), 0, 0)) for line in lines]
    worse = [max(0, values[0] - value) for value in values]
    weights = [0 if one > recipe.margin else _halvings(one, recipe.temperature) for one in worse]
    left = chance.randrange(sum(weights))
    for line, weight in zip(lines, weights, strict=True):
        if left < weight:
            return line
        left -= weight
    raise AssertionError("unreachable: the weights add up")


def _halvings(worse: int, temperature: int) -> int:
    """2^40 · 2^(−worse/temperature), between halvings in a straight line; whole numbers, so the same everywhere."""
    whole, part = divmod(worse * 256 // temperature, 256)
    return ((512 - part) << 31) >> whole
