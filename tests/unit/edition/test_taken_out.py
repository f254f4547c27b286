from __future__ import annotations

import sys
from pathlib import Path

import pytest

from variorum.base import InputError
from variorum.edition import Edition, new_edition
from variorum.edition.taken_out import put_back, take_out, taken_out

ENDINGS = (".pgn", ".pgn.gz")
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="needs links")


@pytest.fixture
def edition(tmp_path: Path) -> Edition:
    return new_edition(tmp_path / "e", "IQP", ["panov: 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"], "white")


def test_a_file_is_moved_and_put_back(edition: Edition) -> None:
    file = edition.path / "sources" / "club" / "a.pgn.gz"
    file.parent.mkdir()
    file.write_bytes(b"one")
    assert take_out(edition, "sources/club/a.pgn.gz") == edition.path / "taken-out" / "club" / "a.pgn.gz"
    assert not file.exists()
    assert taken_out(edition, ENDINGS) == ["taken-out/club/a.pgn.gz"]
    assert put_back(edition, "taken-out/club/a.pgn.gz") == file
    assert file.read_bytes() == b"one"
    assert taken_out(edition, ENDINGS) == []


def test_nothing_is_written_over(edition: Edition) -> None:
    file = edition.path / "sources" / "a.pgn.gz"
    for content in (b"one", b"two", b"three"):
        file.write_bytes(content)
        take_out(edition, "sources/a.pgn.gz")
    names = ["taken-out/a 2.pgn.gz", "taken-out/a 3.pgn.gz", "taken-out/a.pgn.gz"]
    assert taken_out(edition, ENDINGS) == names
    assert [(edition.path / name).read_bytes() for name in names] == [b"two", b"three", b"one"]
    file.write_bytes(b"four")
    with pytest.raises(InputError, match="there already"):
        put_back(edition, "taken-out/a.pgn.gz")
    assert file.read_bytes() == b"four"


@pytest.mark.parametrize(
    "name",
    [
        "manuscript.pgn",
        "edition.toml",
        "sources",
        "sources/absent.pgn",
        "sources/../manuscript.pgn",
        "/etc/hostname",
        "sources/\0.pgn",
        "",
        "taken-out/a.pgn",
    ],
)
def test_what_is_no_file_of_sources_is_not_moved(edition: Edition, name: str) -> None:
    (edition.path / "manuscript.pgn").write_text("")
    with pytest.raises(InputError, match="no such file"):
        take_out(edition, name)
    assert not (edition.path / "taken-out").exists()


@POSIX
def test_links_out_of_the_edition(edition: Edition, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "a.pgn").write_text("mine")
    link = edition.path / "sources" / "link.pgn"
    link.symlink_to(outside / "a.pgn")
    place = take_out(edition, "sources/link.pgn")  # the link goes, what it leads to stays
    assert place.is_symlink() and (outside / "a.pgn").read_text() == "mine"
    (edition.path / "sources" / "disk").symlink_to(outside)
    with pytest.raises(InputError, match="leads out of"):
        take_out(edition, "sources/disk/a.pgn")
    assert (outside / "a.pgn").exists()
