"""Makes an edition with a large invented manuscript and a digest that looks much up, the same for the same seed.

    python benches/make_manuscript.py FOLDER [--moves 5000] [--variations 800] [--games 2000] [--seed 1]

The moves are drawn by chance and few of a position are frequent, so that lines meet. Signs, comments, sentences, games and the
verdicts of a voice that nobody has are invented with them: all that an author's own edition has is there, and nothing is meant.
"""

from __future__ import annotations

import argparse
import json
import random
import textwrap
from dataclasses import dataclass, field
from pathlib import Path

from variorum.board import Line, Move, Position, Score, Verdict, VerdictLine
from variorum.board.game_text import game_text
from variorum.voices.verdict_files import append_verdicts

__all__ = ["make_edition"]

ROOTS = {
    "panov": "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3",
    "semi-tarrasch": "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3",
    "nimzo": "1.d4 Nf6 2.c4 e6 3.Nc3 Bb4 4.e3 c5 5.Bd3 d5 6.Nf3",
}
IQP = f"{ROOTS['panov']} Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"
OTHER_IQP = f"{ROOTS['semi-tarrasch']} Nc6 7.Bd3 cxd4 8.exd4 Be7 9.O-O O-O 10.Re1"
VOICE = "invented"
CHAPTERS = 12
CHAPTER_PLIES = 44
DEPTH = 3
"""Variations stand inside variations at most so deep."""
WORDS = [
    "the",
    "pawn",
    "waits",
    "bishop",
    "looks",
    "at",
    "h7",
    "knight",
    "leaves",
    "d5",
    "rook",
    "takes",
    "the",
    "file",
    "queen",
    "behind",
    "it",
    "both",
    "sides",
    "know",
    "this",
    "square",
    "before",
    "exchange",
    "after",
    "break",
    "nothing",
    "remains",
    "White",
    "wants",
    "more",
    "Black",
    "defends",
    "with",
    "care",
]
SIGNS = ("$1", "$2", "$5", "$6", "$7", "$10", "$13", "$14", "$15", "$16")


@dataclass
class Node:
    """A move of the manuscript with what stands behind it, the main one first."""

    position: Position
    move: Move
    words: list[str] = field(default_factory=list)
    others: list[list[Node]] = field(default_factory=list)
    """Variations that replace this move."""

    @property
    def after(self) -> Position:
        """The position that the move leads to."""
        return self.position.play(self.move)


