"""Looked-up blocks on a real edition: games from its sources, orders and plans as the commands tell them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from variorum.base.settings import UserSettings
from variorum.build.evidence import EditionEvidence
from variorum.build.opened import OpenEdition
from variorum.cli import main
from variorum.edition import load_edition, resolve_place
from variorum.insight.contrast_report import Colours

SETTINGS = """\
title = "QGD"
side = "white"
[roots]
qgd = "1.d4 d5 2.c4 e6"
[names]
knights = "qgd 3.Nc3 Nf6 4.Nf3"
"""
FIRST = "1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. Nf3 Be7 5. Bf4 O-O 6. e3 c5 7. dxc5 Bxc5 8. Qc2 Nc6 9. a3"
SECOND = "1. d4 d5 2. c4 e6 3. Nf3 Nf6 4. Nc3 Be7 5. Bf4 O-O 6. e3 c5 7. dxc5 Bxc5 8. a3 Nc6 9. Qc2"


def game(white: str, black: str, date: str, moves: str, result: str, event: str = "Spring Open") -> str:
    tags = {"Event": event, "Site": "Oakham", "Date": date, "White": white, "Black": black, "Result": result}
    return "".join(f'[{name} "{value}"]\n' for name, value in tags.items()) + f"\n{moves} {result}\n\n"


@pytest.fixture
def evidence(tmp_path: Path) -> Iterator[EditionEvidence]:
    (tmp_path / "sources").mkdir()
    (tmp_path / "edition.toml").write_text(SETTINGS, encoding="utf-8")
    (tmp_path / "manuscript.pgn").write_text(f"{FIRST} *\n", encoding="utf-8")
    games = [
        game("Örlo, Tam", "Vesk, Ina", "2019.03.14", FIRST, "1-0"),
        game("Orlo, T.", "Vesk, I.", "2019.03.14", FIRST, "1-0"),
        game("Orlo, Tam", "Vesk, Ina", "2021.??.??", SECOND, "1/2-1/2", "Autumn Cup"),
        game("Vesk, Ina", "Orlo, Tam", "2020.01.01", SECOND, "0-1"),
        game("Orlova, Tam", "Vesk, Ina", "2020.01.02", FIRST, "0-1"),
    ]
    (tmp_path / "sources" / "games.pgn").write_text("".join(games), encoding="utf-8")
    assert main(["sift", str(tmp_path)]) == 0
    edition, _ = load_edition(tmp_path)
    assert edition is not None
    user = UserSettings()
    with OpenEdition(edition, user) as opened:
        yield opened.evidence


def test_games_are_found_by_who_played_them_doubles_once(evidence: EditionEvidence) -> None:
    found = evidence.cited("orlo", "vesk")
    assert [(one.date, one.result, one.event) for one in found] == [
        (20190314, "1-0", "Spring Open"),
        (20210000, "1/2-1/2", "Autumn Cup"),
    ]
    assert found[1].line.san().startswith("1.d4 d5 2.c4 e6 3.Nf3 Nf6 4.Nc3")
    assert [one.date for one in evidence.cited("Ina Vesk", "Tam Orlo")] == [20200101]
    assert evidence.cited("Orlo", "Nobody") == ()


def test_orders_plans_and_contrast_are_those_of_the_commands(evidence: EditionEvidence) -> None:
    place = evidence.place("knights")
    rows = evidence.order_rows(place, 2, "")
    assert [row.line.san() for row in rows] == [
        "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3",
        "1.d4 d5 2.c4 e6 3.Nf3 Nf6 4.Nc3",
    ]
    assert sum(row.share for row in rows) == pytest.approx(100.0)
    assert all(row.risk is None for row in rows)
    (practice,) = evidence.plans(place, "practice")
    assert practice.games == 4
    assert any("c7" in plan.plan or "c5" in plan.plan for plan in practice.plans)
    told = evidence.contrast(place, evidence.place("knights Be7"), Colours.KEPT)
    assert "Be7" in told[0] or "bishop" in told[0]


def test_the_blocks_are_published(evidence: EditionEvidence, capsys: pytest.CaptureFixture[str]) -> None:
    folder = evidence._edition.path
    (folder / "digest.md").write_text(
        "# QGD\n\nA text.\n\n:::game Orlo – Vesk, 2021\nmoves: 8-9\n:::\n\n:::orders knights\n:::\n\n:::game Orlo – Zed, 1999\n:::\n",
        encoding="utf-8",
    )
    assert main(["publish", str(folder)]) == 2
    told = capsys.readouterr()
    assert "digest.md:12:1: game-missing no game of the sources is Orlo – Zed, 1999" in told.err
    page = (folder / "out" / "digest.html").read_text(encoding="utf-8")
    assert "<strong>Orlo, Tam – Vesk, Ina</strong>, Autumn Cup, Oakham, 2021" in page
    assert "Index of games" in page
    assert resolve_place(evidence._edition, "knights").line is not None
