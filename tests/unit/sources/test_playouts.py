"""Playouts of an edition, from their files into the store."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from variorum.base import Silent
from variorum.board import Line, Position
from variorum.board.game_text import game_text
from variorum.cli import main
from variorum.edition import load_edition
from variorum.sources import sift_playouts
from variorum.store import PLAYOUT, Filter, Mode, open_store

ROOT = Line.parse("1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4")
PLAYOUTS = Filter(kinds=frozenset({PLAYOUT}))


@pytest.fixture
def edition(tmp_path: Path) -> Path:
    folder = tmp_path / "panov"
    assert main(["new", str(folder), "--title", "Panov", "--root", ROOT.san(), "--side", "white"]) == 0
    moves = Line.parse("4...Nf6 5.Nc3 e6", ROOT.end)
    later = moves.positions()[2]
    games = [
        game_text({"White": "resident", "Black": "guest", "Result": "1-0"}, moves),
        game_text(
            {"White": "guest", "Black": "resident", "Result": "0-1"}, Line.parse("5...e6 6.Nf3", later)
        ),
        game_text({"White": "guest", "Black": "resident", "Result": "*"}, ROOT),
    ]
    (folder / "playouts").mkdir()
    (folder / "playouts" / "guest-resident.pgn").write_text("\n".join(games))
    practice = game_text({"White": "A, B", "Black": "C, D", "Result": "1-0"}, Line.parse("Nf6", ROOT.end))
    whole = game_text({"White": "A, B", "Black": "C, D", "Result": "1-0"}, ROOT)
    (folder / "sources" / "a.pgn").write_text(f"{practice}\n{whole}")
    return folder


def test_each_game_starts_where_it_was_played_from(edition: Path) -> None:
    opened, _ = load_edition(edition)
    assert opened is not None
    with open_store(edition / ".variorum", mode=Mode.WRITE) as store:
        (report,) = sift_playouts(opened, store, Silent())
        assert (report.state, report.voice, report.kept) == ("sifted", "guest, resident", 3)
        assert [one.state for one in sift_playouts(opened, store, Silent())] == ["unchanged"]
        through = list(store.games_through(ROOT.end, PLAYOUTS))
        assert [one.plies.tolist() for one in through] == [[0, 7]]
        assert [game.line.start for game in store.games([1, 2, 3])] == [
            ROOT.end,
            ROOT.end.play(ROOT.end.parse("Nf6")).play(Line.parse("Nf6", ROOT.end).end.parse("Nc3")),
            Position.start(),
        ]
        (edition / "playouts" / "guest-resident.pgn").unlink()
        assert sift_playouts(opened, store, Silent()) == []
        assert store.sources() == ()


def test_sifting_brings_them_and_nobody_counts_them(
    edition: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def printed(*words: str) -> Any:
        capsys.readouterr()
        assert main([*words, "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    report = printed("sift", str(edition))
    assert [(one["source"], one["kind"], one["kept"]) for one in report["sources"]] == [
        ("sources/a.pgn", "practice", 2),
        ("playouts/guest-resident.pgn", "playout", 3),
    ]
    assert report["games"] == 2
    assert main(["sift", str(edition), str(edition / "playouts")]) == 0
    assert (
        "2 games in the store, 0 of them met more than once.\nBeside them 3 playouts"
        in capsys.readouterr().out
    )
    here = printed("position", str(edition), ROOT.san())
    assert here["games"]["results"]["games"] == 2
    assert [kind["kind"] for kind in here["games"]["kinds"]] == ["practice"]
