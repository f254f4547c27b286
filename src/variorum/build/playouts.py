"""`variorum playout`: games between voices from positions of the author, each on the disk as soon as it is finished."""

from __future__ import annotations

import datetime
import math
import os
import time
from collections.abc import Iterator, Sequence
from typing import Final

import msgspec

from variorum.base import Progress, StoreBusyError, UsageError, VoiceError
from variorum.base.settings import ResidentSettings, UserSettings
from variorum.board import Position, Verdict
from variorum.build.playout_starts import starts_of
from variorum.build.playout_table import (
    PlayerScore,
    PositionPlayouts,
    different_games,
    player_scores,
    position_playouts,
    score_of,
)
from variorum.build.whom import named_voices
from variorum.edition import Edition
from variorum.edition.folder import PLAYOUTS, VERDICTS
from variorum.sources import sift_playouts
from variorum.store import PLAYOUT, Filter, Mode, Store, open_store
from variorum.voices.playing import play_playouts
from variorum.voices.playout import Playout, PlayoutPlan, Recipe
from variorum.voices.playout_files import (
    KeptPlayout,
    append_playout,
    cut_torn_end,
    kept_playout,
    playout_path,
    playout_text,
)
from variorum.voices.uci import UciVoice
from variorum.voices.verdicts import Verdicts, read_edition_verdicts

__all__ = ["BrokenPlayout", "PlayoutReport", "PlayoutRequest", "play_from"]

UNFINISHED: Final = "unfinished"
"""Folder among the playouts for games that a fault ended; they are evidence of nothing and never sifted."""

_GIVE_UP: Final = 3
"""So many games in a row that a fault ended, and playing ends."""


class PlayoutRequest(msgspec.Struct, frozen=True, kw_only=True):
    """What is to be played: where (a place or a group of positions), by whom, how many games a position, how.

    With `both_ways` the voices change sides after each game. Play from a position ends early where the 95 % interval of
    its score is at most `until_width` points wide.

    Raises:
        UsageError: Something in it makes no sense.
    """

    at: str
    white: str
    black: str
    both_ways: bool
    games: int
    recipe: Recipe
    until_width: float | None = None

    def __post_init__(self) -> None:
        if not self.at.strip():
            raise UsageError(
                "PLACE is missing", remedy="give a name, a line, a FEN, or a group such as leaves"
            )
        if self.games < 1:
            raise UsageError("no game is asked for", remedy="give --games a number above 0")
        if self.until_width is not None and not 0 < self.until_width < 100:
            raise UsageError(
                f"an interval cannot be {self.until_width:g} points wide",
                remedy="give a number between 0 and 100",
            )

    @property
    def voices(self) -> tuple[str, ...]:
        """Who plays."""
        return tuple(dict.fromkeys((self.white, self.black)))

    def plan(self, start: Position, number: int) -> PlayoutPlan:
        """The game of a number from a position."""
        turned = self.both_ways and number % 2 == 0
        players = (self.black, self.white) if turned else (self.white, self.black)
        return PlayoutPlan(start, number, *players)


class BrokenPlayout(msgspec.Struct, frozen=True, kw_only=True):
    """A game that ended since a voice gave no move; the same call tries it again."""

    place: str
    number: int
    white: str
    black: str
    plies: int
    fault: str


class PlayoutReport(msgspec.Struct, frozen=True, kw_only=True):
    """What playouts came to.

    `recipe` in words; `games` were asked for from each position, of which `known` were there before and `played` came now.
    `file` holds them, relative to the edition. `over` are places where the game is over. `given_up` is the fault for which
    playing ended early. `players` compares two voices over all positions.
    """

    edition: str
    white: str
    black: str
    both_ways: bool
    recipe: str
    games: int
    known: int
    played: int
    file: str
    positions: tuple[PositionPlayouts, ...]
    players: tuple[PlayerScore, ...] = ()
    broken: tuple[BrokenPlayout, ...] = ()
    over: tuple[str, ...] = ()
    given_up: str = ""


