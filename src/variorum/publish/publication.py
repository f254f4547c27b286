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
from variorum.publish.changes import RECORD, changes_since, record_of
from variorum.publish.compose import compose_digest
from variorum.publish.html import html_of
from variorum.publish.page import Block, ClaimNote, Page, PageSetting
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
    earlier: Path | None = None,
) -> Publication:
    """Write what can be published of the texts that the edition has; a text that is not there is passed over.

    With `earlier`, a copy of an earlier `out/`, readers are told what changed since.

    Raises:
        InputError: A file cannot be read or written, or `earlier` holds no publication.
    """
    files: dict[str, bytes] = {}
    left_out: list[LeftOut] = []
    diagnostics: list[Diagnostic] = []
    positions: set[str] = set()
    digest_file, manuscript_file = edition.path / DIGEST, edition.path / MANUSCRIPT
    article = book = manuscript = None
    pgn = ""
    if digest_file.exists():
        digest, faults = read_digest(digest_file, setting.words.quotes)
        digest, left = publishable(digest, edition.settings)
        composed = compose_digest(digest, evidence, setting, claims)
        article = composed.page
        left_out += left
        diagnostics += [*faults, *composed.diagnostics]
        positions |= composed.positions
    if manuscript_file.exists():
        manuscript = read_manuscript(manuscript_file)
        export = render_manuscript(manuscript, edition.settings, evidence, setting.sigla, setting.words)
        composed_book = compose_manuscript(manuscript, edition.settings, evidence, setting)
        book, pgn = composed_book.page, export.pgn
        left_out += export.left_out
        diagnostics += [*manuscript.diagnostics, *composed_book.diagnostics]
        positions |= composed_book.positions
    record = record_of(article, setting.made_on)
    changes = () if earlier is None else changes_since(earlier, pgn, manuscript, record, setting)
    if article:
        article = _with(article, changes)
        printed = pdf_of(article)
        diagnostics += _not_shown(printed, digest_file)
        files |= {"digest.html": html_of(article).encode(), "digest.pdf": printed.pdf}
    if book:
        printed = pdf_of(_with(book, changes), columns=2)
        diagnostics += _not_shown(printed, manuscript_file)
        files |= {MANUSCRIPT: pgn.encode(), "manuscript.pdf": printed.pdf}
    if said := render_verdicts(verdicts, positions, edition.settings, setting.words):
        files["verdicts.epd"] = said.encode()
    if files:
        files[RECORD] = msgspec.json.format(msgspec.json.encode(record), indent=2) + b"\n"
    written = tuple(_write(edition, name, data) for name, data in files.items())
    return Publication(written, tuple(left_out), tuple(diagnostics))


def _with(page: Page, changes: tuple[Block, ...]) -> Page:
    """A page that ends with what changed."""
    return msgspec.structs.replace(page, blocks=(*page.blocks, *changes))


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
