"""Styles, scripts, fonts and unit drawings that are copied into publications (terms: README.md beside this file)."""

from __future__ import annotations

import base64
import enum
import functools
import json
import re
from importlib import resources
from pathlib import Path

__all__ = ["Ink", "diagram_style", "print_fonts", "read_text", "script", "stylesheet", "unit_outlines"]


class Ink(enum.Enum):
    """Colours of the look: on a screen by day, and on white paper."""

    DAY = "day"
    PRINT = "print"


STYLESHEETS = ("tokens.css", "page.css", "board.css", "digest.css", "published.css")
_FOLDER = resources.files(__name__)
_FONT = re.compile(r"url\((fonts/[a-z-]+\.woff2)\)")
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_TOKEN = re.compile(r"(--[a-z-]+):\s*([^;]+);")
_VARIABLE = re.compile(r"var\((--[a-z-]+)\)")


def read_text(name: str) -> str:
    """The text of one file of this folder."""
    return (_FOLDER / name).read_text(encoding="utf-8")


@functools.cache
def unit_outlines() -> dict[str, dict[str, str]]:
    """SVG path data in a square of 100: letter (`K` … `P`) to layer (`body`, `line`, `solid`) to path."""
    outlines: dict[str, dict[str, str]] = json.loads(read_text("units.json"))
    return outlines


@functools.cache
def stylesheet() -> str:
    """All styles of a published page in one text, the fonts inside as data URIs."""
    text = "\n".join(read_text(name) for name in STYLESHEETS)
    return _FONT.sub(_data_uri, _COMMENT.sub("", text)).strip()


@functools.cache
def script() -> str:
    """The script of a published page: it draws diagrams again for the width at hand and offers reading by night."""
    return "\n".join(read_text(name) for name in ("page.js", "board.js")).strip()


@functools.cache
def diagram_style(ink: Ink = Ink.DAY) -> str:
    """The rules of `board.css` for a diagram outside a page: no selectors of the page, colours written out."""
    tokens = _COMMENT.sub("", read_text("tokens.css"))
    day = tokens.partition(":root {")[2].partition("}")[0]
    printed = tokens.partition("@media print {")[2].partition("{")[2].partition("}")[0]
    written = day + (printed if ink is Ink.PRINT else "")
    colours = {name: value.strip() for name, value in _TOKEN.findall(written)}
    rules = _COMMENT.sub("", read_text("board.css")).partition("@media")[0]
    kept = [
        rule.strip().replace("v-board ", "")
        for rule in rules.split("\n")
        if re.match(r"v-board (\.|pattern)", rule) and ".keys" not in rule
    ]
    return _VARIABLE.sub(lambda found: colours[found[1]], "".join(kept)).replace('"', "'")


def print_fonts() -> Path:
    """The folder of the fonts for print: the typesetter reads files."""
    return Path(str(_FOLDER.joinpath("fonts", "print")))


def _data_uri(found: re.Match[str]) -> str:
    data = base64.b64encode(_FOLDER.joinpath(found[1]).read_bytes()).decode("ascii")
    return f"url(data:font/woff2;base64,{data})"
