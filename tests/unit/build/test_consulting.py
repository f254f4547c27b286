"""Consulting: a queue that outlives its run, what matters most first, and voices that fail."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.invented_build import SETTINGS, Owl, make_edition
from variorum.base import InputError, Silent, StoreBusyError, UsageError, VoiceError
from variorum.base.settings import UserSettings, VoiceSettings
from variorum.board import Position, Request, Verdict
from variorum.build.building import BuildLimits, build_edition, plan_build
from variorum.build.consulting import ConsultLimits, ConsultReport, consult, request_of
from variorum.edition import Edition, load_edition
from variorum.scout.wishes import Reason
from variorum.store import Mode, QuestionState, open_store
from variorum.voices import registry
from variorum.voices.verdict_files import append_verdicts, read_verdicts, verdict_path
from variorum.voices.verdicts import Verdicts

FAKE = str(Path(__file__).parents[2] / "fake_engine.py")
MUCH = ConsultLimits(total_nodes=10_000_000)


class Stand(Owl):
    """The owl in the resident's place."""

    name = "resident"


@pytest.fixture(autouse=True)
def _owl(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(registry, "Resident", lambda **_: Stand())


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return make_edition(tmp_path / "panov")


def user(**manners: str) -> UserSettings:
    return UserSettings(
        voices={
            name: VoiceSettings(command=(sys.executable, FAKE, manner)) for name, manner in manners.items()
        }
    )


def opened(folder: Path) -> Edition:
    edition, _ = load_edition(folder)
    assert edition is not None
    return edition


def ask(
    folder: Path,
    limits: ConsultLimits = MUCH,
    *,
    settings: UserSettings | None = None,
    goes_on: bool = False,
    dry_run: bool = False,
    voices: Iterable[str] = (),
    nodes: int | None = None,
    depth: int | None = None,
    at: str = "",
) -> ConsultReport:
    edition, settings = opened(folder), settings or UserSettings()
    request = request_of(edition, settings, voices=voices, nodes=nodes, depth=depth, at=at)
    return consult(
        edition, settings, None if goes_on else request, limits, Silent(), workers=2, dry_run=dry_run
    )


def said(folder: Path, voice: str = "resident") -> list[Verdict]:
    path = folder / "verdicts" / f"{voice}.epd"
    return read_verdicts(path).verdicts if path.exists() else []


def nodes_of(count: int) -> ConsultLimits:
    return ConsultLimits(total_nodes=1_000 * count)


def test_places_then_doubts_and_bounds_then_the_rest(folder: Path) -> None:
    first = ask(folder, dry_run=True)
    assert [one.place for one in first.plan] == ["panov", "main"]
    assert not (folder / "verdicts").exists()
    ask(folder, nodes_of(2))
    second = ask(folder, dry_run=True)
    reasons = {one.reason for one in second.plan}
    assert Reason.BOUND.value in reasons
    assert reasons & {Reason.UNDECIDED.value, Reason.CONTRADICTED.value}
    assert reasons & {Reason.DECIDES.value, Reason.CLOSE.value}
    assert Reason.FLOW.value not in reasons
    ask(folder)
    assert ask(folder, dry_run=True).plan == ()


def test_a_build_has_nothing_left_to_ask_for_the_first_time(folder: Path) -> None:
    """Both spend by the same rules, so what one has asked the other does not."""
    ask(folder)
    plan = plan_build(opened(folder), UserSettings(), BuildLimits(total_nodes=10_000_000), Silent())
    assert plan.plan == ()


def test_a_queue_goes_on_to_its_end(folder: Path, tmp_path: Path) -> None:
    other = make_edition(tmp_path / "whole")
    whole = ask(other, at="leaves")
    assert whole.waiting == 0
    count = whole.asked
    assert count > 2
    report = ask(folder, nodes_of(1), at="leaves")
    assert (report.asked, report.nodes, report.waiting) == (1, 1_000, count - 1)
    again = ask(folder, nodes_of(1), at="leaves")
    assert (again.resumed, again.asked) == (count - 1, 1)
    rest = ask(folder, goes_on=True)
    assert (rest.resumed, rest.asked, rest.waiting) == (count - 2, count - 2, 0)
    assert sorted(one.epd for one in said(folder)) == sorted(one.epd for one in said(other))
    assert ask(folder, at="leaves").known == count


def test_another_request_takes_the_place(folder: Path) -> None:
    ask(folder, nodes_of(1), at="leaves")
    report = ask(folder, at="main", nodes=3_000)
    assert report.replaced == "resident; 1,000 nodes, 2 lines; at leaves"
    assert report.dropped > 0
    assert (report.resumed, report.asked, report.waiting) == (0, 1, 0)


def test_what_was_written_before_a_kill_is_not_asked_again(folder: Path) -> None:
    report = ask(folder, nodes_of(1), at="leaves")
    with open_store(folder / ".variorum") as store:
        waiting = [one for one in store.questions.all() if one.state is QuestionState.WAITING]
    position = Position.from_fen(waiting[0].epd)
    verdict = Stand().ask(Request(position=position, voice="resident", nodes=1_000, multipv=2))
    append_verdicts(verdict_path(folder / "verdicts", "resident"), [verdict])
    rest = ask(folder, goes_on=True)
    assert (rest.known, rest.asked) == (1, report.waiting - 1)
    assert len({one.epd for one in said(folder)}) == len(said(folder))


@pytest.mark.parametrize("at", ["main", "leaves", "tabiyas", "confluences", "bounds", "disputed", "stale"])
def test_where_to_ask(folder: Path, at: str) -> None:
    if at in ("bounds", "disputed", "stale"):
        file = folder / "edition.toml"
        file.write_text(SETTINGS.replace("minimum_effort = 500", "minimum_effort = 1000"))
        ask(folder, at="leaves", nodes=600)
        ask(folder, at="leaves", voices=["other"], settings=user(other="well"), nodes=600)
    before = len(said(folder))
    report = ask(folder, at=at)
    assert report.asked == len(said(folder)) - before
    expected = {"main": 1, "tabiyas": 2, "stale": before, "confluences": 0}
    assert report.asked == expected.get(at, report.asked)
    assert report.asked > 0 or at == "confluences"
    assert report.waiting == 0


def test_deeper_verdicts_count_and_the_older_stay(folder: Path) -> None:
    ask(folder, at="main", nodes=1_000)
    ask(folder, at="main", nodes=4_000)
    ask(folder, at="main", nodes=2_000)
    assert [one.nodes for one in said(folder)] == [1_000, 4_000]
    (counts,) = Verdicts(said(folder)).all()
    assert counts.nodes == 4_000


class Moody(Stand):
    """Has no answer where Black is to move."""

    def ask(self, request: Request) -> Verdict:
        if " b " in request.position.epd:
            raise VoiceError("has nothing to say")
        return super().ask(request)


def test_a_failed_question_is_marked_and_the_rest_goes_on(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(registry, "Resident", lambda **_: Moody())
    report = ask(folder)
    assert report.asked > 0
    assert report.waiting == 0
    assert {one.fault for one in report.failed} == {"has nothing to say"}
    assert all(" b " in one.fen for one in report.failed)
    assert len({one.fen for one in report.failed}) == len(report.failed), "asked once in this request"


def test_voices_take_turns_and_one_that_dies_costs_its_own_questions(folder: Path) -> None:
    settings = user(good="well", bad="dies")
    report = ask(folder, voices=["good", "bad"], settings=settings, at="tabiyas")
    assert (report.asked, report.nodes) == (2, 4_000)
    assert [(one.voice, one.place) for one in report.failed] == [("bad", "panov"), ("bad", "main")]
    assert len(said(folder, "good")) == 2
    plan = ask(folder, voices=["good", "bad"], settings=settings, at="leaves", dry_run=True).plan
    assert [one.voice for one in plan[:4]] == ["good", "bad", "good", "bad"]


def test_depth_is_a_limit_too(folder: Path) -> None:
    settings = user(good="well")
    report = ask(folder, ConsultLimits(), voices=["good"], settings=settings, at="tabiyas", depth=3)
    assert (report.asked, report.nodes) == (2, 0)
    assert ask(folder, ConsultLimits(), voices=["good"], settings=settings, at="tabiyas", depth=3).known == 2


def test_the_edition_names_its_voices(folder: Path) -> None:
    file = folder / "edition.toml"
    file.write_text(f'{SETTINGS}voices = ["nobody here", "good", "resident"]\n')
    settings = user(good="well")
    report = ask(folder, nodes_of(4), settings=settings)
    assert report.absent == ("nobody here",)
    assert (len(said(folder, "good")), len(said(folder))) == (2, 2)
    built = build_edition(opened(folder), settings, BuildLimits(total_nodes=20_000), Silent())
    assert built.absent == ("nobody here",)
    assert (len(said(folder, "good")), len(said(folder))) == (12, 12)
    file.write_text(f'{SETTINGS}voices = ["nobody here"]\n')
    with pytest.raises(UsageError, match="none of the voices"):
        ask(folder)
    assert build_edition(opened(folder), settings, BuildLimits(), Silent()).asked == 0


def test_a_voice_that_was_removed_since(folder: Path) -> None:
    ask(folder, nodes_of(1), voices=["good"], settings=user(good="well"), at="leaves")
    with pytest.raises(InputError, match="no voice 'good'"):
        ask(folder, goes_on=True)


def test_one_at_a_time(folder: Path) -> None:
    with (
        open_store(folder / ".variorum", mode=Mode.WRITE),
        pytest.raises(StoreBusyError, match="consultation"),
    ):
        ask(folder)


def test_requests_that_make_no_sense(folder: Path) -> None:
    edition = opened(folder)
    with pytest.raises(UsageError, match="two limits"):
        request_of(edition, UserSettings(), nodes=1, depth=2, at="leaves")
    with pytest.raises(UsageError, match="needs --at"):
        request_of(edition, UserSettings(), depth=2)
    with pytest.raises(UsageError, match="cannot take"):
        request_of(edition, UserSettings(), seconds=0.0, at="leaves")
    with pytest.raises(InputError, match="no voice"):
        request_of(edition, UserSettings(), voices=["nobody"])
    with pytest.raises(InputError, match="no place"):
        request_of(edition, UserSettings(), at="leafs")
    with pytest.raises(UsageError, match="cannot be kept"):
        ask(folder, MUCH, depth=3, at="leaves")


def test_a_queue_of_another_version_is_given_up(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ask(folder, nodes_of(1), at="leaves")
    with open_store(folder / ".variorum", mode=Mode.WRITE) as store:
        store.questions.begin(b'{"voices": 7}')
    assert ask(folder, goes_on=True).request == "resident; 1,000 nodes, 2 lines; where it matters most"
