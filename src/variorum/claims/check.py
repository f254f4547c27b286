"""Checking: each claim of both texts against what voices, games and the rules say."""

from __future__ import annotations

import msgspec

from variorum.board import Line, Move, Position, Sign
from variorum.claims.by_rules import hinge, novelty, plan, popularity, structure, tempo, transposes
from variorum.claims.by_verdicts import better, concession, only_move, score
from variorum.claims.ground import CheckedClaim, Found, Games, Ground, Practice
from variorum.claims.signs import ClaimKind, SignClaim, line_of, positions_to_ask
from variorum.claims.spans import SpanClaim
from variorum.claims.standing import Standing
from variorum.edition.digest import Span

__all__ = ["CheckedClaim", "Games", "Ground", "Practice", "check_sign", "check_span", "found_for"]


def check_sign(claim: SignClaim, ground: Ground, path: str) -> CheckedClaim:
    """How a sign or marked comment of the manuscript stands; nothing is answered below the edition's minimum effort."""
    assert claim.node.move is not None
    before, move = claim.before, claim.node.move
    match claim.kind:
        case ClaimKind.SCORE:
            assert claim.sign is not None
            found = score(claim.node.position, claim.sign, ground)
        case ClaimKind.CONCESSION:
            found = concession(before, move, claim.nag, ground)
        case ClaimKind.ONLY_MOVE:
            found = only_move(before, move, ground)
        case ClaimKind.NOVELTY:
            found = novelty(before, move, ground)
        case ClaimKind.WORDS if claim.claim is not None:
            found = found_for(claim.claim, ground)
        case ClaimKind.WORDS:
            found = Found(standing=Standing.NOT_CHECKABLE, remark=claim.fault)
        case ClaimKind.OTHER:
            found = Found(standing=Standing.NOT_CHECKABLE)
    line, column = claim.node.place
    after = claim.kind is ClaimKind.SCORE
    begins = (
        claim.claim.place.position if claim.claim is not None else claim.node.position if after else before
    )
    checked = _checked(
        path, line, column, claim.kind.value, claim.move, claim.text, _aged(found, ground), begins
    )
    positions = tuple(positions_to_ask(iter([claim])))
    return msgspec.structs.replace(
        checked,
        epd=claim.node.position.epd,
        place=_typed(line_of(claim.node)),
        nodes=checked.nodes * len(positions),
    )


def check_span(span: Span, claim: SpanClaim | None, ground: Ground, path: str) -> CheckedClaim:
    """How a claim of the digest stands; `claim` is `None` where the span cannot be read (which its diagnostics tell)."""
    kind, at, says = (span.attributes.get(name, "") for name in ("kind", "at", "says"))
    if claim is None:
        found = Found(standing=Standing.NOT_CHECKABLE, remark="it cannot be read: see the message on it")
    else:
        found = _aged(found_for(claim, ground), ground)
    move = (
        "" if claim is None or claim.move is None else f" {Line(claim.place.position, (claim.move,)).san()}"
    )
    said = f"{span.text} ({says})" if says else span.text
    where, begins = span.where, None if claim is None else claim.place.position
    checked = _checked(path, where.line, where.column, kind, f"{at}{move}", said, found, begins)
    if claim is None or begins is None:
        return checked
    return msgspec.structs.replace(
        checked, epd=begins.epd, place=at, nodes=checked.nodes * len(claim.positions)
    )


def _typed(line: Line) -> str:
    """A line as a place is typed; where a move of it is passed, the FEN behind it."""
    if any(move.is_null for move in line.moves):
        return line.end.fen
    return line.san() if line.start == Position.start() else f"{line.start.fen} {line.san()}"


def found_for(claim: SpanClaim, ground: Ground) -> Found:
    """What evidence says to a claim."""
    place, position = claim.place, claim.place.position
    move = claim.move or Move.null()
    match claim.kind, claim.says:
        case "score", Sign() as sign:
            return score(position, sign, ground)
        case "concedes", int(nag):
            return concession(position, move, nag, ground)
        case "tempo", int(number):
            return tempo(place, claim.side, number, claim.other)
        case "popularity", str(says):
            return popularity(position, move, says, ground)
        case "structure", str(says):
            return structure(position, says)
        case "plan", str(says):
            share = ground.settings.thresholds.common if claim.share is None else claim.share
            return plan(place, claim.side, says, share, claim.of, ground)
        case "hinge", str(says):
            return hinge(place, Line(position, (move,)).san(), says, ground)
        case "only-move", _:
            return only_move(position, move, ground)
        case "novelty", _:
            return novelty(position, move, ground)
        case "better", _:
            assert claim.than is not None
            return better(position, move, claim.than, ground)
        case "transposes", _:
            assert claim.other is not None
            return transposes(place, claim.other, ground.names)
    raise AssertionError(f"no query for claims of kind {claim.kind}")


def _aged(found: Found, ground: Ground) -> Found:
    """A decision is stale when a verdict that it rests on is older than the edition allows."""
    decided = found.standing in (Standing.HOLDS, Standing.CONTRADICTED)
    old = [figure.date for figure in found.figures if ground.is_old(figure.date)]
    if not decided or not old:
        return found
    date = f"of {min(old)}" if min(old) else "without a date"
    days = ground.settings.thresholds.stale_days
    remark = f"{found.standing.value} by a verdict {date}; the edition asks for none older than {days} days"
    return msgspec.structs.replace(
        found,
        standing=Standing.STALE,
        remark=remark,
        rewording="",
        wanted="the same verdicts, asked anew",
        nodes=ground.first_nodes,
    )


def _checked(
    path: str,
    line: int,
    column: int,
    kind: str,
    subject: str,
    says: str,
    found: Found,
    begins: Position | None,
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
        against_from=begins.epd if begins is not None and found.refutation else "",
        rewording=found.rewording,
        wanted=found.wanted,
        nodes=found.nodes,
    )
