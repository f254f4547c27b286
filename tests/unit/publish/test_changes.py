"""What readers are told of the changes since an earlier publication."""

from __future__ import annotations

import datetime
import html
import re
import shutil
from pathlib import Path

import pytest
from invented_evidence import InventedEvidence

from variorum.base import InputError
from variorum.claims.standing import Standing
from variorum.edition import Edition, load_edition
from variorum.edition.digest import SpanKind
from variorum.edition.digest_reader import read_digest
from variorum.publish.page import ClaimNote, PageSetting
from variorum.publish.publication import publish

TOML = 'title = "T"\nside = "white"\n[roots]\nmain = "1.e4"\n'
BEFORE = "1. e4 e5 (1... c5 2. Nf3 d6) (1... c6 2. d4) 2. Nf3 $5 Nc6 (2... d6 3. d4 exd4) 3. Bb5 *\n"
AFTER = (
    "1. e4 e5 (1... c5 {private line} 2. Nf3 d6) (1... e6 2. d4 d5) 2. Nf3 $1 Nc6 (2... d6 3. d4 exd4 4. Nxd4) "
    "3. Bb5 *\n"
)
DIGEST = '# A title\n\n[White is better]{.claim kind=score at="iqp-main" says="slight White"}.\n'


def published(
    folder: Path, pgn: str, standing: Standing, day: int, earlier: Path | None = None
) -> tuple[Edition, str]:
    (folder / "edition.toml").write_text(TOML, encoding="utf-8")
    (folder / "manuscript.pgn").write_text(pgn, encoding="utf-8")
    (folder / "digest.md").write_text(DIGEST, encoding="utf-8")
    edition, _ = load_edition(folder)
    assert edition is not None
    digest, _ = read_digest(folder / "digest.md")
    claims = {span.where: ClaimNote(standing) for span in digest.spans() if span.kind is SpanKind.CLAIM}
    setting = PageSetting(edition="T", made_on=datetime.date(2026, 11, day))
    publish(edition, InventedEvidence(), setting, claims, earlier=earlier)
    page = (folder / "out" / "digest.html").read_text(encoding="utf-8").partition("<main")[2]
    return edition, html.unescape(re.sub(r"<[^>]+>", "", page)).replace("\u00a0", " ")


def test_lines_signs_and_claims_that_changed_are_told(tmp_path: Path) -> None:
    published(tmp_path, BEFORE, Standing.HOLDS, 3)
    given = tmp_path / "given"
    shutil.copytree(tmp_path / "out", given)
    _, page = published(tmp_path, AFTER, Standing.CONTRADICTED, 25, given)
    told = page.partition("Changes since 3 November 2026")[2].partition("Apparatus")[0]
    assert "New: 1 e4 e6" in told
    assert "New: 3 d4 exd4 4 ♘xd4" in told
    assert "Taken out: 1 e4 c6" in told
    assert "1 e4 e5 2 ♘f3 is now !, before !?" in told
    assert "“White is better”: contradicted, before: holds" in told
    assert "c5" not in told, "a line that has become private"
    assert told.count("New: ") == 2 and told.count("Taken out: ") == 1
    assert (tmp_path / "out" / "manuscript.pdf").read_bytes().startswith(b"%PDF")


def test_where_nothing_changed_that_is_said(tmp_path: Path) -> None:
    published(tmp_path, BEFORE, Standing.HOLDS, 3)
    given = tmp_path / "given"
    shutil.copytree(tmp_path / "out", given)
    _, page = published(tmp_path, BEFORE, Standing.HOLDS, 25, given)
    assert "Nothing has changed in lines, signs and claims." in page
    _, page = published(tmp_path, BEFORE, Standing.HOLDS, 25)
    assert "Changes since" not in page


def test_a_folder_without_a_publication_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    published(tmp_path, BEFORE, Standing.HOLDS, 3)
    before = (tmp_path / "out" / "digest.html").read_bytes()
    with pytest.raises(InputError, match=r"there is no publication with a readable publication\.json"):
        published(tmp_path, AFTER, Standing.HOLDS, 25, tmp_path / "nowhere")
    assert (tmp_path / "out" / "digest.html").read_bytes() == before
