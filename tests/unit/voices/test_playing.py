"""Playouts: legal, ended as they say, the same on any number of workers, by any voice."""

from __future__ import annotations

import itertools
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

import chess
import pytest

from variorum.base import Interrupted, Silent
from variorum.base.settings import VoiceSettings
from variorum.board import Line, Move, Position, Request, Score, Side, Verdict, VerdictLine
from variorum.voices.playing import ending_of, play_playouts
from variorum.voices.playout import Ending, Playout, PlayoutPlan, Recipe, Thought
from variorum.voices.resident import Resident
from variorum.voices.selfplay import Adjudication
from variorum.voices.uci import Patience, UciVoice
from variorum.voices.voice import Voice

FAKE = Path(__file__).parents[2] / "fake_engine.py"
IQP = Line.parse(
    "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"
).end
FAST = Recipe(nodes=60, plies=4, margin=100, longest=80)


class Scripted:
    """A voice of moves by the alphabet from a list of words, with one score."""

    version = "1"

    def __init__(self, name: str, cp: int = 0, best: Callable[[Position], str] | None = None) -> None:
        self.name, self._cp, self._best = name, cp, best
        self.asked: list[Request] = []

    def ask(self, request: Request) -> Verdict:
        self.asked.append(request)
        moves = sorted(move.uci for move in request.position.legal_moves())
        if self._best is not None:
            moves = [self._best(request.position)]
        lines = tuple(VerdictLine((move,), Score.of_cp(self._cp)) for move in moves[: request.multipv])
        return Verdict(
            key=request.position.key,
            epd=request.position.epd,
            voice=self.name,
            version="1",
            lines=lines,
            nodes=request.nodes or 0,
            depth=1,
        )

    def stop(self) -> None:
        pass

    def close(self) -> None:
        pass


def played(
    plans: Sequence[PlayoutPlan], recipe: Recipe, openers: dict[str, Callable[[], Voice]], workers: int = 2
) -> list[Playout]:
    found: list[Playout] = []

    def keep(playout: Playout) -> bool:
        found.append(playout)
        return True

    play_playouts(plans, recipe, openers, workers=workers, deadline=None, progress=Silent(), keep=keep)
    return sorted(found, key=lambda one: one.plan.number)


def plans(count: int, white: str = "resident", black: str = "resident") -> list[PlayoutPlan]:
    return [PlayoutPlan(IQP, number, white, black) for number in range(1, count + 1)]


def holds(playout: Playout, recipe: Recipe) -> None:
    """Replay by an independent library: every move is legal, and the game ended as it says, no earlier."""
    board = chess.Board(playout.plan.start.fen)
    for move in playout.line.moves:
        assert not board.is_game_over(claim_draw=False)
        board.push_uci(move.uci)
    assert len(playout.thoughts) == len(playout.line)
    match playout.ending:
        case Ending.MATE:
            assert board.is_checkmate() and playout.result == board.result()
        case Ending.STALEMATE:
            assert board.is_stalemate()
        case Ending.DEAD_POSITION:
            assert board.is_insufficient_material()
        case Ending.REPETITION:
            assert board.is_repetition(3)
        case Ending.FIFTY_MOVES:
            assert board.halfmove_clock == 100
        case Ending.LENGTH:
            assert len(playout.line) == recipe.longest and playout.result == "*"
        case Ending.AGREED_WIN:
            assert playout.result in ("1-0", "0-1")
    if playout.ending in (
        Ending.STALEMATE,
        Ending.DEAD_POSITION,
        Ending.REPETITION,
        Ending.FIFTY_MOVES,
        Ending.AGREED_DRAW,
    ):
        assert playout.result == "1/2-1/2"


def test_the_resident_against_itself_replays_and_ends_as_it_says() -> None:
    recipe = Recipe(nodes=60, plies=4, margin=100, longest=400)
    to_the_end = Recipe(nodes=60, plies=4, margin=100, longest=400, win=None, draw=None)
    games = [*played(plans(30), recipe, {}), *played(plans(60), to_the_end, {})]
    for game, how in zip(games, [recipe] * 30 + [to_the_end] * 60, strict=True):
        holds(game, how)
    assert {Ending.MATE, Ending.REPETITION, Ending.AGREED_WIN} <= {game.ending for game in games}


def test_the_core_and_the_asking_of_voices_end_games_by_the_same_rules() -> None:
    """What the core played is gone through by the other's rule: it must end there and not before."""
    for recipe in (FAST, Recipe(nodes=60, plies=4, margin=100, longest=300, draw=Adjudication(60, 4, 10))):
        for game in played(plans(30), recipe, {}):
            seen = Counter[Position]()
            for ply, position in enumerate(game.line.positions()):
                seen[position] += 1
                ending = ending_of(position, seen[position], game.thoughts[:ply], recipe)
                assert ending is (game.ending if ply == len(game.line) else None)


