"""Claims that voices decide: bands of the score, what a move concedes, better moves and only moves (methods.md 13)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from variorum.board import SIGNS, Line, Move, Position, Side, Sign, band_of
from variorum.claims.decide import Estimate
from variorum.claims.ground import Found, Ground
from variorum.claims.standing import Standing
from variorum.claims.weigh import (
    RESULTS,
    SURE,
    Weighed,
    after,
    decision,
    deeper_steps,
    figures_of,
    move_values,
    principal,
    wanted_nodes,
    weigh,
)

__all__ = ["CONCEDING", "better", "concession", "only_move", "score"]

CONCEDING = {6: "?!", 2: "?", 4: "??"}
"""The signs of a move that concedes, by NAG, from the least on."""


def score(position: Position, sign: Sign, ground: Ground) -> Found:
    """That the expected score lies in a sign's band."""
    low, high = band_of(sign, ground.settings.bands)
    band = f"{low:.0f} to {high:.0f}"
    if position.outcome is not None:
        weighed = {"": Weighed(Estimate(RESULTS[position.outcome], SURE))}
        standing = decision(weighed.values(), low, high)
        return Found(
            standing=standing,
            band=band,
            remark=f"the game is over: {position.outcome}",
            rewording=_other_sign(sign, weighed, ground) if standing is Standing.CONTRADICTED else "",
        )
    asked = ground.deep(position)
    weighed = {voice: weigh(one, one.lines[0].score, Side.WHITE) for voice, one in asked.items()}
    standing = decision(weighed.values(), low, high)
    against = standing is Standing.CONTRADICTED
    wanted, nodes = _wanted(standing, weighed, ground, (low, high), "the position")
    return Found(
        standing=standing,
        figures=figures_of(weighed),
        band=band,
        refutation=principal(position, asked) if against else "",
        rewording=_other_sign(sign, weighed, ground) if against else "",
        wanted=wanted,
        nodes=nodes,
        remark="" if asked else ground.missing,
    )


def _other_sign(said: Sign, weighed: Mapping[str, Weighed], ground: Ground) -> str:
    """The sign nearest to the one that was given that holds; else the two neighbours between which the score lies."""
    at = SIGNS.index(said)
    bands = [band_of(sign, ground.settings.bands) for sign in SIGNS]
    near = sorted(range(len(SIGNS)), key=lambda other: abs(other - at))
    for other in near:
        if decision(weighed.values(), *bands[other]) is Standing.HOLDS:
            return f"{SIGNS[other].glyph} ({SIGNS[other].words}) holds"
    pairs = sorted(range(len(SIGNS) - 1), key=lambda other: abs(other + 0.5 - at))
    for one in pairs:
        if decision(weighed.values(), bands[one][0], bands[one + 1][1]) is Standing.HOLDS:
            first, second = (
                (SIGNS[one], SIGNS[one + 1]) if one >= len(SIGNS) // 2 else (SIGNS[one + 1], SIGNS[one])
            )
            return f"between {first.glyph} ({first.words}) and {second.glyph} ({second.words}) holds"
    return ""


def concession(position: Position, move: Move, nag: int, ground: Ground) -> Found:
    """That a move concedes as much as its sign says."""
    low, high = _conceded(nag, ground)
    weighed = _conceding(position, move, ground)
    standing = decision(weighed.values(), low, high)
    refutation = rewording = ""
    if standing is Standing.CONTRADICTED:
        if (
            max(one.estimate.value for one in weighed.values()) < low
        ):  # better than its sign: the best play after it
            refutation = after(position, move.uci, ground)
        else:  # it is worse: what should have been played
            refutation = principal(position, ground.deep(position))
        rewording = _other_concession(nag, weighed, ground)
    wanted, nodes = _wanted(standing, weighed, ground, (low, high), _both(position, move))
    return Found(
        standing=standing,
        figures=figures_of(weighed),
        band=f"concedes {low:.0f} or more" if high == 100.0 else f"concedes {low:.0f} to {high:.0f}",
        refutation=refutation,
        rewording=rewording,
        wanted=wanted,
        nodes=nodes,
        remark="" if weighed else ground.missing,
    )


def _conceded(nag: int, ground: Ground) -> tuple[float, float]:
    thresholds = ground.settings.thresholds
    return {
        2: (thresholds.poor, 100.0),
        4: (thresholds.very_poor, 100.0),
        6: (thresholds.questionable, thresholds.poor),
    }[nag]


def _conceding(position: Position, move: Move, ground: Ground) -> dict[str, Weighed]:
    """By voice, what a move concedes."""
    weighed: dict[str, Weighed] = {}
    for voice, before in ground.deep(position).items():
        values = move_values(position, move, before, ground)
        played = values.get(move.uci)
        if played is not None:
            weighed[voice] = max(values.values(), key=lambda one: one.estimate.value).over(played)
    return weighed


