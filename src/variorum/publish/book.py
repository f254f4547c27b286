"""From a manuscript to its page: the main line, the variations under the moves they stand for, diagrams and apparatus.

A diagram stands at a named position where it is first met, where the main line has many ways, and at its end. The
apparatus cites what voices say where a line ends, where the author set a sign, and at named positions.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

import msgspec

from variorum.base import Diagnostic, Severity
from variorum.board import Line, Move, Position, Side
from variorum.board.nags import NAGS
from variorum.edition import EditionSettings, Place
from variorum.edition.manuscript import Game, Manuscript, Node
from variorum.publish.apparatus import Entry, PageEvidence, entry_parts, lemma
from variorum.publish.compose import colophon, in_print
from variorum.publish.diagram import Diagram, describe
from variorum.publish.indexes import IndexMaker
from variorum.publish.notation import NO_BREAK, roman, set_line, set_moves_in_text, set_san
from variorum.publish.page import (
    Anchor,
    Block,
    Break,
    Chapter,
    Inline,
    Moves,
    NoteEntry,
    Notes,
    Page,
    PageSetting,
    Plate,
    Plates,
    Style,
    Styled,
    Target,
    Variation,
    Words,
)
from variorum.publish.private import LeftOut, Screen

__all__ = ["ComposedBook", "compose_manuscript"]

LONGEST_COMMENT: Final = 60_000
"""Characters of a comment that are printed: some twenty pages. Setting more takes memory out of proportion."""
SHORT = 6
"""Half-moves of a variation that is set in parentheses inside the one around it, where it has no branches of its own."""
MANY_WAYS = 4
"""Moves of the author at a position of the main line that deserve a diagram."""
APART = 8
"""Half-moves between diagrams of one line, the named positions excepted."""
INDEXED_DEPTH = 2
INDEXED_MOVES = 3
"""Variations down to this depth stand in the index, by so many half-moves."""


JUDGING = ("!", "?", "□")
"""How the signs begin that judge a move, and not the position after it."""


class ComposedBook(msgspec.Struct, frozen=True):
    """The page, what was left out of it, the positions that it shows (EPD), and what is not printed whole."""

    page: Page
    left_out: tuple[LeftOut, ...]
    positions: frozenset[str]
    diagnostics: tuple[Diagnostic, ...]


def compose_manuscript(
    manuscript: Manuscript,
    settings: EditionSettings,
    evidence: PageEvidence,
    setting: PageSetting,
) -> ComposedBook:
    """The page of a manuscript, a chapter for each game; what is private is left out and told."""
    writer = _Composer(manuscript, settings, evidence, setting)
    blocks = tuple(block for game in manuscript.games for block in writer.game(game))
    title = in_print(setting.edition, setting.words.quotes)
    page = Page(
        kind=setting.words.manuscript,
        edition=title,
        title=(Words(title),),
        plain_title=title,
        blocks=blocks,
        entries=tuple(writer.entries),
        indexes=writer.index.made(setting.words, setting.letters),
        colophon=colophon(setting),
        sigla=setting.sigla,
        words=setting.words,
    )
    told = tuple(_cut_short(length, manuscript.path) for length in writer.cut)
    return ComposedBook(page, tuple(writer.screen.left_out), frozenset(writer.positions), told)


def _cut_short(length: int, path: Path) -> Diagnostic:
    return Diagnostic(
        code="print-long",
        severity=Severity.WARNING,
        path=path,
        message=f"a comment of {length:,} characters is printed to its first {LONGEST_COMMENT:,} only",
        hint="out/manuscript.pgn has the whole of it",
    )


class _Run:
    """A line that is being set: the moves that lead to where it is, and what its paragraph holds so far."""

    def __init__(
        self, depth: int, label: str, start: Position, moves: tuple[Move, ...], position: Position
    ) -> None:
        self.depth = depth
        self.label = label
        self.start = start
        self.moves = moves
        self.branch = len(moves)
        self.before = self.position = position
        self.children: list[Inline] = []
        self.target = ""
        """Anchor of the paragraph; empty where it has no move yet."""
        self.index_target = ""
        """Anchor of the first paragraph that is not in the index yet."""
        self.numbered = True
        self.since_diagram = APART

    def play(self, move: Move) -> None:
        """Go on by a move."""
        self.moves = (*self.moves, move)
        self.before, self.position = self.position, self.position.play(move)
        self.since_diagram += 1

    @property
    def last(self) -> Line:
        """The last move, from the position before it."""
        return Line(self.before, self.moves[-1:])

    def flush(self) -> Iterator[Variation]:
        """The paragraph, if it holds anything."""
        if self.children:
            yield Variation(self.depth, self.label, tuple(self.children))
            self.children, self.label, self.target = [], "", ""
        self.numbered = True


class _Composer:
    def __init__(
        self,
        manuscript: Manuscript,
        settings: EditionSettings,
        evidence: PageEvidence,
        setting: PageSetting,
    ) -> None:
        self.screen = Screen(manuscript, settings)
        self.evidence = evidence
        self.setting = setting
        self.words = setting.words
        self.index = IndexMaker()
        self.positions: set[str] = set()
        self.entries: list[NoteEntry] = []
        self.cut: list[int] = []
        """Lengths of the comments that are not printed whole."""
        self.figures = 0
        self.anchors = 0
        self.chapter_notes = 0
        self.pictured: set[str] = set()
        """Named positions that have had their diagram, by EPD."""
        self.cited: set[str] = set()
        """Positions of the chapter that the apparatus cites already, by EPD."""

    def game(self, game: Game) -> Iterator[Block]:
        """A chapter; nothing where all of it is private or its start cannot be used."""
        if not self.screen.shows(game) or game.start is None:
            return
        self.chapter_notes = 0
        self.cited = set()
        yield self.head(game)
        self.positions.add(game.start.epd)
        run = _Run(0, "", game.start, (), game.start)
        for text in self.screen.comments(game.root.comments):
            run.children += self.said(text)
        yield from run.flush()
        # An explicit stack: a hostile text nests deep.
        stack: list[Iterator[Block | Iterator[Block]]] = [self.line(run, game.root, None)]
        while stack:
            item = next(stack[-1], None)
            if item is None:
                stack.pop()
            elif isinstance(item, Iterator):
                stack.append(item)
            else:
                yield item
        for text in self.screen.comments(game.trailing_comments):
            yield Variation(0, "", self.said(text))

    def head(self, game: Game) -> Chapter:
        """The chapter's head: the event, or the players where no event is given; then what else the tags tell."""
        tags = {
            name: "" if (value := self.screen.tag(text)).startswith("?") else value
            for name, text in game.tags.items()
        }
        players = " – ".join(filter(None, (tags.get("White", ""), tags.get("Black", ""))))
        event = tags.get("Event", "")
        year = tags.get("Date", "")[:4]
        result = "" if game.result == "*" else game.result
        rest = (players if event else "", tags.get("Site", ""), year, result, tags.get("Annotator", ""))
        known = ", ".join(filter(None, rest))
        quotes = self.words.quotes
        title = in_print(event or players or self.words.chapter.format(number=game.number), quotes)
        return Chapter(
            f"chapter-{game.number}", (Words(title),), (Words(in_print(known, quotes)),) if known else ()
        )

    def line(self, run: _Run, parent: Node, first: Node | None) -> Iterator[Block | Iterator[Block]]:
        """The moves from a position on, beginning with `first` where that is a variation; nested lines are handed out."""
        while True:
            children = [first] if first else self.shown(parent)
            if not children or children[0].move is None:
                break
            node, *others = children
            if first:
                for text in self.screen.comments(first.opening_comments):
                    run.children += (*self.said(text), Words(" "))
            before, moves = run.position, run.moves
            run.play(children[0].move)
            self.positions.add(run.position.epd)
            self.move(run, node)
            yield from self.remark(run, node)
            short = [other for other in others if run.depth > 0 and self.is_short(other)]
            self.asides(run, before, short)
            nested = [other for other in others if other not in short]
            if nested:
                yield from run.flush()
                self.enter(run, moves)
                for number, other in enumerate(nested, 1):
                    label = label_of(run.depth + 1, number)
                    branch = _Run(run.depth + 1, label, run.start, moves, before)
                    yield self.line(branch, parent, other)  # type: ignore[misc]
            parent, first = node, None
        yield from run.flush()
        self.enter(run, run.moves)
        if run.depth == 0 and run.moves and run.since_diagram >= APART // 2:
            yield self.plates(run)

    def shown(self, node: Node) -> list[Node]:
        """What goes on from a position and may be read."""
        return [child for child in node.children if not self.screen.hides(child)]

    def move(self, run: _Run, node: Node) -> None:
        """One move with its signs; the first of a paragraph has the anchor of the index."""
        match run.children[-1:]:
            case [Words(text)] if text.endswith(" "):
                pass
            case [_]:
                run.children.append(Words(" "))
        if not run.target:
            self.anchors += 1
            run.target = f"at-{self.anchors}"
            run.index_target = run.index_target or run.target
            run.children.append(Anchor(run.target))
        move = Moves((self.printed(run.before, node, numbered=run.numbered),))
        run.children.append(Styled(Style.STRONG, (move,)) if run.depth == 0 else move)
        run.numbered = False

    def enter(self, run: _Run, moves: tuple[Move, ...]) -> None:
        """Have the moves of a main line, or the beginning of a variation, stand in the index."""
        if run.index_target and run.depth <= INDEXED_DEPTH:
            kept = moves if run.depth == 0 else moves[: run.branch + INDEXED_MOVES]
            self.index.line(Line(run.start, kept), Target(run.index_target, ""))
            run.index_target = ""

    def printed(self, before: Position, node: Node, *, numbered: bool) -> str:
        """A move as printed, with its number where it needs one, and its signs."""
        assert node.move is not None
        notation = self.setting.notation
        if numbered or before.turn is Side.WHITE:
            text = set_line(Line(before, (node.move,)), notation)
        else:
            text = set_san(before.san(node.move), notation)
        for nag in node.nags:
            glyph = glyph_of(nag)
            text += glyph if glyph[:1] in JUDGING[:2] else f"{NO_BREAK}{glyph}" if glyph else ""
        return text

    def remark(self, run: _Run, node: Node) -> Iterator[Block]:
        """What follows a move: the note of the apparatus, comments, a diagram."""
        after = run.position
        name = self.setting.names.get(after.epd)
        if name:
            self.index.position(name, Target(run.target, ""))
        if name or not self.shown(node) or any(map(glyph_of, node.nags)):
            run.children += self.note(run, judged=any(glyph_of(nag)[:1] in JUDGING for nag in node.nags))
        for text in self.screen.comments(node.comments):
            run.children += (Words(" "), *self.said(text))
            run.numbered = True
        many = run.depth == 0 and len(node.children) >= MANY_WAYS and run.since_diagram >= APART
        if (name and run.depth <= 1 and after.epd not in self.pictured) or many:
            yield from run.flush()
            yield self.plates(run)
            run.since_diagram = 0

    def is_short(self, node: Node) -> bool:
        """Whether a variation is set inside the one around it: no branches, no long comments."""
        for _ in range(SHORT):
            if sum(len(comment.text) for comment in (*node.opening_comments, *node.comments)) > 60:
                return False
            if not node.children:
                return True
            if len(node.children) > 1:
                return False
            node = node.children[0]
        return False

    def asides(self, run: _Run, before: Position, short: list[Node]) -> None:
        """Short variations, in the paragraph of the line around them."""
        for number, node in enumerate(short):
            run.children.append(Words("; " if number else " ("))
            run.children += self.aside(before, node)
        if short:
            run.children.append(Words(")"))
            run.numbered = True

    def aside(self, before: Position, node: Node) -> Iterator[Inline]:
        """One variation without branches, from its first move on."""
        for text in self.screen.comments(node.opening_comments):
            yield from (*self.said(text), Words(" "))
        numbered = True
        while node.move is not None:
            yield Moves((self.printed(before, node, numbered=numbered),))
            before, numbered = before.play(node.move), False
            self.positions.add(before.epd)
            for text in self.screen.comments(node.comments):
                yield from (Words(" "), *self.said(text))
                numbered = True
            shown = self.shown(node)
            if not shown:
                return
            yield Words(" ")
            node = shown[0]

    def said(self, text: str) -> tuple[Inline, ...]:
        """A comment with its moves set; its paragraphs are lines."""
        if len(text) > LONGEST_COMMENT:
            self.cut.append(len(text))
            text = f"{text[:LONGEST_COMMENT]} […]"
        found: list[Inline] = []
        for number, paragraph in enumerate(text.split("\n\n")):
            if number:
                found.append(Break())
            for piece, is_move in set_moves_in_text(
                in_print(paragraph, self.words.quotes), self.setting.notation
            ):
                found.append(Moves((piece,)) if is_move else Words(piece))
        return tuple(found)

    def note(self, run: _Run, *, judged: bool) -> tuple[Inline, ...]:
        """A superior figure, where a voice spoke; once a chapter for each position.

        The moves that could be played instead are cited where the author `judged` the one that was.
        """
        after, letters = run.position, self.setting.letters
        if after.epd in self.cited:
            return ()
        self.cited.add(after.epd)
        place = Place(text=after.fen, position=after, line=run.last)
        entry = self.evidence.entry(place)
        if not judged:
            entry = Entry(entry.readings)
        if not entry.readings and not entry.rivals:
            return ()
        self.chapter_notes += 1
        groups = entry_parts(lemma(place, letters) or self.words.position, entry, self.words, letters)
        number = len(self.entries) + 1
        self.entries.append(NoteEntry(number, tuple(map(tuple, groups)), self.chapter_notes))
        return (Notes((number,)),)

    def plates(self, run: _Run) -> Plates:
        """The diagram of a position, with its name and the move that led there."""
        position = run.position
        self.figures += 1
        self.pictured.add(position.epd)
        label = self.words.figure.format(number=self.figures)
        name = self.setting.names.get(position.epd)
        white = position.turn is Side.WHITE
        mover = self.words.white_to_move if white else self.words.black_to_move
        drawn = Diagram(position=position, label=f"{label}. {mover.removesuffix('.')}")
        caption: list[Inline] = []
        if name:
            self.index.position(name, Target(f"figure-{self.figures}", ""))
            caption += [Styled(Style.EMPHASIS, (Words(name),)), Words(". ")]
        before, _, after = self.words.after_move.partition("{move}")
        move = Moves((set_line(run.last, self.setting.letters),))
        caption += [Words(before), move, Words(f"{after} {mover}")]
        plate = Plate(self.figures, drawn, tuple(caption), describe(drawn, self.words))
        return Plates((plate,), label)


def glyph_of(nag: int) -> str:
    """The sign of a glyph's number as it is printed; empty where none is usual."""
    return NAGS[nag].glyph if nag < len(NAGS) else ""


def label_of(depth: int, number: int) -> str:
    """By which a variation is told apart from its neighbours: `ii` at depth 1, `b` at depth 2, `2` below.

    >>> label_of(1, 4), label_of(2, 3), label_of(3, 2)
    ('iv', 'c', '2')
    """
    if depth == 1:
        return roman(number)
    if depth == 2 and number <= 26:
        return chr(ord("a") + number - 1)
    return str(number)
