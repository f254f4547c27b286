"""Pages from templates. What an author or a PGN wrote is escaped; nothing of it becomes markup."""

from __future__ import annotations

import functools
import re
from importlib import resources
from typing import Any, Final

import jinja2
from markupsafe import Markup, escape
from starlette.responses import HTMLResponse

from variorum import __version__
from variorum.claims.facts import grouped
from variorum.desk.moves import printed
from variorum.publish.notation import set_moves_in_text

__all__ = ["fragment", "page", "quoted", "share"]

_FOLDER = resources.files("variorum.desk")
_HELD: Final = re.compile(r"O-O(?:-O)?[+#]?|\d*…[^\s…;,.]+")
_QUOTED: Final = re.compile(r"(?<!\w)'([^']*)'(?!\w)")
_APOSTROPHE: Final = re.compile(r"(?<=\w)'")


def page(template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """A page from one of the templates."""
    text = fragment(template, version=__version__, **values)
    data = text.encode("utf-8", "replace")  # a file may have a name that is no text
    return HTMLResponse(data, status_code=status, headers={"cache-control": "no-store"})


def fragment(template: str, **values: Any) -> Markup:
    """A piece of a page from one of the templates; it can be set into another as it is."""
    return Markup(_environment().get_template(template).render(**values))


@functools.cache
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(_template),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        moves=_moves,
        prose=_prose,
        apostrophes=_apostrophes,
        sentence=_sentence,
        grouped=lambda number: f"{number:,}",
        count_words=grouped,
        one=lambda number: f"{number:.1f}",
        share=share,
    )
    return environment


def share(percent: float) -> str:
    """A share as it is printed: what there is never as nothing.

    >>> share(12.34), share(0.01), share(0.0)
    ('12.3', '< 0.1', '0.0')
    """
    return "< 0.1" if 0.0 < percent < 0.05 else f"{percent:.1f}"


def _moves(san: str) -> Markup:
    """Moves as they are printed; castling, and Black's move with its number, are not torn at the end of a line."""
    # A plain text: in a `Markup` the spans would be escaped.
    return _held(str(escape(printed(san))))


def _prose(text: str) -> Markup:
    """A sentence as it is printed: its moves, and the apostrophe."""
    words = "".join(piece for piece, _ in set_moves_in_text(_apostrophes(text)))
    return _held(str(escape(words)))


def _apostrophes(text: str) -> str:
    """A name as it is printed: with the apostrophe that no keyboard has."""
    return _APOSTROPHE.sub("’", text)


def quoted(fault: str) -> str:
    """What a fault says, with the quotation marks that no keyboard has.

    >>> quoted("'9' was typed; it is '2' now")
    '“9” was typed; it is “2” now'
    """
    return _QUOTED.sub(r"“\1”", fault)


def _sentence(fault: str) -> str:
    """What a fault or a remedy says, as a sentence of its own."""
    words = quoted(fault)
    return f"{words[:1].upper()}{words[1:]}{'' if words.endswith(('.', '?', '!')) else '.'}" if words else ""


def _held(text: str) -> Markup:
    return Markup(_HELD.sub(r'<span class="nb">\g<0></span>', text))


def _template(name: str) -> str:
    return (_FOLDER / "templates" / name).read_text(encoding="utf-8")
