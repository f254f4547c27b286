from __future__ import annotations

import datetime
import shutil
from pathlib import Path

from invented_evidence import InventedEvidence

from variorum.edition import load_edition
from variorum.publish.page import PageSetting
from variorum.publish.publication import publish

DATA = Path(__file__).parent / "data" / "digest.md"
SETTING = PageSetting(edition="T", made_on=datetime.date(2026, 11, 25))
TOML = 'title = "T"\nside = "white"\n[roots]\nmain = "1.e4"\n'


def test_both_files_are_written_and_written_again(tmp_path: Path) -> None:
    (tmp_path / "edition.toml").write_text(TOML, encoding="utf-8")
    shutil.copy(DATA, tmp_path / "digest.md")
    (tmp_path / "manuscript.pgn").write_text("1. e4 e5 {private: needle} *\n", encoding="utf-8")
    edition, faults = load_edition(tmp_path)
    assert edition is not None and faults == []
    first = publish(edition, InventedEvidence(), SETTING)
    assert [path.relative_to(tmp_path).as_posix() for path in first.written] == [
        "out/digest.html",
        "out/manuscript.pgn",
    ]
    assert [left.what for left in first.left_out] == ["private comment"]
    before = [path.read_bytes() for path in first.written]
    assert not any(b"needle" in data for data in before)
    assert publish(edition, InventedEvidence(), SETTING) == first
    assert [path.read_bytes() for path in first.written] == before


def test_an_edition_without_texts_publishes_nothing(tmp_path: Path) -> None:
    (tmp_path / "edition.toml").write_text(TOML, encoding="utf-8")
    edition, _ = load_edition(tmp_path)
    assert edition is not None
    assert publish(edition, InventedEvidence(), SETTING).written == ()
    assert not (tmp_path / "out").exists()