def play_from(
    edition: Edition,
    user: UserSettings,
    request: PlayoutRequest,
    progress: Progress,
    *,
    minutes: float | None = None,
    workers: int | None = None,
) -> PlayoutReport:
    """Play what is missing of a request, and tell what all its games came to.

    Args:
        edition: The edition.
        user: The user's settings.
        request: What is to be played. The same request goes on with the games that are missing.
        progress: Where to report.
        minutes: Stop after so many; games being played then are given up.
        workers: Games at a time; one for each processor by default.

    Raises:
        StoreBusyError: A build, a sift or another run of playouts of this edition is under way.
        UsageError, InputError: The request makes no sense here, or a file cannot be read or written.
        VoiceError: A voice cannot be started, or no game came to an end.
        Interrupted: The user stopped; the same call goes on from there.
    """
    if minutes is not None and not 0 < minutes < math.inf:
        raise UsageError(f"games cannot be played for {minutes} minutes", remedy="give a number above 0")
    deadline = None if minutes is None else time.monotonic() + 60 * minutes
    named_voices(request.voices, user)  # before anything is opened
    with _to_write(edition, user) as store:
        run = _Run(edition, user, store, request, progress)
        try:
            run.play(deadline, workers or os.cpu_count() or 1)
        finally:
            sift_playouts(edition, store, progress)
        return run.report()


def _to_write(edition: Edition, user: UserSettings) -> Store:
    try:
        return open_store(edition.store_folder(user), mode=Mode.WRITE)
    except StoreBusyError as busy:
        raise StoreBusyError(
            "a build, a sift or other playouts of this edition are under way",
            remedy=busy.remedy,
            path=edition.path,
        ) from None


class _Start:
    """A position with its games by number."""

    def __init__(self, position: Position, place: str) -> None:
        self.position, self.place = position, place
        self.playouts: dict[int, Playout] = {}
        self._looked, self._narrow_at = 0, 0

    def add(self, playout: Playout) -> None:
        """Keep a game, without more of its thoughts than the table needs."""
        self.playouts[playout.plan.number] = msgspec.structs.replace(playout, thoughts=playout.thoughts[:1])

    def narrow_at(self, request: PlayoutRequest) -> int:
        """After how many games the interval is narrow enough, 0 where it is not yet.

        Games count in the order of their numbers, so it does not matter which of those played at once is finished first.
        """
        if request.until_width is None:
            return 0
        while not self._narrow_at and self._looked < request.games and self._looked + 1 in self.playouts:
            self._looked += 1
            first = [self.playouts[number] for number in range(1, self._looked + 1)]
            width = score_of(different_games(first), request.recipe).width
            if width is not None and width <= request.until_width:
                self._narrow_at = self._looked
        return self._narrow_at

    def counted(self, request: PlayoutRequest) -> list[Playout]:
        """The games of a request that count."""
        last = self.narrow_at(request) or request.games
        return [self.playouts[number] for number in sorted(self.playouts) if number <= last]


