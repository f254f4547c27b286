from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.base.derived import Derived


def test_what_is_kept_is_found(tmp_path: Path) -> None:
    kept = Derived(tmp_path / "new" / "folder", most=1000)
    assert kept.get("a") is None
    kept.put("a", b"one")
    kept.put("a", b"two")
    assert (kept.get("a"), kept.get("b")) == (b"two", None)
    assert [file.name for file in (tmp_path / "new" / "folder").iterdir()] == ["a"]


@given(st.lists(st.integers(1, 400), min_size=1, max_size=12))
def test_no_more_is_kept_than_may_be_and_the_last_always(
    tmp_path_factory: pytest.TempPathFactory, sizes: list[int]
) -> None:
    folder = tmp_path_factory.mktemp("kept")
    kept = Derived(folder, most=1000)
    for number, size in enumerate(sizes):
        kept.put(f"k{number}", bytes(size))
        assert sum(file.stat().st_size for file in folder.iterdir()) <= 1000
        assert kept.get(f"k{number}") == bytes(size)


def test_where_nothing_can_be_written_nothing_is_kept(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    kept = Derived(tmp_path / "file", most=1000)
    kept.put("a", b"one")
    assert kept.get("a") is None
