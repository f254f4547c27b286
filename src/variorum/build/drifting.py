"""`author/drift.html`: what the last build found otherwise than the one before it, for the author alone."""

from __future__ import annotations

from collections.abc import Sequence

from variorum.build.asking import Study
from variorum.build.drift import compare_builds
from variorum.build.drift_words import drift_parts, drift_title
from variorum.claims.check import CheckedClaim
from variorum.edition.build_log import read_build_log, state_at
from variorum.publish.author_page import AuthorPart, write_author_page
from variorum.store import Store

__all__ = ["DRIFT_PAGE", "write_drift_page"]

DRIFT_PAGE = "drift.html"
_LISTED = 40
"""Entries under a heading of the page."""


def write_drift_page(study: Study, store: Store, claims: Sequence[CheckedClaim]) -> str:
    """Write the page anew; gives its path in the edition, empty where there is no earlier build.

    Raises:
        InputError: A file cannot be read or written.
    """
    changes, _ = read_build_log(study.edition.path)
    if len(changes) < 2:
        return ""
    before, now = (state_at(changes, change.build) for change in changes[-2:])
    report = compare_builds(study, store, claims, before, now)
    parts = [AuthorPart(part.heading, part.entries, part.more) for part in drift_parts(report, _LISTED)]
    title = drift_title(report)
    path = write_author_page(
        study.edition, DRIFT_PAGE, "What changed", f"{title[0].upper()}{title[1:]}.", parts
    )
    return path.relative_to(study.edition.path).as_posix()
