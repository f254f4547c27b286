"""`out/digest.html`: the digest as one page that needs no other file, no network and no script.

Diagrams are drawn here, once; where scripts run, `board.js` draws them again for the width at hand. The page carries a
content security policy that lets in nothing but its own styles, fonts and script.
"""

from __future__ import annotations

import base64
import datetime
import functools
import hashlib
import re
from collections.abc import Iterator, Mapping
from html import escape
from itertools import groupby

import jinja2
import msgspec
from markupsafe import Markup

from variorum import __version__
from variorum.base import Diagnostic, InputError, Severity
from variorum.board import Line, Side
from variorum.claims.facts import Reading, in_words, look_up
from variorum.claims.lines import read_line
from variorum.claims.standing import Standing
from variorum.edition.digest import (
    Block,
    Diagram,
    Digest,
    Heading,
    Paragraph,
    Span,
    SpanKind,
    Where,
    plain_text,
)
from variorum.edition.marks import Mark, MarkKind
from variorum.edition.place import Place
from variorum.insight.contrast import MOST_UNITS, changed_units, contrast_marks
from variorum.publish import assets, diagram
from variorum.publish.apparatus import Entry, PageEvidence, Part, Siglum, entry_parts, lemma, reading_parts
from variorum.publish.notation import ENGLISH_LETTERS, FIGURINE, Notation, set_line
from variorum.publish.prose import Prose, sanitise
from variorum.publish.wording import ENGLISH, Wording

__all__ = ["ClaimNote", "DigestPage", "PageSetting", "render_digest"]

DIAGRAM_WIDTH = 419
"""Pixels of a diagram without scripts: a column of two plates (25 rem) and the gutter of its figures."""
_BOARD_MARKS = {MarkKind.ITINERARY: "itinerary", MarkKind.RING: "key"}
"""What `board.js` calls a mark, where it differs from the author's word."""
_NOT_IN_HTML = dict.fromkeys(
    {*range(0x20), *range(0x7F, 0xA0), *range(0xFDD0, 0xFDF0), 0xFFFE, 0xFFFF} - {0x09, 0x0A}
)
"""Control and non-characters, for `str.translate`: errors by the HTML standard, whoever wrote them."""
_STANDING_CLASS = {Standing.HOLDS: "holds", Standing.CONTRADICTED: "contradicted", Standing.STALE: "stale"}


class PageSetting(msgspec.Struct, frozen=True, kw_only=True):
    """What a page says beside the digest's text.

    Args:
        edition: Title of the edition.
        made_on: The day that the page is dated.
        sigla: The key, in the order in which voices are cited.
        cautions: Sentences that the colophon ends with (that games are invented, say).
        words: Fixed words and the language.
        notation: Of moves in the text; captions and apparatus have letters.
        letters: Of moves below 13 pixels.
    """

    edition: str
    made_on: datetime.date
    sigla: tuple[Siglum, ...] = ()
    cautions: tuple[str, ...] = ()
    words: Wording = ENGLISH
    notation: Notation = FIGURINE
    letters: Notation = ENGLISH_LETTERS


class ClaimNote(msgspec.Struct, frozen=True):
    """How a claim of the digest stands: what the voices say, and in words what they do not (`9 of 14 games`)."""

    standing: Standing
    readings: tuple[Reading, ...] = ()
    remark: str = ""


class DigestPage(msgspec.Struct, frozen=True):
    """The page and what was wrong with the text it was made from."""

    html: str
    diagnostics: tuple[Diagnostic, ...]


def render_digest(
    digest: Digest,
    evidence: PageEvidence,
    setting: PageSetting,
    claims: Mapping[Where, ClaimNote] | None = None,
) -> DigestPage:
    """The published page of a digest. Nothing of its text is lost where evidence is missing: what was typed is printed.

    Args:
        digest: As read; what is private has been taken out (`variorum.publish.private`).
        evidence: In which facts, lines and places are looked up.
        setting: Title, date, sigla, language, notation.
        claims: Standing of claims, by where their span stands; those without one are printed as plain text.
    """
    writer = _Writer(digest, evidence, setting, claims or {})
    edition = re.sub(
        r"(?<=\w)'", "’", setting.edition
    )  # the apostrophe of print; the digest's are set when it is read
    heading = writer.prose.running(digest.title) or escape(edition)
    standfirst = writer.prose.running(digest.standfirst)
    parts = list(writer.parts())
    script = assets.script()
    style = assets.stylesheet()
    html = _template().render(
        words=setting.words,
        policy=Markup(_policy(style, script)),
        title=plain_text(digest.title) or edition,
        edition=edition,
        version=__version__,
        style=Markup(style),
        script=Markup(script),
        units=Markup(diagram.unit_definitions()),
        heading=Markup(sanitise(heading)),
        standfirst=Markup(sanitise(standfirst)),
        parts=map(Markup, parts),
        entries=[Markup(entry) for entry in writer.entries()],
        key=Markup(writer.key()),
        colophon=writer.colophon(),
    )
    return DigestPage(html.translate(_NOT_IN_HTML), tuple(writer.diagnostics))


