"""check and publish: signs and sentences against verdicts that are given, by the command line."""

from __future__ import annotations

import json
import re
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


def verdict(line: str, *scored: tuple[str, int], nodes: int = NODES, date: str = "") -> Verdict:
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
        date=date,
    )


@pytest.fixture
def edition(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    folder = tmp_path / "panov"
    assert main(["new", str(folder), "--title", "Panov", "--root", f"main: {ROOT}", "--side", "white"]) == 0
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
        ("$14", 10, "undecided"),  # 52.3 ± 7.5 reaches 58
        ("$14", -60, "contradicted"),  # E 36.5
        ("$14", 63, "holds"),  # E 64.2 ± 9.4, in 58 to 70 widened by 4.8
        ("$16", 0, "contradicted"),
        ("$18", 900, "holds"),
        ("$15", 300, "contradicted"),
        ("$11", 0, "holds"),
        ("$12", 0, "holds"),
        ("$15", -63, "holds"),
        ("$17", -160, "holds"),  # E 18.6
        ("$17", 0, "contradicted"),
        ("$19", -900, "holds"),
        ("$19", 0, "contradicted"),
        ("$20", 900, "holds"),  # two codes say more than winning: the band is that of winning
        ("$21", -900, "holds"),
        ("$13", 0, "not checkable"),
        ("$44", 0, "not checkable"),
        ("$1", 0, "not checkable"),
    ],
)
def test_signs_of_evaluation(
    edition: Path, sign: str, cp: int, standing: str, check_json: Callable[..., Any]
) -> None:
    """Bands of methods.md 2, White's view: level 42–58, slight to 70, clear to 90. At 262,144 nodes σ is 3.8 near level."""
    write(edition, f"1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 {sign}", verdict(AFTER, ("Nc3", cp)))
    report = check_json(["check", str(edition)], code=int(standing == "contradicted"))
    (claim,) = report["claims"]
    assert claim["standing"] == standing
    assert claim["subject"] == "4...Nf6"
    assert bool(claim["refutation"]) is (standing == "contradicted")


@pytest.mark.parametrize(
    ("sign", "after_cp", "standing"),
    [("$2", 300, "holds"), ("$2", 20, "undecided"), ("$4", 600, "holds"), ("$4", 40, "contradicted")],
)
def test_signs_of_concession(
    edition: Path, sign: str, after_cp: int, standing: str, check_json: Callable[..., Any]
) -> None:
    """Black's best is level; the move played leaves White with the given score. `?` concedes 12, `??` 30 (methods.md 13).

    The noise of a difference is 10.6 at this effort, so that a mistake of 12 points cannot be denied where 5 are given away.
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
            ("Nf6", 100),
            ("e6", 700),
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


def test_the_only_legal_move_needs_no_voice(edition: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """2.Qh5 is answered by 2...g6 and nothing else; to 2.Bb5 there are other answers, and nobody was asked."""
    write(edition, '1. e4 f6 2. Qh5+ g6 $7 *\n\n[Event "y"]\n\n1. e4 d5 2. Bb5+ c6 $7')
    assert main(["check", str(edition), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["claims"]
    open_, forced = sorted(found, key=lambda claim: claim["standing"], reverse=True)
    assert (forced["standing"], forced["remark"]) == ("holds", "no other move is legal")
    assert open_["standing"] == "undecided"
    assert "that compares it with another move" in open_["remark"]


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
    games = '[Event "Invented"]\n[White "Orlo, Tam"]\n[Black "Vesk, Ina"]\n[Date "2024.05.01"]\n\n1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 5. Nc3 *\n\n'
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
    assert report["claims"][0]["remark"] == (
        "played once within the 1 game given, to 2024-05-01; first Orlo, Tam – Vesk, Ina, 2024-05-01"
    )
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


def test_what_refutes_is_told(edition: Path, check_json: Callable[..., Any]) -> None:
    """`+−` after 4...Nf6: Black's best line. `??` on 4...b5: it is sound, so the play after it. `□`: the other move."""
    write(
        edition,
        "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 $18 (4... b5 $4 5. cxb5) (4... e6 $7)",
        verdict(AFTER, ("Nc3", 0)),
        verdict(ROOT, ("Nf6", 0), ("e6", 0)),
        verdict(f"{ROOT} b5", ("cxb5", 0)),
    )
    claims = check_json(["check", str(edition)], code=1)["claims"]
    assert {(claim["says"], claim["refutation"]) for claim in claims} == {
        ("+−", "5.Nc3"),
        ("??", "4...b5 5.cxb5"),
        ("□", "4...Nf6 5.Nc3"),
    }


