from __future__ import annotations

import datetime
import shutil
from pathlib import Path

from invented_evidence import InventedEvidence

from variorum.board import Line, Score, Verdict, VerdictLine
from variorum.edition import load_edition
from variorum.publish.page import PageSetting
from variorum.publish.publication import publish
from variorum.voices.verdict_files import read_verdicts

DATA = Path(__file__).parent / "data" / "digest.md"
SETTING = PageSetting(edition="T", made_on=datetime.date(2026, 11, 25))
TOML = 'title = "T"\nside = "white"\n[roots]\nmain = "1.e4"\n'


def test_all_files_are_written_and_written_again(tmp_path: Path) -> None:
    (tmp_path / "edition.toml").write_text(TOML, encoding="utf-8")
    shutil.copy(DATA, tmp_path / "digest.md")
    (tmp_path / "manuscript.pgn").write_text("1. e4 e5 {private: needle} *\n", encoding="utf-8")
    edition, faults = load_edition(tmp_path)
    assert edition is not None and faults == []
    first = publish(edition, InventedEvidence(), SETTING)
    assert [path.relative_to(tmp_path).as_posix() for path in first.written] == [
        "out/digest.html",
        "out/digest.pdf",
        "out/manuscript.pgn",
        "out/manuscript.pdf",
        "out/publication.json",
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


def test_verdicts_are_published_for_positions_that_the_texts_show_only(tmp_path: Path) -> None:
    (tmp_path / "edition.toml").write_text(TOML, encoding="utf-8")
    (tmp_path / "manuscript.pgn").write_text(
        "1. e4 e5 (1... c5 {private line} 2. Nf3) (1... c6) 2. Nf3 *\n", encoding="utf-8"
    )
    edition, _ = load_edition(tmp_path)
    assert edition is not None
    said = [
        verdict(line, origin="needle.epd", options=("Hash=16", "Folder=/home/needle"))
        for line in ("1.e4 e5", "1.e4 c5", "1.e4 c5 2.Nf3", "1.e4 c6", "1.d4")
    ]
    publication = publish(edition, InventedEvidence(), SETTING, verdicts=said)
    file = tmp_path / "out" / "verdicts.epd"
    assert file in publication.written
    assert b"needle" not in file.read_bytes()
    read = read_verdicts(file)
    assert read.diagnostics == []
    assert [one.epd for one in read.verdicts] == [said[0].epd, said[3].epd]
    assert read.verdicts[0].options == ("Hash=16",)


def verdict(line: str, **more: object) -> Verdict:
    position = Line.parse(line).end
    move = position.legal_moves()[0].uci
    return Verdict(
        key=position.key,
        epd=position.epd,
        voice="invented",
        version="1",
        lines=(VerdictLine(moves=(move,), score=Score.of_cp(20)),),
        nodes=1000,
        **more,  # type: ignore[arg-type]
    )
