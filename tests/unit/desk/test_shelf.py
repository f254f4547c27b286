from __future__ import annotations

from pathlib import Path

import pytest

from variorum.base import InputError
from variorum.desk.shelf import Shelf


def edition(folder: Path) -> Path:
    folder.mkdir(parents=True)
    (folder / "edition.toml").write_text("")
    return folder


def test_the_latest_stands_first_and_is_kept(tmp_path: Path) -> None:
    file = tmp_path / "shelf.json"
    one, two = edition(tmp_path / "a" / "iqp"), edition(tmp_path / "b" / "iqp")
    shelf = Shelf(file)
    names = [shelf.add(one).name, shelf.add(two).name]
    assert len(set(names)) == 2
    shelf.add(one)
    assert [entry.folder for entry in Shelf(file).all()] == [one, two]
    assert Shelf(file).get(names[1]).folder == two


@pytest.mark.parametrize("kept", [b"", b"{", b'{"folders": 3}', b"\xff"])
def test_a_damaged_list_is_begun_anew(tmp_path: Path, kept: bytes) -> None:
    file = tmp_path / "shelf.json"
    file.write_bytes(kept)
    shelf = Shelf(file)
    assert shelf.all() == ()
    shelf.add(edition(tmp_path / "x"))
    assert len(Shelf(file).all()) == 1


def test_a_folder_without_an_edition_is_refused_and_one_that_is_gone_is_passed_over(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "shelf.json")
    with pytest.raises(InputError, match=r"edition\.toml"):
        shelf.add(tmp_path)
    name = shelf.add(edition(tmp_path / "x")).name
    (tmp_path / "x" / "edition.toml").unlink()
    assert shelf.all() == ()
    with pytest.raises(InputError, match="shelf"):
        shelf.get(name)
