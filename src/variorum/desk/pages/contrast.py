"""The contrast page: two positions side by side, with the units that differ marked in both."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from variorum.board import Position
from variorum.desk.moves import address
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.render import page
from variorum.edition import resolve_place
from variorum.edition.marks import Mark
from variorum.insight.contrast import MOST_UNITS, changed_units, changes_in_words, contrast_marks
from variorum.insight.contrast_report import Colours, ContrastReport, contrast_report
from variorum.insight.mirror import mirrored_position

__all__ = ["contrast_page"]


def contrast_page(request: Request, sent: Any) -> Response:
    """Two places against each other; without both, the form that asks for them."""
    del sent
    name = request.path_params["name"]
    asked = request.query_params
    here_text, there_text = asked.get("at", "").strip(), asked.get("with", "").strip()
    reversed_ = asked.get("colours") == "reversed"
    report: ContrastReport | None = None
    marks, units = ("", ""), ""
    with editions_of(request).reading(name) as opened:
        edition = opened.edition
        known = list(edition.places)
        if here_text and there_text:
            here, there = resolve_place(edition, here_text), resolve_place(edition, there_text)
            colours = Colours.REVERSED if reversed_ else Colours.KEPT
            report = contrast_report(
                here, there, opened.verdicts, opened.sigla, edition.settings.bands, colours
            )
            if report.units:
                marks = _marks(here.position, there.position, colours)
                units = _cited(here.position, there.position, colours, here_text, there_text)
    return page(
        "contrast.html.j2",
        **frame(request, "contrast", "Contrast"),
        known=known,
        here_text=here_text,
        there_text=there_text,
        reversed=reversed_,
        report=report,
        marks=marks,
        units=units,
        links=(address(name, "position", at=here_text), address(name, "position", at=there_text)),
    )


def _cited(here: Position, there: Position, colours: Colours, here_text: str, there_text: str) -> str:
    """In which units a place differs from another, as it stands in a sentence of the digest; "" where too many do."""
    turned = colours is Colours.REVERSED
    changes = changed_units(here, mirrored_position(there) if turned else there)
    if not 0 < len(changes) <= MOST_UNITS:
        return ""
    more = " reversed=yes" if turned else ""
    return (
        f'[{changes_in_words(changes)}]{{.fact kind=contrast at="{here_text}" against="{there_text}"{more}}}'
    )


def _marks(here: Position, there: Position, colours: Colours) -> tuple[str, str]:
    """The bars of both diagrams, as the board element reads them; each is marked on the squares that it has itself."""
    turned = mirrored_position(there) if colours is Colours.REVERSED else there
    first = contrast_marks(changed_units(here, turned))
    second = contrast_marks(changed_units(turned, here))
    if colours is Colours.REVERSED:
        second = tuple(Mark(mark.kind, tuple(_across(square) for square in mark.squares)) for mark in second)
    return _spelled(first), _spelled(second)


def _across(square: str) -> str:
    return f"{square[0]}{9 - int(square[1])}"


def _spelled(marks: tuple[Mark, ...]) -> str:
    return "; ".join(f"{mark.kind.value} {'-'.join(mark.squares)}!" for mark in marks)
