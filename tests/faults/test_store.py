"""The store under kills, two processes, full disks, write protection, damage and other versions."""

from __future__ import annotations

import contextlib
import errno
import os
import random
import resource
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults import store_work
from tests.unit.store.made_up import batch_of, random_games, sift_in
from variorum.base import StoreBusyError, StoreError, StoreVersionError
from variorum.board import Position
from variorum.store import Mode, StepRecord, open_store, opening, schema

ROOT = Path(__file__).parents[2]


def program(what: str, folder: Path) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.faults.store_work", what, str(folder)]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def first_line(process: subprocess.Popen[str]) -> str:
    assert process.stdout is not None
    return process.stdout.readline().strip()


@pytest.mark.slow
def test_killed_at_each_step(tmp_path: Path) -> None:
    with program("steps", tmp_path) as process:
        out, err = process.communicate()
    assert process.returncode == 0, err
    assert int(out.split()[-1]) > 60


@pytest.mark.slow
def test_killed_at_random_moments(tmp_path: Path) -> None:
    chance = random.Random(20)
    folder = tmp_path / "s"
    for _ in range(10):
        process = program("run", folder)
        assert first_line(process) == "ready"
        time.sleep(chance.uniform(0.0, 0.5))
        process.kill()
        process.communicate()
        store_work.check(folder)
    process = program("run", folder)
    _, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    process = program("run", tmp_path / "clean")
    process.communicate(timeout=120)
    assert store_work.answer(folder) == store_work.answer(tmp_path / "clean")


def test_readers_beside_a_writer(tmp_path: Path) -> None:
    folder = tmp_path / "s"
    process = program("run", folder)
    assert first_line(process) == "ready"
    looks = 0
    while process.poll() is None or looks == 0:
        if (folder / "readers.lock").exists():
            with open_store(folder) as store:
                for _ in range(3):
                    store_work.check_answers(store)
                    store.refresh()
            looks += 1
    assert process.wait() == 0
    process.communicate()
    with open_store(folder) as store:
        store_work.check_answers(store)
        assert store.count == 75


def test_two_writers(tmp_path: Path) -> None:
    holder = program("hold", tmp_path)
    try:
        assert first_line(holder) == "open"
        with pytest.raises(StoreBusyError) as caught:
            open_store(tmp_path, mode=Mode.WRITE)
        assert "wait" in str(caught.value.remedy)
        with open_store(tmp_path) as reader:
            assert reader.count == 0
    finally:
        holder.send_signal(signal.SIGKILL)
        holder.communicate()
    # The lock dies with its holder.
    open_store(tmp_path, mode=Mode.WRITE).close()


def test_a_reader_keeps_the_files_it_needs(tmp_path: Path) -> None:
    games = random_games(60)
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", games, key="old")
    with open_store(tmp_path) as reader:
        assert reader.count == 60
        with open_store(tmp_path, mode=Mode.WRITE) as store:
            sift_in(store, "a.pgn", games[:20], key="new")
        assert len(reader.games(range(1, 61))) == 60
        assert len(reader.lookup(Position.start().key)) == 60
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        assert len(list((tmp_path / "games").iterdir())) == 1
        assert store.count == 20


