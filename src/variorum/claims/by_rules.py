"""Claims that games or the rules decide: novelty, popularity, transposition, tempo, structure; and hinges that were looked for."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Final

from variorum.base import InputError
from variorum.board import Line, Move, Position, Side
from variorum.claims.ground import Found, Games, Ground
from variorum.claims.standing import Standing
from variorum.edition import Place
from variorum.insight.contrast import MOST_UNITS, changed_units, changes_in_words
from variorum.insight.structures import structure_of
from variorum.insight.tempo import tempo_ledger
from variorum.insight.wording import number as number_in_words
from variorum.voices.noise import INTERVAL

__all__ = ["POPULARITIES", "hinge", "novelty", "plan", "popularity", "structure", "tempo", "transposes"]

POPULARITIES: Final = ("most played", "common", "rare")
"""What can be said of how often a move is played: more than any other; at least `common` percent; less than `rare` percent."""

_MOST_GAMES = 1e6
"""So many games would not decide it either."""


def novelty(position: Position, move: Move, ground: Ground) -> Found:
    """That no game that was given has the move there."""
    if ground.practice is None:
        return Found(
            standing=Standing.UNDECIDED,
            remark="no games were sifted yet",
            wanted="games in sources/, and variorum sift",
        )
    games = ground.practice(position, move)
    within = _within(games)
    if games.played:
        times = "once" if games.played == 1 else f"{games.played:,} times"
        first = f"; first {games.first}" if games.first else ""
        return Found(standing=Standing.CONTRADICTED, remark=f"played {times} {within}{first}")
    return Found(standing=Standing.HOLDS, remark=f"not played {within}")


def _within(games: Games) -> str:
    number = f"{games.of:,} game{'' if games.of == 1 else 's'}"
    return f"within the {number} given{f', to {games.until}' if games.until else ''}"


def popularity(position: Position, move: Move, says: str, ground: Ground) -> Found:
    """That a move is played most of all, or often, or rarely, among the games that go on from the position."""
    thresholds = ground.settings.thresholds
    band = {
        "most played": "played more often than any other move",
        "common": f"in {thresholds.common:.0f} % of the games there or more",
        "rare": f"in less than {thresholds.rare:.0f} % of the games there",
    }[says]
    if ground.practice is None:
        return Found(
            standing=Standing.UNDECIDED,
            band=band,
            remark="no games were sifted yet",
            wanted="games in sources/, and variorum sift",
        )
    games = ground.practice(position, move)
    counted = f"{games.played:,} of {games.here:,} games there, {_within(games)}"
    if games.here < thresholds.few_games:
        return Found(
            standing=Standing.UNDECIDED,
            band=band,
            remark=counted,
            wanted=f"{thresholds.few_games - games.here:,} more games that come there",
        )
    share = 100.0 * games.played / games.here
    true = {
        "most played": games.played == games.most and games.favourite == move,
        "common": share >= thresholds.common,
        "rare": share < thresholds.rare,
    }
    if true[says]:
        return Found(standing=Standing.HOLDS, band=band, remark=counted)
    favourite = ""
    if games.favourite is not None and games.favourite != move:
        favourite = f"; {Line(position, (games.favourite,)).san()} in {games.most:,}"
    other = next((word for word in POPULARITIES if true[word]), "")
    return Found(
        standing=Standing.CONTRADICTED,
        band=band,
        remark=f"{counted}{favourite}",
        rewording=f"'{other}' holds" if other else "neither common nor rare: leave it out, or give the count",
    )


def transposes(place: Place, to: Place, names: Mapping[str, Position]) -> Found:
    """That a line leads into the position of another place."""
    if place.position == to.position:
        return Found(standing=Standing.HOLDS, remark="it is the same position")
    changes = changed_units(place.position, to.position)
    if not changes:
        what = "the side to move or the castling rights differ"
    elif len(changes) > MOST_UNITS:
        what = f"{len(changes)} units differ"
    else:
        what = f"{to.name or to.text} is it {changes_in_words(changes)}"
    name = next((name for name, position in names.items() if position == place.position), "")
    return Found(
        standing=Standing.CONTRADICTED, remark=what, rewording=f"'transposes to {name}' holds" if name else ""
    )


def tempo(place: Place, side: Side, says: int, against: Place | None) -> Found:
    """That a side has lost so many moves by the line to a place, or so many more than by the line to another."""
    lines = [
        one.line for one in (place, against) if one is not None and one.line is not None and one.line.moves
    ]
    if len(lines) < (1 if against is None else 2):
        return Found(
            standing=Standing.UNDECIDED, remark="no line leads to it", wanted="a place that is said by a line"
        )
    if any(line.start != lines[0].start for line in lines):
        return Found(
            standing=Standing.UNDECIDED,
            remark="their lines start from different positions",
            wanted="lines from one start",
        )
    lost = [tempo_ledger(line).of(side).lost for line in lines]
    value = lost[0] - sum(lost[1:])
    more = " more" if against is not None else ""
    remark = f"{side.value.capitalize()} has lost {_tempi(value)}{more}"
    if value == says:
        return Found(standing=Standing.HOLDS, remark=remark)
    return Found(standing=Standing.CONTRADICTED, remark=remark, rewording=f"'{_tempi(value)}' holds")


def _tempi(value: int) -> str:
    words = number_in_words(value) if value >= 0 else f"−{-value}"
    return f"{words} tempo" if abs(value) == 1 else f"{'no' if value == 0 else words} tempi"


def structure(position: Position, says: str) -> Found:
    """That the pawns form a structure of the literature, by its name, or by name and side."""
    found = structure_of(position)
    if found is None:
        return Found(standing=Standing.CONTRADICTED, remark="its pawn skeleton has no name here")
    if found.is_called(says):
        return Found(standing=Standing.HOLDS, remark=f"it has: {found.words}")
    return Found(
        standing=Standing.CONTRADICTED, remark=f"it has: {found.words}", rewording=f"'{found.name}' holds"
    )


def same_words(text: str) -> str:
    """What two spellings of one name have in common."""
    return re.sub(r"\s+", " ", text.replace("’", "'")).strip().casefold()


def plan(place: Place, side: Side, says: str, share: float, of: str, ground: Ground) -> Found:
    """That the games of a body show a plan of a side in so many percent of them, or more.

    The interval is Wilson's for a proportion at 95 % (E. B. Wilson, "Probable inference, the law of succession, and statistical
    inference", Journal of the American Statistical Association 22, 1927), over games that are independent of each other.
    """
    band = f"in {share:.0f} % of the games or more"
    try:
        bodies = () if ground.plans is None else ground.plans(place, of)
    except InputError as error:
        bodies, missing = (), f"{error.message}"
    else:
        missing = f"no games of {of}"
    if not bodies:
        return Found(
            standing=Standing.UNDECIDED, band=band, remark=missing, wanted=f"games of {of} that come there"
        )
    body = bodies[0]
    own = [one for one in body.plans if one.side in (side, None)]
    found = next((one for one in own if _same_plan(one.plan, says)), None)
    if found is None:
        return Found(
            standing=Standing.UNDECIDED,
            band=band,
            remark=f"it is none of the {len(own)} plans that {body.games:,} games show most",
            wanted="one of the plans that variorum plans lists",
        )
    rate, independent = found.count / found.games, max(1.0, body.clusters * found.games / max(1, body.games))
    low, high = _wilson(rate, independent)
    remark = f"{found.count:,} of {found.games:,} games of {of}, {100 * low:.0f} to {100 * high:.0f} %"
    if 100.0 * low >= share:
        return Found(standing=Standing.HOLDS, band=band, remark=remark)
    if 100.0 * high < share:
        return Found(
            standing=Standing.CONTRADICTED,
            band=band,
            remark=remark,
            rewording=f"share={math.floor(100.0 * low)} holds",
        )
    needed = independent
    while needed < _MOST_GAMES and _wilson(rate, needed)[0] < share / 100.0 <= _wilson(rate, needed)[1]:
        needed *= 2
    more = f"about {needed - independent:,.0f} more games of {of}, if the share stays"
    return Found(
        standing=Standing.UNDECIDED,
        band=band,
        remark=remark,
        wanted=more
        if needed < _MOST_GAMES
        else "no number of games, as long as the share stays: it is what is claimed",
    )


def _same_plan(one: str, other: str) -> bool:
    return same_words(one).replace("–", "-") == same_words(other).replace("–", "-")


def _wilson(rate: float, number: float) -> tuple[float, float]:
    """Wilson's 95 % interval of a proportion.

    >>> [round(end, 4) for end in _wilson(0.5, 100)]
    [0.4038, 0.5962]
    """
    square = INTERVAL**2 / number
    middle = (rate + square / 2) / (1 + square)
    half = math.sqrt(rate * (1 - rate) * square + square**2 / 4) / (1 + square)
    return middle - half, middle + half


def hinge(place: Place, move: str, says: str, ground: Ground) -> Found:
    """That a move depends on a placement, by the verdicts kept from `variorum hinges`."""
    found = () if ground.hinges is None else ground.hinges(place, move)
    if not found:
        return Found(
            standing=Standing.UNDECIDED,
            remark="nobody has looked for it yet",
            wanted=f'variorum hinges "{place.text or place.name}" {move}',
        )
    for rank, reading in enumerate(found, 1):
        if same_words(reading.placement) == same_words(says):
            return Found(
                standing=Standing.HOLDS,
                remark=f"hinge {rank} of {len(found)}, strength {reading.strength:+.1f} points",
            )
    first = found[0]
    return Found(
        standing=Standing.CONTRADICTED,
        remark=f"it hinges on {first.placement} ({first.strength:+.1f} points)",
        rewording=f"'{first.placement}' holds",
    )
