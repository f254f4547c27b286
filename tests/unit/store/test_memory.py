"""What a sift holds in memory has a bound that does not depend on how much there is: the bounds themselves, not bytes."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from tests.unit.store.made_up import batch_of, random_games
from variorum import _core
from variorum.store import Mode, matching, occurrences, open_store
from variorum.store.columns import ROWS_IN_GROUP, occurrence_table, occurrence_writer
from variorum.store.manifest import run_name


def write_run(folder: Path, number: int, groups: int) -> None:
    rows = groups * ROWS_IN_GROUP
    keys = np.sort(np.random.default_rng(number).integers(0, 1 << 63, rows, np.uint64))
    games = np.full(rows, number, np.uint32)
    zeros = np.zeros(rows, np.uint16)
    with occurrence_writer(folder / run_name(number)) as writer:
        table = occurrence_table((keys, games, zeros, zeros))
        writer.write_table(table, row_group_size=ROWS_IN_GROUP)


@pytest.mark.parametrize("groups", [2, 9])
def test_a_merge_holds_a_row_group_of_each_run_however_long_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, groups: int
) -> None:
    (tmp_path / "occurrences").mkdir()
    for number in (1, 2, 3):
        write_run(tmp_path, number, groups)
    held = []

    def merge_runs(chunks: list[Any], *live: Any) -> Any:
        held.append(sum(len(chunk[0]) for chunk in chunks))
        return _core.merge_runs(chunks, *live)

    monkeypatch.setattr(occurrences, "_core", SimpleNamespace(merge_runs=merge_runs))
    monkeypatch.setattr(occurrences, "_MERGE_ROWS", ROWS_IN_GROUP)
    everything = np.array([0], np.uint32), np.array([9], np.uint32)
    target = tmp_path / run_name(4)
    assert occurrences.merge_into(target, tmp_path, [1, 2, 3], everything) == 3 * groups * ROWS_IN_GROUP
    assert len(held) >= groups
    assert max(held) <= 3 * ROWS_IN_GROUP


def test_doubles_are_looked_for_in_passes_and_portions(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    games = random_games(40)
    held = []
    columns = matching.GameFiles.table

    def table(self: Any, numbers: Any, *others: Any) -> Any:
        held.append(len(numbers))
        return columns(self, numbers, *others)

    monkeypatch.setattr(matching.GameFiles, "table", table)
    found = []
    for name, in_pass, in_portion, in_block in (("whole", 10**6, 10**6, 10**6), ("pieces", 30, 4, 3)):
        monkeypatch.setattr(matching, "_IN_PASS", in_pass)
        monkeypatch.setattr(matching, "_IN_PORTION", in_portion)
        monkeypatch.setattr(matching, "_IN_BLOCK", in_block)
        held.clear()
        with open_store(tmp_path / name, mode=Mode.WRITE) as store:
            for copy in "abc":
                sift = store.begin_sift(f"{copy}.pgn", "k", kind="practice")
                sift.add_batch(batch_of(games))
                sift.finish()
            store.settle()
            found.append(store.doubles())
            assert store.double_count == len(found[-1])
    assert len(found[0]) == 40
    assert found[1] == found[0]
    # A portion takes whole sets of equal beginnings, of three games each here.
    assert max(held) <= 4 + 2
