"""Scores in the comments of engine games, as verdicts of the player who wrote them."""

from __future__ import annotations

from collections.abc import Iterator

from variorum import _core
from variorum.base import VariorumError
from variorum.board import Score, Side, Verdict, VerdictLine
from variorum.edition import Game, Node, ScorePattern, read_manuscript
from variorum.edition.settings import SourceRule

__all__ = ["note_scores"]


def note_scores(batch: _core.ScanBatch, rule: SourceRule, source: str) -> Iterator[Verdict]:
    """The verdicts that comments of a batch tell.

    A comment behind a move tells what its player thought when he chose it: it is his verdict on the position before
    the move, and the move its first one. Where the name of one player only is the voice's, the other's comments are
    not the voice's. Nodes are not told by such comments, so the effort is depth and time.
    """
    pattern = ScorePattern.compile(rule.score_comment)
    offsets, text = batch.text
    for row, number in enumerate(batch.game_number.tolist()):
        data = text[offsets[row] : offsets[row + 1]].tobytes()
        try:
            games = read_manuscript(data).games
        except VariorumError:
            continue  # the scan has kept the game up to its fault; its comments are no text
        if games:
            yield from _of_game(games[0], pattern, rule, f"{source}, game {number}")


def _of_game(game: Game, pattern: ScorePattern, rule: SourceRule, origin: str) -> Iterator[Verdict]:
    sides = _sides(game, rule.voice)
    date = game.tags.get("Date", "").replace(".", "-")
    for node in game.main_line:
        before = node.parent
        if before is None or node.move is None or node.move.is_null or before.position.turn not in sides:
            continue
        note = next(filter(None, (pattern.read(comment.text) for comment in node.comments)), None)
        if note is not None:
            side = before.position.turn if rule.score_view == "mover" else Side.WHITE
            yield Verdict(
                key=before.key,
                epd=before.position.epd,
                voice=rule.voice,
                version="",
                lines=(_line(node, note.score.seen_from(side)),),
                depth=note.depth or 0,
                elapsed_ms=round((note.seconds or 0) * 1000),
                date=date if date.replace("-", "").isdigit() and len(date) == 10 else "",
                origin=origin,
            )


def _line(node: Node, score: Score) -> VerdictLine:
    assert node.move is not None
    return VerdictLine((node.move.uci,), score)


def _sides(game: Game, voice: str) -> frozenset[Side]:
    """For which side the voice plays; both where no player, or each, has its name."""
    named = {
        side
        for side, tag in ((Side.WHITE, "White"), (Side.BLACK, "Black"))
        if voice.casefold() in game.tags.get(tag, "").casefold()
    }
    return frozenset(named or Side)
