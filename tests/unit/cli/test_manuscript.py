from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from variorum.cli import main

EDITION = """\
title = "The isolated queen's pawn"
side = "white"

[roots]
panov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
qgd = "1.d4 d5 2.c4 e6"

[names]
knights = "qgd 3.Nc3 Nf6 4.Nf3"
"""
MANUSCRIPT = """\
[Event "QGD"]

1. d4 d5 2. c4 e6 3. Nc3 (3. Nf3 Nf6 4. Nc3 $16) 3... Nf6 4. Nf3 {Both knights are out.} c5 (4... Be7 5. Bg5) 5. cxd5 *

[Event "Panov"]

1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 *
"""
OTHER = """\
[Event "Spring Open"]
[White "Orlo"]
[Black "Vesk"]
[Result "0-1"]

1. d4 e6 2. c4 d5 3. Nf3 {flexible} Nf6 4. Nc3 c5 $6 5. cxd5 exd5 0-1
"""


@pytest.fixture
def edition(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "edition.toml").write_text(EDITION, encoding="utf-8")
    (tmp_path / "manuscript.pgn").write_text(MANUSCRIPT, encoding="utf-8")
    (tmp_path / "other.pgn").write_text(OTHER, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def text(edition: Path) -> str:
    return (edition / "manuscript.pgn").read_text(encoding="utf-8")


def run(words: str, *more: str, code: int = 0) -> None:
    assert main(["manuscript", *words.split(), *more]) == code


@pytest.mark.parametrize(
    ("words", "more", "old", "new"),
    [
        ("add knights 4...Be7 5.Bf4", (), "(4... Be7 5. Bg5)", "(4... Be7 5. Bg5 (5. Bf4))"),
        ("comment knights --text", ("A tabiya.",), "out.} c5", "out.} {A tabiya.} 4... c5"),
        ("comment knights --replace --text", ("A tabiya.",), "Both knights are out.", "A tabiya."),
        ("comment knights --remove", (), " {Both knights are out.}", ""),
        ("sign knights --sign", ("⩲",), "4. Nf3 {", "4. Nf3 $14 {"),
        ("sign qgd 3.Nf3 Nf6 4.Nc3 --sign", ("=",), "$16", "$10"),
        ("sign qgd 3.Nf3 Nf6 4.Nc3 --remove", ("±",), " $16", ""),
        ("promote knights 4...Be7", (), "c5 (4... Be7 5. Bg5) 5. cxd5", "Be7 (4... c5 5. cxd5) 5. Bg5"),
        ("demote knights 4...c5", (), "c5 (4... Be7 5. Bg5) 5. cxd5", "Be7 (4... c5 5. cxd5) 5. Bg5"),
        ("delete knights 4...Be7", (), " (4... Be7 5. Bg5)", ""),
    ],
)
def test_a_change_its_trial_and_its_undoing(
    edition: Path, words: str, more: tuple[str, ...], old: str, new: str, capsys: pytest.CaptureFixture[str]
) -> None:
    run(words, *more, "--dry-run")
    assert text(edition) == MANUSCRIPT
    tried = capsys.readouterr().out
    assert "not written: a dry run" in tried
    run(words, *more)
    assert text(edition) == MANUSCRIPT.replace(old, new)
    done = capsys.readouterr().out
    assert done == tried.replace(" (not written: a dry run)", "")
    run("undo")
    assert text(edition) == MANUSCRIPT
    run("redo")
    assert text(edition) == MANUSCRIPT.replace(old, new)


def test_moving_to_the_other_order(edition: Path) -> None:
    run("add qgd 3.Nf3 c5")
    run("move knights --to", "qgd 3.Nf3 Nf6 4.Nc3")
    assert "(3. Nf3 Nf6 (3... c5) 4. Nc3 $16 c5 (4... Be7 5. Bg5) 5. cxd5)" in text(edition)
    assert "4. Nf3 {Both knights are out.} {see 1.d4 d5 2.c4 e6 3.Nf3 Nf6 4.Nc3} *" in text(edition)


def test_merging(edition: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]) -> None:
    run("merge other.pgn")
    snapshot(capsys.readouterr().out, "told")
    snapshot(text(edition), "text", "pgn")
    run("merge other.pgn")
    assert "nothing changes, it is so already" in capsys.readouterr().out


def test_tidying(edition: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]) -> None:
    run("sign knights --sign", "=")
    told = capsys.readouterr().out
    assert "Now the manuscript says in two ways:" in told
    run("tidy", code=1)
    snapshot(capsys.readouterr().out)
    run("tidy --point", code=1)
    assert "{see 1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3}" in text(edition)


def test_splitting(edition: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run("split --dry-run")
    assert not (edition / "split").exists()
    run("split")
    out = capsys.readouterr().out
    assert "split/panov.pgn: panov, 1 game, 7 moves" in out
    assert (edition / "split" / "panov.pgn").read_text() == MANUSCRIPT[MANUSCRIPT.index('[Event "Panov"]') :]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("comment knights", "--text WORDS or --remove"),
        ("sign knights", "no sign is given"),
        ("sign knights --sign perhaps", "'perhaps' is no sign"),
        ("promote knights", "stands in the main line already"),
        ("demote knights", "cannot be demoted"),
        ("delete panov 4...Nf6", "has no 4...Nf6 there"),
        ("comment 1.d4 c5 --text x", "the manuscript follows 1.d4 and has no 1...c5 there"),
        ("move knights --to panov", "Nf3 is not legal there"),
        ("merge no-such.pgn", "there is no such file"),
        ("merge a.pgn b.pgn", "one FILE is needed"),
        ("undo", "there is nothing to undo"),
        ("tidy --dry-run", "--dry-run is for --point"),
        ("add 1.d4 --game 9", "there is no game 9"),
    ],
)
def test_what_is_refused(edition: Path, words: str, told: str, capsys: pytest.CaptureFixture[str]) -> None:
    run(words, code=2)
    assert told in capsys.readouterr().err
    assert text(edition) == MANUSCRIPT


def test_results_as_json(edition: Path, check_json: Callable[..., Any]) -> None:
    for words, code in (
        (["add", "knights 4...Bb4", "--dry-run"], 0),
        (["comment", "knights", "--text", "x"], 0),
        (["sign", "knights", "--sign", "±"], 0),
        (["promote", "knights 4...Be7"], 0),
        (["demote", "knights 4...Be7"], 0),
        (["delete", "knights 4...Be7"], 0),
        (["move", "knights", "--to", "qgd 3.Nf3 Nf6 4.Nc3"], 0),
        (["merge", "other.pgn"], 0),
        (["tidy"], 0),
        (["split"], 0),
        (["undo", "--steps", "2"], 0),
        (["redo"], 0),
    ):
        check_json(["manuscript", *words], code)
