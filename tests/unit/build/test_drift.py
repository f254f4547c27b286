"""Drift: one changed verdict, or one changed source, turns a claim over, and that stands at the top of what is told."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.invented_build import GAMES, ROOT, make_edition
from tests.invented_verdicts import said
from variorum.base import InputError, Silent, UsageError
from variorum.base.settings import UserSettings
from variorum.board import Score
from variorum.build.building import BuildLimits, build_edition
from variorum.build.drift import drift
from variorum.build.drift_report import DriftReport, Matter
from variorum.edition import load_edition
from variorum.sources import SiftOptions, sift
from variorum.store import Mode, open_store
from variorum.voices.verdict_files import append_verdicts

MAIN = f"{ROOT} Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5"
PIN = f"{ROOT} Nf6 5.Nc3 Nc6 6.Bg5"
DEEP = 1_048_576


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two claims are judged: `winning` in the digest at MAIN, `+−` in the manuscript at PIN; by a voice that is asked no more."""
    folder = make_edition(tmp_path / "panov")
    verdict(folder, MAIN, ("8.Bd3", 900), ("8.Bc4", 880))
    verdict(folder, PIN, ("6...e6", 20), ("6...Bg4", 40))
    build(folder)
    return folder


def verdict(folder: Path, at: str, *scored: tuple[str, int], nodes: int = 262_144) -> None:
    append_verdicts(folder / "verdicts" / "owl.epd", [said("owl", at, *scored, nodes=nodes)])


def build(folder: Path) -> None:
    edition, _ = load_edition(folder)
    assert edition is not None
    build_edition(edition, UserSettings(), BuildLimits(), Silent(), workers=1, voices={})


def compared(folder: Path, since: str | None = None) -> DriftReport:
    edition, _ = load_edition(folder)
    assert edition is not None
    report, faults = drift(edition, UserSettings(), since, Silent())
    assert not faults
    return report


def test_one_changed_verdict_turns_claims_over(folder: Path) -> None:
    verdict(folder, MAIN, ("8.Bc4", 0), ("8.Bd3", -90), nodes=DEEP)
    verdict(folder, PIN, ("6...e6", 900), ("6...Bg4", 910), nodes=DEEP)
    build(folder)
    report = compared(folder)
    assert (report.before, report.now) == (1, 2)
    first, second = report.claims
    assert (first.matter, first.before, first.now) == (Matter.CONTRADICTED, "holds", "contradicted")
    assert (first.path, first.line) == ("digest.md", 3)
    assert first.against == "8.Bc4"
    assert first.old.startswith("owl 100.0") and first.new.startswith("owl 50.0")
    assert (second.matter, second.before, second.now) == (Matter.SETTLED, "contradicted", "holds")
    assert second.path == "manuscript.pgn"
    by_place = {one.place: one for one in report.verdicts}
    moved = by_place["main"]
    assert (moved.old_move, moved.new_move, moved.moved) == ("8.Bd3", "8.Bc4", True)
    assert (moved.old_nodes, moved.new_nodes) == (262_144, DEEP)
    assert moved.gap == pytest.approx(50.0 - Score.of_cp(-90).expected(), abs=0.05)
    assert not moved.gap_is_least
    assert moved.decides == ("main",)
    assert any("winning White" in claim for claim in moved.claims)
    assert report.verdicts[0].place == "main", "it decides a tabiya"
    (value,) = [one for one in report.places if one.place == "main"]
    assert (value.old, value.new) == (moved.old, moved.new)


def test_what_moved_within_the_noise_is_no_drift(folder: Path) -> None:
    verdict(folder, MAIN, ("8.Bd3", 880), ("8.Bc4", 860), nodes=DEEP)
    build(folder)
    report = compared(folder)
    assert (report.claims, report.places, report.verdicts) == ((), (), ())


def test_an_old_best_move_off_the_lines_is_at_least_so_much_worse(folder: Path) -> None:
    verdict(folder, MAIN, ("8.Bc4", 900), ("8.a3", 500), nodes=DEEP)
    build(folder)
    (one,) = compared(folder).verdicts
    assert (one.old_move, one.new_move, one.moved, one.gap_is_least) == ("8.Bd3", "8.Bc4", False, True)
    assert one.gap == pytest.approx(Score.of_cp(900).expected() - Score.of_cp(500).expected(), abs=0.1)


GAME = """[Event "Invented"]
[White "Cedar, C."]
[Black "Dogwood, D."]
[Date "2021.09.0{day}"]
[Result "{result}"]

{moves} {result}

"""


def new_games(*games: tuple[str, str]) -> str:
    return "".join(
        GAME.format(day=day, moves=f"{ROOT} {moves}", result=result)
        for day, (moves, result) in enumerate(games, 1)
    )


NEWS = new_games(
    ("Nf6 5. Nc3 e6 6. Nf3 Nc6 7. Bg5", "1-0"),  # played before
    ("Nf6 5. Nc3 g6 6. cxd5", "0-1"),  # never
    ("Nf6 5. Nc3 g6 6. Qb3", "1/2-1/2"),
    (
        "e6 5. Nc3 Nf6 6. Nf3 Be7 7. cxd5 Nxd5 8. Bd3 Nc6 9. O-O",
        "1-0",
    ),  # another order, back in the manuscript
)