def made(folder: Path) -> Path:
    with open_store(folder, mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", random_games(40))
    return folder


@pytest.mark.parametrize("mode", Mode)
def test_a_newer_version_is_refused(tmp_path: Path, mode: Mode) -> None:
    connection = sqlite3.connect(made(tmp_path) / "store.sqlite")
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    with pytest.raises(StoreVersionError, match="newer") as caught:
        open_store(tmp_path, mode=mode)
    assert str(tmp_path) in str(caught.value.remedy)


@pytest.mark.parametrize("mode", Mode)
def test_an_older_version_is_migrated(tmp_path: Path, mode: Mode, monkeypatch: pytest.MonkeyPatch) -> None:
    made(tmp_path)
    now = schema.VERSION
    for module in (schema, opening):
        monkeypatch.setattr(module, "VERSION", now + 2)
    monkeypatch.setitem(
        schema.MIGRATIONS, now, lambda c: c.execute("ALTER TABLE runs ADD COLUMN extra INTEGER")
    )
    monkeypatch.setitem(schema.MIGRATIONS, now + 1, lambda c: c.execute("UPDATE runs SET extra = 7"))
    with open_store(tmp_path, mode=mode) as store:
        assert store.count == 40
        assert store._manifest.connection.execute("SELECT DISTINCT extra FROM runs").fetchall() == [(7,)]


@pytest.mark.parametrize("mode", Mode)
@pytest.mark.parametrize(
    ("version", "lacks"),
    [
        (1, ["steps", "question_request", "questions", "births", "born_sifts"]),
        (2, ["question_request", "questions", "births", "born_sifts"]),
        (3, ["births", "born_sifts"]),
    ],
)
def test_an_older_store_gets_the_tables_that_it_lacks(
    tmp_path: Path, mode: Mode, version: int, lacks: list[str]
) -> None:
    made(tmp_path)
    with contextlib.closing(sqlite3.connect(tmp_path / "store.sqlite")) as connection:
        for table in lacks:
            connection.execute(f"DROP TABLE {table}")
        connection.execute(f"PRAGMA user_version = {version}")
    with open_store(tmp_path, mode=mode) as store:
        assert store.count == 40
        assert store.steps("build") == ()
        for table in ("questions", "births"):
            rows = store._manifest.connection.execute(f"SELECT count(*) FROM {table}").fetchall()
            assert rows == [(0,)], table


def test_what_steps_found_is_kept_latest_first_and_not_for_ever(tmp_path: Path) -> None:
    made(tmp_path)
    records = [
        StepRecord(name="check", key=str(number), made="2026-11-25T10:00:00Z", good_until="", result=b"{}")
        for number in range(60)
    ]
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        store.record_steps(records)
        store.record_steps([StepRecord(name="sift", key="k", made="", good_until="", result=b"[1]")])
    with open_store(tmp_path) as store:
        assert [record.key for record in store.steps("check", limit=2)] == ["59", "58"]
        assert len(store.steps("check", limit=100)) == 50
        assert store.steps("sift")[0].result == b"[1]"


@pytest.mark.parametrize("mode", Mode)
def test_an_older_version_without_migration_says_what_to_do(
    tmp_path: Path, mode: Mode, monkeypatch: pytest.MonkeyPatch
) -> None:
    made(tmp_path)
    newer = schema.VERSION + 1
    for module in (schema, opening):
        monkeypatch.setattr(module, "VERSION", newer)
    with pytest.raises(StoreVersionError, match="older") as caught:
        open_store(tmp_path, mode=mode)
    assert "delete the folder" in str(caught.value.remedy)


def test_a_failed_migration_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made(tmp_path)

    def fail(connection: sqlite3.Connection) -> None:
        connection.execute("DELETE FROM runs")
        raise sqlite3.OperationalError("made to fail")

    now = schema.VERSION
    with monkeypatch.context() as patch:
        for module in (schema, opening):
            patch.setattr(module, "VERSION", now + 1)
        patch.setitem(schema.MIGRATIONS, now, fail)
        with pytest.raises(StoreError):
            open_store(tmp_path, mode=Mode.WRITE)
    with open_store(tmp_path) as store:
        store_count = len(store.lookup(Position.start().key))
    assert store_count == 40


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("store.sqlite", b"This is no database, whatever its name says." * 100),
        ("games/*.parquet", b"PAR1 nor is this a table"),
        ("occurrences/*.parquet", b""),
        ("games/*.parquet", None),
        ("occurrences/*.parquet", None),
    ],
)
def test_damage_is_named_with_the_way_out(tmp_path: Path, name: str, content: bytes | None) -> None:
    made(tmp_path)
    for path in tmp_path.glob(name):
        if content is None:
            path.unlink()
        else:
            path.write_bytes(content)
    with pytest.raises(StoreError, match="damaged") as caught, open_store(tmp_path) as store:
        store.statistics(Position.start())
    assert f"delete the folder {tmp_path}" in str(caught.value.remedy)


