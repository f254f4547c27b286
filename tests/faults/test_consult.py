"""Consulting and scouting under kills and signals: what came is kept, nothing is asked twice, the same command goes on."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.invented_build import make_edition, verdicts, wait_for_verdicts

# Verdicts long enough that thirty of them are never all there before the program is killed.
COMMANDS = {
    "consult": ["consult", "--nodes", "60000", "--total-nodes", "1800000"],
    "scout": ["scout", "panov", "--nodes", "60000", "--total-nodes", "1800000"],
}


def start(folder: Path, command: str) -> subprocess.Popen[str]:
    name, *more = COMMANDS[command]
    call = [sys.executable, "-m", "variorum", name, str(folder), *more]
    return subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_killed_at_random_moments_and_gone_on(command: str, tmp_path: Path) -> None:
    chance = random.Random(5)
    folder = make_edition(tmp_path / "killed")
    for kill in (1, 5, 12):
        process = start(folder, command)
        wait_for_verdicts(folder, process, kill)
        time.sleep(chance.uniform(0.0, 0.05))
        before = verdicts(folder)
        process.kill()
        process.communicate()
        assert set(before) <= set(verdicts(folder))
    kept = verdicts(folder)
    out, err = start(folder, command).communicate()
    assert err == ""
    assert set(kept) < set(verdicts(folder))
    assert len(verdicts(folder)) == len(set(verdicts(folder))), "nothing is asked twice"
    if command == "consult":
        assert "Gone on with a queue" in out


@pytest.mark.skipif(sys.platform == "win32", reason="no such signals there")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("command", COMMANDS)
def test_told_to_stop_it_stops_in_order(command: str, tmp_path: Path, number: signal.Signals) -> None:
    folder = make_edition(tmp_path / "stopped")
    process = start(folder, command)
    wait_for_verdicts(folder, process, 2)
    process.send_signal(number)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert out == ""
    assert err == "variorum: stopped; what was finished is kept\n"
    assert len(verdicts(folder)) >= 2
