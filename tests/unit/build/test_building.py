"""Building: budget to the node, nothing done twice, nothing lost with the store."""

from __future__ import annotations

import datetime
import os
import shutil
import time
from collections.abc import Callable
from pathlib import Path
from typing import Self

import pytest

from tests.invented_build import DIGEST, GAMES, MANUSCRIPT, SETTINGS, Mute, Owl, make_edition
from variorum.base import Silent, Task, UsageError
from variorum.base.settings import UserSettings
from variorum.board import Verdict
from variorum.build import asking, building, checking, publishing
from variorum.build.building import BuildLimits, build_edition, plan_build
from variorum.build.report import BuildReport
from variorum.edition import load_edition
from variorum.store import Mode, open_store
from variorum.voices.verdict_files import read_verdicts

MUCH = 10_000_000


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return make_edition(tmp_path / "panov")


def build(
    folder: Path, total_nodes: int | None = None, *, minutes: float | None = None, voice: type[Owl] = Owl
) -> BuildReport:
    edition, _ = load_edition(folder)
    assert edition is not None
    limits = BuildLimits(total_nodes=total_nodes, minutes=minutes)
    return build_edition(edition, UserSettings(), limits, Silent(), workers=2, voices={voice.name: voice})


def said(folder: Path, voice: str = "owl") -> list[Verdict]:
    path = folder / "verdicts" / f"{voice}.epd"
    return read_verdicts(path).verdicts if path.exists() else []


def places(verdicts: list[Verdict]) -> list[tuple[str, int]]:
    return sorted((verdict.epd, verdict.asked) for verdict in verdicts)


def test_a_budget_is_spent_to_the_node_on_what_matters_most(folder: Path) -> None:
    report = build(folder, 3_500)
    assert (report.asked, report.nodes) == (3, 3_000)
    assert report.waiting > 0
    asked = {verdict.epd for verdict in said(folder)}
    edition, _ = load_edition(folder)
    assert edition is not None
    assert {edition.places["panov"].position.epd, edition.places["main"].position.epd} < asked


class Heard(Silent):
    """Keeps what is told of each part of the work: name, size, unit, and each step with its note."""

    def __init__(self) -> None:
        super().__init__()
        self.parts: list[tuple[str, int | None, str, list[tuple[int, str | None]]]] = []

    def task(self, name: str, *, total: int | None, unit: str) -> Task:
        steps: list[tuple[int, str | None]] = []
        self.parts.append((name, total, unit, steps))
        inner = super().task(name, total=total, unit=unit)

        class Part:
            def advance(self, amount: int, *, note: str | None = None) -> None:
                steps.append((amount, note))
                inner.advance(amount, note=note)

            def __enter__(self) -> Self:
                return self

            def __exit__(self, *exc: object) -> None:
                pass

        return Part()


def test_what_of_the_budget_is_spent_is_told_over_all_rounds(folder: Path) -> None:
    edition, _ = load_edition(folder)
    assert edition is not None
    for limits, unit in ((BuildLimits(total_nodes=90_000), "nodes"), (BuildLimits(minutes=5), "seconds")):
        heard = Heard()
        voices = {Owl.name: Owl}
        report = build_edition(edition, UserSettings(), limits, heard, workers=1, voices=voices)
        rounds = [part for part in heard.parts if part[0].startswith("owl, round")]
        assert len(rounds) > 1
        assert all("the first answer is awaited" in str(steps[0][1]) for *_, steps in rounds)
        (budget,) = [part for part in heard.parts if part[0] == "budget"]
        assert budget[1:3] == (90_000 if unit == "nodes" else 300, unit)
        if unit == "nodes":
            assert sum(amount for amount, _ in budget[3]) == report.nodes


def test_two_builds_from_the_same_files_ask_the_same(folder: Path, tmp_path: Path) -> None:
    other = make_edition(tmp_path / "again")
    for budget in (7_000, 20_000, 90_000):
        build(folder, budget)
        build(other, budget)
        assert places(said(folder)) == places(said(other))


