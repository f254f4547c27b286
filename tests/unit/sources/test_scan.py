"""The scan of one file from Python: packed files, torn files, progress, filters."""

from __future__ import annotations

import bz2
import gzip
import random
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Self

import pyarrow as pa
import pytest

from variorum.base import InputError, Interrupted, Silent
from variorum.board import Position
from variorum.sources.scan import ScanFilter, scan_file

GAME = """[Event "Made-up Cup {number}"]
[Date "{date}"]
[WhiteElo "{rating}"]
[BlackElo "2400"]
[TimeControl "{control}"]

1. e4 c6 {{[%clk 1:{minute:02}:{second:02}]}} 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 *

"""
PANOV = "rnbqkb1r/pp2pppp/5n2/3p4/2PP4/8/PP3PPP/RNBQKBNR w KQkq - 1 5"


def collection(games: int) -> bytes:
    dice = random.Random(3)
    return "".join(
        GAME.format(
            number=number,
            date=dice.choice(["2019.05.01", "2023.??.??", "????.??.??", "2024.12.31"]),
            rating=dice.choice([2300, 2500, "?"]),
            control=dice.choice(["5400+30", "900+10", "180+2", "-"]),
            minute=dice.randrange(60),
            second=dice.randrange(60),
        )
        for number in range(games)
    ).encode()


def count(path: Path, wanted: ScanFilter | None = None, progress: Silent | None = None) -> int:
    roots = [Position.from_fen(PANOV)]
    batches = scan_file(path, roots, wanted or ScanFilter(), progress or Silent(), name=path.name)
    return sum(len(batch.root) for batch in batches)


PACKERS: dict[str, Callable[[bytes], bytes]] = {
    "plain": bytes,
    "gzip": gzip.compress,
    "bzip2": bz2.compress,
    "Zstandard": lambda text: pa.Codec("zstd").compress(text, asbytes=True),
}


@pytest.mark.parametrize("packer", PACKERS)
def test_packed_files_are_told_by_their_first_bytes(packer: str, tmp_path: Path) -> None:
    path = tmp_path / "games"
    pack = PACKERS[packer]
    # Two members or frames, as some programs write them.
    path.write_bytes(pack(collection(300)) + pack(collection(200)))
    assert count(path) == 500


@pytest.mark.parametrize("packer", ["gzip", "bzip2", "Zstandard"])
@pytest.mark.parametrize("damage", ["cut", "garbled"])
def test_what_could_be_read_of_a_torn_archive_is_given_before_the_error(
    packer: str, damage: str, tmp_path: Path
) -> None:
    path = tmp_path / "games"
    packed = PACKERS[packer](collection(30_000))
    middle = len(packed) * 3 // 4
    path.write_bytes(packed[:middle] + (b"" if damage == "cut" else b"\xff" * 4096))
    met = 0
    with pytest.raises(InputError, match="cannot be read on") as caught:
        for batch in scan_file(path, [Position.from_fen(PANOV)], ScanFilter(), Silent(), name="games"):
            met += batch.counts["kept"]
    assert caught.value.path == path
    assert caught.value.remedy
    assert 0 < met < 30_000


def test_files_that_cannot_be_scanned(tmp_path: Path) -> None:
    utf16 = tmp_path / "utf16.pgn"
    utf16.write_text('[Event "x"]\n', encoding="utf-16")
    for path in (tmp_path / "missing.pgn", tmp_path, utf16):
        with pytest.raises(InputError) as caught:
            count(path)
        assert caught.value.path == path


@pytest.mark.parametrize("content", [b"", b"\n\n", bytes(range(256)) * 400, b"\0" * 10_000])
def test_a_file_without_games_gives_none(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "nothing.pgn"
    path.write_bytes(content)
    batches = list(scan_file(path, [Position.start()], ScanFilter(), Silent(), name="nothing"))
    assert all(not any(batch.counts.values()) for batch in batches)


@pytest.mark.parametrize(
    ("wanted", "fits"),
    [
        (ScanFilter(min_rating=2400), lambda text: '[WhiteElo "2500"]' in text),
        (ScanFilter(since=date(2023, 7, 1)), lambda text: "2023" in text or "2024" in text),
        (ScanFilter(until=date(2022, 12, 31)), lambda text: "2019" in text),
        (ScanFilter(pace="classical"), lambda text: "5400+30" in text),
        (ScanFilter(pace="rapid"), lambda text: "900+10" in text),
        (ScanFilter(pace="blitz"), lambda text: "180+2" in text),
    ],
)
def test_filters_keep_games_whose_tags_say_that_they_fit(
    wanted: ScanFilter, fits: Callable[[str], bool], tmp_path: Path
) -> None:
    path = tmp_path / "games.pgn"
    text = collection(400)
    path.write_bytes(text)
    games = text.decode().split("\n\n[")
    assert count(path, wanted) == sum(fits(game) for game in games)


class Listening(Silent):
    """Adds up what it hears."""

    def __init__(self) -> None:
        super().__init__()
        self.total: int | None = None
        self.heard = 0

    def task(self, name: str, *, total: int | None, unit: str) -> Listening:
        del name, unit
        self.total = total
        return self

    def advance(self, amount: int, *, note: str | None = None) -> None:
        del note
        self.heard += amount

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        return None


def test_progress_hears_bytes_of_the_file_as_it_lies_on_disk(tmp_path: Path) -> None:
    path = tmp_path / "games.pgn.gz"
    path.write_bytes(gzip.compress(collection(2_000)))
    progress = Listening()
    assert count(path, progress=progress) == 2_000
    assert progress.heard == progress.total == path.stat().st_size


def test_work_that_is_told_to_stop_stops(tmp_path: Path) -> None:
    path = tmp_path / "games.pgn"
    path.write_bytes(collection(1_000))
    progress = Silent()
    progress.stop = True
    with pytest.raises(Interrupted):
        count(path, progress=progress)


@pytest.mark.parametrize("threads", [1, 2, 5])
def test_batches_do_not_depend_on_threads(threads: int, tmp_path: Path) -> None:
    path = tmp_path / "games.pgn"
    path.write_bytes(collection(60_000))
    roots = [Position.from_fen(PANOV)]

    def batches(threads: int) -> list[tuple[bytes, ...]]:
        return [
            (batch.game_number.tobytes(), batch.file_offset.tobytes(), batch.occurrences[0].tobytes())
            for batch in scan_file(path, roots, ScanFilter(), Silent(), name="games", threads=threads)
        ]

    assert batches(threads) == batches(3)
