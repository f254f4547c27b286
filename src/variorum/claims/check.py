"""Checking: each claim of both texts against what voices and games say."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import msgspec

from variorum.board import Line, Move, Position, Score, Side, Sign, Verdict, band_of
from variorum.claims.decide import Estimate, decide
from variorum.claims.signs import ClaimKind, SignClaim
from variorum.claims.spans import SpanClaim
from variorum.claims.standing import Figure, Standing
from variorum.edition import EditionSettings
from variorum.edition.digest import Span
from variorum.insight.structures import structure_of
from variorum.voices.noise import noise_of
from variorum.voices.verdicts import Verdicts

__all__ = ["CheckedClaim", "Games", "Ground", "Practice", "check_sign", "check_span"]

_SURE = 0.0
"""σ of a finished game or a mate: no estimate."""
_RESULTS = {"1-0": 100.0, "0-1": 0.0, "1/2-1/2": 50.0}


class CheckedClaim(msgspec.Struct, frozen=True, kw_only=True):
    """A claim with its standing.

    `path`, `line` and `column` are where it stands, `subject` the move or place it is about, `says` the sign or words.
    `band` is what is claimed, in points. `refutation` is the line that speaks against it, `remark` what else to know.
    `epd` is the position that it is about (after the move, for a sign), empty where that cannot be read.
    """

    path: str
    line: int
    column: int
    kind: str
    subject: str
    says: str
    standing: str
    figures: tuple[Figure, ...] = ()
    band: str = ""
    refutation: str = ""
    remark: str = ""
    epd: str = ""


class Games(msgspec.Struct, frozen=True):
    """Games in which a move was played at a position, of how many in the edition, up to which day (ISO, or empty).

    `first` says which game was the first, empty where none was.
    """

    played: int
    of: int
    until: str
    first: str = ""


Practice = Callable[[Position, Move], Games]
"""Looks the games up; `None` in its place where nothing was sifted."""


@dataclass(frozen=True)
class Ground:
    """What claims are judged by: the edition's settings, verdicts, games, and the day from which verdicts grow old."""

    settings: EditionSettings
    verdicts: Verdicts
    practice: Practice | None
    today: datetime.date

    def deep(self, position: Position) -> dict[str, Verdict]:
        """Verdicts of the effort that the edition asks, by voice."""
        least = self.settings.budget.minimum_effort
        return {voice: one for voice, one in self.verdicts.on(position).items() if one.allowed >= least}

    @property
    def missing(self) -> str:
        """What is said where nobody spoke."""
        return f"no verdict yet of {self.settings.budget.minimum_effort:,} nodes or more"

    def is_old(self, date: str) -> bool:
        """Whether a verdict of that day is older than the edition allows; one of no known day may be as old as you like."""
        days = self.settings.thresholds.stale_days
        if not days:
            return False
        try:
            given = datetime.date.fromisoformat(date)
        except ValueError:
            return True
        return self.today - given > datetime.timedelta(days)


class _Weighed(msgspec.Struct, frozen=True):
    """An estimate and the verdicts that it rests on (none for a finished game)."""

    estimate: Estimate
    verdicts: tuple[Verdict, ...] = ()

    def over(self, lesser: _Weighed) -> _Weighed:
        """By how much it is more."""
        sigma = (self.estimate.sigma**2 + lesser.estimate.sigma**2) ** 0.5
        difference = Estimate(self.estimate.value - lesser.estimate.value, sigma)
        return _Weighed(difference, self.verdicts + lesser.verdicts)


class _Found(msgspec.Struct, frozen=True, kw_only=True):
    """What a query gives before it is put together with its place."""

    standing: Standing
    figures: tuple[Figure, ...] = ()
    band: str = ""
    refutation: str = ""
    remark: str = ""


def check_sign(claim: SignClaim, ground: Ground, path: str) -> CheckedClaim:
    """How a sign of the manuscript stands; nothing is answered below the edition's minimum effort."""
    match claim.kind:
        case ClaimKind.SCORE:
            assert claim.sign is not None
            found = _score(claim.node.position, claim.sign, ground)
        case ClaimKind.CONCESSION:
            found = _concession(claim, ground)
        case ClaimKind.ONLY_MOVE:
            found = _only_move(claim, ground)
        case ClaimKind.NOVELTY:
            found = _novelty(claim, ground.practice)
        case ClaimKind.OTHER:
            found = _Found(standing=Standing.NOT_CHECKABLE)
    line, column = claim.node.place
    epd = claim.node.position.epd
    return _checked(path, line, column, claim.kind.value, claim.move, claim.text, _aged(found, ground), epd)


