from __future__ import annotations

import sys
from pathlib import Path

import chess
import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_verdicts import PANOV, verdicts

from variorum.base import InputError
from variorum.board import Iteration, Score, Side, Verdict, VerdictLine
from variorum.voices.verdict_files import append_verdicts, read_verdicts, verdict_path, verdict_records


@given(st.lists(verdicts(), max_size=4))
@settings(max_examples=40, deadline=None)
def test_what_is_written_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, written: list[Verdict]
) -> None:
    path = tmp_path_factory.mktemp("verdicts") / "voice.epd"
    append_verdicts(path, written[:1])
    append_verdicts(path, written[1:])
    if written:
        found = read_verdicts(path)
        assert found.verdicts == written
        assert not found.diagnostics


@given(verdicts())
@settings(max_examples=40, deadline=None)
def test_chess_reads_each_record(verdict: Verdict) -> None:
    """The independent reader of EPD, PyPI `chess`, sees the same position, line and score."""
    for line, text in zip(verdict.lines, verdict_records(verdict).splitlines(), strict=True):
        board = chess.Board()
        operations = board.set_epd(text)
        assert board.epd() == verdict.epd
        assert [move.uci() for move in operations["pv"]] == list(line.moves)  # type: ignore[union-attr]
        mover = line.score.seen_from(Side.WHITE if board.turn else Side.BLACK)
        if mover.cp is not None:
            assert operations["ce"] == mover.cp
        if mover.mate is not None and mover.mate > 0:
            assert operations["dm"] == mover.mate


def a_verdict(nodes: int = 1000, lines: int = 2) -> Verdict:
    end = PANOV.end
    return Verdict(
        key=end.key,
        epd=end.epd,
        voice="resident",
        version="1",
        nodes=nodes,
        multipv=lines,
        lines=tuple(VerdictLine((move.uci,), Score.of_cp(30)) for move in end.legal_moves()[:lines]),
    )


def test_every_cut_of_the_file_keeps_the_verdicts_before_it(tmp_path: Path) -> None:
    """A machine may stop at any byte; what was complete before is read, and writing goes on behind it."""
    path = tmp_path / "resident.epd"
    append_verdicts(path, [a_verdict(1000)])
    complete = len(path.read_bytes())
    append_verdicts(path, [a_verdict(2000)])
    whole = path.read_bytes()
    for cut in range(complete, len(whole), 7):
        path.write_bytes(whole[:cut])
        assert [verdict.nodes for verdict in read_verdicts(path).verdicts] == [1000]
        append_verdicts(path, [a_verdict(3000)])
        found = read_verdicts(path)
        assert [verdict.nodes for verdict in found.verdicts] == [1000, 3000], cut
        assert cut == complete or found.diagnostics
    assert read_verdicts(path).diagnostics[0].line is not None


def test_many_iterations_keep_the_latest_within_the_length_of_a_string() -> None:
    verdict = a_verdict()
    many = tuple(Iteration(depth, depth * 10**9, "b8c6", Score.of_cp(depth)) for depth in range(1, 100))
    text = verdict_records(
        Verdict(**{name: getattr(verdict, name) for name in verdict.__struct_fields__} | {"iterations": many})
    )
    assert all(len(string) <= 255 for string in text.split('"')[1::2])
    assert "99 99000000000 b8c6 99" in text


def test_foreign_records_become_the_voice_of_their_file(tmp_path: Path) -> None:
    path = tmp_path / "a friend.epd"
    path.write_text(
        f"{PANOV.end.epd} acd 20; bm Nf6; ce -25; pv Nf6 Nc3 e6;\n\n{PANOV.end.epd} bm Nf6;\nnonsense\n"
    )
    found = read_verdicts(path)
    (verdict,) = found.verdicts
    assert (verdict.voice, verdict.depth, verdict.lines[0].score) == ("a friend", 20, Score.of_cp(25))
    assert [diagnostic.line for diagnostic in found.diagnostics] == [3, 4]


def test_a_day_that_is_none_is_told(tmp_path: Path) -> None:
    path = tmp_path / "resident.epd"
    append_verdicts(
        path, [msgspec.structs.replace(a_verdict(), date=day) for day in ("2026-13-45", "2026-11-25")]
    )
    found = read_verdicts(path)
    assert [verdict.date for verdict in found.verdicts] == ["2026-11-25"]
    assert [diagnostic.line for diagnostic in found.diagnostics] == [2]
    assert "there is no day 2026-13-45" in found.diagnostics[0].message


def test_file_names_are_plain() -> None:
    folder = Path("verdicts")
    assert verdict_path(folder, "Resident").name == "resident.epd"
    assert verdict_path(folder, "../../x/y").name == "x-y.epd"
    assert verdict_path(folder, "…").name == "voice.epd"


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_nothing_is_written_through_a_link_that_leads_out(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.write_text("precious\n")
    folder = tmp_path / "verdicts"
    folder.mkdir()
    (folder / "resident.epd").symlink_to(outside)
    with pytest.raises(InputError, match="leads out of"):
        append_verdicts(folder / "resident.epd", [a_verdict()])
    assert outside.read_text() == "precious\n"
