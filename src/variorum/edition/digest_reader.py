"""Reads a digest: Markdown tokens into the values of `variorum.edition.digest`, faults into diagnostics.

The tokens come from markdown-it-py. Two rules are added: spans, whose attributes are read by the parser of mdit-py-plugins,
and `:::` directives, which end at the next directive where the author forgot to close one, so that no text is swallowed.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from markdown_it import MarkdownIt
from markdown_it.rules_block import StateBlock
from markdown_it.rules_inline import StateInline
from markdown_it.tree import SyntaxTreeNode
from mdit_py_plugins.attrs.parse import ParseError
from mdit_py_plugins.attrs.parse import parse as parse_attributes

from variorum.base import Diagnostic, Severity
from variorum.base.shape import nearest
from variorum.board import Side
from variorum.edition.digest import (
    Block,
    Code,
    Diagram,
    Digest,
    Emphasis,
    Exhibit,
    ExhibitKind,
    Heading,
    Inline,
    LineBreak,
    Link,
    Listing,
    ListOrder,
    Paragraph,
    Quotation,
    Rule,
    Span,
    SpanKind,
    Strong,
    Text,
    Verbatim,
    Where,
)
from variorum.edition.files import read_file
from variorum.edition.marks import parse_marks
from variorum.edition.plain_text import refuse_what_is_no_text

__all__ = ["MOST_CHARACTERS", "MOST_IN_A_RUN", "parse_digest", "read_digest"]

MOST_CHARACTERS = 400_000
"""A longer file is not a digest: this is a book of 200 pages."""
MOST_IN_A_RUN = 30_000
"""Characters between two empty lines. The cost of Markdown grows with the square of a paragraph's length."""

_ENGLISH_QUOTES = ("“", "”", "‘", "’")
_DIRECTIVES = ("diagram", *(kind.value for kind in ExhibitKind))
_DIAGRAM_KEYS = ("marks", "caption", "view", "against")
_FENCE = re.compile(r":{3,}[ \t]*(.*?)[ \t]*")
_TARGET = re.compile(r"(?:https?://|mailto:)", re.IGNORECASE)
_BRACES = re.compile(r"[^\[}]*\}")
_COMMENT = re.compile(r"(?:\s*<!--.*?-->\s*)+", re.DOTALL)


def read_digest(
    path: Path, quotes: tuple[str, str, str, str] = _ENGLISH_QUOTES
) -> tuple[Digest, list[Diagnostic]]:
    """Read a digest file; see `parse_digest`. Bytes that are not UTF-8 are told and read as Windows-1252.

    Raises:
        InputError: The file cannot be read, or is no text.
    """
    data = read_file(path)
    refuse_what_is_no_text(data, path)
    faults: list[Diagnostic] = []
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8", errors="replace")
        faults.append(
            Diagnostic(
                code="not-utf8",
                severity=Severity.WARNING,
                path=path,
                message="this is not UTF-8; the file was read as Windows-1252",
                line=before.count("\n") + 1,
                column=len(before) - (before.rfind("\n") + 1) + 1,
                hint="save it as UTF-8",
            )
        )
        text = data.decode("cp1252", errors="replace")
    digest, more = parse_digest(text, path, quotes)
    return digest, faults + more


def parse_digest(
    text: str, path: Path, quotes: tuple[str, str, str, str] = _ENGLISH_QUOTES
) -> tuple[Digest, list[Diagnostic]]:
    """The digest in a text, and a diagnostic for each part that could not be understood.

    Args:
        text: The whole file, at most `MOST_CHARACTERS`; what is longer is cut off and told.
        path: Where it came from, for the diagnostics.
        quotes: What straight double and single quotation marks become, opening and closing.
    """
    reader = _Reader(text, path)
    digest = reader.digest(_markdown(quotes))
    return digest, sorted(reader.faults, key=lambda fault: (fault.line or 0, fault.column or 0))


def _markdown(quotes: tuple[str, str, str, str]) -> MarkdownIt:
    markdown = MarkdownIt("commonmark", {"typographer": True, "quotes": list(quotes)})
    markdown.enable("smartquotes")
    markdown.inline.ruler.after("link", "span", _span_rule)
    markdown.block.ruler.before(
        "fence", "directive", _directive_rule, {"alt": ["paragraph", "reference", "blockquote", "list"]}
    )
    return markdown


