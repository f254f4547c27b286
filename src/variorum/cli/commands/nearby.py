"""`variorum nearby`: positions that differ in one or two units, and those that do with colours reversed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, edition_and_rest, user_settings
from variorum.cli.output import exit_if_faulty, in_letters, print_diagnostics, show, words_in_letters
from variorum.cli.progress import progress_for
from variorum.cli.values import SCALE, key_text, value_texts

if TYPE_CHECKING:
    from variorum.insight.near_report import NearGroupSaid, NearPlace, NearReport

Arguments = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[EDITION] [PLACE]",
        help="A name of the edition, a typed line, or a FEN; by default the whole edition.",
        show_default=False,
    ),
]


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.insight.near_report import NearReport

    return NearReport


def command(
    arguments: Arguments = None,
    limit: Annotated[
        int, typer.Option(min=1, max=1000, metavar="N", help="At most so many groups of pairs.")
    ] = 10,
    as_json: AsJson = False,
) -> None:
    """Find positions of the edition that are the same but for a unit or two, and reversed twins.

    Pairs that lie close to each other in the same line of play are left out. Those that differ in the same way make one group; groups come first that much traffic meets on both sides, that the voices judge differently, and that belong to different openings.
    """
    from variorum.build.nearby import nearby
    from variorum.build.opened import OpenEdition
    from variorum.edition import resolve_place

    edition, words = edition_and_rest(arguments or [])
    place = resolve_place(edition, " ".join(words)) if words else None
    user = user_settings()
    progress = progress_for(as_json=as_json)
    with OpenEdition(edition, user, progress=progress) as opened:
        report, diagnostics = nearby(opened, place, limit=limit, progress=progress)
    print_diagnostics(diagnostics)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)
    exit_if_faulty(diagnostics)


def _as_text(report: NearReport, letters: str) -> Iterable[str]:
    if report.place is None:
        yield f"{report.title}: near positions and reversed twins among {_number(report.positions, 'position')}"
    else:
        yield f"Near positions and reversed twins of {report.place.name or in_letters(report.place.line, letters)}"
    yield (
        f"{_number(report.near, 'near pair')} and {_number(report.twins, 'reversed twin')}"
        + (f" in {_number(report.group_count, 'group')}" if report.place is None else "")
        + (f"; the {len(report.groups)} weightiest" if len(report.groups) < report.group_count else "")
        + "."
    )
    shown = [place for group in report.groups for pair in group.pairs for place in (pair.first, pair.second)]
    sigla = {value.voice: value.siglum for place in shown for value in place.values}
    if sigla:
        yield f"{key_text(sigla)}. {SCALE}"
    if report.place is not None:
        yield ""
        name = f"{report.place.name}: " if report.place.name else ""
        yield from _place("The first", name + report.place.line, report.place, letters)
    for number, group in enumerate(report.groups, start=1):
        yield ""
        yield from _group(number, group, letters, alone=report.place is not None)


def _group(number: int, group: NearGroupSaid, letters: str, *, alone: bool) -> Iterable[str]:
    best, *others = group.pairs
    told, *more = _sentences(best.sentences, letters)
    yield f"{number}. {told}"
    yield from (f"   {sentence}" for sentence in more)
    if not alone:
        yield from (f"   {line}" for line in _place("The first", best.first.short, best.first, letters))
    yield from (f"   {line}" for line in _place("The second", best.second.short, best.second, letters))
    if others:
        yield f"   The same difference in {_number(group.count - 1, 'other pair')}, such as"
        for pair in others:
            yield f"     {words_in_letters(pair.first.short, letters)}"
            yield f"     and {words_in_letters(pair.second.short, letters)}"


def _sentences(sentences: Sequence[str], letters: str) -> list[str]:
    return [words_in_letters(sentence, letters) for sentence in sentences]


def _place(called: str, said: str, place: NearPlace, letters: str) -> Iterable[str]:
    yield f"{called}: {words_in_letters(said, letters)}"
    games = sum(place.games.values())
    yield f"  {place.flow:.1f} % of the traffic; {_number(games, 'game') if games else 'no games'}"
    yield from (f"  {text}" for text in value_texts(place.values, None, letters))


def _number(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"