class _Writer:
    """Walks one digest; numbers figures, claims and notes of the apparatus as they are met."""

    def __init__(
        self,
        digest: Digest,
        evidence: PageEvidence,
        setting: PageSetting,
        claims: Mapping[Where, ClaimNote],
    ) -> None:
        self.digest = digest
        self.evidence = evidence
        self.setting = setting
        self.words = setting.words
        self.claims = claims
        self.diagnostics: list[Diagnostic] = []
        self.prose = Prose(setting.notation, self.span)
        self.caption = Prose(setting.letters, self.span)
        self.notes: dict[str, tuple[int, Place, Entry]] = {}
        """By position (EPD): number, place, entry."""
        self.noted: set[str] = set()
        """Positions that the block at hand refers to already."""
        self.figures = 0
        self.claim_count = 0
        self.margin: list[str] = []

    # Blocks

    def parts(self) -> Iterator[str]:
        """The page's blocks in order: prose with its claims behind it, diagrams that follow one another together."""
        opening = next((block for block in self.digest.blocks if isinstance(block, Paragraph)), None)
        for are_diagrams, blocks in groupby(self.digest.blocks, key=lambda block: isinstance(block, Diagram)):
            if are_diagrams:
                yield from self.plates([block for block in blocks if isinstance(block, Diagram)])
                continue
            for block in blocks:
                yield self.block(block, opening=opening)

    def block(self, block: Block, *, opening: Paragraph | None) -> str:
        self.noted = set()
        if block is opening and isinstance(block, Paragraph):
            markup = self.prose.first_paragraph(block)
        elif isinstance(block, Heading):
            markup = self.prose.block(Heading(min(block.level, 4), block.children, block.where))
        else:
            markup = self.prose.block(block)
        claims, self.margin = self.margin, []
        beside = f'\n<div class="claims">{"".join(claims)}</div>' if claims else ""
        return sanitise(markup) + beside

    def plates(self, diagrams: list[Diagram]) -> Iterator[str]:
        figures = [figure for block in diagrams if (figure := self.figure(block))]
        if not figures:
            return
        first, last = self.figures - len(figures) + 1, self.figures
        label = self.words.figure if first == last else self.words.figures
        said = label.format(number=first, first=first, last=last)
        yield f'<div class="plates" role="group" aria-label="{said}">{"".join(figures)}</div>'

    def figure(self, block: Diagram) -> str | None:
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
        white = place.position.turn is Side.WHITE
        mover = self.words.white_to_move if white else self.words.black_to_move
        drawn = diagram.Diagram(
            position=place.position, label=f"{name}. {mover.removesuffix('.')}", marks=marks, view=block.view
        )
        drawing = diagram.draw(drawn, DIAGRAM_WIDTH, key=str(self.figures))
        said = escape(diagram.describe(drawn, self.words))
        size = f'width="{drawing.width}" height="{drawing.height}" viewBox="0 0 {drawing.width} {drawing.height}"'
        flip = " flip" if block.view is Side.BLACK else ""
        words = f"{self.caption.inlines(block.caption)} {mover}"
        self.refer(place, self.caption)
        caption = sanitise(words + self.caption.references())
        return (
            f'<figure id="figure-{self.figures}">'
            f'<v-board fen="{place.position.fen}" marks="{"; ".join(map(_board_mark, marks))}" alt="{said}"{flip}>'
            f'<svg {size} role="img" aria-label="{said}">{drawing.elements}</svg></v-board>'
            f"<figcaption><b>{self.figures}</b>&ensp;{caption}</figcaption></figure>"
        )

    def contrast(self, block: Diagram, place: Place) -> tuple[Mark, ...]:
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

    def fitting_marks(self, block: Diagram, place: Place) -> tuple[Mark, ...]:
        """The marks that fit the position; a route's letter must be the unit that stands at its beginning."""
        units = place.position.pieces()
        kept = []
        for mark in block.marks:
            held = units.get(mark.squares[0], "").upper()
            if mark.unit and mark.unit != held:
                way = mark.unit + "-".join(mark.squares)
                there = self.words.units[held] if held else "nothing"
                message = f"route {way}: on {mark.squares[0]} stands {there}; the route is left out"
                self.fault("diagram-mark", block.where, message)
                continue
            kept.append(mark)
        return tuple(kept)

    # Spans

    def span(self, span: Span, prose: Prose) -> str:
        """What becomes of a span in running text."""
        match span.kind:
            case SpanKind.FACT:
                return self.fact(span, prose)
            case SpanKind.LINE:
                return self.line(span, prose)
            case SpanKind.CLAIM:
                return self.claim(span, prose)

    def fact(self, span: Span, prose: Prose) -> str:
        fact, faults = look_up(span, self.evidence, self.digest.path)
        self.diagnostics += faults
        if fact is None:
            return prose.inlines(span.children)
        self.refer(fact.place, prose)
        if fact.line is not None:
            return _moves(fact.line, prose.notation)
        return f'<span class="fact">{escape(fact.text)}</span>'

    def line(self, span: Span, prose: Prose) -> str:
        line, faults = read_line(span, self.evidence, self.digest.path)
        self.diagnostics += faults
        if line is None:
            return prose.inlines(span.children)
        end = Place(text=span.text, position=line.end, line=line)
        self.refer(end, prose)
        return _moves(line, prose.notation)

    def claim(self, span: Span, prose: Prose) -> str:
        """The sentence as it is; in the margin its number, standing and numbers."""
        inside = prose.inlines(span.children)
        note = self.claims.get(span.where)
        if note is None or note.standing is Standing.NOT_CHECKABLE:
            return inside
        self.claim_count += 1
        state = {
            Standing.HOLDS: self.words.holds,
            Standing.CONTRADICTED: self.words.contradicted,
            Standing.UNDECIDED: self.words.undecided,
            Standing.STALE: self.words.stale,
        }[note.standing]
        said = [", ".join(_group(reading_parts(reading, self.words)) for reading in note.readings)]
        numbers = "; ".join(filter(None, [*said, self.caption.text(note.remark)]))
        self.margin.append(
            sanitise(
                f'<div class="claim {_STANDING_CLASS.get(note.standing, "open")}">'
                f'<span class="state">{self.claim_count} · {state}</span>'
                f"<q>{self.caption.text(span.text)}</q>{f'<small>{numbers}</small>' if numbers else ''}</div>"
            )
        )
        return inside

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
        number = self.notes[position][0]
        prose.refer(f'<a class="ref" href="#note-{number}"><sup>{number}</sup></a>')

    # Foot of the page

    def entries(self) -> Iterator[str]:
        """The apparatus, one paragraph a position."""
        for number, place, entry in self.notes.values():
            head = lemma(place, self.setting.letters) or place.name or self.words.position
            groups = entry_parts(head, entry, self.words, self.setting.letters)
            body = " ".join(_group(group) for group in groups)
            yield f'<p class="entry" id="note-{number}"><span class="red">{number}</span>&ensp;{body}</p>'

    def key(self) -> str:
        """What the sigla stand for."""
        sigla = [f"<i>{escape(siglum.mark)}</i> {escape(siglum.meaning)}" for siglum in self.setting.sigla]
        return "; ".join([*sigla, self.words.scale]) + "." if sigla else ""

    def colophon(self) -> str:
        """How and when the page was made, and the caution."""
        made = self.words.made.format(
            version=__version__, date=self.words.date_in_words(self.setting.made_on)
        )
        return " ".join([made, self.words.caution, *self.setting.cautions])

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