def check_span(span: Span, claim: SpanClaim | None, ground: Ground, path: str) -> CheckedClaim:
    """How a claim of the digest stands; `claim` is `None` where the span cannot be read (which its diagnostics tell)."""
    kind, at, says = (span.attributes.get(name, "") for name in ("kind", "at", "says"))
    if claim is None:
        found = _Found(standing=Standing.NOT_CHECKABLE, remark="it cannot be read: see the message on it")
    else:
        position = claim.place.position
        if isinstance(claim.says, str):
            found = _structure(position, claim.says)
        else:
            found = _aged(_score(position, claim.says, ground), ground)
    epd = "" if claim is None else claim.place.position.epd
    return _checked(path, span.where.line, span.where.column, kind, at, f"{span.text} ({says})", found, epd)


def _aged(found: _Found, ground: Ground) -> _Found:
    """A decision is stale when a verdict that it rests on is older than the edition allows."""
    decided = found.standing in (Standing.HOLDS, Standing.CONTRADICTED)
    old = [figure.date for figure in found.figures if ground.is_old(figure.date)]
    if not decided or not old:
        return found
    date = f"of {min(old)}" if min(old) else "without a date"
    days = ground.settings.thresholds.stale_days
    remark = f"{found.standing.value} by a verdict {date}; the edition asks for none older than {days} days"
    return msgspec.structs.replace(found, standing=Standing.STALE, remark=remark)


def _checked(
    path: str, line: int, column: int, kind: str, subject: str, says: str, found: _Found, epd: str
) -> CheckedClaim:
    return CheckedClaim(
        path=path,
        line=line,
        column=column,
        kind=kind,
        subject=subject,
        says=says,
        standing=found.standing.value,
        figures=found.figures,
        band=found.band,
        refutation=found.refutation,
        remark=found.remark,
        epd=epd,
    )


def _score(position: Position, sign: Sign, ground: Ground) -> _Found:
    low, high = band_of(sign, ground.settings.bands)
    band = f"{low:.0f} to {high:.0f}"
    if position.outcome is not None:
        value = _RESULTS[position.outcome]
        return _Found(
            standing=decide([Estimate(value, _SURE)], low, high),
            band=band,
            remark=f"the game is over: {position.outcome}",
        )
    asked = ground.deep(position)
    weighed = {voice: _weigh(one, one.lines[0].score, Side.WHITE) for voice, one in asked.items()}
    standing = _decide(weighed.values(), low, high)
    return _Found(
        standing=standing,
        figures=_figures(weighed),
        band=band,
        refutation=_principal(position, asked) if standing is Standing.CONTRADICTED else "",
        remark="" if asked else ground.missing,
    )


def _structure(position: Position, name: str) -> _Found:
    """Decided by the pawns alone: no voice is asked."""
    found = structure_of(position)
    holds = found is not None and found.is_called(name)
    return _Found(
        standing=Standing.HOLDS if holds else Standing.CONTRADICTED,
        remark="its pawn skeleton has no name here" if found is None else f"it has: {found.words}",
    )


def _concession(claim: SignClaim, ground: Ground) -> _Found:
    thresholds = ground.settings.thresholds
    low, high = {
        2: (thresholds.poor, 100.0),
        4: (thresholds.very_poor, 100.0),
        6: (thresholds.questionable, thresholds.poor),
    }[claim.nag]
    band = f"concedes {low:.0f} or more" if high == 100.0 else f"concedes {low:.0f} to {high:.0f}"
    weighed: dict[str, _Weighed] = {}
    for voice, before in ground.deep(claim.before).items():
        values = _values(claim, before, ground)
        played = values.get(_uci(claim))
        if played is not None:
            best = max(values.values(), key=lambda one: one.estimate.value)
            weighed[voice] = best.over(played)
    standing = _decide(weighed.values(), low, high)
    refutation = ""
    if standing is Standing.CONTRADICTED:
        conceded = max(one.estimate.value for one in weighed.values())
        if conceded < low:  # the move is better than its sign: the best play after it
            refutation = _after(claim.before, _uci(claim), ground)
        else:  # it is worse: what should have been played
            refutation = _principal(claim.before, ground.deep(claim.before))
    return _Found(
        standing=standing,
        figures=_figures(weighed),
        band=band,
        refutation=refutation,
        remark="" if weighed else ground.missing,
    )