def _span_rule(state: StateInline, silent: bool) -> bool:
    """`[text]{attributes}`. Attributes that cannot be read are kept as a fault in the token, the text stands."""
    if state.src[state.pos] != "[":
        return False
    opened, outer_end = state.pos, state.posMax
    closed = state.md.helpers.parseLinkLabel(state, opened, False)
    brace = closed + 1
    if closed < 0 or brace >= outer_end or state.src[brace] != "{":
        return False
    meta: dict[str, Any] = {"at": opened}
    # A line end in a quoted value would cut it; for the parser it is a space.
    written = state.src[brace:outer_end].replace("\n", " ")
    try:
        length, meta["attributes"] = parse_attributes(written)
        after = brace + length + 1
    except ParseError as error:
        meta["broken_at"] = brace + min(error.pos, len(written) - 1)
        end = _BRACES.match(state.src, brace, outer_end)
        after = end.end() if end else brace
    if not silent:
        state.pos, state.posMax = opened + 1, closed
        state.push("span_open", "span", 1).meta = meta
        state.md.inline.tokenize(state)
        state.push("span_close", "span", -1)
    state.pos, state.posMax = after, outer_end
    return True


def _directive_rule(state: StateBlock, start: int, end: int, silent: bool) -> bool:
    """`:::name argument`, lines, `:::`. Without the last, the directive ends at the first empty line."""
    opening = _fence(state, start)
    if opening is None or state.is_code_block(start):
        return False
    if silent:
        return True
    closing = body_end = start + 1
    if opening:
        while closing < end and _fence(state, closing) is None and state.sCount[closing] >= state.blkIndent:
            closing += 1
        is_closed = closing < end and _fence(state, closing) == ""
        body_end = closing
        if not is_closed:
            empty = (line for line in range(start + 1, closing) if state.isEmpty(line))
            closing = body_end = next(empty, closing)
    else:
        is_closed = False
    token = state.push("directive", "", 0)
    token.info = opening
    token.content = state.getLines(start + 1, body_end, state.sCount[start], False)
    token.meta = {"closed": is_closed}
    token.map = [start, closing]
    state.line = closing + is_closed
    return True


def _fence(state: StateBlock, line: int) -> str | None:
    """What stands behind the colons of a `:::` line, `None` on other lines."""
    found = _FENCE.fullmatch(state.src, state.bMarks[line] + state.tShift[line], state.eMarks[line])
    return found[1] if found else None


