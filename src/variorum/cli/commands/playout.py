"""`variorum playout`: games between voices from a position."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.base import UsageError
from variorum.cli.options import AsJson, edition_and_rest, user_settings
from variorum.cli.output import columns, in_letters, show
from variorum.cli.progress import progress_for
from variorum.cli.stopping import ends_in_order

if TYPE_CHECKING:
    from variorum.build.playout_table import PlayoutScore, PositionPlayouts
    from variorum.build.playouts import PlayoutReport

_LISTED = 10
"""Broken games that a summary lists; `--json` has all."""
_NODES = 20_000
"""For a move, where no limit is given."""


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.build.playouts import PlayoutReport

    return PlayoutReport


def command(
    arguments: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[EDITION] PLACE|GROUP",
            help="From where: a place, or leaves (ends of the manuscript's lines), tabiyas, confluences or disputed.",
            show_default=False,
        ),
    ] = None,
    games: Annotated[
        int | None, typer.Option(min=1, help="Games from each position, those there already included.")
    ] = None,
    white: Annotated[str, typer.Option(metavar="VOICE", help="Who plays White.")] = "resident",
    black: Annotated[
        str | None,
        typer.Option(metavar="VOICE", help="Who plays Black; by default the same voice.", show_default=False),
    ] = None,
    both_ways: Annotated[
        bool, typer.Option("--both-ways", help="The two voices change sides after each game.")
    ] = False,
    nodes: Annotated[
        int | None, typer.Option(min=1, help=f"Nodes for a move; {_NODES:,} by default.", show_default=False)
    ] = None,
    seconds: Annotated[float | None, typer.Option(help="Or seconds for a move.")] = None,
    variety: Annotated[
        int,
        typer.Option(
            metavar="PLIES", min=0, help="In so many first half-moves the move is drawn from the best."
        ),
    ] = 8,
    margin: Annotated[
        float,
        typer.Option(
            metavar="PAWNS", min=0, max=10, help="By how much a drawn move may be worse than the best."
        ),
    ] = 0.30,
    seed: Annotated[int, typer.Option(min=0, help="Another seed draws other moves.")] = 1,
    to_the_end: Annotated[
        bool,
        typer.Option(
            "--to-the-end", help="Agree on no results: play until the rules end the game or it is too long."
        ),
    ] = False,
    longest: Annotated[
        int,
        typer.Option(metavar="PLIES", min=1, max=2000, help="Half-moves after which a game has no result."),
    ] = 300,
    until_width: Annotated[
        float | None,
        typer.Option(metavar="POINTS", help="Stop where the 95 % interval of the score is so narrow."),
    ] = None,
    minutes: Annotated[float | None, typer.Option(help="Play for so many minutes at most.")] = None,
    workers: Annotated[
        int | None, typer.Option(min=1, max=256, help="Games at a time; by default one for each processor.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Let voices play games from a position, and see what comes of it.

    Each game is in playouts/ as soon as it is finished, with score and effort beside each move. The same command goes on with the games that are missing, and with none missing tells again what they came to. Nothing else counts these games as practice.
    """
    from variorum.build.playouts import PlayoutRequest, play_from
    from variorum.voices.playout import Recipe

    edition, words = edition_and_rest(arguments or [])
    if games is None:
        raise UsageError(
            "how many games from each position?", remedy="give --games, for instance --games 100"
        )
    if nodes is not None and seconds is not None:
        raise UsageError("--nodes and --seconds are two limits for one move", remedy="give one")
    if seconds is not None and not 0 < seconds < float("inf"):
        raise UsageError(f"a move cannot take {seconds} seconds", remedy="give a number above 0")
    recipe = Recipe(
        nodes=0 if seconds else nodes or _NODES,
        seconds=seconds or 0.0,
        plies=variety,
        margin=round(100 * margin),
        seed=seed,
        longest=longest,
        **({"win": None, "draw": None} if to_the_end else {}),
    )
    if both_ways and black in (None, white):
        raise UsageError(
            "a voice that plays itself has no sides to change",
            remedy="leave --both-ways out, or name two voices",
        )
    request = PlayoutRequest(
        at=" ".join(words),
        white=white,
        black=black or white,
        both_ways=both_ways,
        games=games,
        recipe=recipe,
        until_width=until_width,
    )
    user = user_settings()
    with ends_in_order():
        report = play_from(
            edition, user, request, progress_for(as_json=as_json), minutes=minutes, workers=workers
        )
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)


