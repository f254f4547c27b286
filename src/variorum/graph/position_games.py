"""What games alone say of a position: by which orders it was reached, what was played, with which results."""

from __future__ import annotations

import msgspec

from variorum.board import Line, Position
from variorum.edition import Place
from variorum.graph.practice import practice_score
from variorum.sources import date_text
from variorum.store import Filter, GameHead, Store, Tally

__all__ = [
    "GameEntry",
    "MoveEntry",
    "OrderEntry",
    "PositionGames",
    "Results",
    "position_counts",
    "position_games",
]

_RESULTS = ("*", "1-0", "0-1", "1/2-1/2")


class Results(msgspec.Struct, frozen=True, kw_only=True):
    """Games and their results; `score` is E for White (0 to 100) with its 95 % interval.

    `score`, `low` and `high` are `None` under `few` games (methods.md 2: then only the count is shown).
    """

    games: int
    wins: int
    draws: int
    losses: int
    unknown: int
    score: float | None = None
    low: float | None = None
    high: float | None = None


class MoveEntry(msgspec.Struct, frozen=True, kw_only=True):
    """A move that was played, as SAN, with its number (`10...Nf6`), and when it was played last (ISO date or empty)."""

    move: str
    results: Results
    latest: str


class OrderEntry(msgspec.Struct, frozen=True, kw_only=True):
    """An order of moves by which games reached the position."""

    line: str
    results: Results


class KindEntry(msgspec.Struct, frozen=True, kw_only=True):
    """The games of one kind at one pace."""

    kind: str
    pace: str
    results: Results


class GameEntry(msgspec.Struct, frozen=True, kw_only=True):
    """A game, with where it stands."""

    id: int
    white: str
    black: str
    result: str
    date: str
    event: str
    source: str
    number: int


class PositionGames(msgspec.Struct, frozen=True, kw_only=True):
    """What the games of an edition say of a position.

    `orders` are the most frequent of `different_orders`. `rated` games have both ratings and a result; over them,
    `against_rating` is the mean of result less expectation by the FIDE table, less the same mean over all games of
    the edition, in points (`None` under few games).
    """

    results: Results
    kinds: tuple[KindEntry, ...]
    moves: tuple[MoveEntry, ...]
    orders: tuple[OrderEntry, ...]
    different_orders: int
    first: tuple[GameEntry, ...]
    latest: tuple[GameEntry, ...]
    rated: int
    against_rating: float | None


def position_games(
    store: Store, place: Place, wanted: Filter, *, few: int = 5, orders: int = 8, examples: int = 3
) -> PositionGames:
    """What the store's games say of a place.

    Args:
        store: The games.
        place: The position.
        wanted: Which games count.
        few: Under this many games only their count is given.
        orders: At most so many orders are listed.
        examples: At most so many earliest and latest games.
    """
    position = place.position
    counted = position_counts(store, place, wanted, few=few, examples=examples)
    found = store.orders(position, wanted, limit=orders)
    balance = store.statistics(position, wanted, examples=examples).balance
    return msgspec.structs.replace(
        counted,
        orders=tuple(
            OrderEntry(line=_order_text(order.line), results=_results(order.tally, few))
            for order in found.orders
        ),
        different_orders=found.different,
        against_rating=balance.mean - store.balance().mean if balance.games >= few else None,
    )


def position_counts(
    store: Store, place: Place, wanted: Filter, *, few: int = 5, examples: int = 3
) -> PositionGames:
    """The same without orders and ratings, which ask for more than the games that pass the place."""
    position = place.position
    games = store.statistics(position, wanted, examples=examples)
    return PositionGames(
        results=_results(games.tally, few),
        kinds=tuple(
            KindEntry(kind=kind, pace=pace.name.lower(), results=_results(tally, few))
            for (kind, pace), tally in sorted(games.by.items())
        ),
        moves=tuple(
            MoveEntry(
                move=Line(position, (entry.move,)).san(),
                results=_results(entry.tally, few),
                latest=date_text(entry.latest),
            )
            for entry in games.moves
        ),
        orders=(),
        different_orders=0,
        first=tuple(map(_game, games.first)),
        latest=tuple(map(_game, games.latest)),
        rated=games.balance.games,
        against_rating=None,
    )


def _results(tally: Tally, few: int) -> Results:
    plain = Results(
        games=tally.games, wins=tally.wins, draws=tally.draws, losses=tally.losses, unknown=tally.unknown
    )
    score = practice_score(tally, few)
    if score is None:
        return plain
    return msgspec.structs.replace(plain, score=score.mean, low=score.low, high=score.high)


def _order_text(line: Line) -> str:
    if line.start == Position.start():
        return line.san()
    return f"{line.start.fen} {line.san()}".strip()


def _game(head: GameHead) -> GameEntry:
    return GameEntry(
        id=head.id,
        white=head.white,
        black=head.black,
        result=_RESULTS[head.result],
        date=date_text(head.date),
        event=head.event,
        source=head.provenance.source,
        number=head.provenance.game_number,
    )
