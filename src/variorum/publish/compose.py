"""From a digest to its page: facts looked up, claims put beside their sentences, diagrams and notes numbered."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from itertools import groupby

import msgspec

from variorum import __version__
from variorum.base import Diagnostic, InputError, Severity
from variorum.board import Line, Side
from variorum.claims.exhibits import (
    ShownApparatus,
    ShownContrast,
    ShownGame,
    ShownLine,
    ShownOrders,
    ShownPlans,
    look_up_exhibit,
)
from variorum.claims.facts import in_words, look_up
from variorum.claims.lines import read_line
from variorum.claims.standing import Standing
from variorum.edition import digest
from variorum.edition.digest import Digest, Span, SpanKind, Where, plain_text
from variorum.edition.marks import Mark
from variorum.edition.place import Place
from variorum.insight.contrast import MOST_UNITS, changed_units, contrast_marks
from variorum.publish.apparatus import Entry, PageEvidence, entry_parts, lemma, reading_parts
from variorum.publish.diagram import Diagram, describe, misfit
from variorum.publish.exhibits import (
    contrast_blocks,
    entry_words,
    game_label,
    game_paragraph,
    orders_blocks,
    plans_blocks,
)
from variorum.publish.indexes import IndexMaker
from variorum.publish.notation import Notation, set_line
from variorum.publish.page import (
    Anchor,
    Block,
    ClaimNote,
    Claims,
    Figure,
    Inline,
    Margin,
    Moves,
    NoteEntry,
    Page,
    PageSetting,
    Paragraph,
    Plate,
    Plates,
    Style,
    Styled,
    Target,
    Words,
    plain,
)
from variorum.publish.prose import Prose
from variorum.publish.replay import played_on
from variorum.publish.wording import ENGLISH

__all__ = ["Composed", "colophon", "compose_digest", "in_print"]


class Composed(msgspec.Struct, frozen=True):
    """The page, what was wrong with the text it was made from, and the positions that it speaks of (EPD)."""

    page: Page
    diagnostics: tuple[Diagnostic, ...]
    positions: frozenset[str]


def compose_digest(
    text: Digest,
    evidence: PageEvidence,
    setting: PageSetting,
    claims: Mapping[Where, ClaimNote] | None = None,
) -> Composed:
    """The page of a digest. Nothing of its text is lost where evidence is missing: what was typed is printed.

    Args:
        text: As read; what is private has been taken out (`variorum.publish.private`).
        evidence: In which facts, lines and places are looked up.
        setting: Title, date, sigla, language, notation.
        claims: Standing of claims, by where their span stands; those without one are printed as plain text.
    """
    writer = _Composer(text, evidence, setting, claims or {})
    edition = in_print(setting.edition, setting.words.quotes)
    title = writer.prose.running(text.title) or (Words(edition),)
    standfirst = writer.prose.running(text.standfirst)
    blocks = tuple(writer.blocks())
    page = Page(
        kind=setting.words.digest,
        edition=edition,
        title=title,
        plain_title=plain_text(text.title) or edition,
        standfirst=standfirst,
        blocks=blocks,
        entries=tuple(writer.entries()),
        indexes=writer.index.made(setting.words, setting.letters),
        colophon=colophon(setting),
        sigla=setting.sigla,
        words=setting.words,
    )
    return Composed(page, tuple(writer.diagnostics), frozenset(writer.positions))


def in_print(text: str, quotes: tuple[str, str, str, str] = ENGLISH.quotes) -> str:
    """Text with the apostrophes and quotation marks of print, for text that was not read as Markdown.

    >>> in_print("Black's 'threat'")
    'Black’s ‘threat’'
    """
    text = re.sub(r"(?<=\w)'", "’", text)
    for straight, opening, closing in (('"', *quotes[:2]), ("'", *quotes[2:])):
        text = re.sub(rf"(?<![^\s(\[–—]){straight}(?=\S)", opening, text).replace(straight, closing)
    return text


def colophon(setting: PageSetting) -> str:
    """How and when the page was made, and the caution."""
    words = setting.words
    made = words.made.format(version=__version__, date=words.date_in_words(setting.made_on))
    return " ".join([made, words.caution, *setting.cautions])


class _Composer:
    """Walks one digest; numbers figures, claims and notes of the apparatus as they are met."""

    def __init__(
        self,
        text: Digest,
        evidence: PageEvidence,
        setting: PageSetting,
        claims: Mapping[Where, ClaimNote],
    ) -> None:
        self.digest = text
        self.evidence = evidence
        self.setting = setting
        self.words = setting.words
        self.claims = claims
        self.diagnostics: list[Diagnostic] = []
        self.prose = Prose(setting.notation, self.span, self.other_block)
        self.caption = Prose(setting.letters, self.span, self.other_block)
        self.notes: dict[str, tuple[int, Place, Entry]] = {}
        """By position (EPD): number, place, entry."""
        self.noted: set[str] = set()
        """Positions that the block at hand refers to already."""
        self.figures = 0
        self.games = 0
        self.claim_count = 0
        self.margin: list[Margin] = []
        self.index = IndexMaker()
        self.positions: set[str] = set()
        self.section = self.words.beginning
        self.ways = tuple(self.known_lines())
        """The lines of the text, each as far as its beginning is known."""
        self.anchors = 0

    # Blocks

    def blocks(self) -> Iterator[Block]:
        """The page's blocks in order: prose with its claims behind it, diagrams that follow one another together."""
        opening = next((block for block in self.digest.blocks if isinstance(block, digest.Paragraph)), None)
        for are_diagrams, blocks in groupby(
            self.digest.blocks, key=lambda block: isinstance(block, digest.Diagram)
        ):
            if are_diagrams:
                yield from self.plates([block for block in blocks if isinstance(block, digest.Diagram)])
                continue
            for block in blocks:
                self.noted = set()
                if isinstance(block, digest.Heading):
                    self.section = plain(self.caption.inlines(block.children))
                if block is opening and isinstance(block, digest.Paragraph):
                    yield self.prose.first_paragraph(block)
                else:
                    yield from self.prose.block(block)
                claims, self.margin = tuple(self.margin), []
                if claims:
                    yield Claims(claims)

    def other_block(self, block: digest.Block) -> Iterator[Block]:
        """What is no prose but stands inside a list or a quotation."""
        match block:
            case digest.Diagram():
                yield from self.plates([block])
            case digest.Exhibit():
                yield from self.exhibit(block)

    def exhibit(self, block: digest.Exhibit) -> Iterator[Block]:
        """A block that is looked up, with its caption; nothing where it cannot be shown."""
        shown, faults = look_up_exhibit(block, self.evidence, self.digest.path)
        self.diagnostics += faults
        if shown is None:
            return
        match shown:
            case ShownLine(line):
                end = Place(text=block.subject, position=line.end, line=line)
                self.refer(end, self.prose)
                inside = (*self.anchor(end), _moves(line, self.prose.notation))
                yield Paragraph((*inside, *self.prose.references()))
            case ShownGame():
                self.games += 1
                target = Target(f"game-{self.games}", self.section)
                self.index.game(game_label(shown), target)
                yield Paragraph((Anchor(target.name), *game_paragraph(shown, self.prose.notation)))
            case ShownOrders():
                yield from orders_blocks(shown, self.words, self.prose.notation)
            case ShownPlans():
                yield from plans_blocks(shown, self.words, self.in_language)
            case ShownContrast():
                yield from contrast_blocks(shown, self.in_language)
            case ShownApparatus(place):
                head = lemma(place, self.setting.notation) or place.name or self.words.position
                entry = self.evidence.entry(place)
                groups = entry_parts(head, entry, self.words, self.setting.notation)
                self.positions.add(place.position.epd)
                yield Paragraph(entry_words(groups))
        if block.caption:
            yield Paragraph((Styled(Style.EMPHASIS, self.caption.running(block.caption)),))

    def in_language(self, said: str) -> tuple[Inline, ...]:
        """What the program found out, in the language of the page and with its moves set."""
        return self.prose.text(in_print(self.evidence.say(said), self.words.quotes))

    def plates(self, diagrams: list[digest.Diagram]) -> Iterator[Plates]:
        """Diagrams with their captions; none where no place is known."""
        plates = tuple(plate for block in diagrams if (plate := self.plate(block)))
        if not plates:
            return
        first, last = plates[0].number, plates[-1].number
        label = self.words.figure if first == last else self.words.figures
        yield Plates(plates, label.format(number=first, first=first, last=last))

    def plate(self, block: digest.Diagram) -> Plate | None:
        """A diagram with its caption, `None` where the place is not known."""
        try:
            place = self.evidence.place(block.place)
        except InputError as error:
            self.fault("diagram-place", block.where, in_words(error), error.remedy)
            return None
        self.figures += 1
        self.noted = set()
        marks = (*self.contrast(block, place), *self.fitting_marks(block, place))
        name = self.words.figure.format(number=self.figures)
        self.treat(place, Target(f"figure-{self.figures}", name))
        white = place.position.turn is Side.WHITE
        mover = self.words.white_to_move if white else self.words.black_to_move
        drawn = Diagram(
            position=place.position, label=f"{name}. {mover.removesuffix('.')}", marks=marks, view=block.view
        )
        words = (*self.caption.inlines(block.caption), Words(f" {mover}" if block.caption else mover))
        self.refer(place, self.caption)
        caption, said = (*words, *self.caption.references()), describe(drawn, self.words)
        played = played_on(place.line, self.ways, self.setting, block.view)
        return Plate(self.figures, drawn, caption, said, played)

    def known_lines(self) -> Iterator[Line]:
        """The lines of spans and diagrams."""
        for span in self.digest.spans():
            if span.kind is SpanKind.LINE:
                line, _ = read_line(span, self.evidence, self.digest.path)
                if line is not None:
                    end = Place(text=span.text, position=line.end, line=line)
                    yield self.from_the_start(end, span).line or line
        for block in self.digest.diagrams():
            try:
                line = self.evidence.place(block.place).line
            except InputError:
                continue  # told where the diagram is set
            if line is not None:
                yield line

    def contrast(self, block: digest.Diagram, place: Place) -> tuple[Mark, ...]:
        """Bars under the units that differ from the place that the diagram is set against."""
        if not block.against:
            return ()
        try:
            changes = changed_units(place.position, self.evidence.place(block.against).position)
        except InputError as error:
            self.fault("diagram-mark", block.where, f"against: {in_words(error)}", error.remedy)
            return ()
        if len(changes) > MOST_UNITS:
            message = f"against {block.against}: {len(changes)} units differ, none is marked"
            self.fault("diagram-mark", block.where, message, f"at most {MOST_UNITS} make a contrast")
            return ()
        return contrast_marks(changes)

    def fitting_marks(self, block: digest.Diagram, place: Place) -> tuple[Mark, ...]:
        """The marks that fit the position; a route's letter must be the unit that stands at its beginning."""
        kept = []
        for mark in block.marks:
            fault = misfit(mark, place.position)
            if fault:
                self.fault("diagram-mark", block.where, f"{fault}; the route is left out")
            else:
                kept.append(mark)
        return tuple(kept)

    # Spans

    def span(self, span: Span, prose: Prose) -> tuple[Inline, ...]:
        """What becomes of a span in running text."""
        match span.kind:
            case SpanKind.FACT:
                return self.fact(span, prose)
            case SpanKind.LINE:
                return self.line(span, prose)
            case SpanKind.CLAIM:
                return self.claim(span, prose)

    def fact(self, span: Span, prose: Prose) -> tuple[Inline, ...]:
        fact, faults = look_up(span, self.evidence, self.digest.path)
        self.diagnostics += faults
        if fact is None:
            return prose.inlines(span.children)
        self.refer(fact.place, prose)
        told = (
            Figure(self.words.figures_in(fact.text))
            if fact.line is None
            else _moves(fact.line, prose.notation)
        )
        return (*self.anchor(fact.place), told)

    def line(self, span: Span, prose: Prose) -> tuple[Inline, ...]:
        line, faults = read_line(span, self.evidence, self.digest.path)
        self.diagnostics += faults
        if line is None:
            return prose.inlines(span.children)
        end = Place(text=span.text, position=line.end, line=line)
        self.refer(end, prose)
        return (*self.anchor(self.from_the_start(end, span)), _moves(line, prose.notation))

    def from_the_start(self, end: Place, span: Span) -> Place:
        """The end of a line with all moves that lead there, as far as the place tells them that it belongs to."""
        of = self.evidence.place(span.attributes.get("of", "start")).line
        if of is None or end.line is None or end.line.start not in of.positions():
            return end
        before = of.moves[: of.positions().index(end.line.start)]
        return Place(text=end.text, position=end.position, line=Line(of.start, (*before, *end.line.moves)))

    def claim(self, span: Span, prose: Prose) -> tuple[Inline, ...]:
        """The sentence as it is; in the margin its number, standing and numbers."""
        inside = prose.inlines(span.children)
        note = self.claims.get(span.where)
        if note is None or note.standing is Standing.NOT_CHECKABLE:
            return inside
        self.claim_count += 1
        state = self.words.standing(note.standing)
        said = tuple(tuple(reading_parts(reading, self.words)) for reading in note.readings)
        sentence, remark = self.caption.text(span.text), self.caption.text(note.remark)
        self.margin.append(Margin(self.claim_count, note.standing, state, sentence, said, remark))
        return inside

    def anchor(self, place: Place) -> tuple[Inline, ...]:
        """What an index leads to, where the place is one that stands in an index."""
        target = Target(f"at-{self.anchors + 1}", self.section)
        if not self.treat(place, target):
            return ()
        self.anchors += 1
        return (Anchor(target.name),)

    def treat(self, place: Place, target: Target) -> bool:
        """Have a place stand in the indexes, by its name and by the line that leads to it; whether the target is needed."""
        self.positions.add(place.position.epd)
        name = self.setting.names.get(place.position.epd)
        named = bool(name) and self.index.position(name or "", target)
        led = place.line is not None and len(place.line) > 0 and self.index.line(place.line, target)
        return named or led

    def refer(self, place: Place, prose: Prose) -> None:
        """Have a superior figure printed that leads to the place's entry; once in a block, and only where somebody spoke."""
        position = place.position.epd
        if position in self.noted:
            return
        if position not in self.notes:
            entry = self.evidence.entry(place)
            if not entry.readings and not entry.rivals:
                return
            self.notes[position] = (len(self.notes) + 1, place, entry)
        self.noted.add(position)
        prose.refer(self.notes[position][0])

    # Foot of the page

    def entries(self) -> Iterator[NoteEntry]:
        """The apparatus, one entry a position."""
        for number, place, entry in self.notes.values():
            head = lemma(place, self.setting.letters) or place.name or self.words.position
            groups = entry_parts(head, entry, self.words, self.setting.letters)
            yield NoteEntry(number, tuple(map(tuple, groups)))

    def fault(self, code: str, where: Where, message: str, hint: str | None = None) -> None:
        self.diagnostics.append(
            Diagnostic(
                code=code,
                severity=Severity.ERROR,
                path=self.digest.path,
                message=message,
                line=where.line,
                column=where.column,
                hint=hint,
            )
        )


def _moves(line: Line, notation: Notation) -> Moves:
    return Moves(tuple(set_line(line, notation).split(" ")), as_line=True)
