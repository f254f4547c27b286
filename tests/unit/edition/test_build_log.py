"""The log of builds: what is written comes back, lines say only what changed, and nothing in it can stop a build."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.edition import build_log
from variorum.edition.build_log import (
    BUILD_LOG,
    BuildFound,
    KeptClaim,
    KeptFigure,
    KeptSource,
    KeptVerdict,
    append_build,
    read_build_log,
    state_at,
)

claims = st.dictionaries(
    st.text(max_size=5),
    st.builds(
        KeptClaim,
        st.sampled_from(["holds", "contradicted"]),
        st.tuples(st.builds(KeptFigure, st.just("owl"), st.floats(0, 100), st.just(4.0), st.just(1000))),
    ),
    max_size=4,
)


@given(st.lists(claims, max_size=6))
def test_a_state_is_the_sum_of_the_changes(states: list[dict[str, KeptClaim]]) -> None:
    before = BuildFound()
    changes = []
    for number, state in enumerate(states, 1):
        found = BuildFound(build=number, made="2026-01-01T00:00:00+00:00", version="1", claims=state)
        changes.append(found.since(before))
        before = found
    for number, state in enumerate(states, 1):
        assert state_at(changes, number).claims == state


def found(number: int, **sources: int) -> BuildFound:
    kept = {name: KeptSource("x", games) for name, games in sources.items()}
    return BuildFound(build=number, made=f"2026-01-{number:02}T10:00:00+00:00", version="1", sources=kept)


def write(folder: Path, *states: BuildFound) -> Path:
    path = folder.joinpath(*BUILD_LOG)
    before = BuildFound()
    for state in states:
        append_build(folder, path, state.since(before))
        before = state
    return path


def test_a_line_holds_only_what_changed(tmp_path: Path) -> None:
    path = write(tmp_path, found(1, a=1, b=2), found(2, a=1, b=3), found(3, a=1))
    first, second, third = path.read_text().splitlines()
    assert '"a"' in first and '"a"' not in second and '"b":["x",3]' in second
    assert '"b":null' in third
    changes, faults = read_build_log(tmp_path)
    assert not faults
    assert state_at(changes, 3) == found(3, a=1)
    assert state_at(changes, 2) == found(2, a=1, b=3)


def test_a_torn_line_is_told_and_the_rest_stands(tmp_path: Path) -> None:
    path = write(tmp_path, found(1, a=1))
    with path.open("ab") as file:
        file.write(b'{"build":2,"made":"20')
    append_build(tmp_path, path, found(3, a=5).since(found(1, a=1)))
    changes, (fault,) = read_build_log(tmp_path)
    assert fault.line == 2
    assert state_at(changes, 3).sources == {"a": KeptSource("x", 5)}


def test_a_long_log_is_thinned_and_tells_the_same_of_what_it_keeps(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(build_log, "MOST_BUILDS", 6)
    states = [found(number, a=number, b=1) for number in range(1, 8)]
    path = write(tmp_path, *states)
    assert len(path.read_text().splitlines()) == 5
    changes, _ = read_build_log(tmp_path)
    assert [change.build for change in changes] == [3, 4, 5, 6, 7]
    for state in states[2:]:
        assert state_at(changes, state.build) == state


def test_thousands_of_builds_stay_small(tmp_path: Path) -> None:
    """A build that changes one of 500 verdicts writes some hundred bytes, not the 500."""
    verdicts = {
        f"8/8/8/8/8/8/8/{n} w - - owl": KeptVerdict(1000, 1000, (("e2e4", 50.0),)) for n in range(500)
    }
    before = BuildFound(build=1, made="2026-01-01T00:00:00+00:00", version="1", verdicts=verdicts)
    changed = {**verdicts, "8/8/8/8/8/8/8/7 w - - owl": KeptVerdict(4000, 4000, (("d2d4", 51.5),))}
    after = BuildFound(build=2, made="2026-01-02T00:00:00+00:00", version="1", verdicts=changed)
    path = tmp_path / ".history" / "builds.jsonl"
    append_build(tmp_path, path, before.since(BuildFound()))
    whole = path.stat().st_size
    append_build(tmp_path, path, after.since(before))
    assert path.stat().st_size - whole < 300 < whole / 50
