"""A page for the author alone: headings with entries, in the look of what is published, and never in `out/`."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

import jinja2
import msgspec
from markupsafe import Markup

from variorum import __version__
from variorum.edition import Edition, atomic_write, hash_on_disk
from variorum.edition.folder import AUTHOR
from variorum.publish import assets
from variorum.publish.notation import FIGURINE, set_moves_in_text

__all__ = ["AuthorPart", "write_author_page"]


class AuthorPart(msgspec.Struct, frozen=True):
    """A heading, and entries: a sentence and the sentences below it. `more` entries are left out."""

    heading: str
    entries: Sequence[Sequence[str]]
    more: int = 0


def write_author_page(
    edition: Edition, name: str, title: str, note: str, parts: Iterable[AuthorPart]
) -> Path:
    """Write a page of plain sentences, moves set in figurines.

    Args:
        edition: Whose author it is for.
        name: Name of the file.
        title: The heading.
        note: The sentence below it.
        parts: What it says.

    Raises:
        InputError: The file cannot be written.
    """
    html = _template().render(
        edition=re.sub(r"(?<=\w)'", "’", edition.title),
        title=title,
        note=Markup(_set(note)),
        version=__version__,
        style=Markup(assets.stylesheet()),
        parts=[
            (part.heading, [[Markup(_set(text)) for text in entry] for entry in part.entries], part.more)
            for part in parts
        ],
    )
    path = edition.place_to_write(AUTHOR, name)
    path.parent.mkdir(exist_ok=True)
    atomic_write(path, html.encode("utf-8"), expected_hash=hash_on_disk(path))
    return path


def _set(text: str) -> str:
    return "".join(
        f'<span class="mv">{escape(piece)}</span>' if is_move else escape(piece)
        for piece, is_move in set_moves_in_text(text, FIGURINE)
    )


@functools.cache
def _template() -> jinja2.Template:
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True)
    return environment.from_string(assets.read_text("author.html.j2"))