class Maker:
    """Draws moves, texts and scores by one chance."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.taste: dict[str, float] = {}

    def move(self, position: Position, without: frozenset[Move] = frozenset()) -> Move | None:
        """A move of the position, seldom one that few would like; `None` where there is no other."""
        legal = sorted(
            (move for move in position.legal_moves() if move not in without),
            key=lambda move: self.taste.setdefault(move.uci, self.chance.random()),
        )
        # Nobody is mated in an opening book: a move that ends the game is passed over.
        for move in legal[min(int(self.chance.expovariate(0.9)), len(legal) - 1) :] if legal else ():
            if position.play(move).outcome is None:
                return move
        return None

    def line(self, position: Position, plies: int, without: frozenset[Move] = frozenset()) -> list[Node]:
        """Moves on from a position."""
        nodes: list[Node] = []
        for _ in range(plies):
            move = self.move(position, without if not nodes else frozenset())
            if move is None:
                break
            nodes.append(Node(position, move, self.behind()))
            position = nodes[-1].after
        return nodes

    def behind(self) -> list[str]:
        """What stands behind a move: often nothing."""
        words = [self.chance.choice(SIGNS)] if self.chance.random() < 0.15 else []
        return words + ([f"{{{self.sentence()}}}"] if self.chance.random() < 0.2 else [])

    def sentence(self) -> str:
        """A comment that says nothing."""
        said = " ".join(self.chance.choices(WORDS, k=self.chance.randint(6, 30)))
        return f"{said[0].upper()}{said[1:]}."


def make_edition(
    folder: Path, *, moves: int = 5000, variations: int = 800, games: int = 2000, seed: int = 1
) -> dict[str, int]:
    """Write an edition into an empty folder and say what is in it: moves, variations, games, verdicts, claims.

    Args:
        folder: Where to; it is made.
        moves: Of the manuscript, those of its variations included.
        variations: Of the manuscript.
        games: In `sources/`.
        seed: Of the chance.
    """
    maker = Maker(seed)
    chapters = _chapters(maker, moves, variations)
    folder.mkdir(parents=True)
    (folder / "edition.toml").write_text(_settings(), encoding="utf-8")
    manuscript = "\n".join(_chapter_text(number, line) for number, line in enumerate(chapters, 1))
    (folder / "manuscript.pgn").write_text(manuscript, encoding="utf-8")
    digest, claims = _digest(maker, chapters)
    (folder / "digest.md").write_text(digest, encoding="utf-8")
    (folder / "sources").mkdir()
    (folder / "sources" / "games.pgn").write_text(_games(maker, chapters, games), encoding="utf-8")
    nodes = [node for line in chapters for node in _all(line)]
    positions = dict.fromkeys([*(node.position for node in nodes), *(node.after for node in nodes)])
    append_verdicts(folder / "verdicts" / f"{VOICE}.epd", [_verdict(maker, one) for one in positions])
    return {
        "moves": len(nodes),
        "variations": sum(len(node.others) for node in nodes),
        "games": games,
        "verdicts": len(positions),
        "claims": claims,
    }


def _chapters(maker: Maker, moves: int, variations: int) -> list[list[Node]]:
    """Main lines from the roots on, and variations hung on moves drawn by chance until both numbers are reached."""
    chapters = []
    for number in range(CHAPTERS):
        root = Line.parse(list(ROOTS.values())[number % len(ROOTS)])
        line = [Node(at, move) for at, move in zip(root.positions(), root.moves, strict=False)]
        chapters.append([*line, *maker.line(root.end, CHAPTER_PLIES - len(line))])
    where = [(node, 0) for line in chapters for node in line[11:]]
    count = sum(map(len, chapters))
    for left in range(variations, 0, -1):
        plies = max(1, round((moves - count) / left))
        if left > 1:
            plies = max(1, min(moves - count - left, plies + maker.chance.randint(-3, 3)))
        line: list[Node] = []
        while not line:
            node, depth = maker.chance.choice(where)
            taken = frozenset((node.move, *(other[0].move for other in node.others)))
            line = maker.line(node.position, plies, taken)
        node.others.append(line)
        count += len(line)
        if depth + 1 < DEPTH:
            where += [(one, depth + 1) for one in line]
    return chapters


def _all(line: list[Node]) -> list[Node]:
    found = []
    for node in line:
        found.append(node)
        for other in node.others:
            found += _all(other)
    return found


def _settings() -> str:
    roots = "".join(f'{name} = "{line}"\n' for name, line in ROOTS.items())
    return f"""title = "The Large Edition"
side = "white"

[roots]
{roots}
[names]
iqp = "{IQP}"
other-iqp = "{OTHER_IQP}"

