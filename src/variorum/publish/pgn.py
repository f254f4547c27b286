"""`out/manuscript.pgn`: the manuscript for any program, with what the voices say as plain comments.

Written in the export format of the PGN standard, in UTF-8; what is private is left out. The author's file is only read.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from variorum.board import Position, Side
from variorum.claims.facts import Reading
from variorum.edition import EditionSettings, Place
from variorum.edition.manuscript import Comment, Game, Manuscript, Node
from variorum.publish.apparatus import PageEvidence, Siglum, reading_parts
from variorum.publish.private import LeftOut, Screen
from variorum.publish.wording import ENGLISH, Wording

__all__ = ["ManuscriptExport", "render_manuscript"]

ROSTER = ("Event", "Site", "Date", "Round", "White", "Black", "Result")
UNKNOWN = {"Date": "????.??.??", "Result": "*"}
WIDTH = 79


class ManuscriptExport(msgspec.Struct, frozen=True):
    """The text, and what was left out of it."""

    pgn: str
    left_out: tuple[LeftOut, ...]


def render_manuscript(
    manuscript: Manuscript,
    settings: EditionSettings,
    evidence: PageEvidence,
    sigla: tuple[Siglum, ...] = (),
    words: Wording = ENGLISH,
) -> ManuscriptExport:
    """All games, each verdict once a game, after the move that leads to its position."""
    writer = _Writer(manuscript, settings, evidence, sigla, words)
    games = [text for game in manuscript.games if (text := writer.game(game))]
    return ManuscriptExport("\n".join(games), tuple(writer.screen.left_out))


class _Writer:
    def __init__(
        self,
        manuscript: Manuscript,
        settings: EditionSettings,
        evidence: PageEvidence,
        sigla: tuple[Siglum, ...],
        words: Wording,
    ) -> None:
        self.screen = Screen(manuscript, settings)
        self.evidence = evidence
        self.sigla = sigla
        self.words = words
        self.told: dict[Position, tuple[Reading, ...]] = {}
        """What was said of a position in the game at hand."""

    def game(self, game: Game) -> str:
        """One game, empty if all of it is private or its start cannot be used."""
        self.told = {}
        start = game.start
        if start is None or not self.screen.shows(game):
            return ""
        tags = {name: game.tags.get(name, UNKNOWN.get(name, "?")) for name in ROSTER} | game.tags
        tags["Result"] = game.result
        if "FEN" in tags:
            tags["SetUp"] = "1"
        lines = [f'[{name} "{_escaped(self.screen.tag(value))}"]' for name, value in tags.items()]
        return "\n".join([*lines, "", *_wrapped(self.movetext(game, start)), ""])

    def movetext(self, game: Game, start: Position) -> Iterator[str]:
        """Words of the movetext, parted by spaces; explicit stack, for a hostile text nests deep."""
        key = "; ".join(f"{siglum.mark} {siglum.meaning}" for siglum in self.sigla)
        if key:
            yield from _comment(f"{key}; {self.words.scale}.")
        yield from self.comments(game.root.comments)
        yield from self.verdict(start, None)
        stack: list[Iterator[str | Iterator[str]]] = [self.line(game.root, start)]
        while stack:
            item = next(stack[-1], None)
            if item is None:
                stack.pop()
            elif isinstance(item, str):
                yield item
            else:
                stack.append(item)
        for comment in game.trailing_comments:
            yield from self.comments((comment,))
        yield game.result

    def line(
        self, parent: Node, position: Position, first: Node | None = None
    ) -> Iterator[str | Iterator[str]]:
        """The moves from a position on, beginning with `first` where that is a variation."""
        numbered = True
        while True:
            children = [first] if first else [node for node in parent.children if not self.screen.hides(node)]
            if not children:
                return
            node, *others = children
            if first:
                yield from self.comments(first.opening_comments)
            move = node.move
            if move is None:
                return
            san = position.san(move)
            if position.turn is Side.WHITE:
                yield f"{position.fullmove}."
            elif numbered:
                yield f"{position.fullmove}..."
            yield san
            after = position.play(move)
            yield from (f"${nag}" for nag in node.nags)
            said = [*self.comments(node.comments), *self.verdict(after, position)]
            yield from said
            for other in others:
                yield "("
                yield self.line(parent, position, other)  # type: ignore[misc]
                yield ")"
            numbered = bool(said or others)
            parent, position, first = node, after, None

    def comments(self, comments: tuple[Comment, ...]) -> Iterator[str]:
        for text in self.screen.comments(comments):
            yield from _comment(text)

    def verdict(self, position: Position, before: Position | None) -> Iterator[str]:
        """What the voices say, once a game; where all games went on by one move, their figure is not said again."""
        if position in self.told:
            return
        entry = self.evidence.entry(Place(text=position.fen, position=position, line=None))
        known = () if before is None else self.told.get(before, ())
        self.told[position] = entry.readings
        said = [
            " ".join(part.text for part in reading_parts(reading, self.words))
            for reading in entry.readings
            if reading.games is None or reading not in known
        ]
        if said:
            yield from _comment("; ".join(said))


def _comment(text: str) -> Iterator[str]:
    """A comment as words; braces in it would end it."""
    words = "".join(char if char.isprintable() else " " for char in text)
    words = words.replace("{", "(").replace("}", ")")
    pieces = words.split()
    if pieces:
        yield from (f"{{{' '.join(pieces)}}}".split(" "))


def _wrapped(words: Iterator[str]) -> Iterator[str]:
    """Lines of at most 79 characters; none begins with a sign that means something at the start of a line."""
    line, opened = "", ""
    for word in words:
        if word == "(":
            opened += word  # stays with the move behind it
            continue
        if word == ")" or not line:
            line += opened + word
        elif len(line) + 1 + len(opened + word) <= WIDTH or (opened + word)[0] in "%[;":
            line += f" {opened}{word}"
        else:
            yield line
            line = opened + word
        opened = ""
    yield line + opened


def _escaped(value: str) -> str:
    printable = "".join(char if char.isprintable() else " " for char in value)
    return printable.replace("\\", "\\\\").replace('"', '\\"')
