"""A desk that is killed in the middle of its work: the next one knows what it was at."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from variorum.desk.journal import Begun, Journal
from variorum.desk.work import State, Works

DESK = """
import sys, threading
from pathlib import Path
from variorum.desk.journal import Begun, Journal
from variorum.desk.work import Works

def run(progress):
    print("at work", flush=True)
    threading.Event().wait()
    return ""

Works(Journal(Path(sys.argv[1]))).start("e", "sift", "games", run, again=Begun("/e/e/begin/sift"))
threading.Event().wait()
"""


def test_a_killed_desk_leaves_word_and_a_living_one_is_left_alone(tmp_path: Path) -> None:
    with subprocess.Popen([sys.executable, "-c", DESK, str(tmp_path)], stdout=subprocess.PIPE) as desk:
        try:
            assert desk.stdout is not None
            assert desk.stdout.readline().strip() == b"at work"
            assert not Works(Journal(tmp_path)).told()
        finally:
            desk.kill()
    (left,) = Works(Journal(tmp_path)).told()
    assert (left.state, left.kind, left.again) == (State.INTERRUPTED, "sift", Begun("/e/e/begin/sift"))
