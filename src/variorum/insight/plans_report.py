"""Plans from a place as a result to print: counts, timing, worth, order, model games, and what differs from elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

import msgspec

from variorum.board import Side
from variorum.graph.practice import practice_interval
from variorum.insight.plan_kinds import Plan, PlanKind
from variorum.insight.plan_order import order_pairs
from variorum.insight.plan_worth import Lift, PlanScore, Share, differing, lift_of, score_of, share_of, sum_of
from variorum.insight.plans import GamePlans, listed_plans, model_games
from variorum.insight.wording import number, side_name

__all__ = [
    "BodyPlans",
    "BodyResults",
    "ComparedPlan",
    "ModelGame",
    "PlanLine",
    "PlansReport",
    "SiblingPlans",
    "body_plans",
    "compare_bodies",
    "compare_places",
    "counted_body",
    "lifts",
]

SMALL: Final = 20
"""Fewer clusters of games are small numbers; a setting, common practice, no source."""
RARE: Final = 0.1
"""What a smaller part of the games shows is hardly ever played."""
Sentence = Callable[[Plan, Share, Share], str]
_MOST: Final = {
    PlanKind.BREAK: 6,
    PlanKind.ITINERARY: 10,
    PlanKind.CASTLING: 4,
    PlanKind.EXCHANGE: 8,
    PlanKind.PRESSURE: 4,
    PlanKind.STRUCTURE: 6,
}


class PlanLine(msgspec.Struct, frozen=True, kw_only=True):
    """A plan: in `count` of `games` games, at the middle of them in move `move`, `ply` plies after the place.

    `side` is `None` for an exchange and a structure, which need both. `score` is that of the side whose plan it is, of these
    two White's; `None` where too few games can be compared. `lift` is `None` where siblings show nothing else than chance.
    """

    kind: PlanKind
    side: Side | None
    plan: str
    count: int
    games: int
    move: int
    ply: int
    score: PlanScore | None = None
    lift: Lift | None = None


class BodyResults(msgspec.Struct, frozen=True, kw_only=True):
    """Games by result, and White's score with its 95 % interval (`None` under the edition's fewest games)."""

    wins: int
    draws: int
    losses: int
    unknown: int
    score: float | None = None
    low: float | None = None
    high: float | None = None


class ModelGame(msgspec.Struct, frozen=True, kw_only=True):
    """A game that shows plans which those before it do not."""

    id: int
    white: str
    black: str
    result: str
    date: str
    event: str
    source: str
    number: int
    shows: tuple[str, ...]


class BodyPlans(msgspec.Struct, frozen=True, kw_only=True):
    """What the games of one body show: practice, playouts or one voice's.

    `clusters` is how many of the `games` are independent of each other; `scored` how many were looked at for scores (an even
    sample where they are very many).
    """

    name: str
    games: int
    clusters: int
    scored: int
    results: BodyResults
    plans: tuple[PlanLine, ...]
    sentences: tuple[str, ...]
    models: tuple[ModelGame, ...] = ()


class ComparedPlan(msgspec.Struct, frozen=True, kw_only=True):
    """A plan that one set of games shows more often than another, by more than chance, as a sentence."""

    kind: PlanKind
    side: Side | None
    plan: str
    here: Share
    there: Share
    sentence: str


class SiblingPlans(msgspec.Struct, frozen=True, kw_only=True):
    """Positions of the same structure with nearly the same units, and games through them that do not pass the place."""

    positions: int
    games: int


class PlansReport(msgspec.Struct, frozen=True, kw_only=True):
    """The plans that games show in `horizon` plies from a place on.

    `disagree` is where practice and playouts differ; `against` names the place it is compared with, `typical` what is
    typical of the one and not of the other.
    """

    place: str
    line: str
    fen: str
    horizon: int
    bodies: tuple[BodyPlans, ...]
    siblings: SiblingPlans | None = None
    disagree: tuple[ComparedPlan, ...] = ()
    against: str = ""
    typical: tuple[ComparedPlan, ...] = ()
    sentences: tuple[str, ...] = ()


def counted_body(games: GamePlans) -> BodyPlans:
    """What one body of games shows, in numbers of games alone."""
    return BodyPlans(
        name=games.name,
        games=len(games),
        clusters=games.cluster_count,
        scored=0,
        results=_results(games, len(games) + 1),
        plans=tuple(_line(games, plan) for plan in _most_of_each(listed_plans(games))),
        sentences=(),
    )


def _line(games: GamePlans, plan: Plan) -> PlanLine:
    ply = games.median_ply(plan)
    return PlanLine(
        kind=plan.kind,
        side=plan.side,
        plan=plan.text,
        count=games.count(plan),
        games=len(games),
        move=games.move_number(ply),
        ply=ply,
    )


def body_plans(
    games: GamePlans, fewest: int, models: int
) -> tuple[BodyPlans, list[tuple[int, tuple[str, ...]]]]:
    """What one body of games shows, and its model games: each a number of the store and why it was chosen.

    Args:
        games: The games.
        fewest: Under so many games no score is shown.
        models: How many model games are wanted.
    """
    told = _most_of_each(listed_plans(games))
    lines = tuple(
        msgspec.structs.replace(
            _line(games, plan), score=score_of(games, plan, plan.side or Side.WHITE, fewest)
        )
        for plan in told
    )
    chosen = model_games(games, told, models)
    body = BodyPlans(
        name=games.name,
        games=len(games),
        clusters=games.cluster_count,
        scored=games.looked,
        results=_results(games, fewest),
        plans=lines,
        sentences=tuple(_body_sentences(games, told)),
    )
    return body, [(int(games.games[at]), tuple(_shown(games, at, plans))) for at, plans in chosen]


def _most_of_each(plans: Sequence[Plan]) -> list[Plan]:
    """Of each kind and side the most frequent ones."""
    left: dict[tuple[PlanKind, Side | None], int] = {}
    kept = []
    for plan in plans:
        key = plan.kind, plan.side
        left[key] = left.get(key, _MOST[plan.kind]) - 1
        if left[key] >= 0:
            kept.append(plan)
    return kept


def _results(games: GamePlans, fewest: int) -> BodyResults:
    unknown, wins, losses, draws = (int((games.results == result).sum()) for result in range(4))
    finished = wins + draws + losses
    plain = BodyResults(wins=wins, draws=draws, losses=losses, unknown=unknown)
    if finished < fewest:
        return plain
    # An interval is by cluster: results count as many games as there are clusters.
    part = games.cluster_count / len(games)
    low, high = practice_interval(wins * part, draws * part, losses * part)
    return msgspec.structs.replace(plain, score=100.0 * (wins + draws / 2) / finished, low=low, high=high)


def _body_sentences(games: GamePlans, plans: Sequence[Plan]) -> Iterator[str]:
    if games.cluster_count < SMALL:
        count = f"only {number(len(games))} games" if len(games) > 1 else "only one game"
        yield f"These are small numbers: {count}. What they show may be chance."
    if not plans:
        yield "No plan is shown by enough of them to be told."
    for pair in order_pairs(games, plans):
        yield (
            f"Where games show both, {owned(pair.first)} comes before {owned(pair.then)} "
            f"in {pair.before} of {pair.both}."
        )


_PLAYERS: Final = {"playouts": "voices"}
"""Who played: the body of playouts has all games of voices, also those among the sources."""


def owned(plan: Plan) -> str:
    """A plan within a sentence: `White's break d4–d5`, `the exchange of knights`."""
    if plan.side is None:
        return plan.words
    return f"{side_name(plan.side)}'s {plan.words.removeprefix('the ')}"


def _shown(games: GamePlans, at: int, plans: Sequence[Plan]) -> Iterator[str]:
    for plan in plans:
        yield f"{owned(plan)} at move {games.move_number(int(games.first[plan][at]))}"


def lifts(body: BodyPlans, games: GamePlans, siblings: Sequence[GamePlans]) -> BodyPlans:
    """A body with the lift of each plan that siblings show more or less often, by more than chance.

    Args:
        body: What its games show.
        games: These games.
        siblings: Games through each sibling of the place; a plan counts where it can be shown.
    """
    by_line = {(plan.kind, plan.side, plan.text): plan for plan in games.first}
    plans = [by_line[line.kind, line.side, line.plan] for line in body.plans]
    tested: dict[Plan, tuple[Share, Share]] = {}
    for plan in plans:
        shares = [share_of(one, plan) for one in siblings if plan in one.first]
        if shares:
            tested[plan] = share_of(games, plan), sum_of(shares)
    sure = {plan for plan, differs in zip(tested, differing(list(tested.values())), strict=True) if differs}
    told = []
    for line, plan in zip(body.plans, plans, strict=True):
        lift = lift_of(*tested[plan]) if plan in sure else None
        is_clear = lift is not None and not lift.low <= 1.0 <= lift.high
        told.append(msgspec.structs.replace(line, lift=lift) if is_clear else line)
    return msgspec.structs.replace(body, plans=tuple(told))


def compare_bodies(one: GamePlans, other: GamePlans) -> tuple[ComparedPlan, ...]:
    """Where two bodies of games through one place disagree about the plan, those that differ most first."""

    def sentence(plan: Plan, here: Share, there: Share) -> str:
        return (
            f"{_capital(owned(plan))} is seen in {_of(here)} games of {_PLAYERS.get(one.name, one.name)}, "
            f"and in {_of(there)} games of {_PLAYERS.get(other.name, other.name)}."
        )

    return _compared(one, other, sentence)


def compare_places(here: GamePlans, there: GamePlans, names: tuple[str, str]) -> tuple[ComparedPlan, ...]:
    """Which plans are typical of one place and not of the other; those of the first that differ most come first."""

    def sentence(plan: Plan, mine: Share, theirs: Share) -> str:
        rarer, more = ((0, mine), (1, theirs)) if mine.rate < theirs.rate else ((1, theirs), (0, mine))
        seen = "is hardly ever seen" if rarer[1].rate < RARE else "is seen less often"
        return (
            f"{_of_body(here.name)} {owned(plan)} {seen} in {names[rarer[0]]}: {_of(rarer[1])}, "
            f"against {_of(more[1])} in {names[more[0]]}."
        )

    return _compared(here, there, sentence)


def _compared(one: GamePlans, other: GamePlans, sentence: Sentence) -> tuple[ComparedPlan, ...]:
    told = dict.fromkeys((*listed_plans(one), *listed_plans(other)))
    plans = [plan for plan in told if plan in one.first and plan in other.first]
    pairs = [(share_of(one, plan), share_of(other, plan)) for plan in plans]
    found = [
        ComparedPlan(
            kind=plan.kind,
            side=plan.side,
            plan=plan.text,
            here=here,
            there=there,
            sentence=sentence(plan, here, there),
        )
        for plan, (here, there), differs in zip(plans, pairs, differing(pairs), strict=True)
        if differs
    ]
    return tuple(sorted(found, key=lambda plan: -abs(plan.here.rate - plan.there.rate)))


def _of_body(name: str) -> str:
    return "In practice" if name == "practice" else f"In games of {_PLAYERS.get(name, name)}"


def _of(share: Share) -> str:
    return f"{share.count} of {share.games}"


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]
