"""Checking: each claim of both texts against what voices and games say."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import msgspec

from variorum.base import VariorumError
from variorum.board import Line, Move, Position, Score, Side, Sign, Verdict, band_of, sign_named
from variorum.claims.decide import Estimate, decide
from variorum.claims.signs import ClaimKind, SignClaim
from variorum.claims.standing import Standing
from variorum.edition import Edition, Place
from variorum.edition.digest import Span
from variorum.voices.noise import noise_of
from variorum.voices.verdicts import Verdicts

__all__ = ["CheckedClaim", "Figure", "Games", "check_sign", "check_span"]

_SURE = 0.0
"""σ of a finished game or a mate: no estimate."""
_RESULTS = {"1-0": 100.0, "0-1": 0.0, "1/2-1/2": 50.0}


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """What one voice gives for a claim: `value` in points (E for White, or points conceded by the mover) ± `noise`."""

    voice: str
    value: float
    noise: float
    nodes: int


class CheckedClaim(msgspec.Struct, frozen=True, kw_only=True):
    """A claim with its standing.

    `path`, `line` and `column` are where it stands, `subject` the move or place it is about, `says` the sign or words.
    `band` is what is claimed, in points. `refutation` is the line that speaks against it, `remark` what else to know.
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


class Games(msgspec.Struct, frozen=True):
    """Games in which a move was played at a position, of how many in the edition, up to which day (ISO, or empty)."""

    played: int
    of: int
    until: str


Practice = Callable[[Position, Move], Games]
"""Looks the games up; `None` in its place where nothing was sifted."""


class _Found(msgspec.Struct, frozen=True, kw_only=True):
    """What a query gives before it is put together with its place."""

    standing: Standing
    figures: tuple[Figure, ...] = ()
    band: str = ""
    refutation: str = ""
    remark: str = ""


def check_sign(
    claim: SignClaim, edition: Edition, verdicts: Verdicts, practice: Practice | None, path: str
) -> CheckedClaim:
    """How a sign of the manuscript stands; nothing is answered below the edition's minimum effort."""
    match claim.kind:
        case ClaimKind.SCORE:
            assert claim.sign is not None
            found = _score(claim.node.position, claim.sign, edition, verdicts)
        case ClaimKind.CONCESSION:
            found = _concession(claim, edition, verdicts)
        case ClaimKind.ONLY_MOVE:
            found = _only_move(claim, edition, verdicts)
        case ClaimKind.NOVELTY:
            found = _novelty(claim, practice)
        case ClaimKind.OTHER:
            found = _Found(standing=Standing.NOT_CHECKABLE)
    line, column = claim.node.place
    return _checked(path, line, column, claim.kind.value, claim.move, claim.text, found)


def check_span(
    span: Span, edition: Edition, resolve: Callable[[str], Place], verdicts: Verdicts, path: str
) -> CheckedClaim:
    """How a claim of the digest stands. Kind `score` is known: `at` a place, `says` the words or sign of a band."""
    kind, at, says = (span.attributes.get(name, "") for name in ("kind", "at", "says"))
    if kind != "score":
        found = _Found(standing=Standing.NOT_CHECKABLE, remark=f"there is no claim of kind '{kind}' yet")
    else:
        try:
            found = _score(resolve(at).position, sign_named(says), edition, verdicts)
        except KeyError:
            found = _Found(standing=Standing.NOT_CHECKABLE, remark=f"'{says}' are no words of a score")
        except VariorumError as error:
            found = _Found(standing=Standing.NOT_CHECKABLE, remark=error.message)
    return _checked(path, span.where.line, span.where.column, kind, at, f"{span.text} ({says})", found)


def _checked(
    path: str, line: int, column: int, kind: str, subject: str, says: str, found: _Found
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
    )


def _deep(position: Position, edition: Edition, verdicts: Verdicts) -> dict[str, Verdict]:
    least = edition.settings.budget.minimum_effort
    return {voice: one for voice, one in verdicts.on(position).items() if one.nodes >= least}


def _score(position: Position, sign: Sign, edition: Edition, verdicts: Verdicts) -> _Found:
    low, high = band_of(sign, edition.settings.bands)
    band = f"{low:.0f} to {high:.0f}"
    if position.outcome is not None:
        value = _RESULTS[position.outcome]
        return _Found(
            standing=decide([Estimate(value, _SURE)], low, high),
            band=band,
            remark=f"the game is over: {position.outcome}",
        )
    asked = _deep(position, edition, verdicts)
    estimates = {voice: _estimate(one.lines[0].score, one.nodes) for voice, one in asked.items()}
    standing = decide(list(estimates.values()), low, high)
    return _Found(
        standing=standing,
        figures=_figures(estimates, asked),
        band=band,
        refutation=_principal(position, asked) if standing is Standing.CONTRADICTED else "",
        remark="" if asked else _missing(edition),
    )


def _concession(claim: SignClaim, edition: Edition, verdicts: Verdicts) -> _Found:
    thresholds = edition.settings.thresholds
    low, high = {
        2: (thresholds.poor, 100.0),
        4: (thresholds.very_poor, 100.0),
        6: (thresholds.questionable, thresholds.poor),
    }[claim.nag]
    band = f"concedes {low:.0f} or more" if high == 100.0 else f"concedes {low:.0f} to {high:.0f}"
    asked = _deep(claim.before, edition, verdicts)
    estimates: dict[str, Estimate] = {}
    for voice in asked:
        values = _values(claim, voice, edition, verdicts)
        played = values.get(_uci(claim))
        if played is not None:
            best = max(values.values(), key=lambda one: one.value)
            estimates[voice] = _difference(best, played)
    standing = decide(list(estimates.values()), low, high)
    refutation = ""
    if standing is Standing.CONTRADICTED:
        refutation = _principal(claim.node.position, _deep(claim.node.position, edition, verdicts))
    return _Found(
        standing=standing,
        figures=_figures(estimates, asked),
        band=band,
        refutation=refutation,
        remark="" if estimates else _missing(edition),
    )