def test_a_foreign_database_is_no_store(tmp_path: Path) -> None:
    made(tmp_path)
    (tmp_path / "store.sqlite").unlink()
    connection = sqlite3.connect(tmp_path / "store.sqlite")
    connection.execute("CREATE TABLE something (else_ TEXT)")
    connection.close()
    for mode in Mode:
        with pytest.raises(StoreError, match="not a store"):
            open_store(tmp_path, mode=mode)


def test_reading_where_nothing_is(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no store yet") as caught:
        open_store(tmp_path / "nothing")
    assert "sift" in str(caught.value.remedy)
    assert not (tmp_path / "nothing").exists()


@pytest.mark.parametrize("failing", ["fsync", "replace"])
@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS])
def test_a_failed_write_keeps_what_was_finished(
    tmp_path: Path, failing: str, code: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    games = random_games(60)
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", games[:30])

    def fail(*given: object, **named: object) -> None:
        raise OSError(code, os.strerror(code))

    with monkeypatch.context() as patch:
        store = open_store(tmp_path, mode=Mode.WRITE)
        sift = store.begin_sift("b.pgn", "k", kind="practice")
        patch.setattr(os, failing, fail)
        sift.add_batch(batch_of(games[30:]))
        with pytest.raises(StoreError) as caught:
            store.flush()
        assert caught.value.remedy
        store.close()
    assert not list(tmp_path.glob("*/*.tmp"))
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        assert store.count == 30
        sift_in(store, "b.pgn", games[30:])
        assert store.count == 60


def test_writes_that_the_system_refuses(tmp_path: Path) -> None:
    # A limit on the size of files, the one kind of full disk that needs no rights: real failures of real writes.
    games = random_games(60)
    batch = batch_of(games)
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        sift_in(store, "a.pgn", games[:5])
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    former = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    store = open_store(tmp_path, mode=Mode.WRITE)
    try:
        sift = store.begin_sift("b.pgn", "k", kind="practice")
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, before[1]))
        sift.add_batch(batch)
        with pytest.raises(StoreError, match="full"):
            store.flush()
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, former)
        store.close()
    with open_store(tmp_path, mode=Mode.WRITE) as store:
        assert store.count == 5
        sift_in(store, "b.pgn", games)
        assert store.count == 65


def mounted(*command: str) -> bool:
    return os.geteuid() == 0 and subprocess.run(command, capture_output=True, check=False).returncode == 0


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    folder = tmp_path / "disk"
    folder.mkdir()
    if not mounted("mount", "-t", "tmpfs", "-o", "size=600k", "tmpfs", str(folder)):
        pytest.skip("mounting needs rights; the limit on file sizes is tested anyway")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)


def test_a_disk_that_fills_up(small_disk: Path) -> None:
    folder = small_disk / "s"
    games = random_games(900, plies=30)
    finished = 0
    with pytest.raises(StoreError, match="full"), open_store(folder, mode=Mode.WRITE) as store:
        for number in range(100):
            sift = store.begin_sift(f"{number}.pgn", "k", kind="practice")
            sift.add_batch(batch_of(games[number * 9 : number * 9 + 9]))
            sift.finish()
            store.flush()
            finished += 9
    assert finished > 0
    with open_store(folder) as store:
        assert store.count == finished


@pytest.fixture
def write_protected(tmp_path: Path) -> Iterator[Path]:
    folder = made(tmp_path / "store")
    if os.geteuid() != 0:
        paths = [folder, *folder.rglob("*")]
        for path in paths:
            path.chmod(0o555 if path.is_dir() else 0o444)
        yield folder
        for path in paths:
            path.chmod(0o755 if path.is_dir() else 0o644)
        return
    if not mounted("mount", "--bind", str(folder), str(folder)):
        pytest.skip("write protection for the superuser needs a mount")
    subprocess.run(["mount", "-o", "remount,bind,ro", str(folder)], check=True)
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)


def test_a_write_protected_store_can_be_read_and_says_why_not_written(write_protected: Path) -> None:
    with open_store(write_protected) as store:
        assert store.count == 40
        assert store.statistics(Position.start()).tally.games == 40
    with pytest.raises(StoreError, match="cannot be written") as caught:
        open_store(write_protected, mode=Mode.WRITE)
    assert "cache folder" in str(caught.value.remedy)
