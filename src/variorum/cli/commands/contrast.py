"""`variorum contrast`: two positions side by side."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.base import UsageError
from variorum.cli.options import AsJson, edition_and_rest, user_settings
from variorum.cli.output import (
    exit_if_faulty,
    in_letters,
    print_diagnostics,
    show,
    words_in_letters,
)
from variorum.cli.values import effort_text

if TYPE_CHECKING:
    from variorum.insight.contrast_report import ContrastReport, VoiceSaid

Arguments = Annotated[
    list[str],
    typer.Argument(
        metavar="[EDITION] PLACE PLACE",
        help="Two places, each in quotes where it has spaces: a name of the edition, a typed line, or a FEN.",
        show_default=False,
    ),
]

_PLANS = 8
"""So many sentences on plans are printed; `--json` has all."""


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.insight.contrast_report import ContrastReport

    return ContrastReport


def command(
    arguments: Arguments,
    reverse: Annotated[
        bool, typer.Option("--reversed", help="Take the second position with colours reversed.")
    ] = False,
    svg: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Write a diagram of the first position with the differing units marked."
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Set two positions side by side: the units that differ, tempi, rights, and what the voices say of both."""
    from variorum.build.contrast import contrast_places, write_contrast
    from variorum.edition import resolve_place
    from variorum.insight.contrast_report import Colours

    edition, rest = edition_and_rest(arguments)
    if len(rest) != 2:
        raise UsageError(
            f"contrast takes two places, not {len(rest)}",
            remedy="put a place of several words in quotes: variorum contrast '1.e4 c5' '1.e4 c6'",
        )
    here, there = (resolve_place(edition, text) for text in rest)
    colours = Colours.REVERSED if reverse else Colours.KEPT
    user = user_settings()
    report, diagnostics = contrast_places(edition, here, there, user, colours)
    print_diagnostics(diagnostics)
    if svg is not None:
        write_contrast(svg, here, report)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)
    exit_if_faulty(diagnostics)


def _as_text(report: ContrastReport, letters: str) -> Iterable[str]:
    for place in (report.here, report.there):
        yield f"{place.called}: {in_letters(place.line, letters) or place.fen}"
    yield ""
    yield from (words_in_letters(sentence, letters) for sentence in report.sentences)
    if report.plans:
        yield ""
        yield "What changes in the plans (`variorum plans` with --against tells more)"
        yield from (f"  {words_in_letters(sentence, letters)}" for sentence in report.plans[:_PLANS])
    if report.voices:
        yield ""
        yield "What the voices say. Scores are White's, expected of 100, ± noise."
    for pair in report.voices:
        yield f"  {pair.siglum} {pair.voice}"
        yield f"      {report.here.called}: {_voice(pair.here, letters)}"
        turned = " with colours reversed" if report.colours.value == "reversed" else ""
        yield f"      {report.there.called}{turned}: {_voice(pair.there, letters)}"


def _voice(said: VoiceSaid | None, letters: str) -> str:
    if said is None:
        return "not judged yet"
    noise = "" if said.noise is None else f" ± {said.noise:.1f}"
    best = ", ".join(in_letters(move, letters) for move in said.best)
    return (
        f"{said.expected:.1f}{noise} ({said.pawns}) {said.sign} ({said.words}), best {best}; "
        f"{effort_text(said.nodes, 0)}"
    )
