"""`variorum tempo`: moves spent against moves needed, of one line or of two."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, edition_and_place, user_settings
from variorum.cli.output import columns, in_letters, show, words_in_letters

if TYPE_CHECKING:
    from variorum.board import Line
    from variorum.edition import Place
    from variorum.insight.tempo import LedgerRow, SideLedger
    from variorum.insight.tempo_report import LineLedger, TempoComparison, TempoReport

Arguments = Annotated[
    list[str],
    typer.Argument(
        metavar="[EDITION] LINE",
        help="A typed line, also one behind a FEN, or a name of the edition that has a line.",
        show_default=False,
    ),
]


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.insight.tempo_report import TempoReport

    return TempoReport


def command(
    arguments: Arguments,
    against: Annotated[
        str | None,
        typer.Option(metavar="LINE", help="Another line from the same start, in quotes, to compare with."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Count the moves that a line's units have spent against those they needed, and say who lost a tempo where."""
    from variorum.edition import resolve_place
    from variorum.insight.tempo_report import tempo_report

    edition, place = edition_and_place(arguments)
    other = None if against is None else resolve_place(edition, against)
    report = tempo_report(_line(place), None if other is None else _line(other))
    letters = user_settings().pieces
    show(report, lambda report: _as_text(report, letters), as_json=as_json)


def _line(place: Place) -> Line:
    from variorum.board import Line

    return place.line if place.line is not None else Line(place.position)


def _as_text(report: TempoReport, letters: str) -> Iterable[str]:
    if report.there is None or report.comparison is None:
        yield from _alone(report.here, letters)
        return
    yield f"Here:  {in_letters(report.here.line, letters)}"
    yield f"There: {in_letters(report.there.line, letters)}"
    yield ""
    yield from (words_in_letters(sentence, letters) for sentence in report.comparison.sentences)
    yield ""
    yield from _side_by_side(report.here, report.there, report.comparison)
    for heading, ledger in (("Here", report.here), ("There", report.there)):
        told = [sentence for sentence in ledger.sentences if " spent " in sentence]
        if told:
            yield ""
            yield heading
            yield from (f"  {words_in_letters(sentence, letters)}" for sentence in told)


def _alone(ledger: LineLedger, letters: str) -> Iterable[str]:
    yield in_letters(ledger.line, letters)
    yield ""
    yield from (words_in_letters(sentence, letters) for sentence in ledger.sentences)
    for name, side in (("White", ledger.white), ("Black", ledger.black)):
        yield ""
        yield f"{name}: {_sum(side)}"
        rows = [row for row in side.rows if row.spent]
        if rows:
            yield from columns(
                [("  unit", "stands on", "spent", "needed", "lost"), *map(_row, rows)], right=[2, 3, 4]
            )


def _sum(side: SideLedger) -> str:
    """`7 moves spent = 5 standing + 2 gone + 0 lost`."""
    noun = "move" if side.spent == 1 else "moves"
    return f"{side.spent} {noun} spent = {side.standing} standing + {side.gone} gone + {side.lost} lost"


def _row(row: LedgerRow) -> tuple[str, str, str, str, str]:
    from variorum.insight.tempo_report import row_name

    where = ", ".join(f"taken on {unit.square}" if unit.captured else unit.square for unit in row.units)
    return (
        f"  {row_name(row)}",
        where,
        str(row.spent),
        str(row.needed),
        str(row.lost) if row.lost else "",
    )


def _side_by_side(here: LineLedger, there: LineLedger, found: TempoComparison) -> Iterable[str]:
    """Units on which the lines spend differently, spent of needed, then the sums."""
    rows = [("", "here", "there")]
    for name, one, other in (("White", here.white, there.white), ("Black", here.black, there.black)):
        rows.append((name, "", ""))
        rows += [
            (f"  {pair.unit}", _spent(pair.here), _spent(pair.there))
            for pair in found.rows
            if pair.side.value == name.lower()
        ]
        rows += [
            (f"  {figure}", str(getattr(one, figure)), str(getattr(other, figure)))
            for figure in ("spent", "standing", "gone", "lost")
        ]
    yield from columns(rows, right=[1, 2])


def _spent(figures: tuple[int, int]) -> str:
    spent, needed = figures
    return f"{spent} of {needed}" if spent else "did not move"
