"""The playouts page: voices play a position out, and what came of it is looked at on the board."""

from __future__ import annotations

import hashlib
import math
from contextlib import suppress
from typing import Any, Final

import msgspec
from starlette.requests import Request
from starlette.responses import Response

from variorum.base import InputError, Progress, UsageError
from variorum.build.known_playouts import PlayoutGroup, known_playouts, table_of
from variorum.build.opened import OpenEdition
from variorum.build.plans import PlanWishes, plans_from
from variorum.build.playout_starts import GROUPS
from variorum.build.playout_table import PositionPlayouts
from variorum.desk.moves import address
from variorum.desk.pages.frame import begin_work, edition_for, editions_of, frame, last_work
from variorum.desk.pages.plans import differences, grouped_plans
from variorum.desk.render import page
from variorum.desk.replay import replay_of
from variorum.edition import resolve_place
from variorum.voices.playout import Playout
from variorum.voices.playout_files import kept_playout
from variorum.voices.registry import list_voices

__all__ = ["game_part", "plans_part", "play", "playouts_page"]

_GAMES: Final = 40
"""Games that are listed before the others are asked for."""
_NODES: Final = 20_000
_FIRST: Final = 20
"""Games that are proposed, and how many more at a time."""
_MOST: Final = 10_000


class PlayoutRow(msgspec.Struct, frozen=True, kw_only=True):
    """A group on the page: its name in addresses, where it starts, who plays, and what its games came to."""

    name: str
    href: str
    group: PlayoutGroup
    table: PositionPlayouts


class Wish(msgspec.Struct, kw_only=True):
    """What is to be played, as the form sends it."""

    at: str
    games: int
    white: str = "resident"
    black: str = ""
    both_ways: str = ""
    nodes: int = _NODES
    variety: int = 8
    minutes: float = 0.0


def playouts_page(request: Request, sent: Any) -> Response:
    """What was played out, one group of games of it in full, and the form for more."""
    del sent
    name, asked = request.path_params["name"], request.query_params
    at, wanted, every = asked.get("at", "").strip(), asked.get("of", ""), asked.get("games") == "all"
    with edition_for(request) as opened:
        rows = [_row(opened, group, name) for group in known_playouts(opened)]
        chosen = next((row for row in rows if row.name == wanted), None)
        if chosen is None and at and at not in GROUPS:
            position = resolve_place(opened.edition, at).position
            chosen = next((row for row in rows if row.group.position == position), None)
        elif chosen is None and rows:
            chosen = rows[0]
        players = () if chosen is None else table_of(opened, chosen.group)[1]
        places = [*opened.edition.places, *GROUPS]
        voices = [entry.name for entry in list_voices(opened.user)]
        sigla = opened.sigla
    games = () if chosen is None else chosen.group.games
    return page(
        "playouts.html.j2",
        **frame(request, "playouts", "Playouts"),
        rows=rows,
        chosen=chosen,
        players=players,
        games=games if every else games[:_GAMES],
        more=0 if every else max(0, len(games) - _GAMES),
        all_at=address(name, "playouts", of=chosen.name, games="all") if chosen else "",
        position=address(name, "position", at=chosen.group.place) if chosen else "",
        plans_at=address(name, "plans", at=chosen.group.place) if chosen else "",
        shown_at=address(name, "playouts/plans", at=_typed(chosen.group)) if chosen else "",
        places=places,
        voices=voices,
        sigla=sigla,
        wish=_proposed(chosen, at),
        play_at=address(name, "playouts/play"),
        game_at=address(name, "playouts/game/"),
        link=lambda one: address(name, "position", at=one),
        last=last_work(request, "playout"),
    )


def _row(opened: OpenEdition, group: PlayoutGroup, name: str) -> PlayoutRow:
    text = f"{group.position.epd} {' '.join(group.voices)} {group.words}"
    mark = hashlib.sha256(text.encode()).hexdigest()[:8]
    return PlayoutRow(
        name=mark,
        href=address(name, "playouts", of=mark),
        group=group,
        table=table_of(opened, group)[0],
    )


def _typed(group: PlayoutGroup) -> str:
    """A place that is found again: the author's name, or the FEN."""
    return group.place if len(group.place.split()) == 1 else group.position.fen


