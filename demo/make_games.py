"""Makes the demonstration's two collections: invented practice, and the resident against itself.

All of it is invented. Players, events and games do not exist; the moves are the resident's, at few nodes and with a
temperature that falls with the invented rating. The same seed gives the same files on each machine.

    python demo/make_games.py [FOLDER]      (default: demo/edition/sources)
"""

from __future__ import annotations

import math
import random
import sys
from collections.abc import Mapping
from pathlib import Path

from variorum.base import Silent
from variorum.board import Line
from variorum.board.game_text import game_text
from variorum.voices.selfplay import Adjudication, PlayedGame, Seat, Variety, play_games

SEED = 20261125
PRACTICE_GAMES = 440
ENGINE_GAMES = 400

PANOV = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3"
SEMI_TARRASCH = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3"
NIMZO = "1.d4 Nf6 2.c4 e6 3.Nc3 Bb4 4.e3 c5 5.Bd3 d5 6.Nf3"

PRACTICE_OPENINGS = {
    "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3": 4,
    PANOV: 6,
    f"{PANOV} Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O": 10,
    f"{PANOV} Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1": 12,
    f"{PANOV} Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1 Nf6 11.a3 b6": 8,
    f"{PANOV} Bb4 7.Bd3 dxc4 8.Bxc4 O-O 9.O-O": 6,
    "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5": 4,
    f"{SEMI_TARRASCH} Nc6 7.Bd3 cxd4 8.exd4 Be7 9.O-O O-O 10.Re1": 9,
    f"{SEMI_TARRASCH} Nc6 7.Bd3 Be7 8.O-O O-O 9.a3 cxd4 10.exd4 Nf6 11.Re1 b6": 5,
    f"{SEMI_TARRASCH} cxd4 7.exd4 Be7 8.Bd3 Nc6 9.O-O O-O 10.Re1": 5,
    NIMZO: 5,
    f"{NIMZO} O-O 7.O-O cxd4 8.exd4 dxc4 9.Bxc4": 8,
    f"{NIMZO} O-O 7.O-O dxc4 8.Bxc4 cxd4 9.exd4": 4,
}
ENGINE_OPENINGS = [
    f"{PANOV} Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1",
    f"{PANOV} Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1 Nf6 11.a3 b6 12.Bc2 Bb7 13.Qd3",
    f"{NIMZO} O-O 7.O-O cxd4 8.exd4 dxc4 9.Bxc4",
    f"{PANOV} Be7 7.cxd5 Nxd5 8.Bc4 Nc6 9.O-O O-O 10.Re1",
]
INVENTED = "Invented for the demonstration; the moves are the resident's"

_FIRST = (
    "Arvo",
    "Belis",
    "Corin",
    "Dessa",
    "Elvar",
    "Fenna",
    "Garou",
    "Hesk",
    "Ilvi",
    "Jorun",
    "Kelda",
    "Lumo",
)
_LAST = ("Abrunn", "Bostelle", "Cavrin", "Dolmette", "Estrup", "Falkmoor", "Gierdal", "Hallowick", "Imbrand",
         "Jastrel", "Korvane", "Lundwehr", "Mirrane", "Nostrop", "Ollivar")  # fmt: skip
_TOWNS = ("Hollenbruck", "Marsovar", "Port Levin", "Quenstad", "Ravelmouth", "Sant Orrel", "Tervik")
_PACES = ("5400+30", "6000+30", "900+10", "1500+10", "180+2", "300")