class _Run:
    """One run of a request."""

    def __init__(
        self, edition: Edition, user: UserSettings, store: Store, request: PlayoutRequest, progress: Progress
    ) -> None:
        self._edition, self._store, self._request, self._progress = edition, store, request, progress
        # On one thread the resident plays the same game each time; games are played several at a time instead.
        alone = msgspec.structs.replace(user, resident=ResidentSettings(threads=1))
        self._openers = named_voices(request.voices, alone)
        folder = edition.place_to_write(PLAYOUTS)
        self._file = playout_path(folder, request.voices)
        self._unfinished = playout_path(edition.place_to_write(PLAYOUTS, UNFINISHED), request.voices)
        for file in [*sorted(folder.glob("*.pgn")), *sorted((folder / UNFINISHED).glob("*.pgn"))]:
            if cut_torn_end(file):
                progress.say(f"{file.name}: a game whose writing was stopped was taken away.")
        sift_playouts(edition, store, progress)
        self._verdicts, _ = read_edition_verdicts(edition.path / VERDICTS)
        found, self._over = starts_of(edition, user, store, request.at, progress)
        self._starts = {position: _Start(position, place) for position, place in found}
        self._versions = {name: self._version(name) for name in request.voices}
        self._known = sum(map(self._read, self._starts.values()))
        self._played = 0
        self._broken: list[BrokenPlayout] = []
        self._in_a_row = 0

    def _version(self, name: str) -> str:
        """The version of a voice with its options; a program is started once, so that one that cannot play is told now."""
        voice = self._openers[name]()
        try:
            if not isinstance(voice, UciVoice):
                return voice.version
            voice.offered()
            options = "; ".join(
                f"{option}={value}" for option, value in sorted(voice.settings.options.items())
            )
            return f"{voice.version} ({options})" if options else voice.version
        finally:
            voice.close()

    def _read(self, start: _Start) -> int:
        """Take in the games of this request that are there."""
        wanted = Filter(kinds=frozenset({PLAYOUT}), voice=self._request.white)
        for through in self._store.games_through(start.position, wanted):
            here = through.ids[through.plies == 0].tolist()
            for kept in map(kept_playout, self._store.games(here)):
                if kept is not None and self._is_ours(kept, start.position):
                    start.add(kept.playout)
        return len(start.playouts)

    def _is_ours(self, kept: KeptPlayout, start: Position) -> bool:
        number = kept.playout.plan.number
        if not 1 <= number <= self._request.games or kept.recipe != self._request.recipe.words:
            return False
        plan = self._request.plan(start, number)
        versions = (self._versions[plan.white], self._versions[plan.black])
        return kept.playout.plan == plan and kept.versions == versions

    def play(self, deadline: float | None, workers: int) -> None:
        """Play what is missing; where play may end early, position by position."""
        starts = list(self._starts.values())
        groups = [starts] if self._request.until_width is None else [[start] for start in starts]
        for group in groups:
            if self._in_a_row >= _GIVE_UP or (deadline is not None and time.monotonic() >= deadline):
                return
            play_playouts(
                list(self._missing(group)),
                self._request.recipe,
                self._openers,
                workers=workers,
                deadline=deadline,
                progress=self._progress,
                keep=self._keep,
            )

    def _missing(self, starts: Sequence[_Start]) -> Iterator[PlayoutPlan]:
        """Games that are to be played: the first from each position, then the second, and so on."""
        for number in range(1, self._request.games + 1):
            for start in starts:
                if number not in start.playouts and not start.narrow_at(self._request):
                    yield self._request.plan(start.position, number)

    def _keep(self, playout: Playout) -> bool:
        plan = playout.plan
        start = self._starts[plan.start]
        kept = KeptPlayout(
            playout=playout,
            versions=(self._versions[plan.white], self._versions[plan.black]),
            recipe=self._request.recipe.words,
        )
        text = playout_text(kept, start.place, datetime.datetime.now(datetime.UTC).date())
        append_playout(self._unfinished if playout.fault else self._file, text)
        if playout.fault:
            self._in_a_row += 1
            self._broken.append(
                BrokenPlayout(
                    place=start.place,
                    number=plan.number,
                    white=plan.white,
                    black=plan.black,
                    plies=len(playout.line),
                    fault=playout.fault,
                )
            )
            return self._in_a_row < _GIVE_UP
        self._in_a_row = 0
        self._played += 1
        start.add(playout)
        return not start.narrow_at(self._request)

    def report(self) -> PlayoutReport:
        """What all games of the request came to."""
        request = self._request
        if self._broken and not any(start.playouts for start in self._starts.values()):
            raise VoiceError(
                f"no game came to an end: {self._broken[0].fault}",
                remedy=f"what was played lies in {PLAYOUTS}/{UNFINISHED}/; try the voice: variorum voices test",
            )
        counted = {start: start.counted(request) for start in self._starts.values()}
        return PlayoutReport(
            edition=self._edition.title,
            white=request.white,
            black=request.black,
            both_ways=request.both_ways,
            recipe=request.recipe.words,
            games=request.games,
            known=self._known,
            played=self._played,
            file=f"{PLAYOUTS}/{self._file.name}",
            positions=tuple(
                position_playouts(
                    start.position,
                    start.place,
                    games,
                    request.recipe,
                    missing=request.games - len(games),
                    narrow=bool(start.narrow_at(request)),
                    verdict=_deepest(self._verdicts, start.position),
                )
                for start, games in counted.items()
            ),
            players=player_scores(
                different_games(one for games in counted.values() for one in games), request.recipe
            ),
            broken=tuple(self._broken),
            over=self._over,
            given_up=self._broken[-1].fault if self._in_a_row >= _GIVE_UP else "",
        )


def _deepest(verdicts: Verdicts, position: Position) -> Verdict | None:
    return max(verdicts.on(position).values(), key=lambda verdict: verdict.effort, default=None)