def _as_text(report: PlayoutReport, letters: str) -> Iterable[str]:
    whom = "itself" if report.white == report.black else report.black
    ways = ", both ways" if report.both_ways else ""
    yield f"{report.edition}: {report.white} against {whom}{ways}"
    yield f"{report.recipe}."
    before = f"; {report.known:,} were there before" if report.known else ""
    yield f"{_number(report.played, 'game')} played, in {report.file}{before}."
    yield ""
    shown = [one for one in report.positions if one.played]
    if shown:
        yield from _table(shown, letters)
    else:
        yield "No game is finished yet."
    for player in report.players:
        yield (
            f"{player.voice} scored {_score(player.together)}: with White {_score(player.white)}, "
            f"with Black {_score(player.black)}."
        )
    yield from _cautions(report, letters)


def _table(positions: list[PositionPlayouts], letters: str) -> Iterable[str]:
    rows = [("position", "games", "at first", "score", "95 %", "drawn", "moves", "worse side held")]
    for one in positions:
        results = one.results
        interval = (
            "" if results.low is None or results.high is None else f"{results.low:.1f}–{results.high:.1f}"
        )
        rows.append(
            (
                in_letters(one.place, letters),
                f"{one.played:,}",
                "" if one.start is None else f"{one.start:.1f}",
                "few" if results.score is None else f"{results.score:.1f}",
                interval,
                _share(results.draws, results.decided),
                ""
                if one.median_plies is None
                else f"{one.median_plies / 2:.0f} ({(one.mean_plies or 0) / 2:.0f})",
                f"{one.worse.title()} {_share(one.held, results.decided)}" if one.worse else "",
            )
        )
    yield from columns(rows, right=range(1, 7))
    yield ""
    endings = Counter[str]()
    for one in positions:
        endings.update({ending.ending: ending.games for ending in one.endings})
    told = ", ".join(f"{ending} {count:,}" for ending, count in endings.most_common())
    yield f"Endings: {told}."
    if endings["length"]:
        yield "A game that grew too long has no result and counts in no score."
    yield (
        "Score and what it was at first are White's, expected of 100; moves is the median length (and the mean). "
        "Different games count once; games that are alike in their first moves count together in the interval."
    )
    by = {one.start_by for one in positions if one.start_by}
    yield f"Who is worse at first is said by {' or '.join(sorted(by))}."


def _cautions(report: PlayoutReport, letters: str) -> Iterable[str]:
    for one in report.positions:
        copies = one.played - one.results.games
        place = in_letters(one.place, letters)
        if copies:
            hint = "; more variety makes them differ" if copies * 2 >= one.played else ""
            yield f"{place}: {_number(copies, 'game')} only repeated others{hint}."
    narrow = [one for one in report.positions if one.narrow]
    if narrow:
        told = "; ".join(
            f"{in_letters(one.place, letters)} after {_number(one.played, 'game')}" for one in narrow
        )
        yield (
            f"Play ended where the interval was narrow enough: {told}. "
            "An interval that is looked at after each game is somewhat surer of itself than it may be."
        )
    missing = sum(one.missing for one in report.positions if not one.narrow)
    if missing:
        yield f"{_number(missing, 'game')} still to play: give the same command again."
    for broken in report.broken[:_LISTED]:
        place = in_letters(broken.place, letters)
        yield f"  no result: game {broken.number} from {place}, ply {broken.plies + 1}: {broken.fault}"
    if len(report.broken) > _LISTED:
        yield f"  and {len(report.broken) - _LISTED:,} more without a result (--json has all)"
    if report.broken:
        yield "What was played of these games lies in playouts/unfinished/."
    if report.given_up:
        yield "Play ended early: three games in a row were cut off by a fault."
    if report.over:
        yield f"Passed over, since the game is over there: {', '.join(in_letters(one, letters) for one in report.over)}."


def _score(score: PlayoutScore) -> str:
    if score.score is None:
        return f"{score.wins + score.draws / 2:g} of {score.decided}"
    return f"{score.score:.1f} ({score.low:.1f}–{score.high:.1f}, {_number(score.games, 'game')})"


def _share(part: int, whole: int) -> str:
    return f"{part:,} of {whole:,}" if whole else "–"


def _number(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"