def _values(claim: SignClaim, voice: str, edition: Edition, verdicts: Verdicts) -> dict[str, Estimate]:
    """What the moves before the claim's are worth to the mover, by UCI: those of the voice's lines, and the claim's own.

    A move is worth what the verdict after it says, unless the verdict before it scores it at greater effort
    (methods.md 3); a finished game is worth its result.
    """
    before = _deep(claim.before, edition, verdicts)[voice]
    scored = {line.moves[0]: _own(line.score, before.nodes, claim.before.turn) for line in before.lines}
    values: dict[str, Estimate] = {}
    for uci in dict.fromkeys((*scored, _uci(claim))):
        position = claim.before.play(Move(uci))
        after = _deep(position, edition, verdicts).get(voice)
        if position.outcome is not None:
            value = _RESULTS[position.outcome]
            values[uci] = Estimate(value if claim.before.turn is Side.WHITE else 100.0 - value, _SURE)
        elif after is not None and (uci not in scored or after.effort >= before.effort):
            values[uci] = _own(after.lines[0].score, after.nodes, claim.before.turn)
        elif uci in scored:
            values[uci] = scored[uci]
    return values


def _difference(greater: Estimate, lesser: Estimate) -> Estimate:
    return Estimate(greater.value - lesser.value, (greater.sigma**2 + lesser.sigma**2) ** 0.5)


def _uci(claim: SignClaim) -> str:
    assert claim.node.move is not None
    return claim.node.move.uci


def _only_move(claim: SignClaim, edition: Edition, verdicts: Verdicts) -> _Found:
    """Methods 10: the second best concedes 12 points and crosses from a held game or a won one."""
    thresholds = edition.settings.thresholds
    asked = {
        voice: one for voice, one in _deep(claim.before, edition, verdicts).items() if len(one.lines) > 1
    }
    estimates: dict[str, Estimate] = {}
    standings: set[Standing] = set()
    rival = ""
    for voice in asked:
        values = _values(claim, voice, edition, verdicts)
        this = values.pop(_uci(claim), None)
        if this is None:
            continue
        rival, other = max(values.items(), key=lambda one: one[1].value)
        estimates[voice] = _difference(this, other)
        crosses = (this.value >= thresholds.hold_from and other.value < thresholds.hold_lost) or (
            this.value >= thresholds.win_from and other.value < thresholds.win_lost
        )
        stands = decide([estimates[voice]], thresholds.only_move, 100.0)
        standings.add(Standing.UNDECIDED if stands is Standing.HOLDS and not crosses else stands)
    standing = standings.pop() if len(standings) == 1 else Standing.UNDECIDED
    refutation = ""
    if standing is Standing.CONTRADICTED:
        refutation = _after(claim.before, rival, edition, verdicts)
    return _Found(
        standing=standing,
        figures=_figures(estimates, asked),
        band=f"the second best concedes {thresholds.only_move:.0f} or more",
        refutation=refutation,
        remark="" if estimates else _missing(edition),
    )


def _after(position: Position, uci: str, edition: Edition, verdicts: Verdicts) -> str:
    """A move and the best play after it, as the deepest voice sees it."""
    following = _deep(position.play(Move(uci)), edition, verdicts)
    if following:
        deepest = max(following.values(), key=lambda one: one.effort)
        return _line_text(position, (uci, *deepest.lines[0].moves))
    lines = [line for one in _deep(position, edition, verdicts).values() for line in one.lines]
    return _line_text(position, next(line.moves for line in lines if line.moves[0] == uci))


def _own(score: Score, nodes: int, side: Side) -> Estimate:
    """A score as expected score of a side."""
    seen = _estimate(score, nodes)
    return seen if side is Side.WHITE else Estimate(100.0 - seen.value, seen.sigma)


def _novelty(claim: SignClaim, practice: Practice | None) -> _Found:
    assert claim.node.move is not None
    if practice is None:
        return _Found(standing=Standing.UNDECIDED, remark="no games were sifted yet")
    games = practice(claim.before, claim.node.move)
    until = f", to {games.until}" if games.until else ""
    within = f"within the {games.of:,} games given{until}"
    if games.played:
        return _Found(standing=Standing.CONTRADICTED, remark=f"played {games.played:,} times {within}")
    return _Found(standing=Standing.HOLDS, remark=f"not played {within}")


def _estimate(score: Score, nodes: int) -> Estimate:
    return Estimate(score.expected(), _SURE if score.mate is not None else noise_of(nodes))


def _figures(estimates: dict[str, Estimate], asked: dict[str, Verdict]) -> tuple[Figure, ...]:
    return tuple(
        Figure(voice=voice, value=one.value, noise=one.half_width, nodes=asked[voice].nodes)
        for voice, one in estimates.items()
    )


def _principal(position: Position, asked: dict[str, Verdict]) -> str:
    """The best line of the deepest voice."""
    if not asked:
        return ""
    deepest = max(asked.values(), key=lambda one: one.effort)
    return _line_text(position, deepest.lines[0].moves)


def _line_text(position: Position, moves: Iterable[str]) -> str:
    return Line(position, tuple(map(Move, moves))).san()


def _missing(edition: Edition) -> str:
    return f"no verdict of {edition.settings.budget.minimum_effort:,} nodes or more yet"