def test_games_do_not_depend_on_the_number_of_workers() -> None:
    assert played(plans(8), FAST, {}, workers=1) == played(plans(8), FAST, {}, workers=3)
    fake: dict[str, Callable[[], Voice]] = {
        "resident": lambda: Resident(1),
        "guest": lambda: Scripted("guest", 10),
    }
    mixed = plans(6, "guest", "resident")
    one, three = (played(mixed, FAST, fake, workers=workers) for workers in (1, 3))
    assert one == three
    assert len({game.line.moves for game in one}) == 6
    for game in one:
        holds(game, FAST)


def test_another_seed_draws_other_moves_and_none_beyond_the_margin() -> None:
    def first_moves(recipe: Recipe) -> list[tuple[Move, ...]]:
        return [game.line.moves[:4] for game in played(plans(6), recipe, {})]

    assert first_moves(FAST) == first_moves(FAST)
    assert first_moves(FAST) != first_moves(Recipe(nodes=60, plies=4, margin=100, longest=80, seed=2))
    best_only = Recipe(nodes=60, plies=4, margin=0, longest=4)
    assert len(set(first_moves(best_only))) == 1
    assert len(set(first_moves(Recipe(nodes=60, plies=0, longest=4)))) == 1


def test_a_drawn_move_is_within_the_margin() -> None:
    class Sloping(Scripted):
        def ask(self, request: Request) -> Verdict:
            said = super().ask(request)
            sign = 1 if request.position.turn is Side.WHITE else -1
            lines = (
                VerdictLine(line.moves, Score.of_cp(-20 * sign * n)) for n, line in enumerate(said.lines)
            )
            return Verdict(
                key=said.key, epd=said.epd, voice="x", version="1", lines=tuple(lines), nodes=1, depth=1
            )

    recipe = Recipe(nodes=1, plies=1, margin=40, longest=1, win=None, draw=None)
    games = played(
        [PlayoutPlan(IQP, n, "x", "x") for n in range(1, 300)], recipe, {"x": lambda: Sloping("x")}
    )
    allowed = sorted(move.uci for move in IQP.legal_moves())[:3]
    count = Counter(game.line.moves[0].uci for game in games)
    assert set(count) == set(allowed)
    # Each halved for 20 centipawns: 4 to 2 to 1.
    assert [round(count[move] / 299 * 7) for move in allowed] == [4, 2, 1]


def test_voices_are_told_the_game_and_their_limit() -> None:
    guest = Scripted("guest")
    recipe = Recipe(nodes=0, seconds=0.5, plies=1, longest=3)
    (game,) = played([PlayoutPlan(IQP, 1, "guest", "guest")], recipe, {"guest": lambda: guest}, workers=1)
    assert [(one.multipv, one.seconds, one.nodes) for one in guest.asked] == [
        (5, 0.5, None),
        (1, 0.5, None),
        (1, 0.5, None),
    ]
    assert guest.asked[2].game == Line(IQP, game.line.moves[:2])


# Each ending, from a position where it comes soon. The voice moves as told; scores never agree where nothing is said.
ENDINGS = [
    ("7k/8/6K1/8/8/8/8/1R6 w - - 0 1", ["b1b8"], Ending.MATE, "1-0"),
    ("7k/5K2/8/8/8/8/8/6Q1 w - - 0 1", ["g1g6"], Ending.STALEMATE, "1/2-1/2"),
    ("7k/8/8/8/8/8/4r3/4K3 w - - 0 1", ["e1e2"], Ending.DEAD_POSITION, "1/2-1/2"),
    ("7k/8/8/8/8/8/4R3/4K3 w - - 99 90", ["e2e3"], Ending.FIFTY_MOVES, "1/2-1/2"),
    ("7k/8/8/8/8/8/4R3/4K3 w - - 0 1", ["e2e3", "h8g8", "e3e2", "g8h8"] * 2, Ending.REPETITION, "1/2-1/2"),
    ("7k/8/8/8/8/8/4R3/4K3 w - - 0 1", ["e2e3", "h8g8", "e3e4", "g8f8", "e4e5"], Ending.LENGTH, "*"),
]


