"""UCI programs as voices, tried on programs of the tests that behave well or badly."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest

from variorum.base import Interrupted, Silent, VoiceError
from variorum.base.settings import VoiceSettings
from variorum.board import Line, Position, Request
from variorum.voices.uci import Patience, UciVoice
from variorum.voices.verdict_files import append_verdicts, read_verdicts
from variorum.voices.voice import Budget, ask_all

FAKE = str(Path(__file__).parents[2] / "fake_engine.py")
TABIYA = Line.parse("1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3").end
QUICK = Patience(handshake=10, silence=0.5, stopping=0.5)

Open = Callable[..., UciVoice]


@pytest.fixture
def opened() -> Iterator[Open]:
    """Opens a voice that behaves as said; all are closed at the end."""
    with ExitStack() as stack:

        def open_voice(manner: str, **options: str | int | bool) -> UciVoice:
            settings = VoiceSettings(command=(sys.executable, FAKE, manner), options=options)
            voice = UciVoice("analyst", settings, QUICK)
            stack.callback(voice.close)
            return voice

        yield open_voice


def asked(position: Position = TABIYA, **limits: int | float) -> Request:
    return Request(position=position, voice="analyst", **({"nodes": 1000} | limits))  # type: ignore[arg-type]


def test_a_verdict(opened: Open) -> None:
    verdict = opened("well").ask(asked(multipv=2))
    assert (verdict.voice, verdict.version, verdict.depth, verdict.nodes) == ("analyst", "Fake 7", 3, 3000)
    assert [line.moves for line in verdict.lines] == [("a7a5",), ("a7a6",)]
    assert [line.score.cp for line in verdict.lines] == [-290, -280], "White's view; Black is to move"
    assert [(one.depth, one.nodes, one.move) for one in verdict.iterations] == [
        (depth, 1000 * depth, "a7a5") for depth in (1, 2, 3)
    ]
    assert verdict.threads == 1, "one thread unless the user says otherwise"


def test_more_lines_than_it_can_give(opened: Open) -> None:
    assert len(opened("well").ask(asked(multipv=9)).lines) == 5


def test_a_mind_changed_after_the_last_whole_iteration(opened: Open) -> None:
    verdict = opened("changes").ask(asked(multipv=2))
    assert [(line.moves[0], line.score.cp) for line in verdict.lines] == [("a7a6", -450), ("a7a5", -290)]


def test_odds_are_read_and_kept(opened: Open, tmp_path: Path) -> None:
    verdict = opened("odds").ask(asked(multipv=2))
    assert verdict.lines[0].score.wdl == (200, 500, 300)
    assert verdict.lines[0].score.expected() == 45.0
    append_verdicts(tmp_path / "analyst.epd", [verdict])
    assert read_verdicts(tmp_path / "analyst.epd").verdicts == [verdict]


def test_another_castling_position(opened: Open) -> None:
    start = Position.from_fen("bqnrkbrn/pppppppp/8/8/8/8/PPPPPPPP/BQNRKBRN w KQkq - 0 1", chess960=True)
    assert opened("well").ask(asked(start)).lines[0].moves == ("a2a3",)


@pytest.mark.parametrize(
    ("manner", "said"),
    [
        ("dies", "ended in the middle of a search (3 tries)"),
        ("hangs", "fell silent in "),
        ("floods", "floods its output (3 tries)"),
        ("illegal", "answered with 'bestmove a1a8', which is no legal move (3 tries)"),
        ("mute", "gave no line with a score in "),
    ],
)
def test_misbehaviour_is_a_fault_of_one_question(opened: Open, manner: str, said: str) -> None:
    with pytest.raises(VoiceError) as caught:
        opened(manner).ask(asked())
    assert said in caught.value.message


def test_nonsense_between_the_lines_is_passed_over(opened: Open) -> None:
    assert opened("babbles").ask(asked()).lines[0].moves == ("a7a5",)


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (("/no/such/program",), "cannot be started: /no/such/program: no such file"),
        ((FAKE,), "cannot be started: "),
        ((sys.executable, "-c", "pass"), "is no UCI program"),
    ],
)
def test_what_cannot_be_started(command: tuple[str, ...], said: str) -> None:
    voice = UciVoice("analyst", VoiceSettings(command=command), QUICK)
    try:
        with pytest.raises(VoiceError, match=said):
            voice.ask(asked())
    finally:
        voice.close()


def test_a_greeting_without_answer() -> None:
    settings = VoiceSettings(command=(sys.executable, FAKE, "silent"))
    voice = UciVoice("analyst", settings, Patience(handshake=0.3))
    try:
        with pytest.raises(VoiceError, match="does not answer when greeted"):
            voice.ask(asked())
    finally:
        voice.close()


@pytest.mark.parametrize(
    ("options", "said", "remedy"),
    [
        ({"Stile": "wild"}, "has no option 'Stile'", "did you mean 'Style'?"),
        ({"Style": "rude"}, "does not take its options", "see what it offers"),
        ({"Threads": 500}, "does not take its options", "see what it offers"),
    ],
)
def test_options_it_does_not_know(
    opened: Open, options: dict[str, str | int | bool], said: str, remedy: str
) -> None:
    with pytest.raises(VoiceError, match=said) as caught:
        opened("well", **options).ask(asked())
    assert remedy in str(caught.value.remedy)


def test_stop_from_another_thread(opened: Open) -> None:
    voice = UciVoice("analyst", VoiceSettings(command=(sys.executable, FAKE, "hangs")), Patience(silence=60))
    try:
        timer = threading.Timer(0.7, voice.stop)
        timer.start()
        begun = time.monotonic()
        with pytest.raises(Interrupted):
            voice.ask(asked())
        assert time.monotonic() - begun < 30
        timer.join()
    finally:
        voice.close()
    del opened


def test_stop_between_two_tries(opened: Open, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no task runs that could be cancelled, the stop must be heard all the same."""
    voice = opened("dies")
    run = voice._run

    def run_and_stop(work: Any) -> Any:
        try:
            return run(work)
        finally:
            voice.stop()

    monkeypatch.setattr(voice, "_run", run_and_stop)
    with pytest.raises(Interrupted):
        voice.ask(asked())


def test_many_positions_by_several_programs(opened: Open) -> None:
    positions = Line.parse("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3 Nc6").positions()
    kept: list[int] = []
    answers = ask_all(
        [asked(position) for position in positions],
        lambda: opened("well"),
        workers=2,
        budget=Budget(),
        keep=lambda verdict: kept.append(verdict.key),
        progress=Silent(),
    )
    assert all(answer.verdict for answer in answers)
    assert sorted(kept) == sorted(position.key for position in positions)
