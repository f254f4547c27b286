"""What voices say of a position, as commands and pages tell it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import msgspec

from variorum.board import Line, Move, Position, Score, Verdict, sign_of
from variorum.edition import Edition
from variorum.voices.noise import printed_noise
from variorum.voices.scale import expected_of, shares_of
from variorum.voices.verdicts import Verdicts

__all__ = ["Results", "SpokenLine", "VoiceSays", "voices_on"]


class SpokenLine(msgspec.Struct, frozen=True, kw_only=True):
    """A line of a verdict: its moves as SAN, E for White, pawns."""

    moves: str
    expected: float
    pawns: str


class Results(msgspec.Struct, frozen=True):
    """Of a hundred games, how many White wins, draws and loses."""

    wins: float
    draws: float
    losses: float


class VoiceSays(msgspec.Struct, frozen=True, kw_only=True):
    """One voice's own verdict on the position, best line first.

    `noise` is what is printed after `±` (1.96 σ in points), `None` for a mate. `nodes` and `depth` are the effort, 0 where
    the voice did not say, `threads` how many it thought on; `results` make up the expected score, where the voice tells them
    or a model was fitted to it. With `shallow` it is less than the edition asks, and no claim is judged by it.
    """

    siglum: str
    voice: str
    version: str
    expected: float
    noise: float | None
    pawns: str
    results: Results | None
    sign: str
    words: str
    nodes: int
    depth: int
    threads: int
    date: str
    shallow: bool
    lines: tuple[SpokenLine, ...]


def voices_on(
    position: Position, edition: Edition, verdicts: Verdicts, sigla: Mapping[str, str]
) -> tuple[VoiceSays, ...]:
    """Every voice that spoke of a position, by name of the voice."""
    return tuple(_voices(position, edition, verdicts, sigla))


def _voices(
    position: Position, edition: Edition, verdicts: Verdicts, sigla: Mapping[str, str]
) -> Iterator[VoiceSays]:
    for voice, verdict in verdicts.on(position).items():
        best = verdict.lines[0].score
        expected = expected_of(verdict)
        sign = sign_of(expected, edition.settings.bands)
        yield VoiceSays(
            siglum=sigla[voice],
            voice=voice,
            version=verdict.version,
            expected=expected,
            noise=None if best.mate is not None else printed_noise(verdict.nodes, expected),
            pawns=best.pawns_text,
            results=_results(verdict),
            sign=sign.glyph,
            words=sign.words,
            nodes=verdict.nodes,
            depth=verdict.depth,
            threads=verdict.threads,
            date=verdict.date,
            shallow=verdict.allowed < edition.settings.budget.minimum_effort,
            lines=tuple(_spoken(position, verdict)),
        )


def _results(verdict: Verdict) -> Results | None:
    shares = shares_of(verdict)
    return None if shares is None else Results(*(100 * share for share in shares))


def _spoken(position: Position, verdict: Verdict) -> Iterator[SpokenLine]:
    for line in verdict.lines:
        score: Score = line.score
        moves = Line(position, tuple(map(Move, line.moves))).san()
        yield SpokenLine(moves=moves, expected=expected_of(verdict, score), pawns=score.pawns_text)
