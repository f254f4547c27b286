"""`variorum plans`: what each side does from a place on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.base import UsageError
from variorum.cli.options import AsJson, edition_and_rest, user_settings
from variorum.cli.output import columns, exit_if_faulty, in_letters, print_diagnostics, show, words_in_letters
from variorum.cli.progress import progress_for

if TYPE_CHECKING:
    from variorum.insight.plans_report import BodyPlans, ComparedPlan, ModelGame, PlanLine, PlansReport

Arguments = Annotated[
    list[str],
    typer.Argument(
        metavar="[EDITION] PLACE",
        help="A name of the edition, a typed line, or a FEN.",
        show_default=False,
    ),
]
_SHOWN = 8
_SENTENCES = 12
_HEADINGS = (
    ("break", "Breaks"),
    ("itinerary", "Itineraries"),
    ("castling", "Castling"),
    ("pressure", "Pressure on isolated pawns"),
    ("exchange", "Exchanges, White's unit first"),
    ("structure", "Structures that come about"),
)


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.insight.plans_report import PlansReport

    return PlansReport


def command(
    arguments: Arguments,
    body: Annotated[
        str,
        typer.Option(
            "--from", metavar="WHOSE", help="Whose games: practice, playouts, or a voice. [default: both]"
        ),
    ] = "",
    against: Annotated[
        str, typer.Option(metavar="PLACE", help="Another place: which plans are typical here and not there.")
    ] = "",
    games: Annotated[int, typer.Option(min=0, help="How many model games are named.")] = 5,
    as_json: AsJson = False,
) -> None:
    """Tell what each side does from a position on: breaks, itineraries, castling, exchanges, with counts and model games."""
    from variorum.build.opened import OpenEdition
    from variorum.build.plans import PlanWishes, plans_from
    from variorum.edition import resolve_place

    edition, words = edition_and_rest(arguments)
    if not words:
        raise UsageError(
            "PLACE is missing", remedy="give a name of the edition, a line such as 1.e4 c6, or a FEN"
        )
    place = resolve_place(edition, " ".join(words))
    other = resolve_place(edition, against) if against else None
    user = user_settings()
    wishes = PlanWishes(body=body, against=other, models=games)
    with OpenEdition(edition, user, progress=progress_for(as_json=as_json)) as opened:
        report, diagnostics = plans_from(opened, place, wishes)
    print_diagnostics(diagnostics)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)
    exit_if_faulty(diagnostics)


def _as_text(report: PlansReport, letters: str) -> Iterable[str]:
    line = in_letters(report.line, letters) or report.fen
    yield f"{report.place}: {line}" if report.place else line
    for sentence in report.sentences:
        yield words_in_letters(sentence, letters)
    for body in report.bodies:
        yield ""
        yield from _body(body, report, letters)
    if report.disagree:
        yield ""
        yield "Where they disagree about the plan"
        yield from _sentences(report.disagree, letters)
    if report.typical:
        yield ""
        yield f"What differs from {report.against}"
        yield from _sentences(report.typical, letters)


def _sentences(plans: Sequence[ComparedPlan], letters: str) -> Iterator[str]:
    yield from (f"  {words_in_letters(plan.sentence, letters)}" for plan in plans[:_SENTENCES])
    if len(plans) > _SENTENCES:
        yield f"  And {len(plans) - _SENTENCES} more that differ less; --json gives them all."


def _body(body: BodyPlans, report: PlansReport, letters: str) -> Iterator[str]:
    games = "1 game" if body.games == 1 else f"{body.games:,} games"
    independent = "" if body.clusters == body.games else f", {body.clusters:,} of them independent"
    score = body.results
    scored = (
        ""
        if score.score is None
        else f"; White scores {score.score:.1f} ({score.low:.0f} to {score.high:.0f})"
    )
    yield f"{body.name.capitalize()}: {games}{independent}, the next {report.horizon} plies{scored}"
    for sentence in body.sentences:
        yield f"  {words_in_letters(sentence, letters)}"
    for side in ("white", "black", None):
        for kind, heading in _HEADINGS:
            lines = [
                line
                for line in body.plans
                if line.kind.value == kind and (line.side.value if line.side else None) == side
            ]
            if lines:
                whose = f"{side.capitalize()}: {heading.lower()}" if side else heading
                yield f"  {whose}"
                rows = [list(_row(line, letters)) for line in lines]
                yield from (f"    {row}" for row in columns(rows, right=[1]))
    if any(line.score for line in body.plans):
        yield "  Scores are those of the side whose plan it is, of exchanges and structures White's, with 95 % intervals; beside them what games"
        sample = (
            "" if body.scored == body.games else f" ({body.scored:,} games, evenly taken, were looked at)"
        )
        yield f"  of equal expected score at that move scored without the plan, and the difference{sample}."
    if any(line.lift for line in body.plans):
        near = report.siblings
        assert near is not None
        yield (
            f"  × tells how many times as often as in {near.games:,} games through {near.positions:,} sibling positions: "
            "same structure, two units elsewhere at most."
        )
    if body.models:
        yield "  Model games"
        for number, game in enumerate(body.models, 1):
            yield f"    {number}. {_game(game)}"
            more = f"; and {len(game.shows) - _SHOWN} more" if len(game.shows) > _SHOWN else ""
            yield f"       shows {words_in_letters('; '.join(game.shows[:_SHOWN]), letters)}{more}"


def _row(line: PlanLine, letters: str) -> Iterator[str]:
    yield words_in_letters(line.plan, letters)
    yield f"{line.count} of {line.games}"
    yield f"median move {line.move}"
    score = line.score
    yield (
        ""
        if score is None
        else f"{score.mean:.0f} ({score.low:.0f} to {score.high:.0f}), without {score.without:.0f}: "
        f"{score.difference:+.0f} ({score.difference_low:+.0f} to {score.difference_high:+.0f})".replace(
            "-", "−"
        )
    )
    lift = line.lift
    yield "" if lift is None else f"×{lift.ratio:.1f} ({lift.low:.1f} to {lift.high:.1f})"


def _game(game: ModelGame) -> str:
    about = ", ".join(part for part in (game.event, game.date) if part)
    return f"{game.white} – {game.black}, {game.result} ({about}; {game.source}, game {game.number})"
