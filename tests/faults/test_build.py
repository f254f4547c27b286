"""Building under kills, signals and company: the author's files stay whole, and the next build goes on."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.invented_build import make_edition, verdicts, wait_for_verdicts
from variorum.cli import main

BUDGET = ["--total-nodes", "8000000"]


def start(folder: Path, *more: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "variorum", "build", str(folder), *BUDGET, *more]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def make_slow(folder: Path) -> None:
    """Verdicts long enough that there is a middle of the work."""
    file = folder / "edition.toml"
    file.write_text(
        file.read_text()
        .replace("nodes_per_verdict = 1000", "nodes_per_verdict = 8000")
        .replace("minimum_effort = 500", "minimum_effort = 4000")
    )


@pytest.mark.slow
def test_killed_at_random_moments_and_gone_on(tmp_path: Path) -> None:
    chance = random.Random(4)
    folder, clean = make_edition(tmp_path / "killed"), make_edition(tmp_path / "clean")
    make_slow(folder)
    make_slow(clean)
    for kill in (1, 4, 8, 12):
        process = start(folder)
        wait_for_verdicts(folder, process, kill)
        time.sleep(chance.uniform(0.0, 0.05))
        before = verdicts(folder)
        process.kill()
        process.communicate()
        assert set(before) <= set(verdicts(folder))
    for place in (folder, clean):
        while "still wait" in start(place).communicate()[0]:
            pass
    assert len(verdicts(folder)) == len(set(verdicts(folder)))
    firsts = [{epd for epd, asked in verdicts(place) if asked == 8_000} for place in (folder, clean)]
    assert firsts[0] == firsts[1]
    assert "nothing to do" in start(folder).communicate()[0]


@pytest.mark.skipif(sys.platform == "win32", reason="no such signals there")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_told_to_stop_it_stops_in_order(tmp_path: Path, number: signal.Signals) -> None:
    folder = make_edition(tmp_path / "stopped")
    make_slow(folder)
    process = start(folder)
    wait_for_verdicts(folder, process, 2)
    process.send_signal(number)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert out == ""
    assert err == "variorum: stopped; what was finished is kept\n"
    kept = verdicts(folder)
    assert len(kept) >= 2
    out, _ = start(folder).communicate()
    assert "built" in out
    assert set(kept) < set(verdicts(folder))


def test_a_second_build_says_that_one_is_running_and_readers_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = make_edition(tmp_path / "shared")
    make_slow(folder)
    process = start(folder)
    wait_for_verdicts(folder, process, 1)
    assert main(["build", str(folder)]) == 2
    assert "another build or sift of this edition is running" in capsys.readouterr().err
    assert main(["map", str(folder)]) == 0
    assert main(["position", str(folder), "main"]) == 0
    assert process.poll() is None, "the first build ended before the others were tried"
    process.communicate()
    assert process.returncode == 0
