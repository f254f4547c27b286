"""Claims that cannot both hold, whatever the evidence says."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import combinations

import msgspec

from variorum.board import Position
from variorum.claims.by_verdicts import CONCEDING
from variorum.claims.signs import ClaimKind, SignClaim
from variorum.claims.spans import SpanClaim
from variorum.edition import Place

__all__ = ["Conflict", "Statement", "conflicts", "statement_of_sign"]


class Statement(msgspec.Struct, frozen=True):
    """A claim with where it stands (file, line, column) and its words."""

    claim: SpanClaim
    path: str
    line: int
    column: int
    words: str


class Conflict(msgspec.Struct, frozen=True, kw_only=True):
    """Two claims against each other, and why not both can hold; `first` and `second` are places (`file:line:column`) with words."""

    first: str
    second: str
    why: str


def statement_of_sign(sign: SignClaim, path: str) -> Statement | None:
    """What a sign or a marked comment of the manuscript claims, `None` for what no evidence decides."""
    position, move = sign.before, sign.node.move
    before, after = (Place(text="", position=one, line=None) for one in (position, sign.node.position))
    match sign.kind:
        case ClaimKind.SCORE if sign.sign is not None:
            claim = SpanClaim(kind="score", place=after, says=sign.sign)
        case ClaimKind.CONCESSION:
            claim = SpanClaim(kind="concedes", place=before, says=sign.nag, move=move)
        case ClaimKind.ONLY_MOVE:
            claim = SpanClaim(kind="only-move", place=before, move=move)
        case ClaimKind.NOVELTY:
            claim = SpanClaim(kind="novelty", place=before, move=move)
        case ClaimKind.WORDS if sign.claim is not None:
            claim = sign.claim
        case _:
            return None
    line, column = sign.node.place
    return Statement(claim, path, line, column, f"{sign.move} {sign.text}")


def conflicts(statements: Iterable[Statement]) -> list[Conflict]:
    """Pairs of claims on one position that cannot both hold, in the order of the texts; a claim against several is told with the first."""
    by_position: dict[Position, list[Statement]] = defaultdict(list)
    for statement in statements:
        by_position[statement.claim.place.position].append(statement)
    return list(_found(by_position.values()))


def _found(groups: Iterable[list[Statement]]) -> Iterator[Conflict]:
    for group in groups:
        told: set[int] = set()
        for (_, one), (number, other) in combinations(enumerate(group), 2):
            why = _why(one.claim, other.claim) or _why(other.claim, one.claim)
            if why and number not in told:
                told.add(number)
                yield Conflict(first=_said(one), second=_said(other), why=why)


def _said(statement: Statement) -> str:
    return f"{statement.path}:{statement.line}:{statement.column}: {statement.words}"


def _why(one: SpanClaim, other: SpanClaim) -> str:
    """Why two claims on one position cannot both hold, empty where they can."""
    same_move = one.move == other.move
    match one.kind, other.kind:
        case "score", "score" if one.says != other.says:
            return "one position has two scores"
        case "concedes", "concedes" if same_move and "?!" in _signs(one, other) and one.says != other.says:
            return "one move concedes two amounts"
        case "only-move", "only-move" if not same_move:
            return "two moves are each the only one"
        case "only-move", "concedes" if same_move and other.says != 6:
            return "the only move concedes nothing"
        case "better", "better" if one.move == other.than and one.than == other.move:
            return "each of two moves is better than the other"
        case "better", "only-move" if one.than == other.move:
            return "no move is better than the only one"
        case "novelty", "popularity" if same_move and other.says != "rare":
            return "a new move is not played often"
        case "popularity", "popularity" if (
            same_move and "rare" in (one.says, other.says) and one.says != other.says
        ):
            return "one move is rare and played often"
        case "popularity", "popularity" if not same_move and one.says == other.says == "most played":
            return "two moves are each the most played"
    return ""


def _signs(*claims: SpanClaim) -> tuple[str, ...]:
    return tuple(CONCEDING.get(claim.says, "") for claim in claims if isinstance(claim.says, int))
