"""`out/digest.html`: a page of a browser that needs no other file, no network and no script.

Diagrams are drawn here, once; where scripts run, `board.js` draws them again for the width at hand. The page carries a
content security policy that lets in nothing but its own styles, fonts and script.
"""

from __future__ import annotations

import base64
import functools
import hashlib
import re
from collections.abc import Iterable, Sequence
from html import escape

import jinja2
import nh3
from markupsafe import Markup

from variorum import __version__
from variorum.board import Side
from variorum.claims.standing import Standing
from variorum.edition.digest import ListOrder
from variorum.edition.marks import Mark, MarkKind
from variorum.publish import assets, diagram
from variorum.publish.apparatus import Part
from variorum.publish.page import (
    Anchor,
    Block,
    Break,
    Chapter,
    Claims,
    Figure,
    Heading,
    Index,
    IndexEntry,
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
    Played,
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

__all__ = ["html_of", "policy", "sanitise"]

DIAGRAM_WIDTH = 419
"""Pixels of a diagram without scripts: a column of two plates (25 rem) and the gutter of its figures."""
_BOARD_MARKS = {MarkKind.ITINERARY: "itinerary", MarkKind.RING: "key"}
"""What `board.js` calls a mark, where it differs from the author's word."""
_NOT_IN_HTML = dict.fromkeys(
    {*range(0x20), *range(0x7F, 0xA0), *range(0xFDD0, 0xFDF0), 0xFFFE, 0xFFFF} - {0x09, 0x0A}
)
"""Control and non-characters, for `str.translate`: errors by the HTML standard, whoever wrote them."""
_STANDING_CLASS = {Standing.HOLDS: "holds", Standing.CONTRADICTED: "contradicted", Standing.STALE: "stale"}
_TAGS = set(
    re.findall(
        "[a-z0-9]+",
        "p span em strong a code br ul ol li blockquote pre h2 h3 h4 hr sup b i q small div table thead tbody tr th td",
    )
)
_ATTRIBUTES = {
    "*": {"class"},
    "a": {"href", "rel", "class"},
    "span": {"class", "aria-hidden", "id"},
    "th": {"class", "scope"},
}


def html_of(page: Page) -> str:
    """The page as one HTML file."""
    script = assets.script()
    style = assets.stylesheet()
    key = _key(page)
    html = _template().render(
        words=page.words,
        policy=Markup(policy()),
        title=page.plain_title,
        edition=page.edition,
        version=__version__,
        style=Markup(style),
        script=Markup(script),
        units=Markup(diagram.unit_definitions()),
        heading=Markup(_prose(page.title)),
        standfirst=Markup(_prose(page.standfirst)),
        parts=[Markup(_block(block)) for block in page.blocks],
        entries=[Markup(_entry(entry)) for entry in page.entries],
        key=Markup(key),
        indexes=[Markup(sanitise(_index(index))) for index in page.indexes],
        colophon=page.colophon,
    )
    return html.translate(_NOT_IN_HTML)


def sanitise(markup: str) -> str:
    """HTML with nothing in it but prose. What this module writes passes unchanged; this is the second lock on the door."""
    return nh3.clean(
        markup,
        tags=_TAGS,
        attributes=_ATTRIBUTES,
        url_schemes={"http", "https", "mailto"},
        link_rel=None,
        clean_content_tags={"script", "style"},
    )


# In a line


def _prose(children: Iterable[Inline]) -> str:
    return sanitise(_inlines(children))


def _inlines(children: Iterable[Inline]) -> str:
    return "".join(map(_inline, children))


def _inline(inline: Inline) -> str:
    match inline:
        case Words(text):
            return escape(text)
        case Moves(moves, as_line):
            set_apart = " ".join(f'<span class="mv">{escape(move)}</span>' for move in moves)
            return f'<span class="way">{set_apart}</span>' if as_line else set_apart
        case Figure(text):
            return f'<span class="fact">{escape(text)}</span>'
        case Typed(text):
            return f"<code>{escape(text)}</code>"
        case Break():
            return "<br>"
        case Styled(style, children):
            tag = "em" if style is Style.EMPHASIS else "strong"
            return f"<{tag}>{_inlines(children)}</{tag}>"
        case Web(target, children):
            return f'<a href="{escape(target)}" rel="noopener noreferrer">{_inlines(children)}</a>'
        case Notes(numbers):
            leads = (f'<a class="ref" href="#note-{number}"><sup>{number}</sup></a>' for number in numbers)
            return "<sup>,</sup>".join(leads)
        case Anchor(name):
            return f'<span id="{escape(name)}"></span>'


# Down the page


def _block(block: Block) -> str:
    match block:
        case Plates(plates, label):
            inside = "".join(map(_plate, plates))
            return f'<div class="plates" role="group" aria-label="{escape(label)}">{inside}</div>'
        case Claims(claims):
            return f'<div class="claims">{"".join(map(_margin, claims))}</div>'
        case Listing(order, items):
            tag = "ol" if order is ListOrder.NUMBERED else "ul"
            return f"<{tag}>{''.join(f'<li>{_item(item)}</li>' for item in items)}</{tag}>"
        case Quotation(blocks):
            return f"<blockquote>{''.join(map(_block, blocks))}</blockquote>"
        case Table(columns, rows, figures, note):
            below = f'<p class="below">{_inlines(note)}</p>' if note else ""
            return sanitise(_table(columns, rows, len(columns) - figures) + below)
        case Heading(level, children):
            return sanitise(f"<h{level}>{_inlines(children)}</h{level}>")
        case Paragraph():
            return sanitise(_paragraph(block))
        case Verbatim(text):
            return sanitise(f"<pre>{escape(text)}</pre>")
        case Rule():
            return "<hr>"
        case Chapter(name, title, below):
            under = f"<p>{_inlines(below)}</p>" if below else ""
            return sanitise(f'<h2><span id="{escape(name)}"></span>{_inlines(title)}</h2>{under}')
        case Variation(depth, label, children):
            head = f"<em>{escape(label)}</em> " if label else ""
            return sanitise(f'<p class="depth-{min(depth, 3)}">{head}{_inlines(children)}</p>')


def _table(
    head: Sequence[Sequence[Inline]], rows: Iterable[Sequence[Sequence[Inline]]], first_figure: int
) -> str:
    """A table; the columns from `first_figure` on are set as figures."""
    figures = [' class="n"' if at >= first_figure else "" for at in range(len(head))]

    def row(cells: Iterable[Sequence[Inline]], tag: str, scope: str = "") -> str:
        set_cells = zip(figures, map(_inlines, cells), strict=True)
        return f"<tr>{''.join(f'<{tag}{scope}{figure}>{cell}</{tag}>' for figure, cell in set_cells)}</tr>"

    body = "".join(row(cells, "td") for cells in rows)
    scope = ' scope="col"'
    return f"<table><thead>{row(head, 'th', scope)}</thead><tbody>{body}</tbody></table>"


def _paragraph(paragraph: Paragraph) -> str:
    text = _inlines(paragraph.children)
    if paragraph.opening is None:
        return f"<p>{text}</p>"
    versal = escape(paragraph.opening.versal)
    if not versal:
        return f'<p class="first">{text}</p>'
    small = escape(paragraph.opening.small_capitals)
    small_capitals = f'<span class="sc">{small}</span>' if small else ""
    return (
        f'<p class="first"><span class="versal" aria-hidden="true">{versal}</span><span class="vh">{versal}</span>'
        f"{small_capitals}{text}</p>"
    )


def _item(blocks: Sequence[Block]) -> str:
    """An entry of a list; its first paragraph stands without its tags."""
    match blocks:
        case (Paragraph(children), *rest):
            return _prose(children) + "".join(map(_block, rest))
    return "".join(map(_block, blocks))


def _plate(plate: Plate) -> str:
    drawn = plate.diagram
    drawing = diagram.draw(drawn, DIAGRAM_WIDTH, key=str(plate.number))
    said = escape(plate.said)
    size = f'width="{drawing.width}" height="{drawing.height}" viewBox="0 0 {drawing.width} {drawing.height}"'
    flip = " flip" if drawn.view is Side.BLACK else ""
    return (
        f'<figure id="figure-{plate.number}">'
        f'<v-board fen="{drawn.position.fen}" marks="{"; ".join(map(_board_mark, drawn.marks))}" alt="{said}"{flip}>'
        f'<svg {size} role="img" aria-label="{said}">{drawing.elements}</svg></v-board>'
        f"{_played(plate.played)}<figcaption><b>{plate.number}</b>&ensp;{_prose(plate.caption)}</figcaption></figure>"
    )


def _played(played: Played | None) -> str:
    """The moves of a line that a script plays on the diagram above; nothing is seen of it until then."""
    if played is None:
        return ""
    moves = "".join(
        f'<li><button type="button" class="mv" tabindex="-1" data-fen="{step.diagram.position.fen}" '
        f'data-marks="{"; ".join(map(_board_mark, step.diagram.marks))}" data-said="{escape(step.diagram.label)}" data-alt="{escape(step.said)}">{escape(step.move)}</button></li>'
        for step in played.steps
    )
    start = f'data-fen="{played.start.position.fen}" data-alt="{escape(played.said)}"'
    return f'<ol class="played" data-home="{played.home}" {start} hidden>{moves}</ol>'


def _margin(claim: Margin) -> str:
    """A claim, its standing and its numbers."""
    said = ", ".join(_group(parts) for parts in claim.numbers)
    numbers = "; ".join(filter(None, [said, _inlines(claim.remark)]))
    return sanitise(
        f'<div class="claim {_STANDING_CLASS.get(claim.standing, "open")}">'
        f'<span class="state">{claim.number} · {escape(claim.state)}</span>'
        f"<q>{_inlines(claim.sentence)}</q>{f'<small>{numbers}</small>' if numbers else ''}</div>"
    )


# Foot of the page


def _entry(entry: NoteEntry) -> str:
    """One paragraph of the apparatus."""
    body = " ".join(map(_group, entry.groups))
    return (
        f'<p class="entry" id="note-{entry.number}"><span class="red">{entry.number}</span>&ensp;{body}</p>'
    )


def _key(page: Page) -> str:
    """What the sigla stand for."""
    sigla = [f"<i>{escape(siglum.mark)}</i> {escape(siglum.meaning)}" for siglum in page.sigla]
    return "; ".join([*sigla, escape(page.words.scale)]) + "." if sigla else ""


def _index(index: Index) -> str:
    """An index: what is looked for, and links to where it stands."""
    rows = "".join(map(_row, index.entries))
    return f"<h2>{escape(index.title)}</h2><ul>{rows}</ul>"


def _row(entry: IndexEntry) -> str:
    leads = ", ".join(f'<a href="#{escape(one.name)}">{escape(one.words)}</a>' for one in entry.targets)
    tail = f"\u2003{leads}" if leads else ""
    return f'<li class="depth-{min(entry.depth, 4)}">{_inlines(entry.label)}{tail}</li>'


def _group(parts: Sequence[Part]) -> str:
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


def _stops(parts: Sequence[Part]) -> str:
    return "".join(
        '&nbsp;<span class="sep">:</span>' if part.role == "colon" else escape(part.text) for part in parts
    )


def _board_mark(mark: Mark) -> str:
    """A mark as `board.js` reads it."""
    kind = _BOARD_MARKS.get(mark.kind, mark.kind.value)
    letter = f" {mark.letter}" if mark.letter else ""
    return f"{kind} {'-'.join(mark.squares)}{letter}{'!' if mark.rubric else ''}"


def policy() -> str:
    """What a page may load: its own style and script, fonts inside it, nothing else."""
    style, script = assets.stylesheet(), assets.script()
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
