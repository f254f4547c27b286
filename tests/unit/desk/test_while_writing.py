"""Pages answer while games come in and runs are merged; nobody waits for the writer and nothing fails."""

from __future__ import annotations

import re
import threading
import time
from pathlib import Path

import pytest
from invented_desk import GAME, Desk

from variorum.base import Silent
from variorum.base.settings import load_user_settings
from variorum.build.opened import OpenEdition
from variorum.desk.editions import Editions
from variorum.edition import load_edition
from variorum.sources import SiftOptions, sift
from variorum.store import Mode, open_store
from variorum.store.occurrences import MOST_RUNS


def bring_in(folder: Path, number: int) -> None:
    """One more source with one more game, in a commit of its own; many of them make a merge."""
    (folder / "sources" / f"{number}.pgn").write_text(GAME.replace("Orlo", f"Orlo{number}"))
    edition, _ = load_edition(folder)
    assert edition is not None
    with open_store(edition.store_folder(load_user_settings()[0]), mode=Mode.WRITE) as store:
        sift(edition, store, [folder / "sources"], SiftOptions(), Silent())
        store.merge()


def test_every_page_answers_while_a_writer_commits_and_merges(desk: Desk) -> None:
    faults: list[BaseException] = []

    def write() -> None:
        try:
            for number in range(MOST_RUNS + 4):
                bring_in(desk.edition, number)
        except BaseException as error:  # noqa: BLE001  told below
            faults.append(error)

    writer = threading.Thread(target=write)
    writer.start()
    counts = []
    while writer.is_alive():
        text = desk.page("position?at=qgd")
        found = re.search(r"♘c3</a></td><td class=\"n\">(\d+)", text)
        assert found is not None
        counts.append(int(found[1]))
        desk.page("map")
    writer.join()
    assert not faults
    assert counts == sorted(counts)  # what was seen once is never gone again
    assert f'♘c3</a></td><td class="n">{MOST_RUNS + 5}<' in desk.page("position?at=qgd")


def test_what_was_begun_is_read_to_its_end(desk: Desk) -> None:
    edition, _ = load_edition(desk.edition)
    assert edition is not None
    user = load_user_settings()[0]
    with OpenEdition(edition, user) as opened:
        assert opened.store is not None
        reading = opened.store.all_games()
        begun = len(next(reading)[0])
        for number in range(MOST_RUNS + 2):
            bring_in(desk.edition, number)
        with opened.renewed(edition, user) as fresh:
            assert fresh.store is opened.store
            assert fresh.store is not None
            assert fresh.store.count == MOST_RUNS + 4
            assert begun + sum(len(rows) for rows, _ in reading) == 2


def test_a_graph_that_takes_long_serves_until_the_next_one_is_grown(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    import variorum.desk.editions as module

    monkeypatch.setattr(module, "_QUICK", -1.0)
    monkeypatch.setattr(module, "_PATIENCE", 1e9)
    editions: Editions = desk.client.app.state.editions  # type: ignore[attr-defined]
    first, stamp = editions.grown(desk.name)
    bring_in(desk.edition, 1)
    assert editions.grown(desk.name) == (first, stamp)
    with editions.reading(desk.name) as opened:
        assert opened.store is not None
        assert opened.store.count == 3
    editions._of(desk.name)[1].pause = 1e-9
    while editions.stamp(desk.name) == stamp:
        time.sleep(0.01)  # it is grown in the background
    assert editions.grown(desk.name)[0].graph.node_counts.games.sum() > first.graph.node_counts.games.sum()
