"""News: where the games that came since a build leave the manuscript, and which moves were never played before."""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np

from variorum.board import Line, Move, Position
from variorum.build.drift_report import News, NewsMove, SourceNews
from variorum.build.ways import Ways
from variorum.edition import Edition, Manuscript
from variorum.edition.build_log import BuildFound
from variorum.sources import date_text
from variorum.store import Game, Store

__all__ = ["cited", "news_since"]

_RESULTS = ("*", "1-0", "0-1", "1/2-1/2")
_EXAMPLES = 3
_IN_BLOCK = 500

_Departure = tuple[Position, Move]


def news_since(
    edition: Edition,
    manuscript: Manuscript | None,
    ways: Ways,
    store: Store | None,
    before: BuildFound,
    now: BuildFound,
) -> News:
    """The games that no build up to `before` had met, by the move with which they leave the manuscript.

    A game leaves it behind the last of its positions that the manuscript has, by whatever order it came there.
    """
    gone = tuple(sorted(before.sources.keys() - now.sources.keys()))
    born = [] if store is None else store.births.since(before.build)
    if store is None or not born:
        return News(gone=gone)
    known = _manuscript_keys(edition, manuscript)
    sources: Counter[str] = Counter()
    left: defaultdict[_Departure, list[Game]] = defaultdict(list)
    played: Counter[_Departure] = Counter()
    stayed = 0
    for first in range(0, len(born), _IN_BLOCK):
        for game in store.games(born[first : first + _IN_BLOCK]):
            sources[game.provenance.source] += 1
            departures, last = _departures(game.line, known)
            played.update(departures)
            if last is None:
                stayed += 1
            else:
                left[last].append(game)
    moves = [_move(ways, store, departure, games, played[departure]) for departure, games in left.items()]
    # Where most traffic passes first; there what was never played before what was, and then the most played.
    moves.sort(key=lambda one: (not one.first_ever, -one.flow, -one.count, one.epd, one.move))
    return News(
        games=len(born),
        sources=tuple(SourceNews(source=name, games=count) for name, count in sorted(sources.items())),
        gone=gone,
        moves=tuple(moves),
        stayed=stayed,
    )


def _manuscript_keys(edition: Edition, manuscript: Manuscript | None) -> frozenset[int]:
    """Keys of the positions of the manuscript and of the lines to roots and tabiyas."""
    keys: set[int] = set()
    if manuscript is not None:
        keys.update(np.unique(manuscript.index.columns.node_key).tolist())
    roots = {root.position for root in edition.roots}
    for place in edition.places.values():
        keys.add(place.position.key)
        positions = () if place.line is None else place.line.positions()
        passed = [ply for ply, position in enumerate(positions) if position in roots]
        keys.update(position.key for position in positions[passed[0] :] if passed)
    for position in roots:  # what leads to a root is no text of the manuscript
        keys.add(position.key)
    return frozenset(keys)


def _departures(line: Line, known: frozenset[int]) -> tuple[set[_Departure], _Departure | None]:
    """Every move of a game out of the known positions, and the one behind which it does not come back."""
    positions = line.positions()
    inside = [position.key in known for position in positions]
    found: set[_Departure] = set()
    last: _Departure | None = None
    for ply, move in enumerate(line.moves):
        if inside[ply] and not inside[ply + 1] and not move.is_null:
            last = (positions[ply], move)
            found.add(last)
        elif not inside[ply] and inside[ply + 1]:
            last = None
    return found, last


def _move(ways: Ways, store: Store, departure: _Departure, games: list[Game], new: int) -> NewsMove:
    position, move = departure
    ever = next(
        (one.tally.games for one in store.statistics(position, examples=0).moves if one.move == move), 0
    )
    results = Counter(game.result for game in games)
    latest = sorted(games, key=lambda game: (-game.date, game.id))
    return NewsMove(
        place=ways.line_to(position),
        move=Line(position, (move,)).san(),
        by=position.turn.value,
        won=results[1],
        drawn=results[3],
        lost=results[2],
        unknown=results[0],
        first_ever=ever <= new,
        examples=tuple(map(cited, latest[:_EXAMPLES])),
        flow=ways.flow(position),
        epd=position.epd,
    )


def cited(game: Game) -> str:
    """A game as it is cited: players, day, result."""
    return ", ".join(
        filter(None, (f"{game.white} – {game.black}", date_text(game.date), _RESULTS[game.result]))
    )
