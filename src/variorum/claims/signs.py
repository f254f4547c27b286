"""Signs of the manuscript as claims: which there are, and what each says."""

from __future__ import annotations

import enum
import re
from collections.abc import Iterator

import msgspec

from variorum.base import InputError
from variorum.board import NAGS, Line, Position, Sign, sign_named
from variorum.claims.spans import SpanClaim, UnreadableError, claim_with
from variorum.edition import Edition, Manuscript, Node, Place, claims_novelty, question_in, resolve_place

__all__ = [
    "ClaimKind",
    "Question",
    "SignClaim",
    "claims_at",
    "claims_in",
    "line_of",
    "positions_to_ask",
    "questions_in",
]

_CONCEDING = {2: "?", 4: "??", 6: "?!"}
_ONLY_MOVE = (7, 8)
_SCORES = range(10, 22)
_UNCLEAR = 13


class ClaimKind(enum.Enum):
    """What a claim is about."""

    SCORE = "score"
    CONCESSION = "concession"
    ONLY_MOVE = "only move"
    NOVELTY = "novelty"
    WORDS = "words"
    """What a comment claims by words that the author has marked in edition.toml."""
    OTHER = "other"
    """What no evidence decides: `!`, unclear, compensation and the like."""


class SignClaim(msgspec.Struct, frozen=True, kw_only=True):
    """One sign behind a move. `line` leads from the game's start to the position before the move."""

    kind: ClaimKind
    node: Node
    text: str
    sign: Sign | None = None
    """For kind SCORE: the band that is claimed for the position after the move."""
    nag: int = 0
    claim: SpanClaim | None = None
    """For kind WORDS: what is claimed, `None` where that cannot be read; `fault` tells why."""
    fault: str = ""

    @property
    def before(self) -> Position:
        """The position before the move."""
        assert self.node.parent is not None
        return self.node.parent.position

    @property
    def move(self) -> str:
        """The move with its number: `13...Rc8`."""
        assert self.node.move is not None
        return Line(self.before, (self.node.move,)).san()


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """A note of the author to himself, where it stands."""

    game: int
    line: int
    column: int
    text: str


def claims_in(manuscript: Manuscript, edition: Edition) -> Iterator[SignClaim]:
    """The claims of a manuscript in the order of the text."""
    for game in manuscript.games:
        for node in game.nodes:
            yield from claims_at(node, edition)


def claims_at(node: Node, edition: Edition) -> Iterator[SignClaim]:
    """The claims of the signs and comments behind one move."""
    if node.parent is None or node.move is None or node.move.is_null:
        return
    for nag in dict.fromkeys(node.nags):
        if 0 < nag < len(NAGS):
            yield _claim(node, nag)
    if any(claims_novelty(comment.text, edition.settings.words) for comment in node.comments):
        yield SignClaim(kind=ClaimKind.NOVELTY, node=node, text=edition.settings.words.novelty)
    for comment in node.comments:
        yield from _claims_of_words(node, comment.text, edition)


def _claims_of_words(node: Node, text: str, edition: Edition) -> Iterator[SignClaim]:
    """What a comment claims that begins with words of `[words.claims]`."""
    for words, meaning in edition.settings.words.claims.items():
        said = re.match(rf"\s*{re.escape(words)}(?!\w)\s*(?P<rest>[^,;]*?)\.?\s*(?:[,;]|$)", text)
        if said is None:
            continue
        kind, _, says = meaning.partition(" ")
        try:
            other = resolve_place(edition, said["rest"]) if kind == "transposes" and said["rest"] else None
            assert node.move is not None
            line = line_of(node)
            place = Place(text="", position=line.end, line=line)
            claim = claim_with(kind, says, place, node.move, other)
        except (InputError, UnreadableError) as error:
            fault = error.message if isinstance(error, InputError) else str(error)
            yield SignClaim(kind=ClaimKind.WORDS, node=node, text=words, fault=fault)
        else:
            yield SignClaim(kind=ClaimKind.WORDS, node=node, text=words, claim=claim)


def line_of(node: Node) -> Line:
    """The line to a node from the start of its game."""
    moves = []
    at = node
    while at.parent is not None:
        assert at.move is not None
        moves.append(at.move)
        at = at.parent
    return Line(at.position, tuple(reversed(moves)))


def _claim(node: Node, nag: int) -> SignClaim:
    entry = NAGS[nag]
    text = entry.glyph or entry.ascii or f"${nag}"
    if nag in _CONCEDING:
        return SignClaim(kind=ClaimKind.CONCESSION, node=node, text=_CONCEDING[nag], nag=nag)
    if nag in _ONLY_MOVE:
        return SignClaim(kind=ClaimKind.ONLY_MOVE, node=node, text=text, nag=nag)
    if nag in _SCORES and nag != _UNCLEAR:
        # Two codes stand for each side beyond winning (20, 21): by the standard's words they are winning and more.
        sign = sign_named(f"${min(nag, 18 + nag % 2)}")
        return SignClaim(kind=ClaimKind.SCORE, node=node, text=sign.glyph, sign=sign, nag=nag)
    return SignClaim(kind=ClaimKind.OTHER, node=node, text=text, nag=nag)


def questions_in(manuscript: Manuscript, edition: Edition) -> Iterator[Question]:
    """The author's open questions, in the order of the text."""
    for game in manuscript.games:
        for comment in game.comments:
            text = question_in(comment.text, edition.settings.words)
            if text is not None:
                line, column = comment.place
                yield Question(game=game.number, line=line, column=column, text=text)


def positions_to_ask(claims: Iterator[SignClaim] | list[SignClaim]) -> Iterator[Position]:
    """Positions on which verdicts are needed before the claims can be judged; ended games need none."""
    for claim in claims:
        if claim.claim is not None:
            yield from claim.claim.positions
        if claim.kind in (ClaimKind.CONCESSION, ClaimKind.ONLY_MOVE):
            yield claim.before
        asks_after = claim.kind in (ClaimKind.CONCESSION, ClaimKind.ONLY_MOVE, ClaimKind.SCORE)
        if asks_after and claim.node.position.outcome is None:
            yield claim.node.position
