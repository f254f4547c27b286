"""Publishing an edition: its texts as pages and books, the manuscript as PGN, verdicts as EPD, and what was left out of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

import msgspec

from variorum.base import Diagnostic, Severity
from variorum.board import Verdict
from variorum.edition import Edition, atomic_write, hash_on_disk
from variorum.edition.digest import Where
from variorum.edition.digest_reader import read_digest
from variorum.edition.folder import DIGEST, MANUSCRIPT, OUT
from variorum.edition.manuscript import read_manuscript
from variorum.publish.apparatus import PageEvidence
from variorum.publish.book import compose_manuscript
from variorum.publish.compose import compose_digest
from variorum.publish.html import html_of
from variorum.publish.page import ClaimNote, PageSetting
from variorum.publish.pgn import render_manuscript
from variorum.publish.private import LeftOut, publishable
from variorum.publish.typeset import Printed, pdf_of
from variorum.publish.verdicts import render_verdicts

__all__ = ["Publication", "publish"]


class Publication(msgspec.Struct, frozen=True):
    """Files that were written, what was kept out of them, and what is wrong with the texts."""

    written: tuple[Path, ...]
    left_out: tuple[LeftOut, ...]
    diagnostics: tuple[Diagnostic, ...]


def publish(
    edition: Edition,
    evidence: PageEvidence,
    setting: PageSetting,
    claims: Mapping[Where, ClaimNote] | None = None,
    verdicts: Iterable[Verdict] = (),
) -> Publication:
    """Write what can be published of the texts that the edition has; a text that is not there is passed over.

    Raises:
        InputError: A file cannot be read or written.
    """
    written: list[Path] = []
    left_out: list[LeftOut] = []
    diagnostics: list[Diagnostic] = []
    positions: set[str] = set()
    digest_file = edition.path / DIGEST
    if digest_file.exists():
        digest, faults = read_digest(digest_file, setting.words.quotes)
        digest, left = publishable(digest, edition.settings)
        composed = compose_digest(digest, evidence, setting, claims)
        written.append(_write(edition, "digest.html", html_of(composed.page).encode()))
        printed = pdf_of(composed.page)
        written.append(_write(edition, "digest.pdf", printed.pdf))
        left_out += left
        diagnostics += [*faults, *composed.diagnostics, *_not_shown(printed, digest_file)]
        positions |= composed.positions
    manuscript_file = edition.path / MANUSCRIPT
    if manuscript_file.exists():
        manuscript = read_manuscript(manuscript_file)
        export = render_manuscript(manuscript, edition.settings, evidence, setting.sigla, setting.words)
        written.append(_write(edition, MANUSCRIPT, export.pgn.encode()))
        book = compose_manuscript(manuscript, edition.settings, evidence, setting)
        printed = pdf_of(book.page, columns=2)
        written.append(_write(edition, "manuscript.pdf", printed.pdf))
        left_out += export.left_out
        diagnostics += [*manuscript.diagnostics, *_not_shown(printed, manuscript_file)]
        positions |= book.positions
    if said := render_verdicts(verdicts, positions, edition.settings, setting.words):
        written.append(_write(edition, "verdicts.epd", said.encode()))
    return Publication(tuple(written), tuple(left_out), tuple(diagnostics))


def _not_shown(printed: Printed, path: Path) -> list[Diagnostic]:
    """What is told where no font has a letter of a text."""
    if not printed.not_shown:
        return []
    return [
        Diagnostic(
            code="print-letters",
            severity=Severity.WARNING,
            path=path,
            message=f"the PDF cannot show '{printed.not_shown}': its fonts have no such letter",
            hint="the other outputs have it",
        )
    ]


def _write(edition: Edition, name: str, data: bytes) -> Path:
    path = edition.place_to_write(OUT, name)
    path.parent.mkdir(exist_ok=True)
    atomic_write(path, data, expected_hash=hash_on_disk(path))
    return path
