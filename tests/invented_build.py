"""A small invented edition to build, and a voice that answers at once."""

from __future__ import annotations

import subprocess
import time
from pathlib import Path

from variorum.base import Interrupted, VoiceError
from variorum.board import Request, Score, Verdict, VerdictLine
from variorum.voices.verdict_files import read_verdicts

ROOT = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
SETTINGS = f"""title = "The Panov"
side = "white"

[roots]
panov = "{ROOT}"

[names]
main = "panov Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5"

[budget]
total_nodes = 200000
nodes_per_verdict = 1000
minimum_effort = 500
lines = 2
"""
MANUSCRIPT = f"""[Event "The Panov"]
[Result "*"]

{ROOT} Nf6 5. Nc3 e6 (5... Nc6 6. Bg5 $18) 6. Nf3 Be7 (6... Bb4 7. cxd5 Nxd5 8. Qc2 $14)
7. cxd5 Nxd5 8. Bd3 $10 Nc6 9. O-O O-O *
"""
DIGEST = """# The Panov

White is [winning]{.claim kind=score at="main" says="winning White"}.
"""
GAMES = "".join(
    f"""[Event "Invented"]
[White "Alder, A."]
[Black "Birch, B. {number}"]
[Date "2021.03.0{number}"]
[Result "{result}"]

{ROOT} Nf6 5. Nc3 e6 6. Nf3 {reply} {result}

"""
    for number, (reply, result) in enumerate(
        (("Be7 7. cxd5 Nxd5 8. Bd3", "1-0"), ("Bb4 7. cxd5 Nxd5", "1/2-1/2"), ("Nc6", "0-1")), 1
    )
)


def make_edition(folder: Path) -> Path:
    folder.mkdir(parents=True)
    (folder / "edition.toml").write_text(SETTINGS)
    (folder / "manuscript.pgn").write_text(MANUSCRIPT)
    (folder / "digest.md").write_text(DIGEST)
    (folder / "sources").mkdir()
    (folder / "sources" / "games.pgn").write_text(GAMES)
    return folder


class Owl:
    """Answers at once, the same each time: its scores come from the key of the position."""

    name = "owl"
    version = "1"
    date = "2026-11-25"

    def __init__(self) -> None:
        self.stopped = False

    def ask(self, request: Request) -> Verdict:
        if self.stopped:
            raise Interrupted("stopped")
        position = request.position
        moves = position.legal_moves()[: request.multipv]
        base = position.key % 601 - 300
        return Verdict(
            key=position.key,
            epd=position.epd,
            voice=self.name,
            version=self.version,
            lines=tuple(
                VerdictLine((move.uci,), Score.of_cp(base - 5 * rank)) for rank, move in enumerate(moves)
            ),
            multipv=request.multipv,
            nodes=request.nodes or 0,
            asked=request.nodes or 0,
            depth=9,
            date=self.date,
        )

    def stop(self) -> None:
        self.stopped = True

    def close(self) -> None:
        pass


class Mute(Owl):
    """Never answers on positions where Black is to move."""

    def ask(self, request: Request) -> Verdict:
        if " b " in request.position.epd:
            raise VoiceError("has nothing to say")
        return super().ask(request)


def verdicts(folder: Path) -> list[tuple[str, int]]:
    """EPD and nodes asked of each verdict of the resident that is kept."""
    path = folder / "verdicts" / "resident.epd"
    return sorted((one.epd, one.asked) for one in read_verdicts(path).verdicts) if path.exists() else []


def wait_for_verdicts(folder: Path, process: subprocess.Popen[str], count: int) -> None:
    """Wait until so many verdicts are kept, or the program has ended."""
    while len(verdicts(folder)) < count and process.poll() is None:
        time.sleep(0.01)
