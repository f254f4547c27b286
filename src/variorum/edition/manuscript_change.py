"""Carrying out a change of the manuscript: shown or written, so that it can be undone, with what it contradicts.

    manuscript = open_manuscript(edition)
    node = node_at(manuscript, resolve_place(edition, "panov 4...Nf6"))
    keep_change(edition, manuscript, promote(node), what="promote 4...Nf6")

Every command of the group `manuscript` is these three steps.
"""

from __future__ import annotations

import enum
from functools import partial

import msgspec

from variorum.base import InputError, UsageError
from variorum.edition.edition import Edition, resolve_place
from variorum.edition.files import ChangedOutsideError, content_hash, read_file
from variorum.edition.folder import MANUSCRIPT
from variorum.edition.history import History
from variorum.edition.manuscript import Manuscript, read_manuscript
from variorum.edition.manuscript_tidy import Finding, tidy
from variorum.edition.plain_text import decode_text
from variorum.edition.text_diff import diff_text

__all__ = [
    "ManuscriptChange",
    "Writing",
    "keep_change",
    "open_manuscript",
    "redo_changes",
    "tidy_manuscript",
    "undo_changes",
]


class Writing(enum.Enum):
    """Whether a change is made or only shown."""

    WRITE = "write"
    SHOW = "show"


class ManuscriptChange(msgspec.Struct, frozen=True, kw_only=True):
    """A change: what was done, whether the text differs by it, whether it was written, and the lines that differ.

    `findings` are contradictions of the manuscript with itself that it did not have before.
    """

    path: str
    what: str
    changed: bool
    written: bool
    diff: str
    notes: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def open_manuscript(edition: Edition) -> Manuscript:
    """The manuscript of an edition; an empty one where the file is not there yet.

    Raises:
        InputError: It cannot be read, or it lies outside of the edition.
    """
    path = edition.place_to_write(MANUSCRIPT)
    return read_manuscript(path) if path.exists() else read_manuscript(b"", path=path)


def tidy_manuscript(edition: Edition, manuscript: Manuscript) -> tuple[Finding, ...]:
    """`tidy` by the edition's words and names."""
    return tidy(manuscript, see=edition.settings.words.see, resolve=partial(resolve_place, edition))


def keep_change(
    edition: Edition,
    manuscript: Manuscript,
    data: bytes,
    *,
    what: str,
    writing: Writing = Writing.WRITE,
    notes: tuple[str, ...] = (),
) -> ManuscriptChange:
    """Write a changed text, so that it can be undone, or only show what it would change.

    Args:
        edition: The edition.
        manuscript: As it was read; the file must still be that.
        data: The whole new text.
        what: What is done, in words.
        writing: Whether to write.
        notes: What else to say of it.

    Raises:
        ChangedOutsideError: The file is not what it was when it was read; nothing was written.
        InputError: It cannot be written; nothing was changed.
    """
    path = manuscript.path
    changed = data != manuscript.data
    if writing is Writing.WRITE and changed:
        if not path.exists() and not manuscript.data:
            path.touch()
        History(path).save(data, expected_hash=manuscript.content_hash, what=what)
    findings: tuple[Finding, ...] = ()
    if changed:
        known = {_said(one) for one in tidy_manuscript(edition, manuscript)}
        now = tidy_manuscript(edition, read_manuscript(data, path=path))
        findings = tuple(one for one in now if _said(one) not in known)
    return ManuscriptChange(
        path=MANUSCRIPT,
        what=what,
        changed=changed,
        written=changed and writing is Writing.WRITE,
        diff=diff_text(decode_text(manuscript.data), decode_text(data), MANUSCRIPT),
        notes=notes,
        findings=findings,
    )


def _said(finding: Finding) -> tuple[str, str, tuple[str, ...]]:
    return finding.kind, finding.message, tuple(place.order + place.says for place in finding.places)


def undo_changes(edition: Edition, steps: int = 1, writing: Writing = Writing.WRITE) -> ManuscriptChange:
    """Take back the last changes.

    Raises:
        ChangedOutsideError: The file is not what the last change left; nothing was undone.
        InputError: There are not so many changes.
    """
    return _go(edition, steps, writing, "undo")


def redo_changes(edition: Edition, steps: int = 1, writing: Writing = Writing.WRITE) -> ManuscriptChange:
    """Make the changes again that were undone last.

    Raises:
        ChangedOutsideError, InputError: As `undo_changes`.
    """
    return _go(edition, steps, writing, "redo")


def _go(edition: Edition, steps: int, writing: Writing, kind: str) -> ManuscriptChange:
    if steps < 1:
        raise UsageError("there is no such number of steps", remedy="say 1 or more")
    path = edition.place_to_write(MANUSCRIPT)
    before = read_file(path)
    history = History(path)
    listed = history.done if kind == "undo" else history.undone
    if history.changed_outside:
        raise ChangedOutsideError(
            path,
            expected_hash=history.expected_hash,
            found_hash=content_hash(before),
            remedy=f"to {kind} would lose what was written since: change it by hand or with another command",
        )
    if len(listed) < steps:
        count = len(listed)
        can = "nothing" if not count else f"only {count} step{'' if count == 1 else 's'}"
        raise InputError(
            f"there is {can} to {kind}",
            remedy="steps are kept for changes made by commands, until the file is changed outside",
            path=path,
        )
    taken = listed[: -steps - 1 : -1]
    after = before
    for step in taken:
        after = history.applied(step, after, "undo" if kind == "undo" else "redo")
    if writing is Writing.WRITE:
        for _ in taken:
            history.undo() if kind == "undo" else history.redo()
    return ManuscriptChange(
        path=MANUSCRIPT,
        what=f"{'undone' if kind == 'undo' else 'made again'}: " + "; ".join(step.what for step in taken),
        changed=before != after,
        written=writing is Writing.WRITE,
        diff=diff_text(decode_text(before), decode_text(after), MANUSCRIPT),
    )
