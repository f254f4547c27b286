"""How quickly the desk answers on a large edition: every page, cold and warm, alone and while a build writes.

    python benches/make_collection.py C.pgn --games 200000 --seed 8 --dirt 5
    python benches/load_desk.py make EDITION C.pgn [MORE.pgn]
    python benches/load_desk.py run EDITION [--positions 500] [--seed 1] [--more LATER.pgn]

A collection of 25,000 games instead makes the largest graph that there is, of close on a million positions.

`make` sifts the collection into an edition whose root is the start position and writes an invented manuscript, digest and
verdicts for it. `run` serves a copy of it by a desk in a process of its own and asks for positions reached in games (any ply of a
random game) and in the manuscript, then for every other page. Times are milliseconds as a browser on this computer meets
them; the ratio is to the median of a style sheet, which costs the desk nothing, in the same phase of the same run.
"""

from __future__ import annotations

import argparse
import contextlib
import http.client
import itertools
import json
import os
import random
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

_VERDICTS, _LINES = 6_000, 250
_PAGES = ("map", "orders", "plans", "structures", "contrast", "claims", "manuscript", "digest")
_PORT = 7591
_DONE = 200
_LATER = 202


def make(folder: Path, collections: list[Path]) -> None:
    """An edition over collections of games; everything in it but these is invented here, from one seed."""
    from variorum.base import Silent
    from variorum.edition import load_edition, new_edition
    from variorum.sources import SiftOptions, sift
    from variorum.store import Mode, open_store

    started = time.monotonic()
    new_edition(folder, "Bench", ["start"], "both")
    for path in collections:
        shutil.copy(path, folder / "sources" / path.name)
    edition, _ = load_edition(folder)
    assert edition is not None
    with open_store(folder / ".variorum", mode=Mode.WRITE) as store:
        report = sift(edition, store, [folder / "sources"], SiftOptions(), Silent())
        print(f"{report.games:,} games, {time.monotonic() - started:.0f} s")
        _write_texts(folder, store)


