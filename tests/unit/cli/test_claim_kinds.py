"""Every kind of claim, in the digest, as a sign, and as words that the author marked: how it stands, what would hold, what would decide."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.invented_build import ROOT
from tests.invented_verdicts import said
from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts

AFTER = f"{ROOT} Nf6"


@pytest.fixture
def edition(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    folder = tmp_path / "panov"
    assert main(["new", str(folder), "--title", "Panov", "--root", f"main: {ROOT}", "--side", "white"]) == 0
    games = [("Nf6 5. Nc3", 7), ("e6 5. Nc3", 2), ("b6 5. Nc3", 1)]
    text = "".join(
        f'[Event "Invented"]\n[White "Orlo, T. {number}"]\n[Black "Vesk, I."]\n[Date "2024.05.{number + 1:02}"]\n\n'
        f"{ROOT} {moves} a6 {number % 3 + 6}. a3 *\n\n"
        for moves, count in games
        for number in range(count)
    )
    (folder / "sources" / "a.pgn").write_text(text)
    assert main(["sift", str(folder)]) == 0
    verdicts = [
        said("owl", ROOT, ("4...Nf6", 0), ("4...e6", 20), ("4...b6", 300)),
        said("owl", AFTER, ("5.Nc3", 0)),
        said("owl", f"{ROOT} b6", ("5.Nc3", 400)),
        said("owl", f"{ROOT} b5", ("5.cxb5", 250)),
        said("owl", f"{ROOT} h6", ("5.Nc3", 100)),
    ]
    append_verdicts(folder / "verdicts" / "owl.epd", verdicts)
    capsys.readouterr()
    return folder


def digest(edition: Path, *spans: str) -> None:
    (edition / "digest.md").write_text("# Panov\n\n" + "\n\n".join(spans) + "\n")


@pytest.mark.parametrize(
    ("attributes", "standing", "rewording"),
    [
        ('kind=score at="main" says="winning White"', "contradicted", "= (level) holds"),
        ('kind=score at="main 4...h6" says="winning Black"', "contradicted", "clear White) holds"),
        ('kind=concedes at="main" move="4...b6" says="??"', "holds", ""),
        ('kind=concedes at="main" move="4...e6" says="??"', "contradicted", "? is not contradicted"),
        ('kind=better at="main" move="4...Nf6" than="4...b6"', "holds", ""),
        (
            'kind=better at="main" move="4...b6" than="4...Nf6"',
            "contradicted",
            "4...Nf6 is better than 4...b6",
        ),
        ('kind=better at="main" move="4...Nf6" than="4...e6"', "undecided", ""),
        ('kind=only-move at="main" move="4...b6"', "contradicted", "one move of several"),
        ('kind=transposes at="1.d4 d5 2.e4 c6 3.exd5 cxd5 4.c4" to="main"', "holds", ""),
        ('kind=transposes at="1.e4 c6 2.d4 d5 3.exd5 cxd5 4.Nf3" to="main"', "contradicted", ""),
        ('kind=tempo at="1.d4 d5 2.e4 c6 3.c4 c5" side=black says="one"', "holds", ""),
        ('kind=tempo at="main" side=black says="2"', "contradicted", "'no tempi' holds"),
        ('kind=novelty at="main" move="4...h6"', "holds", ""),
        ('kind=novelty at="main" move="4...e6"', "contradicted", ""),
        ('kind=popularity at="main" move="4...Nf6" says="most played"', "holds", ""),
        ('kind=popularity at="main" move="4...e6" says="common"', "holds", ""),
        ('kind=popularity at="main" move="4...e6" says="rare"', "contradicted", "'common' holds"),
        ('kind=popularity at="main" move="4...e6" says="most played"', "contradicted", "'common' holds"),
        ('kind=structure at="main 4...dxc4 5.Bxc4 e6" says="Isolated queen’s pawn"', "holds", ""),
        ('kind=structure at="main" says="Isolated queen\'s pawn"', "contradicted", ""),
        ('kind=hinge at="main" move="4...Nf6" says="pawn on c4"', "undecided", ""),
    ],
)
def test_a_claim_of_the_digest(
    edition: Path, attributes: str, standing: str, rewording: str, check_json: Callable[..., Any]
) -> None:
    digest(edition, f"[So it is]{{.claim {attributes}}}.")
    (claim,) = check_json(["check", str(edition)], code=int(standing == "contradicted"))["claims"]
    assert claim["standing"] == standing, claim
    assert rewording in claim["rewording"]
    assert bool(claim["wanted"]) is (standing == "undecided")


@pytest.mark.parametrize(
    ("attributes", "code"),
    [
        ('kind=better at="main" move="4...Nf6"', "claim-attribute"),
        ('kind=better at="main" move="4...Ke4" than="4...e6"', "claim-attribute"),
        ('kind=only-move at="main" move="4...Nf6 5.Nc3"', "claim-attribute"),
        ('kind=concedes at="main" move="4...e6" says="dubious"', "claim-attribute"),
        ('kind=transposes at="main" to="mian"', "claim-place"),
        ('kind=tempo at="main" says="many"', "claim-attribute"),
        ('kind=tempo at="main" says="one" side=green', "claim-attribute"),
        ('kind=popularity at="main" move="4...e6" says="often"', "claim-attribute"),
        ('kind=structure at="main" says="hanging lawns"', "claim-attribute"),
        ('kind=popular at="main"', "claim-kind"),
    ],
)
def test_one_that_cannot_be_read_is_named_with_its_place(
    edition: Path, attributes: str, code: str, capsys: pytest.CaptureFixture[str]
) -> None:
    digest(edition, f"Before. [So it is]{{.claim {attributes}}}.")
    assert main(["check", str(edition)]) == 2
    captured = capsys.readouterr()
    assert f"digest.md:3:9: {code}" in captured.err
    assert "Traceback" not in captured.err


def test_words_that_the_author_marked_claim(edition: Path, check_json: Callable[..., Any]) -> None:
    with (edition / "edition.toml").open("a") as file:
        file.write(
            '\n[words.claims]\n"The main move" = "popularity most played"\n"Level" = "score level"\n'
            '"Transposes to" = "transposes"\n"Forced" = "only-move"\n"Sad" = "sorrow"\n'
        )
    (edition / "manuscript.pgn").write_text(
        '[Event "x"]\n\n1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 {The main move, and a good one.} '
        "(4... e6 {Forced.}) (4... b6 {Level}) (4... a6 {Sad}) (4... g6 {The main moves}) 5. Nc3 *\n\n"
        '[Event "y"]\n\n1. d4 d5 2. e4 c6 3. exd5 cxd5 4. c4 {Transposes to main; the rest is known.} *\n'
    )
    claims = check_json(["check", str(edition)], code=1)["claims"]
    assert {(claim["subject"], claim["says"]): claim["standing"] for claim in claims} == {
        ("4...Nf6", "The main move"): "holds",
        ("4...e6", "Forced"): "contradicted",
        ("4...b6", "Level"): "contradicted",
        ("4...a6", "Sad"): "not checkable",
        ("4.c4", "Transposes to"): "holds",
    }
    assert next(one for one in claims if one["says"] == "Sad")["remark"] == "words cannot claim 'sorrow'"


def test_a_game_that_comes_twice_is_one_of_the_games_there(
    edition: Path, check_json: Callable[..., Any], capsys: pytest.CaptureFixture[str]
) -> None:
    (edition / "sources" / "b.pgn").write_text(
        f'[White "Orlo, T."]\n[Black "Vesk, I."]\n\n{ROOT} Nf6 5. Nc3 Ng8 6. Nb1 e6 7. Nc3 Nf6 *\n'
    )
    assert main(["sift", str(edition)]) == 0
    capsys.readouterr()
    digest(edition, '[Nf6]{.claim kind=popularity at="main" move="4...Nf6" says="most played"}')
    (claim,) = check_json(["check", str(edition)])["claims"]
    assert "8 of 11 games there" in claim["remark"]


def test_claims_against_each_other_are_named(
    edition: Path, check_json: Callable[..., Any], capsys: pytest.CaptureFixture[str]
) -> None:
    (edition / "manuscript.pgn").write_text(
        '[Event "x"]\n\n1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 $14 Nf6 $7 (4... e6 $7 $2) *\n'
    )
    digest(
        edition,
        '[Level]{.claim kind=score at="main" says="level"}.',
        '[New]{.claim kind=novelty at="main" move="4...h6"}; [rare]{.claim kind=popularity at="main" move="4...h6" says="rare"}.',
        '[So]{.claim kind=better at="main" move="4...h5" than="4...a5"}, [or]{.claim kind=better at="main" move="4...a5" than="4...h5"}.',
    )
    report = check_json(["check", str(edition)], code=1)
    assert [conflict["why"] for conflict in report["conflicts"]] == [
        "one position has two scores",
        "two moves are each the only one",
        "the only move concedes nothing",
        "each of two moves is better than the other",
    ]
    first = report["conflicts"][0]
    assert first["first"].startswith("manuscript.pgn:3:") and first["second"].startswith(
        "digest.md:3:1: Level"
    )
    assert main(["check", str(edition)]) == 1
    assert "Against each other" in capsys.readouterr().out


def test_an_open_claim_names_what_would_decide_it_and_is_decided(
    edition: Path, check_json: Callable[..., Any], capsys: pytest.CaptureFixture[str]
) -> None:
    """White has just lost the queen; the resident sees so with few nodes."""
    with (edition / "edition.toml").open("a") as file:
        file.write("\n[budget]\nnodes_per_verdict = 2000\nminimum_effort = 2000\n")
    at = "main 4...Nf6 5.Qh5 Nxh5"
    digest(edition, f'[Black wins]{{.claim kind=score at="{at}" says="winning Black"}}.')
    (claim,) = check_json(["check", str(edition)])["claims"]
    assert (claim["standing"], claim["wanted"]) == ("undecided", "a verdict of 2,000 nodes on the position")
    (claim,) = check_json(["check", str(edition), "--decide", "--total-nodes", "60000"])["claims"]
    assert claim["standing"] == "holds"
    assert main(["check", str(edition), "--minutes", "1"]) == 2
    assert "add --decide" in capsys.readouterr().err


def test_where_no_deeper_verdict_would_decide_this_is_said(
    edition: Path, check_json: Callable[..., Any]
) -> None:
    append_verdicts(edition / "verdicts" / "owl.epd", [said("owl", f"{ROOT} a6", ("5.Nc3", 52))])
    digest(edition, '[A bit better]{.claim kind=score at="main 4...a6" says="level"}.')
    (claim,) = check_json(["check", str(edition)])["claims"]
    assert claim["standing"] == "undecided"
    assert claim["wanted"].startswith("no deeper verdict")