def _values(claim: SignClaim, before: Verdict, ground: Ground) -> dict[str, _Weighed]:
    """What the moves before the claim's are worth to the mover, by UCI: those of a voice's lines, and the claim's own.

    A move is worth what the verdict after it says, unless the verdict before it scores it at greater effort
    (methods.md 3); a finished game is worth its result.
    """
    mover = claim.before.turn
    scored = {line.moves[0]: _weigh(before, line.score, mover) for line in before.lines}
    values: dict[str, _Weighed] = {}
    for uci in dict.fromkeys((*scored, _uci(claim))):
        position = claim.before.play(Move(uci))
        after = ground.deep(position).get(before.voice)
        if position.outcome is not None:
            value = _RESULTS[position.outcome]
            values[uci] = _Weighed(Estimate(value if mover is Side.WHITE else 100.0 - value, _SURE))
        elif after is not None and (uci not in scored or after.effort >= before.effort):
            values[uci] = _weigh(after, after.lines[0].score, mover)
        elif uci in scored:
            values[uci] = scored[uci]
    return values


def _uci(claim: SignClaim) -> str:
    assert claim.node.move is not None
    return claim.node.move.uci


def _only_move(claim: SignClaim, ground: Ground) -> _Found:
    """Methods 10: the second best concedes 12 points and crosses from a held game or a won one."""
    thresholds = ground.settings.thresholds
    band = f"the second best concedes {thresholds.only_move:.0f} or more"
    if len(claim.before.legal_moves()) == 1:
        return _Found(standing=Standing.HOLDS, band=band, remark="no other move is legal")
    weighed: dict[str, _Weighed] = {}
    standings: set[Standing] = set()
    rival = ""
    for voice, before in ground.deep(claim.before).items():
        values = _values(claim, before, ground)
        this = values.pop(_uci(claim), None)
        if this is None or not values:
            continue
        rival, other = max(values.items(), key=lambda one: one[1].estimate.value)
        weighed[voice] = this.over(other)
        held, left = this.estimate.value, other.estimate.value
        crosses = (held >= thresholds.hold_from and left < thresholds.hold_lost) or (
            held >= thresholds.win_from and left < thresholds.win_lost
        )
        stands = _decide([weighed[voice]], thresholds.only_move, 100.0)
        standings.add(Standing.UNDECIDED if stands is Standing.HOLDS and not crosses else stands)
    standing = standings.pop() if len(standings) == 1 else Standing.UNDECIDED
    return _Found(
        standing=standing,
        figures=_figures(weighed),
        band=band,
        refutation=_after(claim.before, rival, ground) if standing is Standing.CONTRADICTED else "",
        remark="" if weighed else f"{ground.missing} that compares it with another move",
    )


def _after(position: Position, uci: str, ground: Ground) -> str:
    """A move and the best play after it, as the deepest voice sees it."""
    following = ground.deep(position.play(Move(uci)))
    if following:
        deepest = max(following.values(), key=lambda one: one.effort)
        return _line_text(position, (uci, *deepest.lines[0].moves))
    lines = [line for one in ground.deep(position).values() for line in one.lines]
    return _line_text(position, next((line.moves for line in lines if line.moves[0] == uci), (uci,)))


def _novelty(claim: SignClaim, practice: Practice | None) -> _Found:
    assert claim.node.move is not None
    if practice is None:
        return _Found(standing=Standing.UNDECIDED, remark="no games were sifted yet")
    games = practice(claim.before, claim.node.move)
    number = f"{games.of:,} game{'' if games.of == 1 else 's'}"
    within = f"within the {number} given{f', to {games.until}' if games.until else ''}"
    if games.played:
        times = "once" if games.played == 1 else f"{games.played:,} times"
        first = f"; first {games.first}" if games.first else ""
        return _Found(standing=Standing.CONTRADICTED, remark=f"played {times} {within}{first}")
    return _Found(standing=Standing.HOLDS, remark=f"not played {within}")


def _weigh(verdict: Verdict, score: Score, side: Side) -> _Weighed:
    """A score of a verdict as expected score of a side."""
    sigma = _SURE if score.mate is not None else noise_of(verdict.nodes)
    expected = score.expected()
    return _Weighed(Estimate(expected if side is Side.WHITE else 100.0 - expected, sigma), (verdict,))


def _decide(weighed: Iterable[_Weighed], low: float, high: float) -> Standing:
    return decide([one.estimate for one in weighed], low, high)


def _figures(weighed: Mapping[str, _Weighed]) -> tuple[Figure, ...]:
    return tuple(
        Figure(
            voice=voice,
            value=one.estimate.value,
            noise=one.estimate.half_width,
            nodes=min((verdict.nodes for verdict in one.verdicts), default=0),
            date=min((verdict.date for verdict in one.verdicts), default=""),
        )
        for voice, one in weighed.items()
    )


def _principal(position: Position, asked: Mapping[str, Verdict]) -> str:
    """The best line of the deepest voice."""
    if not asked:
        return ""
    deepest = max(asked.values(), key=lambda one: one.effort)
    return _line_text(position, deepest.lines[0].moves)


def _line_text(position: Position, moves: Iterable[str]) -> str:
    return Line(position, tuple(map(Move, moves))).san()
