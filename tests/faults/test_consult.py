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

COMMANDS = {"consult": ["consult"], "scout": ["scout", "panov"]}
# About twenty verdicts are asked for. Each lasts long enough that most are not there when the program is killed,
SHORT = 200_000
# or that none of the later ones is there when it is told to stop, however late this machine lets the test look.
LONG = 2_000_000


def start(folder: Path, command: str, nodes: int) -> subprocess.Popen[str]:
    name, *more = COMMANDS[command]
    effort = ["--nodes", str(nodes), "--total-nodes", str(24 * nodes)]
    call = [sys.executable, "-m", "variorum", name, str(folder), *more, *effort]
    return subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_killed_at_random_moments_and_gone_on(command: str, tmp_path: Path) -> None:
    chance = random.Random(5)
    folder = make_edition(tmp_path / "killed")
    for kill in (1, 4, 8):
        process = start(folder, command, SHORT)
        wait_for_verdicts(folder, process, kill)
        time.sleep(chance.uniform(0.0, 0.05))
        before = verdicts(folder)
        process.kill()
        process.communicate()
        assert set(before) <= set(verdicts(folder))
    kept = verdicts(folder)
    out, err = start(folder, command, SHORT).communicate()
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
    process = start(folder, command, LONG)
    wait_for_verdicts(folder, process, 1)
    process.send_signal(number)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert out == ""
    assert err == "variorum: stopped; what was finished is kept\n"
    assert len(verdicts(folder)) >= 1
