"""On a copy of the demonstration: one changed verdict and one new source turn claims over, and drift says so first."""

from __future__ import annotations

import shutil
from pathlib import Path

from tests.invented_verdicts import said
from variorum.base import Silent
from variorum.base.settings import UserSettings
from variorum.build.building import BuildLimits, build_edition
from variorum.build.drift import drift
from variorum.build.drift_report import Matter
from variorum.edition import load_edition
from variorum.voices.verdict_files import append_verdicts

DEMO = Path(__file__).parents[3] / "demo" / "edition"
IQP = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"
NOVELTY = '[never seen]{.claim kind=novelty at="iqp" move="10...h5"}'
GAME = f"""[Event "Invented"]
[White "Wend, A."]
[Black "Moor, B."]
[Date "2026.10.01"]
[Result "0-1"]

{IQP} h5 11. a3 0-1
"""


def test_a_verdict_and_a_source_turn_claims_over(tmp_path: Path) -> None:
    folder = tmp_path / "iqp"
    shutil.copytree(DEMO, folder)
    (folder / "manuscript.pgn").unlink()  # its signs are another matter, and take time
    (folder / "sources" / "resident-games.pgn").unlink()
    digest = folder / "digest.md"
    digest.write_text(f"{digest.read_text(encoding='utf-8')}\nThe push is {NOVELTY}.\n", encoding="utf-8")
    owl = folder / "verdicts" / "owl.epd"
    append_verdicts(owl, [said("owl", IQP, ("10...Nf6", 620), ("10...b6", 640))])
    edition, _ = load_edition(folder)
    assert edition is not None

    def build() -> None:
        build_edition(edition, UserSettings(), BuildLimits(), Silent(), workers=1, voices={})

    build()
    append_verdicts(owl, [said("owl", IQP, ("10...b6", 20), ("10...Nf6", 90), nodes=4_194_304)])
    (folder / "sources" / "new.pgn").write_text(GAME)
    build()
    report, _ = drift(edition, UserSettings(), None, Silent())
    assert [(one.matter, one.says.split(" (")[0], one.before, one.now) for one in report.claims] == [
        (Matter.CONTRADICTED, "White is already winning", "holds", "contradicted"),
        (Matter.CONTRADICTED, "never seen", "holds", "contradicted"),
    ]
    assert report.claims[0].against == "10...b6"
    (moved,) = report.verdicts
    assert (moved.place, moved.old_move, moved.new_move) == ("iqp", "10...Nf6", "10...b6")
    assert [(one.move, one.first_ever) for one in report.news.moves] == [("10...h5", True)]