def practice(
    seed: int = SEED, count: int = PRACTICE_GAMES, openings: Mapping[str, int] = PRACTICE_OPENINGS
) -> str:
    """A collection of invented practice, some doubles and faults included, as one PGN text.

    Each game begins with one of the openings, drawn by its weight.
    """
    draw = random.Random(seed)
    players = [
        (f"{last}, {first}", draw.randrange(1650, 2560)) for last in _LAST for first in draw.sample(_FIRST, 4)
    ]
    lines = [Line.parse(text) for text in openings]
    pairings, plans = [], []
    for index in range(count):
        white, black = draw.sample(players, 2)
        opening = draw.choices(range(len(lines)), weights=list(openings.values()))[0]
        pairings.append((white, black))
        plans.append((opening, _seat(white[1]), _seat(black[1]), seed + index))
    played = play_games(
        lines,
        plans,
        progress=Silent(),
        variety=Variety(6, 30, 80),
        win=Adjudication(600, 4, 40),
        draw=Adjudication(25, 8, 60),
    )
    texts = [_practice_text(game, pairings[game.plan], draw) for game in played]
    for index in range(0, count, 60):
        texts.append(_respelt(texts[index]))
    for index in range(30, count, 110):
        texts[index] = _torn(texts[index])
    return "\n".join(texts)


def engine_games(seed: int = SEED, count: int = ENGINE_GAMES) -> str:
    """The resident against itself at 10,000 nodes a move, its score and depth beside each move."""
    lines = [Line.parse(text) for text in ENGINE_OPENINGS]
    seat = Seat(nodes=10_000)
    plans = [(index % len(lines), seat, seat, seed + index) for index in range(count)]
    texts = []
    for game in play_games(lines, plans, progress=Silent(), variety=Variety(8, 25, 50)):
        tags = {
            "Event": "The resident against itself",
            "Site": "Invented",
            "Date": "2026.11.01",
            "Round": str(game.plan + 1),
            "White": "resident",
            "Black": "resident",
            "Result": game.result,
            "Annotator": INVENTED,
            "Termination": game.ending,
        }
        comments = {
            game.opening_plies + at + 1: f"{score.pawns_text.replace('−', '-')}/{depth}"
            for at, (score, depth) in enumerate(zip(game.scores, game.depths, strict=True))
        }
        texts.append(game_text(tags, game.line, comments))
    return "\n".join(texts)


def _seat(rating: int) -> Seat:
    """Few nodes and much temperature for a low rating: 50 nodes at 1650, 2,000 at 2550."""
    strength = (rating - 1650) / 900
    return Seat(nodes=round(50 * math.pow(40, strength)), temperature=round(22 - 17 * strength))


def _practice_text(
    game: PlayedGame, pairing: tuple[tuple[str, int], tuple[str, int]], draw: random.Random
) -> str:
    (white, white_rating), (black, black_rating) = pairing
    year = draw.randrange(2016, 2026)
    tags = {
        "Event": f"{draw.choice(_TOWNS)} Open (invented)",
        "Site": draw.choice(_TOWNS),
        "Date": f"{year}.{draw.randrange(1, 13):02}.{draw.randrange(1, 29):02}",
        "Round": str(draw.randrange(1, 10)),
        "White": white,
        "Black": black,
        "Result": game.result,
        "WhiteElo": str(white_rating),
        "BlackElo": str(black_rating),
        "TimeControl": draw.choice(_PACES),
        "Annotator": INVENTED,
    }
    return game_text(tags, game.line)


def _respelt(text: str) -> str:
    """The same game as another collection might have it: names turned round, another event."""
    rows = text.split("\n")
    for index, row in enumerate(rows):
        if row.startswith(("[White ", "[Black ")):
            name, value = row[1:-2].split(' "')
            last, first = value.split(", ")
            rows[index] = f'[{name} "{first} {last.upper()}"]'
        elif row.startswith("[Event "):
            rows[index] = '[Event "Other collection (invented)"]'
    return "\n".join(rows)


def _torn(text: str) -> str:
    """A game with a move that cannot be: what comes before it is still good."""
    head, moves = text.split("\n\n", 1)
    words = moves.split(" ")
    words.insert(len(words) // 2, "Qa9")
    return f"{head}\n\n{' '.join(words)}"


def main() -> None:
    """Write both collections."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "edition" / "sources"
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in (("practice-invented.pgn", practice()), ("resident-games.pgn", engine_games())):
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
        print(f"{folder.name}/{name}: {text.count('[Event ')} games, all invented")


if __name__ == "__main__":
    main()
