"""`out/*.pdf`: a page as a book, set by Typst from `assets/book.typ` with the fonts of the look.

What an author or anybody else wrote never becomes code of the typesetter: the page is handed to the template as data, and
text in it is shown as text. The template is the only source; its root is an empty folder, and no file is read.
"""

from __future__ import annotations

import functools
import json
import re
import tempfile
from collections.abc import Iterable, Sequence
from typing import Any, Literal

import msgspec
import typst

from variorum.claims.standing import Standing
from variorum.edition.digest import ListOrder
from variorum.publish import assets
from variorum.publish.apparatus import Part
from variorum.publish.diagram import Diagram, UnitNames, describe, standalone_svg
from variorum.publish.page import (
    Anchor,
    Block,
    Break,
    Chapter,
    Claims,
    Figure,
    Heading,
    Index,
    Inline,
    Listing,
    Margin,
    Moves,
    NoteEntry,
    Notes,
    Page,
    Paragraph,
    Plate,
    Plates,
    Quotation,
    Rule,
    Style,
    Styled,
    Table,
    Typed,
    Variation,
    Verbatim,
    Web,
    Words,
)
from variorum.publish.wording import Wording

__all__ = ["Printed", "pdf_of", "png_of"]

Node = list[Any]
"""A piece of the page for the template: its kind, then what it holds."""

DIAGRAM_PIXELS = 300
"""At which a diagram is drawn for print: its outlines come out at half a point, its hatching at two."""
_MARKS = {Standing.HOLDS: "*", Standing.CONTRADICTED: "†", Standing.UNDECIDED: "○", Standing.STALE: "[ ]"}
_NO_TEXT = dict.fromkeys({*range(0x20), *range(0x7F, 0xA0), 0xFFFE, 0xFFFF, *range(0xFDD0, 0xFDF0)}, " ") | (
    dict.fromkeys({*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0xFEFF}, "")
)
"""Control and non-characters, for `str.translate`, and overrides of direction, which would turn what stands around them."""
_NOT_SHOWN = re.compile(r"the text `\"(.*?)\"` could not be displayed")


class Printed(msgspec.Struct, frozen=True):
    """A PDF, and the first piece of text in it for which no font has a letter; empty where all is shown."""

    pdf: bytes
    not_shown: str = ""


def pdf_of(page: Page, columns: int = 1) -> Printed:
    """The page as a PDF of one or two columns, tagged for readers that cannot see it (PDF/UA-1, ISO 14289-1).

    The same page gives the same bytes: no clock is read. With a letter that no font has the PDF is tagged all the same,
    but does not call itself PDF/UA.
    """
    data = _document(page, columns)
    try:
        return Printed(_compiled(data, "pdf", standard="ua-1"))
    except typst.TypstError as error:
        lacking = _NOT_SHOWN.search(str(error))
        if lacking is None:
            raise
        return Printed(_compiled(data, "pdf"), lacking[1])


def png_of(drawn: Diagram, width: int, words: Wording) -> bytes:
    """A diagram as a PNG picture of so many pixels across."""
    svg = standalone_svg(drawn, width, words)
    return _compiled(json.dumps({"picture": svg, "width": width}), "png")


def _compiled(data: str, output: Literal["pdf", "png"], standard: Literal["ua-1"] | None = None) -> bytes:
    with tempfile.TemporaryDirectory(prefix="variorum-") as root:
        compiler = typst.Compiler(
            assets.read_text("book.typ").encode(),
            root=root,
            font_paths=_fonts(),
            ignore_system_fonts=True,
            sys_inputs={"data": data},
            package_path=root,
            package_cache_path=root,
        )
        made = compiler.compile(format=output, ppi=72.0, pdf_standards=standard, timestamp=0)
    assert isinstance(made, bytes)
    return made


@functools.cache
def _fonts() -> typst.Fonts:
    """The fonts of the look; for letters that they lack, those inside the typesetter. None of the system's."""
    return typst.Fonts(include_system_fonts=False, font_paths=[str(assets.print_fonts())])


def _document(page: Page, columns: int) -> str:
    writer = _Writer(page)
    document = {
        "columns": columns,
        "lang": page.words.language,
        "kind": page.kind,
        "edition": page.edition,
        "plain": page.plain_title,
        "title": writer.inlines(page.title),
        "standfirst": writer.inlines(page.standfirst),
        "blocks": [writer.block(block) for block in page.blocks],
        "key": [[siglum.mark, siglum.meaning] for siglum in page.sigla],
        "scale": page.words.scale,
        "apparatus": page.words.apparatus,
        "contents": page.words.contents,
        "indexes": [writer.index(index) for index in page.indexes],
        "colophon": page.colophon,
    }
    return json.dumps(_clean(document), ensure_ascii=False)


