"""Words at the beginning of a comment that mean something: private, a question, a novelty."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from variorum.edition.settings import EditionSettings, PrivateMarks, Words

if TYPE_CHECKING:
    from variorum.edition.manuscript import Node

__all__ = ["claims_novelty", "hides_line", "is_private_comment", "makes_line_private", "question_in"]


def is_private_comment(comment: str, private: PrivateMarks) -> bool:
    """Whether the comment, or more, is marked private.

    >>> is_private_comment("Private: keep for the match", PrivateMarks())
    True
    """
    return _behind_word(comment, (*private.comments, *private.lines)) is not None


def makes_line_private(comment: str, private: PrivateMarks) -> bool:
    """Whether the comment makes its move and all after it private."""
    return _behind_word(comment, private.lines) is not None


def hides_line(node: Node, settings: EditionSettings) -> bool:
    """Whether a move of the manuscript and all after it are private."""
    comments = (*node.opening_comments, *node.comments)
    by_word = any(makes_line_private(comment.text, settings.private) for comment in comments)
    return by_word or not set(node.nags).isdisjoint(settings.private.nags)


def question_in(comment: str, words: Words) -> str | None:
    """The author's question to himself, without its word; `None` if the comment is no question.

    >>> question_in("TODO: is 12...Nb4 playable?", Words())
    'is 12...Nb4 playable?'
    """
    return _behind_word(comment, words.questions)


def claims_novelty(comment: str, words: Words) -> bool:
    """Whether the comment begins with the novelty word, in the case in which it is set.

    >>> claims_novelty("N, better than 11.Bg5", Words()), claims_novelty("Now White", Words())
    (True, False)
    """
    text = comment.lstrip()
    return _stands_alone(text, words.novelty)


def _behind_word(comment: str, words: Iterable[str]) -> str | None:
    """What follows the longest of the words at the comment's start, upper or lower case; `None` without one."""
    text = " ".join(comment.split())
    for word in sorted((" ".join(word.split()) for word in words), key=len, reverse=True):
        if text.casefold().startswith(word.casefold()) and _stands_alone(text, text[: len(word)]):
            return text[len(word) :].lstrip(" :,.-–—")
    return None


def _stands_alone(text: str, word: str) -> bool:
    """Whether `text` starts with `word` and no letter or digit sticks to it."""
    if not text.startswith(word):
        return False
    following = text[len(word) : len(word) + 1]
    return not (word[-1:].isalnum() and following.isalnum())