@pytest.mark.parametrize(
    ("days", "date", "standing"),
    [
        (0, "2001-01-01", "holds"),  # 0: verdicts do not grow old
        (30, "2001-01-01", "stale"),
        (30, "", "stale"),
        (36500, "2001-01-01", "holds"),
    ],
)
def test_old_evidence_makes_a_decision_stale(
    edition: Path, days: int, date: str, standing: str, check_json: Callable[..., Any]
) -> None:
    """methods.md 13: evidence older than the edition asks. It is not counted as holding, nor as contradicted."""
    with (edition / "edition.toml").open("a", encoding="utf-8") as file:
        file.write(f"\n[thresholds]\nstale_days = {days}\n")
    old = verdict(AFTER, ("Nc3", 0), date=date)
    write(edition, "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 $10", old)
    report = check_json(["check", str(edition)])
    (claim,) = report["claims"]
    assert claim["standing"] == standing
    assert (report["stale"], report["holds"]) == ((1, 0) if standing == "stale" else (0, 1))
    if standing == "stale":
        assert "the edition asks for none older than 30 days" in claim["remark"]


def test_a_contradiction_by_old_evidence_is_no_answer_no(
    edition: Path, check_json: Callable[..., Any]
) -> None:
    with (edition / "edition.toml").open("a", encoding="utf-8") as file:
        file.write("\n[thresholds]\nstale_days = 30\n")
    old = verdict(AFTER, ("Nc3", 0), date="2001-01-01")
    write(edition, "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 $18 (4... e6 $10)", old)
    stale, undecided = sorted(
        check_json(["check", str(edition)])["claims"], key=lambda claim: claim["standing"]
    )
    assert stale["remark"].startswith("contradicted by a verdict of 2001-01-01")
    assert undecided["standing"] == "undecided"  # nobody spoke: no evidence, and none that is stale


DIGEST_WITH_FAULTS = """\
# Panov

[57.4]{.fact kind=scroe at="main"}, [3]{.fact kind=count at="mian"}, [3]{.fact kind=count at="main" off=orders},
[4...Ke4]{.line of="main"}, [5.Nc3]{.line fo="main"}, [5.Nc3]{.line of="mian"}, [12.Nc3]{.line of="main"},
[it is level]{.claim kind=scroe at="main" says="level"}, [it is level]{.claim kind=score at="mian" says="level"},
[it is level]{.claim kind=score at="main" says="leval"}, [it is level]{.claim kind=score at="main" sais="level"},
[4...Nf6 is level]{.claim kind=score at="1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6" says="level"}.

:::diagram mian
:::

The last sentence stands.
"""

FAULTS = [
    ("[57.4]", "fact-kind"),
    ('[3]{.fact kind=count at="mian"', "fact-place"),
    ('[3]{.fact kind=count at="main" off', "fact-attribute"),
    ("[4...Ke4]", "line-move"),
    ('[5.Nc3]{.line fo="main"', "line-attribute"),
    ('[5.Nc3]{.line of="mian"', "line-place"),
    ("[12.Nc3]", "line-number"),
    ("[it is level]{.claim kind=scroe", "claim-kind"),
    ('[it is level]{.claim kind=score at="mian"', "claim-place"),
    ('[it is level]{.claim kind=score at="main" says="leval"', "claim-attribute"),
    ('[it is level]{.claim kind=score at="main" sais', "claim-attribute"),  # says is missing,
    ('[it is level]{.claim kind=score at="main" sais', "claim-attribute"),  # and sais is unknown
    (":::diagram mian", "diagram-place"),
]


def place_of(fault: tuple[str, str, str]) -> tuple[int, int]:
    return int(fault[0]), int(fault[1])