def _clean(node: Any) -> Any:
    """Data without control characters in its texts."""
    if isinstance(node, str):
        return node.translate(_NO_TEXT)
    if isinstance(node, list | tuple):
        return [_clean(one) for one in node]
    return {key: _clean(one) for key, one in node.items()} if isinstance(node, dict) else node


class _Writer:
    """Turns a page into lists that the template walks. A note's entry stands where it is first referred to."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.entries = {entry.number: entry for entry in page.entries}
        self.noted: set[int] = set()
        self.level = 1
        """Of the heading above; none below it may leave a level out."""

    def inlines(self, children: Iterable[Inline]) -> list[Node]:
        return [node for child in children for node in self.inline(child)]

    def inline(self, inline: Inline) -> Iterable[Node]:
        match inline:
            case Words(text) | Figure(text):
                yield ["w", text]
            case Moves(moves):
                yield ["m", *moves]
            case Typed(text):
                yield ["w", text]
            case Break():
                yield ["br"]
            case Styled(style, children):
                yield ["em" if style is Style.EMPHASIS else "st", self.inlines(children)]
            case Web(target, children):
                known = target.lower().startswith(("https://", "http://", "mailto:"))
                yield ["a", target, self.inlines(children)] if known else ["sp", self.inlines(children)]
            case Notes(numbers):
                yield from map(self.note, numbers)
            case Anchor(name):
                yield ["at", name]

    def note(self, number: int) -> Node:
        entry = self.entries[number]
        name, shown = f"note-{number}", str(entry.printed or number)
        if number in self.noted:
            return ["ref", name, shown]
        self.noted.add(number)
        return ["note", name, shown, _groups(entry)]

    def block(self, block: Block) -> Node:
        match block:
            case Heading(level, children):
                self.level = min(level, self.level + 1)
                return ["h", self.level, self.inlines(children)]
            case Paragraph(children, opening):
                if opening is None:
                    return ["p", self.inlines(children)]
                return ["first", opening.versal, opening.small_capitals, self.inlines(children)]
            case Listing(order, items):
                inside = [[self.block(one) for one in item] for item in items]
                return ["ol" if order is ListOrder.NUMBERED else "ul", inside]
            case Table(head, rows, figures, note):
                cells = [[self.inlines(cell) for cell in row] for row in (head, *rows)]
                return ["table", len(head) - figures, cells[0], cells[1:], self.inlines(note)]
            case Quotation(blocks):
                return ["q", [self.block(one) for one in blocks]]
            case Verbatim(text):
                return ["pre", text.rstrip("\n").split("\n")]
            case Rule():
                return ["hr"]
            case Plates(plates):
                return ["plates", [self.plate(plate) for plate in plates]]
            case Claims(claims):
                return ["claims", [self.claim(claim) for claim in claims]]
            case Chapter(name, title, below):
                return ["ch", name, self.inlines(title), self.inlines(below)]
            case Variation(depth, label, children):
                return ["v", depth, label, self.inlines(children)]

    def plate(self, plate: Plate) -> Node:
        drawing = standalone_svg(plate.diagram, DIAGRAM_PIXELS, self.page.words, assets.Ink.PRINT)
        caption = self.inlines(plate.caption)
        said = describe(plate.diagram, self.page.words, UnitNames.LETTERS)
        return [f"figure-{plate.number}", plate.number, drawing, said, caption]

    def claim(self, claim: Margin) -> Node:
        said = [_parts(parts) for parts in claim.numbers]
        remark = self.inlines(claim.remark)
        sentence = self.inlines(claim.sentence)
        return [claim.number, _MARKS[claim.standing], claim.state, sentence, said, remark]

    def index(self, index: Index) -> Node:
        rows = [
            [entry.depth, self.inlines(entry.label), [target.name for target in entry.targets]]
            for entry in index.entries
        ]
        return [index.title, rows]


def _groups(entry: NoteEntry) -> list[Node]:
    return [_parts(group) for group in entry.groups]


def _parts(parts: Sequence[Part]) -> Node:
    """A group of an entry: roles and texts by turns."""
    return [[part.role, part.text] for part in parts]
