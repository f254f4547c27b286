"""check and publish: signs and sentences against verdicts that are given, by the command line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import chess.pgn
import pytest

from variorum.board import Line, Move, Score, Verdict, VerdictLine
from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts

ROOT = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
NODES = 262_144


def verdict(line: str, *scored: tuple[str, int], nodes: int = NODES) -> Verdict:
    """What `owl` says of a position: moves as SAN, best first, with centipawns for White."""
    position = Line.parse(line).end
    lines = tuple(VerdictLine((position.parse(move).uci,), Score.of_cp(cp)) for move, cp in scored)
    return Verdict(
        key=position.key,
        epd=position.epd,
        voice="owl",
        version="1",
        lines=lines,
        multipv=len(lines),
        nodes=nodes,
    )


@pytest.fixture
def edition(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    folder = tmp_path / "panov"
    assert main(["new", str(folder), "--title", "Panov", "--root", ROOT, "--side", "white"]) == 0
    capsys.readouterr()
    return folder


def write(edition: Path, moves: str, *verdicts: Verdict) -> None:
    (edition / "manuscript.pgn").write_text(f'[Event "x"]\n[Result "*"]\n\n{moves} *\n')
    append_verdicts(edition / "verdicts" / "owl.epd", verdicts)


AFTER = f"{ROOT} Nf6"


@pytest.mark.parametrize(
    ("sign", "cp", "standing"),
    [
        ("$10", 0, "holds"),
        ("$14", 0, "undecided"),  # 50 ± 6.7 reaches 55
        ("$14", -60, "contradicted"),  # E 41.5
        ("$14", 63, "holds"),  # E 59.0 ± 6.7, in 55 to 63 widened by 3.4
        ("$16", 0, "contradicted"),
        ("$18", 900, "holds"),
        ("$15", 300, "contradicted"),
        ("$13", 0, "not checkable"),
        ("$44", 0, "not checkable"),
        ("$1", 0, "not checkable"),
    ],
)
def test_signs_of_evaluation(
    edition: Path, sign: str, cp: int, standing: str, check_json: Callable[..., Any]
) -> None:
    """Bands of methods.md 2, White's view: level 45–55, slight to 63, clear to 80. At 262,144 nodes σ is 3.4."""
    write(edition, f"1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 {sign}", verdict(AFTER, ("Nc3", cp)))
    report = check_json(["check", str(edition)], code=int(standing == "contradicted"))
    (claim,) = report["claims"]
    assert claim["standing"] == standing
    assert claim["subject"] == "4...Nf6"
    assert bool(claim["refutation"]) is (standing == "contradicted")


@pytest.mark.parametrize(
    ("sign", "after_cp", "standing"),
    [("$2", 300, "holds"), ("$2", 0, "undecided"), ("$4", 600, "holds"), ("$4", 40, "contradicted")],
)
def test_signs_of_concession(
    edition: Path, sign: str, after_cp: int, standing: str, check_json: Callable[..., Any]
) -> None:
    """Black's best is level; the move played leaves White with the given score. `?` concedes 8, `??` 20 (methods.md 13).

    The noise of a difference is 9.4 at this effort, so a mistake of 8 points cannot be denied yet.
    """
    before = verdict(ROOT, ("Nf6", 0), ("e6", 5))
    after = verdict(f"{ROOT} b5", ("cxb5", after_cp))
    write(edition, f"1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 b5 {sign}", before, after)
    (claim,) = check_json(["check", str(edition)], code=int(standing == "contradicted"))["claims"]
    assert claim["standing"] == standing


@pytest.mark.parametrize(
    ("move", "first", "second", "standing"),
    [
        ("Nf6", ("Nf6", 0), ("e6", 400), "holds"),
        ("Nf6", ("Nf6", 0), ("e6", 10), "contradicted"),
        ("e6", ("Nf6", 0), ("e6", 10), "contradicted"),
        (
            "Nf6",
            ("Nf6", 500),
            ("e6", 900),
            "undecided",
        ),  # much is conceded, but nothing was held (methods.md 10)
    ],
)
def test_only_moves(
    edition: Path,
    move: str,
    first: tuple[str, int],
    second: tuple[str, int],
    standing: str,
    check_json: Callable[..., Any],
) -> None:
    write(edition, f"1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 {move} $7", verdict(ROOT, first, second))
    (claim,) = check_json(["check", str(edition)], code=int(standing == "contradicted"))["claims"]
    assert claim["standing"] == standing


def test_the_verdict_after_a_move_rules(edition: Path, check_json: Callable[..., Any]) -> None:
    """The voice likes 4...e6 as well as 4...Nf6 until it has looked behind it: then only 4...Nf6 holds (methods.md 3)."""
    write(
        edition,
        "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 $7",
        verdict(ROOT, ("e6", -10), ("Nf6", 0)),
        verdict(f"{ROOT} e6", ("Nc3", 400)),
    )
    (claim,) = check_json(["check", str(edition)])["claims"]
    assert claim["standing"] == "holds"


def test_nothing_is_answered_below_the_least_effort(edition: Path, check_json: Callable[..., Any]) -> None:
    write(edition, "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 $16", verdict(AFTER, ("Nc3", 0), nodes=1000))
    (claim,) = check_json(["check", str(edition)])["claims"]
    assert (claim["standing"], claim["figures"]) == ("undecided", [])


def test_what_was_played_is_no_novelty(
    edition: Path, check_json: Callable[..., Any], capsys: pytest.CaptureFixture[str]
) -> None:
    games = '[Event "Invented"]\n[Date "2024.05.01"]\n\n1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 5. Nc3 *\n\n'
    (edition / "sources" / "a.pgn").write_text(games)
    assert main(["sift", str(edition), "--json"]) == 0
    write(
        edition,
        "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 {N new?} (4... e5 {N} 5. Nc3) 5. Nc3 {todo: 5...e6}",
    )
    capsys.readouterr()
    report = check_json(["check", str(edition)], code=1)
    assert [(claim["subject"], claim["standing"]) for claim in report["claims"]] == [
        ("4...Nf6", "contradicted"),
        ("4...e5", "holds"),
    ]
    assert report["claims"][0]["remark"] == "played 1 times within the 1 games given, to 2024-05-01"
    assert [question["text"] for question in report["questions"]] == ["5...e6"]


def test_publishing_carries_standing_and_apparatus_and_nothing_private(
    edition: Path, check_json: Callable[..., Any]
) -> None:
    write(
        edition,
        "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 {the plain word} 5. Nc3 {private: NEEDLE}",
        verdict(AFTER, ("Nc3", 0)),
    )
    (edition / "digest.md").write_text(
        f'# Panov\n\n[White is clearly better]{{.claim kind=score at="{AFTER}" says="clear White"}} there, '
        f'[1.0]{{.fact kind=score at="{AFTER}"}}.\n\nprivate: NEEDLE\n'
    )
    assert main(["publish", str(edition), "--json"]) == 0
    page = (edition / "out" / "digest.html").read_text(encoding="utf-8")
    assert "contradicted" in page
    assert "50.0" in page and "1.0</" not in page  # the looked-up figure, not the typed one
    pgn = (edition / "out" / "manuscript.pgn").read_text(encoding="utf-8")
    assert "the plain word" in pgn and "A 50.0" in pgn
    assert "NEEDLE" not in page + pgn
    with (edition / "out" / "manuscript.pgn").open(encoding="utf-8") as file:
        game = chess.pgn.read_game(file)
    assert game is not None and not game.errors
    assert [move.uci() for move in game.mainline_moves()][:2] == [Move("e2e4").uci, Move("c7c6").uci]