@pytest.mark.parametrize("command", ["check", "publish"])
def test_faults_of_the_digest_are_told_with_their_place_and_the_rest_stands(
    edition: Path, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    write(edition, "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 $10", verdict(AFTER, ("Nc3", 0)))
    (edition / "digest.md").write_text(DIGEST_WITH_FAULTS)
    assert main([command, str(edition)]) == 2
    captured = capsys.readouterr()
    told = sorted(re.findall(r"digest\.md:(\d+):(\d+): ([a-z-]+)", captured.err), key=place_of)
    expected = [
        (str(number), str(line.index(start) + 1), code)
        for start, code in FAULTS
        for number, line in enumerate(DIGEST_WITH_FAULTS.splitlines(), 1)
        if start in line
    ]
    assert told == sorted(expected, key=place_of)
    for suggestion in (
        "did you mean score?",
        "did you mean 'main'?",
        "did you mean of?",
        "did you mean 'level'?",
    ):
        assert suggestion in captured.err
    if command == "check":
        assert "0 contradicted" in captured.out
        assert "2 hold, 4 not checkable" in captured.out
    else:
        page = (edition / "out" / "digest.html").read_text(encoding="utf-8")
        assert (
            "The last sentence stands." in page
            and "57.4" in page
            and ">holds" not in page.partition("<main")[0]
        )


@pytest.mark.parametrize("command", [["check"], ["map"], ["publish"], ["position", ROOT]])
def test_a_sign_on_an_illegal_move_is_told_with_its_place_and_the_rest_is_read(
    edition: Path, command: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    write(
        edition,
        "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 $10\n(4... e6 5. Ke4 $18 {lost?} 5... a6) (4... g5 $2) 5. Nc3",
        verdict(AFTER, ("Nc3", 0)),
    )
    before = (edition / "manuscript.pgn").read_bytes()
    assert main([command[0], str(edition), *command[1:]]) == 2
    captured = capsys.readouterr()
    assert "manuscript.pgn:5:13: illegal-move 'Ke4' is not legal here" in captured.err
    assert captured.out
    assert (edition / "manuscript.pgn").read_bytes() == before
    if command == ["check"]:
        assert "4...Nf6 =" in captured.out
        assert "4...g5 ?" in captured.out
        assert "5.Ke4" not in captured.out
    if command == ["publish"]:
        text = (edition / "out" / "manuscript.pgn").read_text(encoding="utf-8")
        assert "5. Nc3" in text and "g5 $2" in text and "Ke4" not in text


def test_results_of_games_are_no_verdict(edition: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A fact of kind score asks voices; what the games scored is printed only for `voice=G`."""
    games = '[Event "Invented"]\n[Result "1-0"]\n\n1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 {0} 1-0\n\n'
    replies = ("Nf6 5. Nc3", "e6 5. Nc3", "Nc6 5. Nc3", "g6 5. Nc3", "dxc4 5. Bxc4", "e5 5. dxe5")
    (edition / "sources" / "a.pgn").write_text("".join(games.replace("{0}", reply) for reply in replies))
    assert main(["sift", str(edition)]) == 0
    (edition / "digest.md").write_text(
        '# P\n\n[typed]{.fact kind=score at="main"} and [x]{.fact kind=score at="main" voice=G}.\n'
    )
    capsys.readouterr()
    assert main(["publish", str(edition)]) == 0
    errors = capsys.readouterr().err
    assert "digest.md:3:1: fact-unknown main: no voice has judged it yet" in errors
    assert "fact-changed 'x' was typed; it is '100.0' now" in errors


def test_position_names_the_places_that_nobody_knows(
    edition: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (edition / "digest.md").write_text(DIGEST_WITH_FAULTS)
    assert main(["position", str(edition), "main"]) == 2
    captured = capsys.readouterr()
    assert re.findall(r"digest\.md:(\d+):\d+: ([a-z-]+)", captured.err) == [
        ("3", "fact-place"),
        ("4", "line-place"),
        ("5", "claim-place"),
        ("9", "diagram-place"),
    ]
    assert "What the games say" in captured.out


def test_a_start_that_cannot_be_used(edition: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (edition / "manuscript.pgn").write_text(
        '[Event "x"]\n[SetUp "1"]\n[FEN "no/position w - - 0 1"]\n\n1. e4 $18 *\n\n[Event "y"]\n\n1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 $10 *\n'
    )
    for command in (["check"], ["map"], ["publish"], ["position", ROOT]):
        assert main([command[0], str(edition), *command[1:]]) == 2
        assert "manuscript.pgn:3:1: bad-start" in capsys.readouterr().err
    assert "4. c4 $10" in (edition / "out" / "manuscript.pgn").read_text(encoding="utf-8")