[budget]
total_nodes = 0
nodes_per_verdict = 100_000
"""


def _chapter_text(number: int, line: list[Node]) -> str:
    tags = f'[Event "Chapter {number}"]\n[White "?"]\n[Black "?"]\n[Result "*"]\n\n'
    return tags + textwrap.fill(" ".join([*_words(line), "*"]), 80, break_long_words=False) + "\n"


def _words(line: list[Node]) -> list[str]:
    words = []
    for node in line:
        words += [Line(node.position, (node.move,)).san(), *node.words]
        for other in node.others:
            words += ["(" + " ".join(_words(other)) + ")"]
    return words


def _digest(maker: Maker, chapters: list[list[Node]]) -> tuple[str, int]:
    """A text of a dozen pages: each section has prose, facts, claims, and blocks that are looked up."""
    parts = ["# The large edition\n\n*Nothing in it is meant.*\n"]
    claims = 0
    for number, line in enumerate(chapters, 1):
        at = Line(Position.start(), tuple(node.move for node in line[:18])).san()
        name = "iqp" if number % 2 else "other-iqp"
        sentences = [
            f'[White is better]{{.claim kind=score at="{at}" says="slight White"}}',
            '[most take the file]{.claim kind=popularity at="iqp" move="10...Nf6" says="most played"}',
            '[the rook takes the file]{.claim kind=plan at="iqp" says="Ra1-c1" share=20}',
            f"""[it is isolated]{{.claim kind=structure at="{name}" says="isolated queen's pawn"}}""",
            f'[it comes to the same]{{.claim kind=transposes at="{IQP}" to="{OTHER_IQP}"}}',
        ]
        claims += len(sentences)
        facts = [
            f'[50]{{.fact kind=score at="{at}"}} of 100',
            f'[5]{{.fact kind=count at="{name}"}} games',
            f'[2]{{.fact kind=count of=orders at="{name}"}} orders',
        ]
        parts.append(f"## Chapter {number}\n\n{maker.sentence()} " + ". ".join(sentences) + ".\n")
        parts.append(f"{maker.sentence()} Here are {', '.join(facts)}. {maker.sentence()}\n")
        parts.append(f":::diagram {at}\ncaption: {maker.sentence()}\n:::\n")
        parts.append(f":::plans {name}\n:::\n\n:::orders {name}\n:::\n")
        parts.append(f":::contrast iqp\nagainst: {at}\n:::\n\n:::apparatus {at}\n:::\n")
    return "\n".join(parts), claims


def _games(maker: Maker, chapters: list[list[Node]], count: int) -> str:
    """Games that follow the manuscript for a while, or one of the two ways into one position."""
    texts = []
    for number in range(count):
        if number % 2:
            line = Line.parse(maker.chance.choice((IQP, OTHER_IQP)))
        else:
            chapter = maker.chance.choice(chapters)
            known = chapter[: maker.chance.randint(12, len(chapter))]
            line = Line(Position.start(), tuple(node.move for node in known))
        rest = maker.line(line.end, maker.chance.randint(20, 50))
        line = Line(line.start, (*line.moves, *(node.move for node in rest)))
        tags = {
            "Event": "Invented",
            "White": f"Alder {number}",
            "Black": f"Birch {number}",
            "Date": f"{2000 + number % 20}.03.01",
            "Result": maker.chance.choice(("1-0", "0-1", "1/2-1/2")),
        }
        texts.append(game_text(tags, line))
    return "\n".join(texts)


def _verdict(maker: Maker, position: Position) -> Verdict:
    moves = position.legal_moves()
    first = maker.chance.randint(-120, 120)
    lines = tuple(
        VerdictLine(
            (move.uci,), Score.of_cp(first - step * 20 if position.ply % 2 == 0 else first + step * 20)
        )
        for step, move in enumerate(maker.chance.sample(moves, min(3, len(moves))))
    )
    return Verdict(
        key=position.key,
        epd=position.epd,
        voice=VOICE,
        version="1",
        lines=lines,
        multipv=3,
        nodes=262_144,
        depth=12,
        date="2026-05-01",
    )


if __name__ == "__main__":
    reader = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    reader.add_argument("folder", type=Path)
    for option, default in (("moves", 5000), ("variations", 800), ("games", 2000), ("seed", 1)):
        reader.add_argument(f"--{option}", type=int, default=default)
    asked = reader.parse_args()
    made = make_edition(
        asked.folder, moves=asked.moves, variations=asked.variations, games=asked.games, seed=asked.seed
    )
    print(json.dumps(made))