def test_news_are_told_by_their_departure(folder: Path) -> None:
    (folder / "sources" / "games.pgn").write_text(NEWS + GAMES)
    build(folder)
    news = compared(folder).news
    assert (news.games, news.stayed) == (4, 1)
    assert [(one.source, one.games) for one in news.sources] == [("sources/games.pgn", 4)]
    first, second = news.moves
    assert (first.move, first.first_ever, first.count) == ("5...g6", True, 2)
    assert (first.won, first.drawn, first.lost, first.by) == (0, 1, 1, "black")
    assert first.examples[0] == "Cedar, C. – Dogwood, D., 2021-09-03, 1/2-1/2"
    assert (second.move, second.first_ever, second.place) == ("6...Nc6", False, f"{ROOT} Nf6 5.Nc3 e6 6.Nf3")
    assert 0 < second.flow <= first.flow <= 100


def test_a_changed_source_turns_a_novelty_over(folder: Path) -> None:
    text = (folder / "manuscript.pgn").read_text()
    (folder / "manuscript.pgn").write_text(text.replace("8. Bd3 $10", "8. Bc4 {N}"))
    build(folder)
    (folder / "sources" / "more.pgn").write_text(
        new_games(("Nf6 5. Nc3 e6 6. Nf3 Be7 7. cxd5 Nxd5 8. Bc4 Nb6", "1-0"))
    )
    build(folder)
    report = compared(folder)
    (claim,) = report.claims
    assert (claim.matter, claim.before, claim.now) == (Matter.CONTRADICTED, "holds", "contradicted")
    assert claim.subject == "8.Bc4"
    assert [one.move for one in report.news.moves] == ["8...Nb6"]


def test_a_text_that_moved_is_the_same_text_and_a_new_falsehood_is_told(folder: Path) -> None:
    digest = (folder / "digest.md").read_text()
    (folder / "digest.md").write_text(
        digest.replace("# The Panov\n", "# The Panov\n\nA new paragraph.\n")
        + '\n[Black is winning]{.claim kind=score at="main" says="winning Black"}.\n'
    )
    build(folder)
    report = compared(folder)
    (claim,) = report.claims
    assert (claim.matter, claim.before, claim.says) == (
        Matter.CONTRADICTED,
        "",
        "Black is winning (winning Black)",
    )


def test_deleting_the_store_loses_time_only(folder: Path) -> None:
    (folder / "sources" / "more.pgn").write_text(new_games(("Nf6 5. Nc3 g6", "1-0")))
    build(folder)
    before = compared(folder, "1")
    shutil.rmtree(folder / ".variorum")
    build(folder)
    after = compared(folder, "1")
    assert after.news == before.news
    assert after.news.games == 1


def test_a_source_that_is_gone_is_told(folder: Path) -> None:
    (folder / "sources" / "games.pgn").unlink()
    build(folder)
    assert compared(folder).news.gone == ("sources/games.pgn",)


def test_a_build_that_finds_nothing_new_writes_no_line(folder: Path) -> None:
    log = folder / ".history" / "builds.jsonl"
    before = log.read_bytes()
    build(folder)
    (folder / "out" / "digest.html").unlink()
    build(folder)
    assert log.read_bytes() == before


def test_the_authors_page_is_for_him_alone(folder: Path) -> None:
    assert not (folder / "author").exists(), "a first build has nothing to compare"
    verdict(folder, MAIN, ("8.Bc4", 0), ("8.Bd3", -90), nodes=DEEP)
    build(folder)
    page = (folder / "author" / "drift.html").read_text(encoding="utf-8")
    assert "Contradicted now" in page and "not for publication" in page
    assert "<script" not in page and "://" not in page
    assert {path.name for path in (folder / "out").iterdir()} == {
        "digest.html",
        "digest.pdf",
        "manuscript.pgn",
        "manuscript.pdf",
        "publication.json",
        "verdicts.epd",
    }
    (folder / "author" / "drift.html").unlink()
    build(folder)
    assert (folder / "author" / "drift.html").exists()


@pytest.mark.parametrize(
    ("since", "before"), [(None, 2), ("1", 1), ("2", 2), ("2020-01-01", 1), ("2999-01-01", 3)]
)
def test_what_is_compared_with(folder: Path, since: str | None, before: int) -> None:
    for cp in (0, -900):
        verdict(folder, MAIN, ("8.Bc4", cp), nodes=DEEP + abs(cp))
        build(folder)
    report = compared(folder, since)
    assert (report.before, report.now) == (before, 3)


def test_what_cannot_be_compared_is_said(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="neither the number of a build nor a date"):
        compared(folder, "yesterday")
    with pytest.raises(InputError, match="build 9 is not kept"):
        compared(folder, "9")
    with pytest.raises(InputError, match="no build has kept"):
        compared(make_edition(tmp_path / "unbuilt"))


def test_files_that_changed_since_are_named(folder: Path) -> None:
    (folder / "digest.md").write_text("# Another\n")
    verdict(folder, PIN, ("6...e6", 25), nodes=DEEP)
    assert compared(folder).changed_since == ("digest.md", "verdicts/owl.epd")


def test_games_that_came_since_are_named_by_their_file(folder: Path) -> None:
    (folder / "sources" / "later.pgn").write_text(GAMES)
    edition, _ = load_edition(folder)
    assert edition is not None
    with open_store(edition.store_folder(UserSettings()), mode=Mode.WRITE) as store:
        sift(edition, store, [folder / "sources"], SiftOptions(), Silent())
    assert compared(folder).changed_since == ("sources/later.pgn",)
