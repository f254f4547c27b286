from __future__ import annotations

import errno
import hashlib
import stat
import sys
from pathlib import Path

import pytest

from variorum.base import InputError
from variorum.edition import files
from variorum.edition.files import ChangedOutsideError, atomic_write, content_hash, hash_on_disk, read_file


def names(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir()]


def test_the_hash_is_sha_256() -> None:
    assert content_hash(b"abc") == hashlib.sha256(b"abc").hexdigest()
    # FIPS 180-4 example, "abc"
    assert content_hash(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_a_new_file_and_its_successor(tmp_path: Path) -> None:
    path = tmp_path / "text.pgn"
    first = atomic_write(path, b"one\r\n", expected_hash=None)
    assert path.read_bytes() == b"one\r\n"
    assert first == hash_on_disk(path)
    second = atomic_write(path, b"", expected_hash=first)
    assert read_file(path) == b""
    assert second == content_hash(b"")
    assert names(tmp_path) == ["text.pgn"]


@pytest.mark.parametrize(
    ("there", "expected", "says"),
    [
        (b"theirs", content_hash(b"mine"), "changed outside"),
        (None, content_hash(b"mine"), "the file is gone"),
        (b"theirs", None, "exists already"),
    ],
)
def test_nothing_is_written_over_what_was_not_read(
    tmp_path: Path, there: bytes | None, expected: str | None, says: str
) -> None:
    path = tmp_path / "text.pgn"
    if there is not None:
        path.write_bytes(there)
    with pytest.raises(ChangedOutsideError, match=says) as caught:
        atomic_write(path, b"new", expected_hash=expected)
    assert caught.value.path == path
    assert caught.value.remedy
    assert caught.value.found_hash == hash_on_disk(path)
    assert (path.read_bytes() if path.exists() else None) == there
    assert set(names(tmp_path)) <= {"text.pgn"}


@pytest.mark.skipif(sys.platform == "win32", reason="permission bits")
def test_permissions_stay_and_new_files_get_the_usual_ones(tmp_path: Path) -> None:
    path = tmp_path / "text.pgn"
    path.write_bytes(b"a")
    usual = stat.S_IMODE(path.stat().st_mode)
    path.chmod(0o640)
    atomic_write(path, b"b", expected_hash=content_hash(b"a"))
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    atomic_write(tmp_path / "new.pgn", b"b", expected_hash=None)
    assert stat.S_IMODE((tmp_path / "new.pgn").stat().st_mode) == usual


@pytest.mark.skipif(sys.platform == "win32", reason="making links needs a privilege")
def test_a_symbolic_link_stays_one(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    real, link = tmp_path / "real" / "text.pgn", tmp_path / "link.pgn"
    real.write_bytes(b"a")
    link.symlink_to(real)
    atomic_write(link, b"b", expected_hash=content_hash(b"a"))
    assert link.is_symlink()
    assert real.read_bytes() == b"b"


def test_a_full_disk_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "text.pgn"
    path.write_bytes(b"a")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(files.os, "fsync", full)
    with pytest.raises(InputError, match="No space left on device; nothing was changed"):
        atomic_write(path, b"b", expected_hash=content_hash(b"a"))
    assert path.read_bytes() == b"a"
    assert names(tmp_path) == ["text.pgn"]


def test_a_failed_exchange_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "text.pgn"
    path.write_bytes(b"a")

    def refused(*_: object) -> None:
        raise PermissionError(errno.EACCES, "in use by another program")

    monkeypatch.setattr(files.os, "replace", refused)
    with pytest.raises(InputError, match="in use by another program"):
        atomic_write(path, b"b", expected_hash=content_hash(b"a"))
    assert path.read_bytes() == b"a"
    assert names(tmp_path) == ["text.pgn"]


def test_a_read_only_file_is_not_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "text.pgn"
    path.write_bytes(b"a")
    monkeypatch.setattr(
        files.os, "access", lambda *_: False
    )  # the tests may run as root, for whom nothing is
    with pytest.raises(InputError, match="read-only"):
        atomic_write(path, b"b", expected_hash=content_hash(b"a"))
    assert path.read_bytes() == b"a"


def test_what_cannot_be_read_says_why(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_file(tmp_path / "none.pgn")
    with pytest.raises(InputError, match="a folder"):
        read_file(tmp_path)
    with pytest.raises(InputError, match="cannot be written"):
        atomic_write(tmp_path / "no folder" / "text.pgn", b"", expected_hash=None)