@pytest.mark.parametrize(("fen", "moves", "ending", "result"), ENDINGS)
def test_each_ending(fen: str, moves: list[str], ending: Ending, result: str) -> None:
    told = iter(moves)
    recipe = Recipe(nodes=1, plies=0, longest=5 if ending is Ending.LENGTH else 20, win=None, draw=None)
    voice = Scripted("x", 50, lambda position: next(told))
    plan = PlayoutPlan(Position.from_fen(fen), 1, "x", "x")
    (game,) = played([plan], recipe, {"x": lambda: voice}, workers=1)
    assert (game.ending, game.result, len(game.line)) == (ending, result, len(moves))
    holds(game, recipe)


def test_agreements_need_both_sides_and_their_time() -> None:
    recipe = Recipe(win=Adjudication(500, 4, 0), draw=Adjudication(10, 4, 6))

    def at(*scores: int) -> Ending | None:
        return ending_of(IQP, 1, [Thought(Score.of_cp(cp), 1, 1) for cp in scores], recipe)

    assert at(500, 600, 500, 700) is Ending.AGREED_WIN
    assert at(-500, -600, -500, -700) is Ending.AGREED_WIN
    assert at(500, 499, 500, 700) is None
    assert at(500, -600, 500, -600) is None
    assert at(600, 600, 600) is None
    assert at(0, 0, 0, 0, 0) is None
    assert at(0, 0, 10, -10, 0, 5) is Ending.AGREED_DRAW
    assert at(0, 0, 11, -10, 0, 5) is None
    mate = [Thought(Score.of_mate(-3), 1, 1)] * 4
    assert ending_of(IQP, 1, mate, recipe) is Ending.AGREED_WIN


def fake(manner: str) -> Callable[[], Voice]:
    settings = VoiceSettings(command=(sys.executable, str(FAKE), manner), siglum="F")
    patience = Patience(handshake=10, silence=0.3, stopping=0.2)
    return lambda: UciVoice("fake", settings, patience)


def test_a_program_plays_and_knows_what_repeats() -> None:
    recipe = Recipe(nodes=10, plies=2, margin=200, longest=30)
    games = played(
        plans(3, "fake", "resident"), recipe, {"fake": fake("good"), "resident": lambda: Resident(1)}
    )
    assert len(games) == 3
    for game in games:
        holds(game, recipe)
        assert game.thoughts[1].depth == 3


@pytest.mark.parametrize("manner", ["dies", "hangs", "illegal"])
def test_a_program_that_misbehaves_ends_its_game_only(manner: str) -> None:
    turns = itertools.count()

    def now_and_then() -> Voice:
        return fake(manner if next(turns) == 0 else "good")()

    recipe = Recipe(nodes=10, plies=0, longest=4)
    games = played(
        plans(1, "fake", "resident"), recipe, {"fake": now_and_then, "resident": lambda: Resident(1)}
    )
    games += played(
        plans(2, "fake", "resident"), recipe, {"fake": now_and_then, "resident": lambda: Resident(1)}
    )
    broken, *good = games
    assert (broken.ending, broken.result, len(broken.line)) == (Ending.FAULT, "*", 1)
    assert "fake" in broken.fault and "3 tries" in broken.fault
    assert [game.ending for game in good] == [Ending.LENGTH, Ending.LENGTH]


def test_a_move_that_is_not_legal_ends_the_game() -> None:
    voice = Scripted("x", 50, lambda position: "a1a8")
    (game,) = played([PlayoutPlan(IQP, 1, "x", "x")], Recipe(nodes=1, plies=0), {"x": lambda: voice})
    assert game.fault == "x played a1a8, which is no legal move"


def test_the_user_stops_and_a_no_stops() -> None:
    openers: dict[str, Callable[[], Voice]] = {"guest": lambda: Scripted("guest", 300)}
    for who in ("resident", "guest"):
        progress = Silent()
        progress.stop = True
        with pytest.raises(Interrupted):
            play_playouts(
                plans(50, who, who),
                FAST,
                openers,
                workers=2,
                deadline=None,
                progress=progress,
                keep=lambda _: True,
            )
        kept: list[Playout] = []

        def enough(playout: Playout, kept: list[Playout] = kept) -> bool:
            kept.append(playout)
            return len(kept) < 2

        play_playouts(
            plans(20_000, who, who), FAST, openers, workers=2, deadline=None, progress=Silent(), keep=enough
        )
        # The resident hears of a no at most ten times a second, and may have played hundreds by then.
        assert 2 <= len(kept) < 20_000
        kept.clear()
        play_playouts(
            plans(20_000, who, who),
            FAST,
            openers,
            workers=2,
            deadline=time.monotonic(),
            progress=Silent(),
            keep=enough,
        )
        assert len(kept) < 20_000
