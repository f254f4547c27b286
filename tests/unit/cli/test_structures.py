from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from variorum.cli import main

GAMES = """\
[Event "Lines"]

1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 5. Nc3 e6 6. Nf3 dxc4 (6... Be7 7. c5) 7. Bxc4 *
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "edition.toml").write_text(
        'title = "Panov"\nside = "white"\n[roots]\npanov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"\n'
        '[names]\ntabiya = "panov Nf6 5.Nc3 e6 6.Nf3"\n',
        encoding="utf-8",
    )
    (tmp_path / "manuscript.pgn").write_text(GAMES, encoding="utf-8")
    return tmp_path


def test_the_whole_edition(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    assert main(["structures", str(folder)]) == 0
    snapshot(capsys.readouterr().out)


def test_from_a_place_with_a_limit(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["structures", str(folder), "tabiya", "--limit", "1"]) == 0
    out = capsys.readouterr().out
    assert "From tabiya: 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 on." in out
    assert "Steps from one to another, 1 of 2, with" in out
    assert "Where the lines of the texts end, 1 of 2" in out


def test_games_are_counted_beside_the_lines(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    game = (
        '[Event "x"]\n[White "Orlo, Tam"]\n[Black "Vesk, Ina"]\n[Result "1-0"]\n\n'
        "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 5. Nc3 e6 6. c5 1-0\n"
    )
    (folder / "sources").mkdir()
    (folder / "sources" / "games.pgn").write_text(game, encoding="utf-8")
    assert main(["sift", str(folder)]) == 0
    capsys.readouterr()
    assert main(["structures", str(folder)]) == 0
    out = capsys.readouterr().out
    assert "c5            to Panov formation (White's)        100.0 %   1 game  1 line" in out
    assert "...dxc4 Bxc4  to isolated queen's pawn (White's)    0.0 %  0 games  1 line" in out


def test_json(folder: Path, check_json: Callable[..., Any]) -> None:
    value = check_json(["structures", str(folder)])
    assert [(one["by"], one["flow"], one["lines"]) for one in value["steps"]] == [
        ("...dxc4 Bxc4", 50.0, 1),
        ("c5", 50.0, 1),
    ]
    assert value["structures"][0]["sources"] == ["Andrew Soltis, Pawn Structure Chess, 1976"]


def test_an_edition_without_lines_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "edition.toml").write_text(
        'title = "x"\nside = "white"\n[roots]\nopen = "1.e4"\n', encoding="utf-8"
    )
    assert main(["structures", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "Positions with a named structure: 0 of 1." in out
    assert "No line goes from one structure to another." in out


def test_a_place_that_no_line_leads_to_is_an_error(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["structures", str(folder), "1.d4 f5"]) == 2
    assert "no line of the edition leads to '1.d4 f5'" in capsys.readouterr().err


CLAIMS = """\
# Panov

It [is an isolani]{.claim kind=structure at="tabiya dxc4 7.Bxc4" says="isolated queen's pawn"}, before
[it is none]{.claim kind=structure at="tabiya" says="isolated queen’s pawn"}. It is
[White's]{.claim kind=structure at="tabiya" says="panov tension (White's)"}, not
[Black's]{.claim kind=structure at="tabiya" says="Panov tension (Black's)"}, and
[nothing]{.claim kind=structure at="1.e4" says="Carlsbad"} at first.
"""


def test_claims_of_a_structure_are_checked(folder: Path, check_json: Callable[..., Any]) -> None:
    (folder / "digest.md").write_text(CLAIMS, encoding="utf-8")
    file = folder / "edition.toml"
    file.write_text(
        file.read_text(encoding="utf-8").replace("[names]", 'first = "1.e4"\n[names]'), encoding="utf-8"
    )
    found = check_json(["check", str(folder)], code=1)["claims"]
    assert {one["says"]: (one["standing"], one["remark"]) for one in found} == {
        "is an isolani (isolated queen's pawn)": ("holds", "it has: isolated queen's pawn (White's)"),
        "it is none (isolated queen’s pawn)": ("contradicted", "it has: Panov tension (White's)"),
        "White’s (panov tension (White's))": ("holds", "it has: Panov tension (White's)"),
        "Black’s (Panov tension (Black's))": ("contradicted", "it has: Panov tension (White's)"),
        "nothing (Carlsbad)": ("contradicted", "its pawn skeleton has no name here"),
    }


def test_a_structure_that_nobody_knows_is_an_error(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "digest.md").write_text(
        '# x\n\n[x]{.claim kind=structure at="tabiya" says="Carlsbat"}\n', encoding="utf-8"
    )
    assert main(["check", str(folder)]) == 2
    assert "'Carlsbat' is no name of a structure (did you mean 'Carlsbad'?)" in capsys.readouterr().err
