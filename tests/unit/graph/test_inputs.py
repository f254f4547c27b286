from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.unit.store.made_up import MadeUpGame, batch_of
from variorum.board import Line, Position
from variorum.edition.manuscript import read_manuscript
from variorum.graph import Channel, game_batches, grow_graph, text_lines
from variorum.store import Mode, open_store

START = Position.start()


def test_every_line_of_a_manuscript_is_read_once() -> None:
    manuscript = read_manuscript(b'1. e4 c6 (1... e6 2. d4) (1... c5) 2. d4 d5 *\n\n[Event "x"]\n\n1. d4 *\n')
    lines = [Line.unpack(line.moves, line.start).san() for line in text_lines(manuscript)]
    assert sorted(lines) == ["1.d4", "1.e4 c5", "1.e4 c6 2.d4 d5", "1.e4 e6 2.d4"]


def test_games_of_the_store_come_whole_with_their_channel(tmp_path: Path) -> None:
    games = [
        MadeUpGame(Line.parse("1.e4 c6 2.d4 d5"), result=1),
        MadeUpGame(Line.parse("1.d4 d5"), result=3),
        MadeUpGame(Line.parse("1.c4"), result=2),
    ]
    with open_store(tmp_path / "store", mode=Mode.WRITE) as store:
        sift = store.begin_sift("sources/a.pgn", "k1", kind="practice")
        sift.add_batch(batch_of(games))
        sift.finish()
        store.settle()
        batches = list(game_batches(store))
        graph = grow_graph([START], games=lambda: game_batches(store), game_count=store.count)
    assert {batch.channel for batch in batches} == {Channel("practice")}
    assert [batch.results.tolist() for batch in batches] == [[1, 3, 2]]
    read = [Line.unpack(moves) for b in batches for moves in np.split(b.moves, b.offsets[1:-1].astype(int))]
    assert read == [game.line for game in games]
    assert graph.node_counts.at(0) == [(0, (0, 1, 1, 1))]