def plans_part(request: Request, sent: Any) -> Response:
    """What each side did in the games from a place, and where practice does otherwise: a part of the page."""
    del sent
    with edition_for(request) as opened:
        at = request.query_params.get("at", "")
        place = resolve_place(opened.edition, at)
        report, _ = plans_from(opened, place, PlanWishes(models=0))
    bodies = {body.name: body for body in report.bodies}
    return page(
        "playout_plans.html.j2",
        playouts=bodies.get("playouts"),
        practice=bodies.get("practice"),
        shown=grouped_plans(bodies["playouts"], at) if "playouts" in bodies else [],
        differing_plans=differences(report.disagree),
    )


def _proposed(chosen: PlayoutRow | None, at: str) -> Wish:
    """What the form says at first: more of the chosen games, or a beginning."""
    if chosen is None:
        return Wish(at=at, games=_FIRST)
    recipe, games = chosen.group.recipe, chosen.group.games
    first = games[0].playout.plan
    most = max(game.playout.plan.number for game in games)
    return Wish(
        at=chosen.group.place,
        games=most + _FIRST if most >= len(games) else len(games),
        white=first.white,
        black="" if first.black == first.white else first.black,
        both_ways="yes" if chosen.group.both_ways else "",
        nodes=recipe.nodes or _NODES,
        variety=recipe.plies,
    )


def game_part(request: Request, sent: Any) -> Response:
    """One game to be played through: a part of the page."""
    del sent
    name, number = request.path_params["name"], request.path_params["number"]
    with editions_of(request).reading(name) as opened:
        game = _game(opened, number)
    return page(
        "playout_game.html.j2",
        replay=replay_of(game.line),
        open_at=address(name, "position") + "?at=",
    )


def _game(opened: OpenEdition, number: int) -> Playout:
    if opened.store is not None:
        with suppress(UsageError):  # no game has the number
            (game,) = opened.store.games([number])
            kept = kept_playout(game)
            if kept is not None:
                return kept.playout
    raise InputError("there is no such playout any more", remedy="load the page again")


def play(request: Request, sent: Any) -> Response:
    """Have voices play, in the background; the games that are there already are not played again."""
    try:
        wish = msgspec.convert(sent, Wish, strict=False)
    except msgspec.ValidationError as error:
        raise UsageError(f"the form is not complete: {error}") from None
    if not (0 < wish.games <= _MOST and 0 < wish.nodes < 10**10 and 0 <= wish.variety <= 60):
        raise UsageError("this many cannot be played", remedy=f"ask for 1 to {_MOST:,} games")
    if not (wish.minutes >= 0 and math.isfinite(wish.minutes)):
        raise UsageError(f"games cannot be played for {wish.minutes} minutes")
    from variorum.build.playouts import PlayoutRequest, play_from
    from variorum.build.whom import named_voices
    from variorum.voices.playout import Recipe

    black = wish.black or wish.white
    asked = PlayoutRequest(
        at=wish.at,
        white=wish.white,
        black=black,
        both_ways=bool(wish.both_ways) and black != wish.white,
        games=wish.games,
        recipe=Recipe(nodes=wish.nodes, plies=wish.variety),
    )
    name, editions = request.path_params["name"], editions_of(request)
    edition, user = editions.settings(name)
    named_voices(asked.voices, user)
    if asked.at not in GROUPS:
        resolve_place(edition, asked.at)

    def in_background(progress: Progress) -> str:
        now, own = editions.settings(name)
        report = play_from(now, own, asked, progress, minutes=wish.minutes or None)
        missing = sum(one.missing for one in report.positions)
        told = f"{report.played:,} {'game' if report.played == 1 else 'games'} played, {report.known:,} were there before"
        progress.say(f"{told}{f'; {missing:,} still to play' if missing else ''}.")
        for broken in report.broken[:3]:
            progress.say(f"No result of game {broken.number} from {broken.place}: {broken.fault}.")
        return address(name, "playouts", at=asked.at)

    subject = f"{asked.at}, {wish.games:,} games"
    return begin_work(request, sent, "playout", subject, in_background)