def _other_concession(nag: int, weighed: Mapping[str, Weighed], ground: Ground) -> str:
    """The nearest sign that holds; else the nearest that nothing speaks against, or none."""
    ranked = list(CONCEDING)
    near = sorted(
        (other for other in ranked if other != nag),
        key=lambda other: abs(ranked.index(other) - ranked.index(nag)),
    )
    stands = {other: decision(weighed.values(), *_conceded(other, ground)) for other in near}
    for other in near:
        if stands[other] is Standing.HOLDS:
            return f"{CONCEDING[other]} holds"
    if decision(weighed.values(), -100.0, ground.settings.thresholds.questionable) is Standing.HOLDS:
        return "without a sign it stands: it concedes nothing that counts"
    for other in near:
        if stands[other] is Standing.UNDECIDED:
            return f"{CONCEDING[other]} is not contradicted"
    return ""


def better(position: Position, move: Move, than: Move, ground: Ground) -> Found:
    """That a move is worth more to the mover than another."""
    least = ground.settings.thresholds.better
    weighed: dict[str, Weighed] = {}
    for voice, before in ground.deep(position).items():
        values = move_values(position, move, before, ground) | move_values(position, than, before, ground)
        if move.uci in values and than.uci in values:
            weighed[voice] = values[move.uci].over(values[than.uci])
    standing = decision(weighed.values(), least, 100.0)
    against = standing is Standing.CONTRADICTED
    rewording = ""
    if against:
        turned = [Weighed(Estimate(-one.estimate.value, one.estimate.sigma)) for one in weighed.values()]
        other, this = (Line(position, (one,)).san() for one in (than, move))
        holds = decision(turned, least, 100.0) is Standing.HOLDS
        rewording = f"{other} is better than {this}" if holds else f"{this} is no better than {other}"
    both = f"both moves, {Line(position, (move,)).san()} and {Line(position, (than,)).san()}"
    wanted, nodes = _wanted(standing, weighed, ground, (least, 100.0), both)
    return Found(
        standing=standing,
        figures=figures_of(weighed),
        band=f"better by {least:.0f} or more",
        refutation=after(position, than.uci, ground) if against else "",
        rewording=rewording,
        wanted=wanted,
        nodes=nodes,
        remark="" if weighed else f"{ground.missing} that compares the two",
    )


def only_move(position: Position, move: Move, ground: Ground) -> Found:
    """Methods 10: the second best concedes 18 points and crosses from a held game or a won one."""
    thresholds = ground.settings.thresholds
    band = f"the second best concedes {thresholds.only_move:.0f} or more"
    if len(position.legal_moves()) == 1:
        return Found(standing=Standing.HOLDS, band=band, remark="no other move is legal")
    weighed: dict[str, Weighed] = {}
    standings: set[Standing] = set()
    rival = ""
    for voice, before in ground.deep(position).items():
        values = move_values(position, move, before, ground)
        this = values.pop(move.uci, None)
        if this is None or not values:
            continue
        rival, other = max(values.items(), key=lambda one: one[1].estimate.value)
        weighed[voice] = this.over(other)
        held, left = this.estimate.value, other.estimate.value
        crosses = (held >= thresholds.hold_from and left < thresholds.hold_lost) or (
            held >= thresholds.win_from and left < thresholds.win_lost
        )
        stands = decision([weighed[voice]], thresholds.only_move, 100.0)
        standings.add(Standing.UNDECIDED if stands is Standing.HOLDS and not crosses else stands)
    standing = standings.pop() if len(standings) == 1 else Standing.UNDECIDED
    rewording = ""
    if standing is Standing.CONTRADICTED:
        best = decision(weighed.values(), thresholds.better, 100.0) is Standing.HOLDS
        name = Line(position, (Move(rival),)).san()
        if best:
            rewording = "the best move, not the only one, holds"
        elif all(one.estimate.value < 0 for one in weighed.values()):
            rewording = f"{name} is at least as good: one move of several"
        else:
            rewording = f"one move of several: {name} concedes no more than noise"
    wanted, nodes = _wanted(standing, weighed, ground, (thresholds.only_move, 100.0), _both(position, move))
    return Found(
        standing=standing,
        figures=figures_of(weighed),
        band=band,
        refutation=after(position, rival, ground) if standing is Standing.CONTRADICTED else "",
        rewording=rewording,
        wanted=wanted,
        nodes=nodes,
        remark="" if weighed else f"{ground.missing} that compares it with another move",
    )


def _both(position: Position, move: Move) -> str:
    return f"the positions before and after {Line(position, (move,)).san()}"


def _wanted(
    standing: Standing, weighed: Mapping[str, Weighed], ground: Ground, band: tuple[float, float], what: str
) -> tuple[str, int]:
    """The cheapest evidence that would decide an open claim, in words, and the nodes that each position is asked next.

    Where no effort would, as long as the scores stay, it is the next step (deeper verdicts need not say the same), and 0 nodes
    when the positions were asked as deep as a build asks.
    """
    if standing is not Standing.UNDECIDED:
        return "", 0
    if not weighed:
        return f"a verdict of {ground.first_nodes:,} nodes on {what}", ground.first_nodes

    def stands(deeper: Iterable[Weighed]) -> Standing:
        return decision(deeper, *band)

    nodes = wanted_nodes(weighed, ground, stands)
    if nodes is None:
        edge = "no deeper verdict, as long as the scores stay: they lie at the edge of what is claimed"
        return edge, next(deeper_steps(weighed, ground), 0)
    return f"{nodes:,} nodes on {what}, if the scores stay", nodes