def _moves(line: Line, notation: Notation) -> str:
    """A line as HTML, each number with its move in one piece."""
    words = set_line(line, notation).split(" ")
    return f'<span class="way">{" ".join(f"""<span class="mv">{word}</span>""" for word in words)}</span>'


def _group(parts: list[Part]) -> str:
    """One voice, lemma or rival; it is not broken at the end of a line."""
    if parts[0].role in ("lemma", "rival"):
        tag = '<span class="lemma">' if parts[0].role == "lemma" else '<b class="rival">'
        end = "</span>" if parts[0].role == "lemma" else "</b>"
        return f"{tag}{escape(parts[0].text)}{end}" + _stops(parts[1:])
    spoken = [part for part in parts if part.role not in ("colon", "stop")]
    inner = " ".join(_spoken(part) for part in spoken)
    return f'<span class="v">{inner}</span>' + _stops(parts[len(spoken) :])


def _spoken(part: Part) -> str:
    text = escape(part.text)
    match part.role:
        case "sig":
            return f'<i class="sig">{text}</i>'
        case "noise":
            return f'<span class="pm">{text}</span>'
    return text


def _stops(parts: list[Part]) -> str:
    return "".join(
        '&nbsp;<span class="sep">:</span>' if part.role == "colon" else escape(part.text) for part in parts
    )


def _board_mark(mark: Mark) -> str:
    """A mark as `board.js` reads it."""
    kind = _BOARD_MARKS.get(mark.kind, mark.kind.value)
    letter = f" {mark.letter}" if mark.letter else ""
    return f"{kind} {'-'.join(mark.squares)}{letter}{'!' if mark.rubric else ''}"


def _policy(style: str, script: str) -> str:
    """What the page may load: its own style and script, fonts inside it, nothing else."""
    own = f"style-src '{_hash(style)}'; script-src '{_hash(script)}'; font-src data:"
    return f"default-src 'none'; {own}; base-uri 'none'; form-action 'none'"


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"sha256-{base64.b64encode(digest).decode('ascii')}"


@functools.cache
def _template() -> jinja2.Template:
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, keep_trailing_newline=True
    )
    return environment.from_string(assets.read_text("digest.html.j2"))
