"""A trial of a voice: does it answer, how fast, and does what it says make sense."""

from __future__ import annotations

from collections.abc import Callable

import chess.engine
import msgspec

from variorum.base import Progress, VoiceError
from variorum.board import Line, Position, Request, Side, Verdict
from variorum.voices.uci import UciVoice
from variorum.voices.voice import Voice

__all__ = ["TrialOption", "TrialQuestion", "TrialReport", "try_voice"]


class TrialOption(msgspec.Struct, frozen=True, kw_only=True):
    """An option that the program offers, what it takes in words, and what your settings say (empty: nothing)."""

    name: str
    takes: str
    set_to: str = ""


class TrialQuestion(msgspec.Struct, frozen=True, kw_only=True):
    """One question of the trial: what was asked, what came back, and whether it makes sense."""

    asked: str
    answer: str
    sound: bool


class TrialReport(msgspec.Struct, frozen=True, kw_only=True):
    """What a voice is and whether it can be relied on; `nodes_per_second` over the whole trial, 0 where it tells none."""

    voice: str
    version: str
    options: tuple[TrialOption, ...]
    questions: tuple[TrialQuestion, ...]
    nodes_per_second: int
    sound: bool


_BACK_RANK = Position.from_fen("6k1/5ppp/8/8/8/8/5PPP/R5K1 w - - 0 1")
_BLACK_QUEEN_UP = Position.from_fen("rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNB1KBNR w KQkq - 0 1")
_FORK = Line.parse("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3 Nc6").end


def try_voice(
    voice: Voice,
    progress: Progress,
    seconds: float = 1.0,
    *,
    answered: Callable[[TrialQuestion], None] = lambda question: None,
) -> TrialReport:
    """Ask a few questions whose answers every sound analyst knows, under limits of time and of nodes.

    `answered` is told of each question when its answer is there.

    Raises:
        VoiceError: It cannot be started.
    """
    options = _options(voice) if isinstance(voice, UciVoice) else ()
    questions: list[TrialQuestion] = []
    nodes, elapsed = 0, 0
    with progress.task("trial", total=len(_QUESTIONS), unit="questions") as task:
        for text, request, judge in _QUESTIONS:
            try:
                verdict = voice.ask(request(voice.name, seconds))
            except VoiceError as fault:
                questions.append(TrialQuestion(asked=text, answer=fault.message, sound=False))
                answered(questions[-1])
                continue
            finally:
                task.advance(1)
            nodes, elapsed = nodes + verdict.nodes, elapsed + verdict.elapsed_ms
            answer = f"{_said(verdict)}, {verdict.nodes:,} nodes, depth {verdict.depth}"
            questions.append(TrialQuestion(asked=text, answer=answer, sound=judge(verdict)))
            answered(questions[-1])
    return TrialReport(
        voice=voice.name,
        version=voice.version,
        options=options,
        questions=tuple(questions),
        nodes_per_second=nodes * 1000 // elapsed if elapsed else 0,
        sound=all(question.sound for question in questions),
    )


def _options(voice: UciVoice) -> tuple[TrialOption, ...]:
    given = {name.casefold(): str(value) for name, value in voice.settings.options.items()}
    return tuple(
        TrialOption(name=option.name, takes=_takes(option), set_to=given.get(option.name.casefold(), ""))
        for option in voice.offered()
    )


def _takes(option: chess.engine.Option) -> str:
    match option.type:
        case "spin":
            return f"{option.min} to {option.max}, else {option.default}"
        case "check":
            return f"true or false, else {str(option.default).lower()}"
        case "combo":
            return f"one of {', '.join(option.var or ())}, else {option.default}"
        case "button":
            return "a button"
    return "a text" + (f", else {option.default}" if option.default else "")


def _said(verdict: Verdict) -> str:
    position = Position.from_fen(verdict.epd)
    return ", ".join(
        f"{Line(position, tuple(position.parse(move) for move in line.moves[:1])).san()} {line.score.pawns_text}"
        for line in verdict.lines
    )


def _several(verdict: Verdict) -> bool:
    return len({line.moves[0] for line in verdict.lines}) == len(verdict.lines) == 3


_QUESTIONS: tuple[tuple[str, Callable[[str, float], Request], Callable[[Verdict], bool]], ...] = (
    (
        "a mate in one, by time",
        lambda name, seconds: Request(position=_BACK_RANK, voice=name, seconds=seconds),
        lambda verdict: verdict.lines[0].moves[0] == "a1a8" and verdict.lines[0].score.mate == 1,
    ),
    (
        "White without a queen stands worse, White to move",
        lambda name, seconds: Request(position=_BLACK_QUEEN_UP, voice=name, seconds=seconds),
        lambda verdict: verdict.lines[0].score.expected() < 10,
    ),
    (
        "the same with colours reversed stands better for White",
        lambda name, seconds: Request(position=_reversed(_BLACK_QUEEN_UP), voice=name, seconds=seconds),
        lambda verdict: verdict.lines[0].score.expected() > 90,
    ),
    (
        "three lines of an opening, by nodes",
        lambda name, _: Request(position=_FORK, voice=name, nodes=100_000, multipv=3),
        _several,
    ),
)


def _reversed(position: Position) -> Position:
    """Colours and the board turned over."""
    placement, _, castling, _ = position.epd.split(" ")
    turned = "/".join(reversed(placement.swapcase().split("/")))
    mover = "b" if position.turn is Side.WHITE else "w"
    return Position.from_fen(f"{turned} {mover} {castling.swapcase()} - 0 1")
