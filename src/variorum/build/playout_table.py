"""What playouts came to, position by position (methods.md 18)."""

from __future__ import annotations

import statistics
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

import msgspec

from variorum.board import Position, Side, Verdict
from variorum.graph.practice import FEWEST_GAMES, PracticeScore, clustered_score
from variorum.store import Tally
from variorum.voices.playout import Playout, Recipe
from variorum.voices.scale import expected_of

__all__ = [
    "EndingCount",
    "PlayerScore",
    "PlayoutScore",
    "PositionPlayouts",
    "different_games",
    "player_scores",
    "position_playouts",
    "score_of",
]


class PlayoutScore(msgspec.Struct, frozen=True, kw_only=True):
    """Results of different games, and E (0 to 100) with its 95 % interval by clusters.

    `unknown` have no result. `openings` are the clusters: games that are the same through the plies of variety. Under 5
    games with a result there is no score.
    """

    games: int
    wins: int
    draws: int
    losses: int
    unknown: int
    openings: int
    score: float | None = None
    low: float | None = None
    high: float | None = None

    @property
    def decided(self) -> int:
        """Games with a result."""
        return self.games - self.unknown

    @property
    def width(self) -> float | None:
        """Of the interval, in points."""
        return None if self.low is None or self.high is None else self.high - self.low


class EndingCount(msgspec.Struct, frozen=True):
    """How many different games ended so: mate, stalemate, repetition, fifty moves, dead position, agreed win, agreed draw or length."""

    ending: str
    games: int


class PlayerScore(msgspec.Struct, frozen=True, kw_only=True):
    """A voice's own score against another over all positions: with White, with Black, and with both."""

    voice: str
    white: PlayoutScore
    black: PlayoutScore
    together: PlayoutScore


class PositionPlayouts(msgspec.Struct, frozen=True, kw_only=True):
    """The playouts from one position.

    `played` games of the call are there and `missing` are not; `results` counts each different one once, White's view.
    `narrow` says that play stopped since the interval was narrow enough. Lengths are in plies from the position.
    `start` is E for White at the start, `start_by` who says so; `worse` is the side with the lower one (empty where it
    is 50.0), which drew or won `held` of the games with a result.
    """

    place: str
    fen: str
    played: int
    missing: int
    narrow: bool
    results: PlayoutScore
    mean_plies: float | None
    median_plies: float | None
    start: float | None
    start_by: str
    worse: str
    held: int
    endings: tuple[EndingCount, ...]


def different_games(playouts: Iterable[Playout]) -> list[Playout]:
    """Each different game once: other moves, or other players."""
    found: dict[object, Playout] = {}
    for one in playouts:
        found.setdefault((one.plan.start, one.plan.white, one.plan.black, one.line.moves), one)
    return list(found.values())


def score_of(playouts: Sequence[Playout], recipe: Recipe) -> PlayoutScore:
    """The score of different games for White."""
    return _score([(one, Side.WHITE) for one in playouts], recipe)


def player_scores(playouts: Sequence[Playout], recipe: Recipe) -> tuple[PlayerScore, ...]:
    """The score of each of two voices; of a voice with itself there is none."""
    voices = sorted({name for one in playouts for name in (one.plan.white, one.plan.black)})
    if len(voices) != 2:
        return ()
    found = []
    for voice in voices:
        white = [(one, Side.WHITE) for one in playouts if one.plan.white == voice]
        black = [(one, Side.BLACK) for one in playouts if one.plan.black == voice]
        found.append(
            PlayerScore(
                voice=voice,
                white=_score(white, recipe),
                black=_score(black, recipe),
                together=_score([*white, *black], recipe),
            )
        )
    return tuple(found)


def position_playouts(
    start: Position,
    place: str,
    playouts: Sequence[Playout],
    recipe: Recipe,
    *,
    missing: int,
    narrow: bool,
    verdict: Verdict | None,
) -> PositionPlayouts:
    """The table's row of one position.

    Args:
        start: The position.
        place: What the author calls it.
        playouts: Its games, copies and all.
        recipe: How they were played.
        missing: How many are still to be played.
        narrow: Whether they are missing since the interval was narrow enough.
        verdict: The deepest one on the position; without one the voices' own first scores say who stands worse.
    """
    games = different_games(playouts)
    plies = [len(one.line) for one in games]
    expected, by = _start(games, verdict)
    level = expected is None or round(expected, 1) == 50.0
    worse = None if level else Side.WHITE if (expected or 0.0) < 50.0 else Side.BLACK
    lost = {Side.WHITE: "0-1", Side.BLACK: "1-0"}
    decided = [one for one in games if one.result != "*"]
    endings = Counter(one.ending for one in games)
    return PositionPlayouts(
        place=place,
        fen=start.fen,
        played=len(playouts),
        missing=missing,
        narrow=narrow,
        results=score_of(games, recipe),
        mean_plies=statistics.fmean(plies) if plies else None,
        median_plies=float(statistics.median(plies)) if plies else None,
        start=expected,
        start_by=by,
        worse="" if worse is None else worse.value,
        held=0 if worse is None else sum(one.result != lost[worse] for one in decided),
        endings=tuple(EndingCount(ending.value, count) for ending, count in endings.most_common()),
    )


def _start(games: Sequence[Playout], verdict: Verdict | None) -> tuple[float | None, str]:
    if verdict is not None:
        effort = f"{verdict.nodes:,} nodes" if verdict.nodes else f"depth {verdict.depth}"
        return expected_of(verdict), f"{verdict.voice} at {effort}"
    first = [one.thoughts[0].score.expected() for one in games if one.thoughts]
    return (statistics.fmean(first), "the first scores of these games") if first else (None, "")


def _score(games: Sequence[tuple[Playout, Side]], recipe: Recipe) -> PlayoutScore:
    """Of games, each seen from a side."""
    clusters: dict[object, list[str]] = defaultdict(list)
    for one, side in games:
        result = one.result
        if side is Side.BLACK and result in ("1-0", "0-1"):
            result = "0-1" if result == "1-0" else "1-0"
        clusters[one.plan.start, one.line.moves[: recipe.plies]].append(result)
    tallies = [_tally(results) for results in clusters.values()]
    found = clustered_score(tallies, FEWEST_GAMES)
    plain = PlayoutScore(
        games=len(games),
        wins=sum(one.wins for one in tallies),
        draws=sum(one.draws for one in tallies),
        losses=sum(one.losses for one in tallies),
        unknown=sum(one.unknown for one in tallies),
        openings=len(tallies),
    )
    return plain if found is None else _with(plain, found)


def _with(plain: PlayoutScore, found: PracticeScore) -> PlayoutScore:
    return msgspec.structs.replace(plain, score=found.mean, low=found.low, high=found.high)


def _tally(results: Sequence[str]) -> Tally:
    count = Counter(results)
    return Tally(count["1-0"], count["1/2-1/2"], count["0-1"], count["*"])
