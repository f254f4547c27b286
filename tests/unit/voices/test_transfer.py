"""Verdicts out of one edition and into another."""

from __future__ import annotations

import tempfile
from pathlib import Path

import chess
import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_verdicts import PANOV, verdicts

from variorum.base import InputError
from variorum.board import Position, Score, Verdict, VerdictLine
from variorum.voices.transfer import export_verdicts, import_verdicts
from variorum.voices.verdict_files import append_verdicts, read_verdicts, verdict_path


def say(voice: str, cp: int, version: str = "1", position: Position = PANOV.end) -> Verdict:
    line = VerdictLine((position.legal_moves()[0].uci,), Score.of_cp(cp))
    return Verdict(
        key=position.key, epd=position.epd, voice=voice, version=version, lines=(line,), nodes=1000, depth=5
    )


def everything(folder: Path) -> list[Verdict]:
    return [verdict for path in sorted(folder.glob("*.epd")) for verdict in read_verdicts(path).verdicts]


@given(st.lists(verdicts(), min_size=1, max_size=5))
@settings(max_examples=30, deadline=None)
def test_a_round_trip_loses_nothing(given_: list[Verdict]) -> None:
    with tempfile.TemporaryDirectory() as name:
        there, here, between = Path(name, "there"), Path(name, "here"), Path(name, "between.epd")
        for verdict in given_:
            append_verdicts(verdict_path(there, verdict.voice), [verdict])
        export_verdicts(there, between)
        for line in between.read_text(encoding="utf-8").splitlines():
            chess.Board.from_epd(line)
        import_verdicts(here, between)
        assert sorted(map(content, everything(here))) == sorted({content(verdict) for verdict in given_})
        assert import_verdicts(here, between).new == 0


def content(verdict: Verdict) -> str:
    """A verdict without where it was read."""
    return repr(msgspec.structs.replace(verdict, origin=""))


def test_each_comes_in_under_its_voice_with_its_origin(tmp_path: Path) -> None:
    there, here, between = tmp_path / "there", tmp_path / "here", tmp_path / "between.epd"
    append_verdicts(there / "a.epd", [say("analyst", 10), say("other", -20)])
    report, _ = export_verdicts(there, between, voices=["analyst"])
    assert (report.verdicts, report.positions, report.voices) == (1, 1, ("analyst",))
    report = import_verdicts(here, between)
    assert (report.verdicts, report.new, report.voices) == (1, 1, ("analyst",))
    (verdict,) = read_verdicts(here / "analyst.epd").verdicts
    assert (verdict.voice, verdict.origin) == ("analyst", "between.epd")


def test_only_what_is_asked_for(tmp_path: Path) -> None:
    append_verdicts(tmp_path / "a.epd", [say("analyst", 10), say("analyst", 20, position=Position.start())])
    report, _ = export_verdicts(tmp_path, tmp_path / "out", position=Position.start())
    assert (report.verdicts, report.positions) == (1, 1)


def test_a_name_that_means_another_version_is_not_mixed(tmp_path: Path) -> None:
    append_verdicts(tmp_path / "here" / "analyst.epd", [say("analyst", 10, "1")])
    append_verdicts(tmp_path / "foreign.epd", [say("analyst", 30, "2")])
    with pytest.raises(InputError, match="has spoken in this edition already, in version 1"):
        import_verdicts(tmp_path / "here", tmp_path / "foreign.epd")
    report = import_verdicts(tmp_path / "here", tmp_path / "foreign.epd", voice="friend")
    assert report.voices == ("friend",)
    assert len(everything(tmp_path / "here")) == 2


FOREIGN = (
    'rnbqkbnr/pp2pppp/8/3p4/2PP4/8/PP3PPP/RNBQKBNR b KQkq - acd 20; acn 5000; bm Nf6; ce -25; c0 "a remark";'
)
"""A record as any program writes it by the standard, section 16.2; its comment is no voice of ours."""


def test_records_of_any_program(tmp_path: Path) -> None:
    (tmp_path / "friend.epd").write_text(FOREIGN + "\n")
    import_verdicts(tmp_path / "here", tmp_path / "friend.epd")
    (verdict,) = everything(tmp_path / "here")
    assert (verdict.voice, verdict.version, verdict.depth, verdict.nodes) == ("friend", "", 20, 5000)
    assert verdict.lines == (VerdictLine(("g8f6",), Score.of_cp(25)),), "the mover's -25 is White's +25"


@pytest.mark.parametrize(
    ("text", "said", "line"),
    [
        (FOREIGN + "\n" + FOREIGN.replace("bm Nf6", "bm Nf5"), "'Nf5'", 2),
        (FOREIGN.replace("acd 20", "acd 20; acd 21"), "'acd' stands twice", 1),
        (FOREIGN.replace("ce -25; ", ""), "a score", 1),
        (FOREIGN.replace("acn 5000", "acn many"), "'acn' takes one whole number", 1),
        ("no position at all", "not a verdict", 1),
        ("", "there are no verdicts in it", None),
    ],
)
def test_with_one_fault_nothing_is_taken_in(tmp_path: Path, text: str, said: str, line: int | None) -> None:
    (tmp_path / "friend.epd").write_text(text)
    with pytest.raises(InputError, match=said) as caught:
        import_verdicts(tmp_path / "here", tmp_path / "friend.epd")
    assert caught.value.line == line
    assert not (tmp_path / "here").exists()


def test_what_cannot_be_exported(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there are no verdicts to write"):
        export_verdicts(tmp_path, tmp_path / "out.epd")
    append_verdicts(tmp_path / "a.epd", [say("analyst", 10)])
    with pytest.raises(InputError, match="there is no verdict of 'analist'"):
        export_verdicts(tmp_path, tmp_path / "out.epd", voices=["analist"])
    assert not (tmp_path / "out.epd").exists()
