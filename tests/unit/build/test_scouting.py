"""Scouting: the same skeleton on any number of workers and after any stop, a budget kept to the node."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from tests.invented_build import SETTINGS, Mute, Owl, make_edition
from variorum.base import InputError, Interrupted, Silent, UsageError
from variorum.base.settings import UserSettings
from variorum.board import Request, Verdict
from variorum.build.mapping import map_edition
from variorum.build.opened import OpenEdition
from variorum.build.scouting import Scouting, ScoutLimits, ScoutReport, scout_place
from variorum.edition import load_edition, resolve_place
from variorum.scout.frontier import Width
from variorum.voices.verdict_files import read_verdicts

PLACE = "panov Nf6 5.Nc3"


class Wise(Owl):
    """As the owl, but its moves are a quarter of a pawn apart and the main line stays what it was."""

    name = "wise"

    def ask(self, request: Request) -> Verdict:
        verdict = super().ask(request)
        for_white = 1 if " w " in verdict.epd else -1
        lines = tuple(
            msgspec.structs.replace(
                line, score=msgspec.structs.replace(line.score, cp=20 - 25 * rank * for_white)
            )
            for rank, line in enumerate(verdict.lines)
        )
        return msgspec.structs.replace(verdict, lines=lines)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return make_edition(tmp_path / "panov")


def scout(
    folder: Path,
    total_nodes: int,
    *,
    voice: type[Owl] = Wise,
    place: str = PLACE,
    workers: int = 1,
    plies: int = 6,
) -> ScoutReport:
    edition, _ = load_edition(folder)
    assert edition is not None
    how = Scouting(
        voice=voice.name,
        open_voice=voice,
        limits=ScoutLimits(total_nodes=total_nodes),
        nodes=1_000,
        width=Width(plies=plies),
        workers=workers,
    )
    report, faults = scout_place(edition, UserSettings(), resolve_place(edition, place), how, Silent())
    assert not faults
    return report


def said(folder: Path, voice: str = "wise") -> set[str]:
    found = [one.epd for one in read_verdicts(folder / "verdicts" / f"{voice}.epd").verdicts]
    assert len(found) == len(set(found)), "nobody is asked twice"
    return set(found)


def test_a_budget_is_kept_to_the_node(folder: Path) -> None:
    report = scout(folder, 6_999)
    assert (report.asked, report.spent, report.positions) == (6, 6_000, 6)
    assert report.waiting > 0
    assert report.to_map == ""


def test_workers_and_stops_change_nothing(folder: Path, tmp_path: Path) -> None:
    parts, many = make_edition(tmp_path / "parts"), make_edition(tmp_path / "many")
    whole = scout(folder, 30_000)
    assert whole.asked == 30
    assert scout(many, 30_000, workers=3) == whole
    assert said(many) == said(folder)
    for nodes in (1_000, 5_000, 2_000, 13_000, 9_000):
        last = scout(parts, nodes)
    assert said(parts) == said(folder)
    assert msgspec.structs.replace(last, asked=whole.asked, spent=whole.spent) == whole


def test_it_ends_within_its_width(folder: Path) -> None:
    report = scout(folder, 10_000_000, plies=3)
    assert report.waiting == 0
    again = scout(folder, 10_000_000, plies=3)
    assert again.asked == 0
    assert again.positions == report.positions
    assert again.branches == report.branches


def test_shallower_or_narrower_verdicts_are_no_answer(folder: Path) -> None:
    scout(folder, 3_000)
    file = folder / "edition.toml"
    file.write_text(SETTINGS.replace("lines = 2", "lines = 3"))
    assert scout(folder, 3_000).asked == 3


def test_old_verdicts_are_no_answer(folder: Path) -> None:
    class Old(Wise):
        date = "2001-01-01"

    first = scout(folder, 3_000, voice=Old)
    assert first.asked == 3
    (folder / "edition.toml").write_text(f"{SETTINGS}[thresholds]\nstale_days = 30\n")
    again = scout(folder, 3_000, voice=Old)
    assert (again.asked, again.positions) == (3, 3), "the same three, asked once more"
    (folder / "edition.toml").write_text(SETTINGS)
    assert scout(folder, 3_000, voice=Old).positions == 6


def test_a_voice_that_is_silent_in_places(folder: Path) -> None:
    report = scout(folder, 20_000, voice=Mute, place="panov")
    assert report.expected is None
    assert report.unanswered == ("panov: has nothing to say",)
    report = scout(folder, 20_000, voice=Mute)
    assert (report.positions, report.expected) == (0, None)


class Stopping(Wise):
    """Is stopped by the user at the third question."""

    asked = 0

    def ask(self, request: Request) -> Verdict:
        Stopping.asked += 1
        if Stopping.asked == 3:
            raise KeyboardInterrupt
        return super().ask(request)


def test_what_came_before_a_stop_is_kept(folder: Path) -> None:
    with pytest.raises((KeyboardInterrupt, Interrupted)):
        scout(folder, 20_000, voice=Stopping)
    assert len(said(folder)) == 2
    assert scout(folder, 20_000).asked == 20


def test_what_was_scouted_is_on_the_map(folder: Path) -> None:
    def positions() -> tuple[int, int]:
        edition, _ = load_edition(folder)
        assert edition is not None
        with OpenEdition(edition, UserSettings()) as opened:
            report, _ = map_edition(opened)
        return report.positions, report.unreached_verdicts

    before, _ = positions()
    report = scout(folder, 20_000, place="panov e6 5.Nf3")
    assert report.to_map == 'variorum name NAME "panov e6 5.Nf3"'
    assert positions() == (before, 20)
    file = folder / "edition.toml"
    file.write_text(SETTINGS.replace("[names]\n", '[names]\nquiet = "panov e6 5.Nf3"\n'))
    after, unreached = positions()
    assert after >= before + 20
    assert unreached == 0
    assert scout(folder, 1_000, place="quiet").to_map == ""


def test_a_place_that_no_root_leads_to(folder: Path) -> None:
    report = scout(folder, 4_000, place="1.d4 d5 2.c4")
    assert report.to_map == 'add to [roots] in edition.toml: NAME = "1.d4 d5 2.c4"'


def test_no_game_no_budget(folder: Path) -> None:
    with pytest.raises(InputError, match="game is over"):
        scout(folder, 1_000, place="1.f3 e5 2.g4 Qh4")
    for limits in ({"minutes": 0.0}, {"total_nodes": 0}):
        with pytest.raises(UsageError, match="cannot be"):
            ScoutLimits(**limits)  # type: ignore[arg-type]
    with pytest.raises(UsageError, match="not in both"):
        ScoutLimits(minutes=1, total_nodes=1)
