"""The author's files: their formats, read with diagnostics and written without loss."""

from variorum.edition.comment_words import (
    claims_novelty,
    hides_line,
    is_private_comment,
    makes_line_private,
    question_in,
)
from variorum.edition.edit import change_setting, name_place
from variorum.edition.edition import Edition, load_edition, read_edition, resolve_place
from variorum.edition.files import ChangedOutsideError, atomic_write, content_hash, hash_on_disk, read_file
from variorum.edition.folder import find_edition
from variorum.edition.history import History
from variorum.edition.manuscript import (
    Comment,
    Game,
    Manuscript,
    Node,
    SignMark,
    Variation,
    read_manuscript,
)
from variorum.edition.manuscript_edits import (
    Edit,
    add_comment,
    add_line,
    apply_edits,
    remove_comment,
    set_comment,
    set_nags,
)
from variorum.edition.new import new_edition
from variorum.edition.place import Place
from variorum.edition.report import EditionReport, PlaceEntry, describe_edition, describe_place
from variorum.edition.score_comments import ScoreNote, ScorePattern
from variorum.edition.settings import (
    Budget,
    EditionSettings,
    EditionSide,
    Kind,
    Pace,
    PrivateMarks,
    SourceRule,
    Thresholds,
    Words,
)

__all__ = [
    "Budget",
    "ChangedOutsideError",
    "Comment",
    "Edit",
    "Edition",
    "EditionReport",
    "EditionSettings",
    "EditionSide",
    "Game",
    "History",
    "Kind",
    "Manuscript",
    "Node",
    "Pace",
    "Place",
    "PlaceEntry",
    "PrivateMarks",
    "ScoreNote",
    "ScorePattern",
    "SignMark",
    "SourceRule",
    "Thresholds",
    "Variation",
    "Words",
    "add_comment",
    "add_line",
    "apply_edits",
    "atomic_write",
    "change_setting",
    "claims_novelty",
    "content_hash",
    "describe_edition",
    "describe_place",
    "find_edition",
    "hash_on_disk",
    "hides_line",
    "is_private_comment",
    "load_edition",
    "makes_line_private",
    "name_place",
    "new_edition",
    "question_in",
    "read_edition",
    "read_file",
    "read_manuscript",
    "remove_comment",
    "resolve_place",
    "set_comment",
    "set_nags",
]
