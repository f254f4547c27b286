from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from variorum.board import Request, Score, Verdict, VerdictLine
from variorum.cli import main
from variorum.voices.resident import Resident

EDITION = """\
title = "A bishop that is caught"
side = "black"

[roots]
pin = "1.d4 Nf6 2.Bg5"

[names]
early = "pin c6 3.e3"
"""
MANUSCRIPT = '[Event "x"]\n\n1. d4 Nf6 2. Bg5 c6 3. e3 (3. Nc3 d5 4. e3) (3. Nf3 d5 4. e3) 3... Qa5 *\n'
EXAMPLE = ["early", "3...Qa5", "--nodes", "1000"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "edition.toml").write_text(EDITION, encoding="utf-8")
    (tmp_path / "manuscript.pgn").write_text(MANUSCRIPT, encoding="utf-8")
    return tmp_path


class Invented:
    """Stands for the resident: Black's queen check wins the bishop when the knight is on b1, else nothing happens."""

    name, version = "resident", "invented"

    def ask(self, request: Request) -> Verdict:
        position = request.position
        pieces = position.pieces()
        cp = 0
        if pieces.get("a5") == "q":
            cp = -300 if pieces.get("b1") == "N" and pieces.get("d2") is None else 20
        moves = position.legal_moves()[: request.multipv]
        return Verdict(
            key=position.key,
            epd=position.epd,
            voice=self.name,
            version=self.version,
            lines=tuple(VerdictLine((move.uci,), Score.of_cp(cp)) for move in moves),
            multipv=request.multipv,
            nodes=request.nodes or 0,
            asked=request.nodes or 0,
        )

    def stop(self) -> None:
        pass

    def close(self) -> None:
        pass


@pytest.fixture
def invented(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("variorum.voices.registry.Resident", lambda **_: Invented())


@pytest.mark.usefixtures("invented")
def test_the_hinges_of_a_move(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    assert main(["hinges", str(folder), *EXAMPLE]) == 0
    captured = capsys.readouterr()
    assert captured.err == ""
    snapshot(captured.out)


@pytest.mark.usefixtures("invented")
def test_json(folder: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["hinges", str(folder), *EXAMPLE])
    hinges = report["hinges"]
    assert {one["rank"] for one in hinges} == {1}
    assert next((one["source"], one["target"], one["kind"]) for one in hinges) == ("b1", "c3", "near"), (
        "the graph knows that placement, so it comes first"
    )
    assert all(one["strength"] > 0 for one in hinges)
    assert report["side"] == "black"


def test_the_resident_says_the_same_each_time_and_is_asked_once(
    folder: Path, check_json: Callable[..., Any]
) -> None:
    arguments = ["hinges", str(folder), *EXAMPLE]
    first = check_json(arguments)
    file = folder / "verdicts" / "hinges" / "resident.epd"
    written = file.read_bytes()
    assert check_json(arguments) == first
    assert file.read_bytes() == written
    file.unlink()
    assert check_json(arguments) == first


def test_it_goes_on_where_it_was_stopped(
    folder: Path,
    check_json: Callable[..., Any],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    arguments = ["hinges", str(folder), *EXAMPLE]
    whole = check_json(arguments)
    file = folder / "verdicts" / "hinges" / "resident.epd"
    count = file.read_text().count("\n")
    file.unlink()
    told = iter(range(10**6))

    def stopped(self: Resident, request: Request) -> Verdict:
        if next(told) == 20:
            raise KeyboardInterrupt
        return original(self, request)

    original = Resident.ask
    with monkeypatch.context() as patch:
        patch.setattr(Resident, "ask", stopped)
        assert main(arguments) == 130
    capsys.readouterr()
    kept = file.read_text()
    assert 0 < kept.count("\n") < count
    assert check_json(arguments) == whole
    assert file.read_text().startswith(kept)


def test_a_budget_ends_it_and_says_what_is_open(folder: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["hinges", str(folder), *EXAMPLE, "--total-nodes", "10000"])
    assert report["open"] > 0
    lines = (folder / "verdicts" / "hinges" / "resident.epd").read_text().splitlines()
    assert len(lines) == 10


@pytest.mark.usefixtures("invented")
def test_the_graph_stays_as_it_was(folder: Path, check_json: Callable[..., Any]) -> None:
    before = check_json(["map", str(folder)])
    check_json(["hinges", str(folder), *EXAMPLE])
    assert check_json(["map", str(folder)]) == before


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["early", "3...Qa4"], "'Qa4' is illegal"),
        (["early"], "PLACE and MOVE are needed"),
        (["nowhere", "Qa5"], "no place is called 'nowhere'"),
        (["early", "3...Qa5", "--voice", "nobody"], "there is no voice 'nobody'"),
        (["early", "4."], "is no move"),
    ],
)
def test_mistakes_are_told(
    folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], told: str
) -> None:
    assert main(["hinges", str(folder), *arguments]) == 2
    assert told in capsys.readouterr().err
    assert not (folder / "verdicts").exists()
