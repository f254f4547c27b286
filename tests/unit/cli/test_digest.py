"""`variorum digest suggest` and `digest reach`: the draft is a digest that check accepts, and evidence that is missing is said."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.invented_build import GAMES, ROOT, make_edition
from tests.invented_verdicts import said
from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts

MAIN = f"{ROOT} Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5"


@pytest.fixture
def folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    folder = make_edition(tmp_path / "panov")
    (folder / "sources" / "games.pgn").write_text(GAMES * 2)
    append_verdicts(
        folder / "verdicts" / "owl.epd",
        [
            said("owl", ROOT, ("4...Nf6 5.Nc3 e6", 30), ("4...e6", 45)),
            said("owl", MAIN, ("8.Bd3 Nc6 9.O-O O-O", 40), ("8.Bc4", 38)),
            said("owl", f"{ROOT} Nf6 5.Nc3 Nc6", ("6.Bg5 Be6 7.a3", 60)),
            said("owl", f"{ROOT} Nf6 5.Nc3 Nc6 6.Bg5", ("6...Be6 7.a3", 60)),
            said("owl", f"{MAIN} 8.Bd3", ("8...Nc6 9.O-O O-O", 40)),
            said("owl", f"{MAIN} 8.Bd3 Nc6 9.O-O O-O", ("10.Re1", 40)),
        ],
    )
    assert main(["sift", str(folder)]) == 0
    capsys.readouterr()
    return folder


def test_the_draft_reads_well(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    assert main(["digest", "suggest", str(folder), "--lines", "4", "--diagrams", "2"]) == 0
    snapshot(capsys.readouterr().out, extension="md")


def test_what_was_written_is_told_and_nothing_is_overwritten(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None], tmp_path: Path
) -> None:
    call = ["digest", "suggest", str(folder), "--lines", "4", "--write", str(tmp_path / "draft.md")]
    assert main(call) == 0
    snapshot(capsys.readouterr().out)
    assert main(call) == 2
    assert "exists already" in capsys.readouterr().err


def test_the_draft_is_a_digest_without_a_fault(folder: Path, check_json: Callable[..., Any]) -> None:
    suggestion = check_json(["digest", "suggest", str(folder)])
    (folder / "digest.md").write_text(suggestion["markdown"], encoding="utf-8")
    check_json(
        ["check", str(folder)], code=1
    )  # prints no diagnostic; a sign of the manuscript is contradicted
    reached = check_json(["digest", "reach", str(folder)])["reached"]
    assert reached["reach"] == pytest.approx(suggestion["reach"], abs=0.1)
    again = check_json(["digest", "suggest", str(folder)])
    assert again["markdown"] == suggestion["markdown"]
    assert again["present"]["reach"] == pytest.approx(suggestion["reach"], abs=0.1)


def test_without_evidence_the_draft_says_so(tmp_path: Path, check_json: Callable[..., Any]) -> None:
    folder = make_edition(tmp_path / "bare")
    (folder / "manuscript.pgn").unlink()
    (folder / "digest.md").unlink()
    suggestion = check_json(["digest", "suggest", str(folder)])
    assert suggestion["present"] is None
    assert "no voice has judged main with enough effort" in suggestion["thin"]
    assert "no game of the sources came to main" in suggestion["thin"]
    (folder / "digest.md").write_text(suggestion["markdown"], encoding="utf-8")
    check_json(["check", str(folder)])


def test_a_private_tabiya_is_not_drafted(folder: Path, check_json: Callable[..., Any]) -> None:
    with (folder / "edition.toml").open("a") as file:
        file.write('\n[private]\nnames = ["main"]\n')
    suggestion = check_json(["digest", "suggest", str(folder)])
    assert "main" not in suggestion["markdown"].replace("remain", "")


def test_a_position_off_the_graph_is_named_with_its_place(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "digest.md").write_text(
        '# Panov\n\n:::diagram panov 4...h6 5.h3\n:::\n\nSee [1]{.fact kind=count at="1.e4 e5"}.\n'
    )
    assert main(["digest", "reach", str(folder)]) == 0
    captured = capsys.readouterr()
    assert "digest.md:3:1" in captured.err and "digest.md:6:5" in captured.err
    assert "answers 0.0 % of the traffic" in captured.out


def test_check_and_publish_say_what_digest_reach_says(
    folder: Path, check_json: Callable[..., Any], capsys: pytest.CaptureFixture[str]
) -> None:
    reached = check_json(["digest", "reach", str(folder)])["reached"]
    assert 0.0 < reached["reach"] < 100.0
    words = f"The digest answers {reached['reach']:.1f} % of the traffic, at 1 place ("
    for command, code in (("check", 1), ("publish", 0)):
        told = check_json([command, str(folder)], code=code)["reach"]
        assert (told["reach"], told["places"]) == (reached["reach"], reached["places"])
        main([command, str(folder)])
        assert words in capsys.readouterr().out
    (folder / "digest.md").unlink()
    assert check_json(["check", str(folder)], code=1)["reach"] is None


def test_a_place_off_the_graph_is_told_by_check_and_publish_alike(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    off = "8/8/4k3/8/8/4K3/4P3/8 w - - 0 1"
    (folder / "digest.md").write_text(f"# Far away\n\n:::diagram {off}\n:::\n", encoding="utf-8")
    for command in ("check", "publish"):
        main([command, str(folder)])
        assert capsys.readouterr().err.count("digest.md:3:1: off-graph") == 1