def test_builds_come_to_an_end_and_ask_nothing_twice(folder: Path) -> None:
    for _ in range(40):
        report = build(folder, 40_000)
        assert report.nodes <= 40_000
        if report.nothing_new:
            break
    assert report.nothing_new
    found = places(said(folder))
    assert len(found) == len(set(found))
    assert report.waiting == 0
    assert build(folder, MUCH).nothing_new


def refuse(*args: object, **kwargs: object) -> None:
    raise AssertionError("a step runs although nothing changed")


@pytest.fixture
def no_step(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    def forbid() -> None:
        monkeypatch.setattr("variorum.sources.sift", refuse)
        monkeypatch.setattr(asking, "Study", refuse)
        monkeypatch.setattr(asking, "ask_rounds", refuse)
        monkeypatch.setattr(checking, "check_opened", refuse)
        monkeypatch.setattr(publishing, "publish_edition", refuse)

    return forbid


def test_the_orders_into_each_tabiya_are_audited(folder: Path) -> None:
    for _ in range(40):
        report = build(folder, 40_000)
        if report.nothing_new:
            break
    (line,) = report.audits
    assert (line.name, line.side, line.voice) == ("main", "white", "owl")
    assert line.orders == 1
    assert line.missing == 0, "what the audit needs was asked"
    assert 0.0 <= line.least <= line.greatest


def test_the_graph_that_is_told_holds_what_was_asked(folder: Path) -> None:
    """Moves of a voice that nobody played come onto the graph within the build that asks them."""
    first = build(folder, MUCH)
    shutil.rmtree(folder / ".variorum")
    second = build(folder, MUCH)
    assert second.asked == 0
    assert (second.positions, second.moves) == (first.positions, first.moves)


def test_with_nothing_changed_no_step_runs(folder: Path, no_step: Callable[[], None]) -> None:
    first = build(folder, MUCH)
    before = {path: path.stat() for path in folder.rglob("*") if "-" not in path.suffix}
    no_step()
    second = build(folder, MUCH)
    assert second.nothing_new and not first.nothing_new
    assert (second.asked, second.nodes) == (0, 0)
    assert (second.contradicted, second.verdicts, second.written) == (
        first.contradicted,
        first.verdicts,
        first.written,
    )
    for path, stat in before.items():
        if ".variorum" not in path.parts:
            assert path.stat().st_mtime_ns == stat.st_mtime_ns, path


def change(name: str, text: str) -> Callable[[Path], None]:
    return lambda folder: (folder / name).write_text(text)  # type: ignore[func-returns-value]


@pytest.mark.parametrize(
    "touch",
    [
        change("manuscript.pgn", MANUSCRIPT.replace("$14", "$16")),
        change("digest.md", DIGEST.replace("winning", "better", 1)),
        change("edition.toml", SETTINGS.replace("main", "mane")),
        change("sources/games.pgn", GAMES.replace("0-1", "1-0")),
        change("sources/more.pgn", GAMES.replace("Birch", "Cedar")),
        lambda folder: (folder / "sources" / "games.pgn").unlink(),
        lambda folder: (folder / "digest.md").unlink(),
        lambda folder: (folder / "verdicts" / "owl.epd").unlink(),
        lambda folder: (folder / "out" / "digest.html").unlink(),
    ],
)
def test_whatever_changed_is_seen(folder: Path, touch: Callable[[Path], object]) -> None:
    build(folder, MUCH)
    touch(folder)
    assert not build(folder, MUCH).nothing_new
    while not build(folder, MUCH).nothing_new:
        pass


def test_a_change_that_only_the_content_shows_is_seen_while_files_are_young(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Size, time stamp and inode are those of before (architecture.md, "Store"); young is made long for slow machines."""
    monkeypatch.setattr("variorum.store.files._SETTLED_NS", 3_600 * 10**9)
    build(folder, MUCH)
    file = folder / "manuscript.pgn"
    stat = file.stat()
    with file.open("r+b") as stream:
        stream.write(MANUSCRIPT.replace("Panov", "Panow").encode())
    os.utime(file, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert not build(folder, MUCH).nothing_new


def test_without_the_store_no_verdict_is_lost_and_nothing_asked_again(folder: Path) -> None:
    first = build(folder, MUCH)
    before = (folder / "verdicts" / "owl.epd").read_bytes()
    shutil.rmtree(folder / ".variorum")
    second = build(folder, MUCH)
    assert not second.nothing_new and second.asked == 0
    assert (folder / "verdicts" / "owl.epd").read_bytes() == before
    assert (second.verdicts, second.games, second.contradicted) == (
        first.verdicts,
        first.games,
        first.contradicted,
    )


def test_games_of_a_file_that_is_gone_go_with_it(folder: Path) -> None:
    assert build(folder, MUCH).games == 3
    (folder / "sources" / "games.pgn").unlink()
    report = build(folder, MUCH)
    assert report.games == 0
    assert [(one.source, one.state, one.kept) for one in report.sources] == [("sources/games.pgn", "gone", 3)]


def test_a_voice_that_fails_is_told_and_does_not_stop_the_build(folder: Path) -> None:
    report = build(folder, MUCH, voice=Mute)
    assert report.unanswered and all("has nothing to say" in one for one in report.unanswered)
    assert report.asked == len(said(folder)) > 0
    assert report.waiting > 0  # it is asked again next time
    assert report.written


class Jay(Owl):
    name = "jay"


def test_two_voices_share_a_budget_position_by_position(folder: Path) -> None:
    edition, _ = load_edition(folder)
    assert edition is not None
    limits = BuildLimits(total_nodes=7_000)
    voices: dict[str, type[Owl]] = {"owl": Owl, "jay": Jay}
    report = build_edition(edition, UserSettings(), limits, Silent(), workers=2, voices=voices)
    assert report.nodes == 7_000
    owl, jay = ({verdict.epd for verdict in said(folder, name)} for name in ("owl", "jay"))
    assert len(owl) == 4 and len(jay) == 3 and jay < owl


def test_an_edition_that_asks_nobody_is_up_to_date_without_verdicts(folder: Path) -> None:
    (folder / "edition.toml").write_text(SETTINGS.replace("total_nodes = 200000", "total_nodes = 0"))
    assert build(folder).asked == 0
    assert build(folder).nothing_new
    assert not build(folder, 1_000).nothing_new


def test_a_file_of_games_that_is_torn_is_told_each_time(folder: Path) -> None:
    (folder / "sources" / "torn.pgn.gz").write_bytes(b"\x1f\x8b\x08no archive")
    for _ in range(2):
        report = build(folder, MUCH)
        assert [one.source for one in report.sources if one.state == "faulty"] == ["sources/torn.pgn.gz"]
        assert not report.nothing_new


def test_minutes_stop_in_time_and_keep_what_came(folder: Path) -> None:
    class Slow(Owl):
        def ask(self, request: object) -> Verdict:
            time.sleep(0.05)
            return super().ask(request)  # type: ignore[arg-type]

    begun = time.monotonic()
    report = build(folder, minutes=0.5 / 60, voice=Slow)
    assert time.monotonic() - begun < 30
    assert report.asked == len(said(folder))
    assert report.waiting > 0


def test_a_claim_still_open_at_the_end_is_told_as_open(folder: Path) -> None:
    report = build(folder, MUCH)
    assert report.left_open == report.undecided


def test_old_verdicts_are_asked_anew(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "edition.toml").write_text(SETTINGS + "\n[thresholds]\nstale_days = 30\n")

    class Day(datetime.datetime):
        days = 0

        @classmethod
        def now(cls, tz: datetime.tzinfo | None = None) -> datetime.datetime:
            return datetime.datetime(2026, 11, 25, 12, tzinfo=tz) + datetime.timedelta(cls.days)

    class Clock:
        datetime, UTC, timedelta, date = Day, datetime.UTC, datetime.timedelta, datetime.date

    monkeypatch.setattr(building, "datetime", Clock)
    build(folder, MUCH)
    Day.days = 30
    assert build(folder, MUCH).nothing_new
    Day.days = 31
    monkeypatch.setattr(Owl, "date", "2026-12-26")
    report = build(folder, MUCH)
    assert not report.nothing_new and report.asked > 0
    assert build(folder, MUCH).nothing_new


def test_a_voice_whose_clock_is_wrong_is_not_asked_for_ever(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "edition.toml").write_text(SETTINGS + "\n[thresholds]\nstale_days = 30\n")
    monkeypatch.setattr(Owl, "date", "1999-01-01")
    build(folder, MUCH)
    found = places(said(folder))
    assert len(found) == len(set(found))


def test_a_verdict_of_a_day_to_come_counts_as_of_today(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "edition.toml").write_text(SETTINGS + "\n[thresholds]\nstale_days = 30\n")
    monkeypatch.setattr(Owl, "date", "9999-12-31")
    build(folder, MUCH)
    assert build(folder, MUCH).nothing_new
    with open_store(folder / ".variorum", mode=Mode.READ) as store:
        (record,) = store.steps("build")
    today = datetime.datetime.now(datetime.UTC).date()
    assert record.good_until in {str(today + datetime.timedelta(days)) for days in (29, 30)}


def test_a_meeting_names_the_roots_that_meet(folder: Path) -> None:
    second = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5"
    (folder / "edition.toml").write_text(
        SETTINGS.replace("[names]", f'semi-tarrasch = "{second}"\n\n[names]')
    )
    (folder / "manuscript.pgn").write_text(
        MANUSCRIPT + f'\n[Event "Semi-Tarrasch"]\n[Result "*"]\n\n{second} Nxd5 6. e3 cxd4 7. exd4 Be7 *\n'
    )
    meetings = {one.name: one for one in build(folder, MUCH).meetings}
    assert set(meetings["main"].roots) == {"panov", "semi-tarrasch"}
    assert meetings["main"].orders == 2


def test_games_are_in_the_key_only_where_there_are_some(folder: Path) -> None:
    build(folder, 3_000)
    assert "games of the sources" in (folder / "out" / "manuscript.pgn").read_text().replace("\n", " ")
    (folder / "sources" / "games.pgn").unlink()
    build(folder, 3_000)
    key = (folder / "out" / "manuscript.pgn").read_text().replace("\n", " ")
    assert "games of the sources" not in key and "expected scores" in key


def test_what_steps_found_is_kept_for_reports_of_change(folder: Path) -> None:
    build(folder, MUCH)
    (folder / "digest.md").write_text(DIGEST.replace("winning", "level"))
    build(folder, MUCH)
    with open_store(folder / ".variorum", mode=Mode.READ) as store:
        for name in ("sift", "check", "publish", "build"):
            assert len(store.steps(name, limit=10)) == 2


def test_faults_of_the_texts_are_told_also_when_nothing_is_new(folder: Path) -> None:
    (folder / "digest.md").write_text(DIGEST.replace('at="main"', 'at="nowhere"'))
    first, second = build(folder, MUCH), build(folder, MUCH)
    assert second.nothing_new
    assert first.errors == second.errors == 1
    assert first.faults == second.faults
    assert any("digest.md:3:" in fault for fault in first.faults)


def test_a_dry_run_shows_the_order_and_changes_nothing(folder: Path) -> None:
    edition, _ = load_edition(folder)
    assert edition is not None
    limits = BuildLimits(total_nodes=5_000)
    report = plan_build(edition, UserSettings(), limits, Silent(), voices=("owl",))
    assert [one.place for one in report.plan][:2] == ["panov", "main"]
    assert [one.reason for one in report.plan][:3] == ["root", "tabiya", "a sign or sentence hangs on it"]
    assert sum(one.nodes for one in report.plan) == 5_000
    assert sorted(path.name for path in folder.iterdir()) == [
        "digest.md",
        "edition.toml",
        "manuscript.pgn",
        "sources",
    ]
    build(folder, 5_000)
    edition_places = {one.fen.rsplit(" ", 2)[0] for one in report.plan}
    assert {verdict.epd for verdict in said(folder)} == edition_places


@pytest.mark.parametrize(
    "limits", [{"total_nodes": 0}, {"total_nodes": -5}, {"minutes": 0.0}, {"minutes": 1.0, "total_nodes": 1}]
)
def test_budgets_that_make_no_sense(limits: dict[str, float]) -> None:
    with pytest.raises(UsageError):
        BuildLimits(**limits)  # type: ignore[arg-type]
