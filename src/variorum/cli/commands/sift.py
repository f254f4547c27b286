"""`variorum sift`: games in, by any move order."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import msgspec
import typer

from variorum.cli.options import AsJson, edition_and_rest, user_settings
from variorum.cli.output import columns, show
from variorum.cli.progress import progress_for

if TYPE_CHECKING:
    from variorum.sources import SiftReport

_MANY_GAMES = 1_000
"""The graph of fewer games is grown in a moment."""

Arguments = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[EDITION] [PATH]...",
        help="Files or folders of PGN, plain, .gz, .zst or .bz2; by default the edition's folder sources/.",
        show_default=False,
    ),
]


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.sources import SiftReport

    return SiftReport


def command(
    arguments: Arguments = None,
    kind: Annotated[
        Literal["practice", "correspondence", "engine", "analysis"] | None,
        typer.Option(
            metavar="KIND",
            help="What the games are: practice, correspondence, engine or analysis; by default as edition.toml says.",
        ),
    ] = None,
    voice: Annotated[str | None, typer.Option(help="Whose games they are, for engine and analysis.")] = None,
    min_rating: Annotated[
        int | None, typer.Option(min=0, help="Pass over games in which a rating is lower or missing.")
    ] = None,
    since: Annotated[
        datetime.datetime | None,
        typer.Option(
            metavar="DATE", formats=["%Y-%m-%d"], help="Pass over games before this day (2024-05-31)."
        ),
    ] = None,
    until: Annotated[
        datetime.datetime | None,
        typer.Option(metavar="DATE", formats=["%Y-%m-%d"], help="Pass over games after this day."),
    ] = None,
    pace: Annotated[
        Literal["any", "classical", "rapid", "blitz"] | None,
        typer.Option(metavar="PACE", help="Keep only classical, rapid or blitz."),
    ] = None,
    rehash: Annotated[
        bool, typer.Option("--rehash", help="Read every file again to see whether it changed.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Keep the games that reach a root by any move order.

    Of thousands of games the map is grown at once and kept, so that it need not be waited for later. Files that did not change since the last sift are not read again; the games of files that are gone from sources/ leave the store. What cannot be read is set aside with its reason (`variorum rejects`). The exit code is 2, and all else is kept, when a file cannot be read to its end or holds no game, or when no game reaches a root.
    """
    from variorum.sources import SiftOptions, fault_of, sift
    from variorum.store import Hashing, Mode, open_store

    edition, rest = edition_and_rest(arguments or [])
    options = SiftOptions(
        kind=kind,
        voice=voice,
        min_rating=min_rating,
        since=since and since.date(),
        until=until and until.date(),
        pace=pace,
    )
    paths = [Path(path) for path in rest] or [edition.path / "sources"]
    hashing = Hashing.ALWAYS if rehash else Hashing.WHEN_NEEDED
    user, progress = user_settings(), progress_for(as_json=as_json)
    with open_store(edition.store_folder(user), mode=Mode.WRITE) as store:
        report = sift(edition, store, paths, options, progress, hashing=hashing)
    show(report, _as_text, as_json=as_json)
    if report.games > _MANY_GAMES:
        from variorum.build.first_look import grow_ahead

        grow_ahead(edition, user, progress)
    if (fault := fault_of(report)) is not None:
        if as_json:  # the report tells the faults, and there is one document
            raise typer.Exit(fault.exit_code)
        raise fault


def _as_text(report: SiftReport) -> Iterable[str]:
    if not report.sources:
        return
    rows: list[tuple[str, ...]] = [("file", "kind", "games met", "kept", "passed over", "set aside", "")]
    for source in report.sources:
        if source.state == "gone":
            continue
        met = source.sections + source.untagged
        numbers = (met, source.kept, source.passed, source.aside)
        state = f"{source.state}: {source.fault}" if source.fault else source.state
        rows.append((source.source, source.kind, *(f"{number:,}" for number in numbers), state))
    if len(rows) > 1:
        yield from columns(rows, right=range(2, 6))
        yield ""
    for source in report.sources:
        if source.state == "gone":
            games = "its game" if source.kept == 1 else f"its {source.kept:,} games"
            yield f"{source.source} is gone, and {games} with it."
    if told := sum(source.verdicts for source in report.sources):
        yield f"{told:,} scores beside moves were read as verdicts."
    games = "1 game" if report.games == 1 else f"{report.games:,} games"
    yield f"{games} in the store, {report.doubles:,} of them met more than once."
    if playouts := sum(source.kept for source in report.sources if source.kind == "playout"):
        yield f"Beside them {playouts:,} playout{'' if playouts == 1 else 's'}, counted apart."