def _write_texts(folder: Path, store: Any) -> None:
    from variorum.board import Line, Score, Verdict, VerdictLine
    from variorum.voices.verdict_files import append_verdicts, verdict_path

    rng = random.Random(8)
    lines = list(_lines(store, rng, _LINES))
    manuscript = "".join(
        f'[Event "Lines {number}"]\n[White "w"]\n[Black "b"]\n[Result "*"]\n\n{Line(line.start, line.moves[:30]).san()} *\n\n'
        for number, line in enumerate(lines)
    )
    (folder / "manuscript.pgn").write_text(manuscript)
    told = [
        f"# Bench\n\nAfter [{Line(one.start, one.moves[:12]).san()}]{{.line}} play goes on.\n"
        for one in lines[:100]
    ]
    (folder / "digest.md").write_text("\n".join([told[0], *(text.partition("\n")[2] for text in told[1:])]))
    for voice in ("first", "second"):
        said = []
        for line in _lines(store, rng, _VERDICTS // 2):
            position = line.positions()[rng.randrange(1, min(20, len(line.moves)))]
            moves = list(position.legal_moves())
            if not moves:
                continue
            chosen = rng.sample(moves, min(2, len(moves)))
            scores = sorted((rng.gauss(0, 60) for _ in chosen), reverse=position.turn.value == "white")
            said.append(
                Verdict(
                    key=position.key,
                    epd=position.epd,
                    voice=voice,
                    version="1",
                    lines=tuple(
                        VerdictLine((move.uci,), Score.of_cp(round(score)))
                        for move, score in zip(chosen, scores, strict=True)
                    ),
                    multipv=2,
                    nodes=100_000,
                    depth=10,
                    elapsed_ms=100,
                    threads=1,
                    options=(),
                    date="2020-01-01",
                    origin="",
                    iterations=(),
                    asked=100_000,
                )
            )
        append_verdicts(verdict_path(folder / "verdicts", voice), said)


def _lines(store: Any, rng: random.Random, count: int) -> Iterator[Any]:
    total = store.count
    ids = sorted(rng.sample(range(1, total + 1), count))
    for first in range(0, count, 100):
        yield from (game.line for game in store.games(ids[first : first + 100]))


class Desk:
    """A desk served from this computer, in a process of its own."""

    def __init__(self, edition: Path, home: Path) -> None:
        self._edition, self._home = edition, home
        self.name = ""

    def __enter__(self) -> Desk:
        from variorum.desk.shelf import Shelf

        os.environ["VARIORUM_HOME"] = str(self._home)
        self.name = Shelf().add(self._edition).name
        self._process = subprocess.Popen(
            [sys.executable, "-m", "variorum", "desk", "--no-browser", "--port", str(_PORT)],
            stdout=subprocess.DEVNULL,
        )
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            with contextlib.suppress(OSError):
                self.connection = http.client.HTTPConnection("127.0.0.1", _PORT, timeout=300)
                self.get("/static/desk.css")
                return self
            time.sleep(0.05)
        raise SystemExit("the desk does not answer")

    def __exit__(self, *exc: object) -> None:
        self.connection.close()
        self._process.terminate()
        self._process.wait(30)

    def get(self, path: str) -> tuple[float, int, str]:
        """Milliseconds, status and text of one request over the open connection."""
        started = time.perf_counter()
        self.connection.request("GET", path, headers={"accept": "text/html"})
        answer = self.connection.getresponse()
        text = answer.read().decode()
        return 1000 * (time.perf_counter() - started), answer.status, text

    def page(self, page: str, **asked: str) -> tuple[float, int, str]:
        return self.get(f"/e/{self.name}/{page}" + (f"?{urlencode(asked)}" if asked else ""))

    def until_made(self, page: str, **asked: str) -> float:
        """Milliseconds until a page or a part that is made in the background is there."""
        started = time.perf_counter()
        while (told := self.page(page, **asked))[1] == _LATER:
            time.sleep(0.05)
        assert told[1] == _DONE, re.sub(r"<[^>]+>|\s+", " ", told[2])[:600]
        return 1000 * (time.perf_counter() - started)

    def most_memory(self) -> str:
        """The most that its process has held, where the system tells."""
        status = Path(f"/proc/{self._process.pid}/status")
        told = status.read_text().split("VmHWM:")[1].split("kB")[0] if status.is_file() else ""
        return f"{int(told) >> 10} MiB" if told else "not told here"

    def post(self, path: str) -> None:
        token = re.search(r'name="token" content="([^"]+)"', self.get("/")[2])
        assert token is not None
        headers = {"content-type": "application/json", "x-variorum-token": token[1]}
        self.connection.request("POST", path, body="{}", headers=headers)
        answer = self.connection.getresponse()
        assert answer.read() and answer.status == _DONE

    def working(self) -> bool:
        self.connection.request("GET", "/works")
        works = json.loads(self.connection.getresponse().read())
        return any(work["state"] in ("waiting", "running", "stopping") for work in works)


class Times:
    """Milliseconds of what was asked, by its name."""

    def __init__(self, phase: str, desk: Desk) -> None:
        print(f"\n{phase}")
        self._still = statistics.median(desk.get("/static/desk.css")[0] for _ in range(50))
        self.tell("a style sheet", [desk.get("/static/desk.css")[0] for _ in range(100)])

    def tell(self, what: str, taken: list[float]) -> None:
        p50, p95 = (
            (statistics.quantiles(taken, n=100)[at - 1] for at in (50, 95)) if len(taken) > 1 else taken * 2
        )
        ratio = f"{p50 / self._still:7.0f} x"
        print(f"  {what:34}{len(taken):5}{p50:10.1f}{p95:10.1f}{max(taken):10.1f}{ratio}", flush=True)


def run(folder: Path, home: Path, positions: int, seed: int, more: Path | None) -> None:
    """All phases in one run; the desk is begun anew for what is to be cold."""
    from variorum.store import open_store

    with open_store(folder / ".variorum") as store:
        print(_numbers(folder, store))
        places = list(_places(folder, store, random.Random(seed), 3 * positions))
    print(f"{'':36}{'n':>5}{'median':>10}{'95 %':>10}{'most':>10}{'':>5}ratio")
    cold, alone, busy = places[:positions], places[positions : 2 * positions], places[2 * positions :]
    with Desk(folder, home) as desk:
        first, searched = desk.page("map"), desk.page("map/sheet", find="Nf3")
        assert first[1] == searched[1] == _DONE, "no first map"
        whole = desk.until_made("map?newer=")
        times = Times("A desk just begun, nothing kept: the map is asked for before all else", desk)
        times.tell("map, first answer", [first[0]])
        times.tell("a search on it", [searched[0]])
        times.tell("map, until the whole is there", [first[0] + searched[0] + whole])
        print(f"  most memory of the desk: {desk.most_memory()}")
    shutil.rmtree(home / "cache")
    with Desk(folder, home) as desk:
        times = Times("A desk just begun, while it opens the edition", desk)
        times.tell("position", [_first_paint(desk, at) for at in cold])
        times.tell("map, until it is drawn", [desk.until_made("map")])
        times.tell("part: moves with values", [desk.until_made("part/onward", at=at) for at in cold[:50]])
        times.tell("part: near positions", [desk.until_made("part/near", at=at) for at in cold[:20]])
        times = Times("Positions not asked for before, the edition opened", desk)
        times.tell("position", [_first_paint(desk, at) for at in alone])
        times.tell("position, again", [_first_paint(desk, at) for at in alone])
        for page in _PAGES:
            asked = _asked(page, alone)
            times.tell(f"{page}, first answer", [desk.page(page, **one)[0] for one in asked])
            times.tell(f"{page}, until made", [desk.until_made(page, **one) for one in asked])
            times.tell(f"{page}, again", [desk.page(page, **one)[0] for one in asked])
    with Desk(folder, home) as desk:
        times = Times("Another run of the desk", desk)
        times.tell("position, the first of all", [_first_paint(desk, alone[0])])
        times.tell("map, until it is drawn", [desk.until_made("map")])
        times.tell("map, again", [desk.page("map")[0] for _ in range(20)])
        if more is not None:
            shutil.copy(more, folder / "sources")
        desk.post(f"/e/{desk.name}/begin/sift")
        desk.post(f"/e/{desk.name}/begin/build")
        times = Times("While games are brought in and a build asks and writes", desk)
        taken = []
        while len(taken) < len(busy) and desk.working():
            taken.append(_first_paint(desk, busy[len(taken)]))
        times.tell("position", taken)
        times.tell("map", [desk.page("map")[0] for _ in range(20)])
        times.tell("part: moves with values", [desk.page("part/onward", at=at)[0] for at in busy[:50]])
        print(f"  work still under way: {'yes' if desk.working() else 'no'}")


def _first_paint(desk: Desk, at: str) -> float:
    taken, status, text = desk.page("position", at=at)
    assert status == _DONE and 'id="board"' in text, text[:300]
    return taken


def _asked(page: str, places: list[str]) -> list[dict[str, str]]:
    if page == "contrast":
        return [{"at": one, "with": other} for one, other in itertools.pairwise(places[:21])]
    if page == "plans":
        return [{"at": at} for at in places[:5]]
    return [{}]


def _places(folder: Path, store: Any, rng: random.Random, count: int) -> Iterator[str]:
    """Positions as they are typed: nine of ten from any ply of a game, the tenth from the manuscript."""
    from variorum.board import Line
    from variorum.edition import read_manuscript
    from variorum.edition.manuscript_find import line_to

    manuscript = read_manuscript(folder / "manuscript.pgn")
    games = list(_lines(store, rng, count))
    rng.shuffle(games)
    for line in games:
        if rng.random() < 0.1:
            line = line_to(rng.choice(rng.choice(manuscript.games).nodes))
        played = Line(line.start, line.moves[: rng.randrange(0, len(line.moves) + 1)])
        yield played.san() if played.moves else "start"


def _numbers(folder: Path, store: Any) -> str:
    import numpy as np
    import pyarrow.parquet as pq

    runs = sorted((folder / ".variorum" / "occurrences").glob("*.parquet"))
    keys = np.concatenate([pq.read_table(run, columns=["key"]).column(0).to_numpy() for run in runs])
    return f"{store.count:,} games, {len(keys):,} positions on their ways, {len(np.unique(keys)):,} different ones"


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    commands = parser.add_subparsers(dest="command", required=True)
    making = commands.add_parser("make")
    making.add_argument("edition", type=Path)
    making.add_argument("collections", type=Path, nargs="+")
    running = commands.add_parser("run")
    running.add_argument("edition", type=Path)
    running.add_argument("--positions", type=int, default=500)
    running.add_argument("--seed", type=int, default=1)
    running.add_argument("--more", type=Path, help="games that are brought in while pages are asked for")
    given = parser.parse_args()
    if given.command == "make":
        make(given.edition, given.collections)
        return
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "edition"
        shutil.copytree(given.edition, copy)
        run(copy, Path(folder) / "home", given.positions, given.seed, given.more)


if __name__ == "__main__":
    main()