class _Reader:
    def __init__(self, text: str, path: Path) -> None:
        self.path = path
        self.faults: list[Diagnostic] = []
        self.lines = text[:MOST_CHARACTERS].replace("\r\n", "\n").replace("\r", "\n").split("\n")
        if len(text) > MOST_CHARACTERS:
            where = Where(len(self.lines), 1)
            self.fault("digest-too-long", where, f"only the first {MOST_CHARACTERS:,} characters were read")
        self.cut_long_runs()
        self.text = "\n".join(self.lines)
        self.markdown: MarkdownIt
        self.environment: dict[str, Any] = {}

    def cut_long_runs(self) -> None:
        """Leave out what goes beyond `MOST_IN_A_RUN` between two empty lines."""
        run = 0
        for index, line in enumerate(self.lines):
            before, run = run, run + len(line) + 1 if line.strip() else 0
            if run > MOST_IN_A_RUN:
                kept = max(0, MOST_IN_A_RUN - before)
                self.lines[index] = line[:kept]
                if kept:
                    where = Where(index + 1, kept + 1)
                    message = f"after {MOST_IN_A_RUN:,} characters without an empty line the rest is left out"
                    self.fault("paragraph-too-long", where, message, "put an empty line between paragraphs")

    def fault(self, code: str, where: Where, message: str, hint: str | None = None) -> None:
        self.faults.append(
            Diagnostic(
                code=code,
                severity=Severity.WARNING,
                path=self.path,
                message=message,
                line=where.line,
                column=where.column,
                hint=hint,
            )
        )

    def digest(self, markdown: MarkdownIt) -> Digest:
        self.markdown = markdown
        tree = SyntaxTreeNode(markdown.parse(self.text, self.environment))
        blocks = self.blocks(tree.children)
        title: tuple[Inline, ...] = ()
        standfirst: tuple[Inline, ...] = ()
        if blocks and isinstance(blocks[0], Heading) and blocks[0].level == 1:
            title = blocks.pop(0).children  # type: ignore[union-attr]
            match blocks[:1]:
                case [Paragraph((Emphasis(children),))]:
                    standfirst = children
                    blocks.pop(0)
        for index, block in enumerate(blocks):
            if isinstance(block, Heading) and block.level == 1:
                self.fault(
                    "second-title", block.where, "a title stands once, at the beginning", "write '##' here"
                )
                blocks[index] = Heading(2, block.children, block.where)
        return Digest(self.path, title, standfirst, tuple(blocks))

    def blocks(self, nodes: list[SyntaxTreeNode]) -> list[Block]:
        return [block for node in nodes for block in self.block(node)]

    def block(self, node: SyntaxTreeNode) -> list[Block]:
        where = self.start(node)
        match node.type:
            case "paragraph":
                children = self.inline_of(node)
                return [Paragraph(children, where)] if children else []
            case "heading":
                return [Heading(int(node.tag[1]), self.inline_of(node), where)]
            case "bullet_list" | "ordered_list":
                order = ListOrder.NUMBERED if node.type == "ordered_list" else ListOrder.PLAIN
                return [Listing(order, tuple(tuple(self.blocks(item.children)) for item in node.children))]
            case "blockquote":
                return [Quotation(tuple(self.blocks(node.children)))]
            case "fence" | "code_block":
                return [Verbatim(node.content, where)]
            case "hr":
                return [Rule()]
            case "directive":
                return self.directive(node, where)
            case "html_block":
                self.raw_html(node.content, where)
        return []

    def start(self, node: SyntaxTreeNode) -> Where:
        """Where a block begins: its first character that is not a space."""
        line = node.map[0] if node.map else 0
        text = self.lines[line] if line < len(self.lines) else ""
        return Where(line + 1, len(text) - len(text.lstrip()) + 1)

    def raw_html(self, written: str, where: Where) -> None:
        if not _COMMENT.fullmatch(written):
            self.fault(
                "raw-html", where, "raw HTML is left out", "use Markdown; a comment `<!-- … -->` may stay"
            )

    # Inline text

    def inline_of(self, block: SyntaxTreeNode) -> tuple[Inline, ...]:
        children: list[Inline] = []
        for node in block.children:
            if node.type == "inline":
                place = _Place(self.starts(node.content, node.map[0] if node.map else 0), node.content)
                children += self.inlines(node.children, place)
        return tuple(children)

    def starts(self, content: str, first: int) -> list[Where]:
        """Where each line of a block's text begins in the file: behind its indent and the marks of lists and quotes."""
        found = []
        for number, piece in enumerate(content.split("\n"), first):
            source = self.lines[number] if number < len(self.lines) else ""
            found.append(Where(number + 1, max(source.rfind(piece), 0) + 1))
        return found

    def inlines(self, nodes: list[SyntaxTreeNode], place: _Place) -> list[Inline]:
        found: list[Inline] = []
        for node in nodes:
            for inline in self.inline(node, place):
                if isinstance(inline, Text) and found and isinstance(found[-1], Text):
                    found[-1] = Text(found[-1].text + inline.text)
                elif inline != Text(""):
                    found.append(inline)
        return found

    def inline(self, node: SyntaxTreeNode, place: _Place) -> list[Inline]:
        match node.type:
            case "text":
                return [Text(node.content)]
            case "softbreak":
                return [Text(" ")]
            case "hardbreak":
                return [LineBreak()]
            case "code_inline":
                return [Code(node.content)]
            case "html_inline":
                self.raw_html(node.content, place.of(node.content))
            case "image":
                self.fault(
                    "image", place.of(f"![{node.content}"), "images are not published", "use :::diagram"
                )
        children = self.inlines(node.children, place) if node.type in ("em", "strong", "link", "span") else []
        match node.type:
            case "em":
                return [Emphasis(tuple(children))]
            case "strong":
                return [Strong(tuple(children))]
            case "link":
                return self.link(str(node.attrs.get("href", "")), children, place)
            case "span":
                return self.span(node, children, place)
        return []

    def link(self, target: str, children: list[Inline], place: _Place) -> list[Inline]:
        if _TARGET.match(target):
            return [Link(target, tuple(children))]
        where = place.of(target)
        self.fault(
            "link-target", where, f"'{target}' leads nowhere once published; its words stay without the link"
        )
        return children

    def span(self, node: SyntaxTreeNode, children: list[Inline], place: _Place) -> list[Inline]:
        """A span of a known kind; else its text alone, and a fault."""
        where = place.at(node.meta["at"])
        if "broken_at" in node.meta:
            self.fault(
                "broken-attributes",
                place.at(node.meta["broken_at"]),
                "the attributes cannot be read from here on; the text before them stands",
                'write {.fact kind=score at="name"}: quotation marks around any value but a plain word',
            )
            return children
        attributes = {name: re.sub(r"\\(.)", r"\1", value) for name, value in node.meta["attributes"].items()}
        classes = attributes.pop("class", "").split()
        known = [kind.value for kind in SpanKind]
        if len(classes) != 1 or classes[0] not in known:
            written = " and ".join(f"'.{name}'" for name in classes) or "nothing"
            near = nearest(classes[0], known) if len(classes) == 1 else None
            self.fault(
                "span-kind",
                where,
                f"a span is one of {', '.join(f'.{name}' for name in known)}, here stands {written}",
                f"did you mean .{near}?" if near else None,
            )
            return children
        return [Span(SpanKind(classes[0]), tuple(children), attributes, where)]

    # Directives

    def directive(self, node: SyntaxTreeNode, where: Where) -> list[Block]:
        name, _, argument = node.info.partition(" ")
        if not name:
            self.fault("stray-directive-end", where, "':::' ends a directive, but none is open")
            return []
        if not node.meta["closed"]:
            self.fault("unclosed-directive", where, f"':::{name}' is not closed", "end it with a line ':::'")
        if name not in _DIRECTIVES:
            near = nearest(name, _DIRECTIVES)
            hint = f"did you mean :::{near}?" if near else f"known are {', '.join(_DIRECTIVES)}"
            self.fault("unknown-directive", where, f"there is no directive ':::{name}'; it is left out", hint)
            return []
        if name == "diagram":
            return self.diagram(argument.strip(), node, where)
        return self.exhibit(ExhibitKind(name), argument.strip(), node, where)

    def exhibit(self, kind: ExhibitKind, subject: str, node: SyntaxTreeNode, where: Where) -> list[Block]:
        """A block that is looked up; which lines it takes is not known here."""
        values = self.values(node, None)
        caption = self.caption(values.pop("caption", _Place([where], "")))
        options = {key: value.text for key, value in values.items()}
        places = {key: value.at(0) for key, value in values.items()}
        return [Exhibit(kind, subject, options, caption, where, places)]

    def caption(self, written: _Place) -> tuple[Inline, ...]:
        tree = SyntaxTreeNode(self.markdown.parseInline(written.text, self.environment))
        return tuple(inline for child in tree.children for inline in self.inlines(child.children, written))

    def diagram(self, place: str, node: SyntaxTreeNode, where: Where) -> list[Block]:
        if not place:
            self.fault("diagram-place", where, "a diagram needs a place", "write ':::diagram NAME'")
            return []
        values = self.values(node, _DIAGRAM_KEYS)
        view = Side.WHITE
        if "view" in values:
            try:
                view = Side(values["view"].text.strip())
            except ValueError:
                self.fault("diagram-view", values["view"].at(0), "a view is 'white' or 'black'")
        marks_text = values.get("marks", _Place([where], ""))
        marks, errors = parse_marks(marks_text.text)
        for error in errors:
            self.fault("diagram-mark", marks_text.at(error.offset), error.message)
        caption = self.caption(values.get("caption", _Place([where], "")))
        against = values.get("against", _Place([where], "")).text.strip()
        return [Diagram(place, tuple(marks), caption, view, where, against)]

    def values(self, node: SyntaxTreeNode, known: tuple[str, ...] | None) -> dict[str, _Place]:
        """The `key: value` lines of a directive, of the keys that are `known`, or any; an indented line goes on with the value above it."""
        values: dict[str, _Place] = {}
        key = ""
        first = node.map[0] + 1 if node.map else 0
        body = node.content.split("\n") if node.content else []
        for piece, start in zip(body, self.starts(node.content, first), strict=False):
            if not piece.strip():
                continue
            indent = len(piece) - len(piece.lstrip())
            if indent and key:
                where = Where(start.line, start.column + indent)
                values[key] = _Place([*values[key].starts, where], f"{values[key].text}\n{piece.strip()}")
                continue
            key, colon, value = piece.strip().partition(":")
            where = Where(start.line, start.column + indent)
            meant = re.fullmatch("[a-z]+", key) if known is None else key in known
            if not colon or not meant or key in values:
                again = "stands twice" if key in values else "is not understood"
                hint = "lines are written 'word: value'"
                if known is not None:
                    hint = f"a diagram has {', '.join(f'{name}:' for name in known)}"
                self.fault("directive-line", where, f"'{key}' {again}", hint)
                key = ""
                continue
            skipped = len(key) + 1 + len(value) - len(value.lstrip())
            values[key] = _Place([Where(where.line, where.column + skipped)], value.strip())
        return values


class _Place:
    """A text cut out of the file, and where each of its lines begins there."""

    def __init__(self, starts: list[Where], text: str) -> None:
        self.starts = starts
        self.text = text

    def at(self, offset: int) -> Where:
        """Where a character of the text stands in the file."""
        before = self.text[:offset]
        line = before.count("\n")
        start = self.starts[min(line, len(self.starts) - 1)]
        return Where(start.line, start.column + len(before) - (before.rfind("\n") + 1))

    def of(self, written: str) -> Where:
        """Where these words stand first (the beginning of the text where they are not found as written)."""
        return self.at(max(self.text.find(written), 0))
