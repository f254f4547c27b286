"""`variorum apparatus`: who says what, and where voices disagree."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, edition_and_rest, user_settings
from variorum.cli.output import in_letters, print_diagnostics, show
from variorum.cli.progress import progress_for
from variorum.cli.values import SCALE, key_text, voice_texts

if TYPE_CHECKING:
    from variorum.build.apparatus import ApparatusReport, DisputedPlace


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.build.apparatus import ApparatusReport

    return ApparatusReport


def command(
    arguments: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[EDITION] [PLACE]",
            help="A name of the edition, a typed line, or a FEN; without it the disputes of the whole edition.",
            show_default=False,
        ),
    ] = None,
    most: Annotated[int, typer.Option("--most", min=1, metavar="N", help="List so many disputes.")] = 20,
    as_json: AsJson = False,
) -> None:
    """Show all voices on a position, or where in the edition they disagree most.

    Two voices disagree where their scores, brought to one scale, differ by more than noise, or where they would play differently; each dispute is told with the moves both lines share before they part.
    """
    from variorum.build.apparatus import apparatus_of
    from variorum.build.opened import OpenEdition
    from variorum.edition import resolve_place

    edition, words = edition_and_rest(arguments or [])
    place = resolve_place(edition, " ".join(words)) if words else None
    user = user_settings()
    with OpenEdition(edition, user, progress=progress_for(as_json=as_json)) as opened:
        report, diagnostics = apparatus_of(opened, place, most=most)
    print_diagnostics(diagnostics)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)


def _as_text(report: ApparatusReport, letters: str) -> Iterable[str]:
    if report.fen:
        said = ": ".join(filter(None, [report.name, in_letters(report.line, letters)]))
        if said:
            yield said
        yield report.fen
        for voice in report.voices:
            yield from voice_texts(voice, letters)
        if not report.voices:
            yield "No voice has spoken of it yet: ask with variorum consult --at PLACE."
            return
        if report.disputes:
            yield "They disagree"
    else:
        voices = f"Voices: {key_text(report.sigla)}. " if report.sigla else "No voice has spoken yet. "
        yield f"{voices}{report.shared} positions were judged by two voices or more; {report.disputed} {'is' if report.disputed == 1 else 'are'} disputed."
        if report.shared:
            yield SCALE
    for number, place in enumerate(report.disputes, 1):
        yield from _dispute(number, place, report.sigla, letters)


def _dispute(number: int, place: DisputedPlace, sigla: dict[str, str], letters: str) -> Iterable[str]:
    said = place.dispute
    one, other = (sigla[voice] for voice in said.voices)
    where = in_letters(place.line, letters) if place.line else said.epd
    yield f"{number:3}. {where}"
    first, second = (in_letters(move, letters) or "ends" for move in said.moves)
    together = f"both begin {in_letters(said.together, letters)}, then " if said.together else ""
    if said.about == "score":
        yield (
            f"     {one} {said.expected[0]:.1f}, {other} {said.expected[1]:.1f}: {said.gap:.1f} apart on one scale, "
            f"noise {said.noise:.1f}; {together}{one} {first}, {other} {second}"
        )
    else:
        gap = f", {said.gap:.1f} points between the moves" if said.gap else ""
        yield f"     {one} {first} ({said.expected[0]:.1f}), {other} {second} ({said.expected[1]:.1f}){gap}, noise {said.noise:.1f}"
