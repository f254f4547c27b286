"""`variorum plans`: what games show from a place on, in practice and in playouts, and against another place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import msgspec
import numpy as np

from variorum import _core
from variorum.base import Diagnostic, InputError
from variorum.board import Position, Side
from variorum.claims.facts import PlanReading
from variorum.edition import Place
from variorum.insight.plan_kinds import HORIZON, PlanRows
from variorum.insight.plans import GamePlans, Gathered, Trails, gather, listed_plans, merge_rows, trace
from variorum.insight.plans_report import (
    BodyPlans,
    ComparedPlan,
    ModelGame,
    PlansReport,
    SiblingPlans,
    body_plans,
    compare_bodies,
    compare_places,
    counted_body,
    lifts,
)
from variorum.insight.structures import structure_code
from variorum.sources import date_text
from variorum.store import PLAYOUT, PRACTICE, Filter, GameHead, Store

if TYPE_CHECKING:
    from variorum.build.opened import OpenEdition

__all__ = ["PLAYOUTS", "PlanWishes", "counted_plans", "plan_differences", "plan_readings", "plans_from"]

PLAYOUTS: Final = frozenset({"engine", PLAYOUT})
"""Kinds of games that voices played."""
LOOKS: Final = 5_000
"""The positions of so many games are looked at for scores."""
_SIBLINGS: Final = 100
"""So many siblings are read at most, those with most games."""
_SIBLING_GAMES: Final = 20_000
"""And so many of their games, about."""
_RESULTS: Final = ("*", "1-0", "0-1", "1/2-1/2")
_NAMED: Final = {"practice": Filter(kinds=PRACTICE), "playouts": Filter(kinds=PLAYOUTS)}


class PlanWishes(msgspec.Struct, frozen=True, kw_only=True):
    """What is asked: one body (`practice`, `playouts`, or a voice; empty for both), another place, how many model games."""

    body: str = ""
    against: Place | None = None
    models: int = 5


def plans_from(opened: OpenEdition, place: Place, wishes: PlanWishes) -> tuple[PlansReport, list[Diagnostic]]:
    """What the games of an edition show from a place on, and what is wrong with its texts.

    Raises:
        InputError: There is no such body of games, or a file cannot be read.
        StoreError: Nothing was sifted yet, or the store is damaged.
        Interrupted: The user stopped.
    """
    edition, store = opened.edition, _store(opened)
    bodies = _bodies(store, wishes.body)
    fewest = edition.settings.thresholds.few_games
    gathered = [one for one in (_gather(store, place, *body) for body in bodies) if len(one.games)]
    report = PlansReport(
        place=place.name or "",
        line=place.line.san() if place.line is not None else "",
        fen=place.position.fen,
        horizon=HORIZON,
        bodies=(),
    )
    if not gathered:
        return _nobody(report, wishes), []
    rows = merge_rows([one.rows for one in gathered])
    games = [trace(one, rows, looks=LOOKS) for one in gathered]
    siblings = _siblings(opened, place.position)
    told, read = [], 0
    for one in games:
        body, models = body_plans(one, fewest, wishes.models)
        near = _sibling_games(store, siblings, dict(bodies)[one.name], one, rows)
        read += sum(map(len, near))
        heads = store.heads([number for number, _ in models])
        body = msgspec.structs.replace(
            lifts(body, one, near),
            models=tuple(_model(head, shows) for head, (_, shows) in zip(heads, models, strict=True)),
        )
        told.append(body)
    report = msgspec.structs.replace(
        report,
        bodies=tuple(told),
        siblings=SiblingPlans(positions=len(siblings), games=read) if read else None,
        disagree=compare_bodies(*games) if len(games) == 2 else (),
    )
    if wishes.against is not None:
        typical, sentences = plan_differences(store, place, wishes.against, [one.name for one in games])
        report = msgspec.structs.replace(
            report,
            against=wishes.against.name or wishes.against.text,
            typical=typical,
            sentences=sentences,
        )
    return report, opened.diagnostics


def counted_plans(opened: OpenEdition, place: Place, body: str) -> tuple[BodyPlans, ...]:
    """How often each body of games that come through a place shows which plan; nothing is scored, which is quick.

    Raises:
        InputError: There is no such body of games, there are no games, or a file cannot be read.
        StoreError: The store is damaged.
    """
    store = _store(opened)
    gathered = [
        one for one in (_gather(store, place, *each) for each in _bodies(store, body)) if len(one.games)
    ]
    rows = merge_rows([one.rows for one in gathered])
    return tuple(counted_body(trace(one, rows)) for one in gathered)


def _store(opened: OpenEdition) -> Store:
    if opened.store is None:
        raise InputError(
            "the edition has no games yet",
            remedy="'variorum sift' brings in those of its sources, 'variorum playout' has voices play some",
            path=opened.edition.path,
        )
    return opened.store


def _bodies(store: Store, wanted: str) -> list[tuple[str, Filter]]:
    if not wanted:
        return list(_NAMED.items())
    if wanted in _NAMED:
        return [(wanted, _filter(wanted))]
    voices = sorted({voice for sift in store.sources() if sift.kind in PLAYOUTS for voice in sift.voices})
    if wanted not in voices:
        known = ", ".join(("practice", "playouts", *voices))
        raise InputError(f"no games are of '{wanted}'", remedy=f"there are games of {known}")
    return [(wanted, _filter(wanted))]


def _gather(store: Store, place: Place, name: str, wanted: Filter) -> Gathered:
    return gather(place.position, name, _trails(store, place.position, wanted))


def _trails(store: Store, position: Position, wanted: Filter) -> Trails:
    return lambda: store.games_through(position, wanted)


def _nobody(report: PlansReport, wishes: PlanWishes) -> PlansReport:
    whose = {"": "", "practice": " of practice", "playouts": " of voices"}.get(
        wishes.body, f" of {wishes.body}"
    )
    sentence = f"No game{whose} goes through this position, so nothing is known of the plans there."
    return msgspec.structs.replace(report, sentences=(sentence,))


def _siblings(opened: OpenEdition, position: Position) -> list[Position]:
    """Positions of the same structure with the same units bar two at most and the same side to move, by their games."""
    graph = opened.graph
    apart = _core.units_apart(position.core, np.ascontiguousarray(graph.packed).reshape(-1))
    totals = graph.node_counts.totals(graph.nodes, np.ones(len(graph.channels), np.bool_))
    alike = opened.structure_codes == structure_code(position)
    alike &= (apart <= 2) & (graph.white == (position.turn is Side.WHITE)) & (totals > 0)
    nodes = np.flatnonzero(alike & (graph.keys != np.uint64(position.key)))
    nodes = nodes[np.argsort(-totals[nodes], kind="stable")[:_SIBLINGS]]
    return [graph.position(int(node)) for node in nodes]


def _sibling_games(
    store: Store, siblings: Sequence[Position], wanted: Filter, here: GamePlans, rows: PlanRows
) -> list[GamePlans]:
    """Games through siblings that do not pass the place, each once."""
    used = here.games
    found = []
    read = 0
    for position in siblings:
        if read >= _SIBLING_GAMES:
            break
        games = trace(gather(position, here.name, _trails(store, position, wanted)), rows)
        fresh = games.only(~np.isin(games.games, used))
        if len(fresh):
            used = np.union1d(used, fresh.games)
            found.append(fresh)
            read += len(fresh)
    return found


def _model(head: GameHead, shows: Sequence[str]) -> ModelGame:
    return ModelGame(
        id=head.id,
        white=head.white,
        black=head.black,
        result=_RESULTS[head.result],
        date=date_text(head.date),
        event=head.event,
        source=head.provenance.source,
        number=head.provenance.game_number,
        shows=tuple(shows),
    )


def plan_differences(
    store: Store, here: Place, there: Place, bodies: Sequence[str] = tuple(_NAMED)
) -> tuple[tuple[ComparedPlan, ...], tuple[str, ...]]:
    """What is typical of one place and not of the other, by body of games; and in sentences why nothing is told.

    A game that passes both counts where it comes later.

    Args:
        store: The games.
        here: The first place.
        there: The second.
        bodies: Whose games: `practice`, `playouts`, or a voice.

    Raises:
        StoreError: The store is damaged.
    """
    names = (here.name or "the first", there.name or "the second")
    sentences: list[str] = []
    typical: list[ComparedPlan] = []
    for name in bodies:
        pair = [_gather(store, place, name, _filter(name)) for place in (here, there)]
        rows = merge_rows([one.rows for one in pair])
        one, other = (trace(gathered, rows) for gathered in pair)
        common, at, other_at = np.intersect1d(one.games, other.games, return_indices=True)
        later = one.plies[at] >= other.plies[other_at]
        one = one.only(~np.isin(one.games, common[~later]))
        other = other.only(~np.isin(other.games, common[later]))
        sentences += [
            f"No game of {name} goes through {called}{' alone' if len(common) else ''}."
            for called, games in zip(names, (one, other), strict=True)
            if not len(games)
        ]
        if len(one) and len(other):
            typical += compare_places(one, other, names)
    if not typical and not sentences:
        sentences.append("No plan is typical of the one and not of the other: what differs may be chance.")
    return tuple(typical), tuple(sentences)


def plan_readings(
    store: Store, place: Place, plan: str, side: Side | None, body: str
) -> tuple[PlanReading, ...]:
    """How often a plan (as `variorum plans` writes it, hyphens for dashes) is shown from a place on, by body of games.

    Raises:
        InputError: There is no such body of games.
        StoreError: The store is damaged.
    """
    found = []
    for name, wanted in _bodies(store, body):
        gathered = _gather(store, place, name, wanted)
        if not len(gathered.games):
            continue
        games = trace(gathered, gathered.rows)
        named = [
            one
            for one in games.first
            if _typed(one.text) == _typed(plan) and (side is None or one.side in (side, None))
        ]
        # A pawn's way may read like its break: the one that `variorum plans` lists is meant.
        listed = set(listed_plans(games)) if len(named) > 1 else set()
        most = max(named, key=lambda plan: (plan in listed, games.count(plan)), default=None)
        shown = most is not None and games.count(most) > 0
        found.append(
            PlanReading(
                body=name,
                games=len(games),
                count=games.count(most) if most is not None and shown else None,
                move=games.move_number(games.median_ply(most)) if most is not None and shown else None,
            )
        )
    return tuple(found)


def _typed(plan: str) -> str:
    """What two spellings of a plan have in common."""
    return " ".join(plan.replace("–", "-").replace("×", "x").replace("’", "'").split())


def _filter(body: str) -> Filter:
    return _NAMED.get(body) or Filter(kinds=PLAYOUTS, voice=body)
