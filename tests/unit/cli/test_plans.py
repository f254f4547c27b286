from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from variorum.cli import main

OPENING = (
    "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 5. Nc3 e6 6. Nf3 Be7 7. cxd5 Nxd5 8. Bd3 Nc6 9. O-O O-O 10. Re1"
)
BREAKS = (
    "Nf6 11. a3 b6 12. Bg5 Bb7 13. d5 exd5 14. Nxd5 Nxd5",
    "Nf6 11. a3 a6 12. Bc2 b5 13. d5 exd5 14. Nxd5 Nxd5",
    "Nf6 11. a3 Bd7 12. Bc2 Rc8 13. Qd3 g6 14. d5",
)
QUIET = ("Bf6 11. Ne4 b6 12. Nxf6+ Qxf6", "Bf6 11. Be4 Nce7 12. Ne5 Bd7", "Bf6 11. a3 Nxc3 12. bxc3 b6")


def game(moves: str, number: int, result: str, white: str = "Orlo, Tam", black: str = "Vesk, Ina") -> str:
    tags = {"Event": "Invented", "Round": str(number), "White": white, "Black": black, "Result": result}
    head = "".join(f'[{name} "{value}"]\n' for name, value in tags.items())
    return f"{head}\n{OPENING} {moves} {result}\n\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An edition with thirty games of practice and six of an invented voice through one place."""
    path = tmp_path_factory.mktemp("plans")
    (path / "edition.toml").write_text(
        'title = "The isolated queen\'s pawn"\nside = "white"\n[roots]\npanov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"\n'
        '[names]\niqp = "panov Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"\n'
        'back = "iqp 10...Nf6"\nforward = "iqp 10...Bf6"\nempty = "iqp 10...h6 11.h3"\n'
        '[[sources]]\npath = "sources/voice.pgn"\nkind = "engine"\nvoice = "invented"\n',
        encoding="utf-8",
    )
    (path / "sources").mkdir()
    practice = []
    for moves in (*BREAKS, *QUIET):
        for reply in ("", "h3", "h4", "g3", "Kf1"):
            number = len(practice)
            result = ("1-0", "1/2-1/2", "0-1")[number % 3]
            # In the third line it is Black's move at the end.
            move = (
                {"h3": "h6", "h4": "h5", "g3": "a6", "Kf1": "a5"}.get(reply, "")
                if moves.endswith("14. d5")
                else reply
            )
            practice.append(game(f"{moves} {move}", number, result, f"White, {number}"))
    (path / "sources" / "practice.pgn").write_text("".join(practice), encoding="utf-8")
    voice = [
        game(f"{moves} 13. h3", number, "1/2-1/2", "invented", "invented")
        for number, moves in enumerate(QUIET * 2)
    ]
    (path / "sources" / "voice.pgn").write_text("".join(voice), encoding="utf-8")
    assert main(["sift", str(path)]) == 0
    return path


def test_practice_and_playouts(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    capsys.readouterr()
    assert main(["plans", str(folder), "iqp", "--games", "2"]) == 0
    snapshot(capsys.readouterr().out)


def test_against_another_place(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    capsys.readouterr()
    arguments = ["plans", str(folder), "forward", "--against", "back", "--from", "practice", "--games", "0"]
    assert main(arguments) == 0
    snapshot(capsys.readouterr().out)


def test_a_contrast_tells_what_changes_in_the_plans(
    folder: Path, capsys: pytest.CaptureFixture[str], check_json: Callable[..., Any]
) -> None:
    capsys.readouterr()
    assert main(["contrast", str(folder), "forward", "back"]) == 0
    said = (
        "In practice White's break d4–d5 is hardly ever seen in forward: 0 of 15, against 15 of 15 in back."
    )
    assert (
        f"What changes in the plans (`variorum plans` with --against tells more)\n  {said}"
        in capsys.readouterr().out
    )
    assert check_json(["contrast", str(folder), "forward", "back"])["plans"][0] == said
    assert check_json(["contrast", str(folder), "forward", "empty"])["plans"] == []


def test_json(folder: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["plans", str(folder), "iqp", "--from", "invented"])
    (body,) = report["bodies"]
    # Playouts that are alike to the end count once.
    assert (body["name"], body["games"]) == ("invented", 3)
    report = check_json(["plans", str(folder), "iqp", "--against", "back"])
    assert [body["name"] for body in report["bodies"]] == ["practice", "playouts"]
    assert any(plan["plan"] == "d4–d5" for plan in report["typical"])


def test_no_games_there(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    assert main(["plans", str(folder), "empty"]) == 0
    assert (
        "No game goes through this position, so nothing is known of the plans there."
        in capsys.readouterr().out
    )
    assert main(["plans", str(folder), "back", "--from", "playouts"]) == 0
    assert "No game of voices goes through this position" in capsys.readouterr().out
    assert main(["plans", str(folder), "iqp", "--against", "empty"]) == 0
    out = capsys.readouterr().out
    assert "No game of practice goes through empty." in out
    assert "What differs" not in out


def test_games_that_end_at_once(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    end = "iqp 10...Nf6 11.a3 Bd7 12.Bc2 Rc8 13.Qd3 g6 14.d5"
    assert main(["plans", str(folder), end]) == 0
    out = capsys.readouterr().out
    assert "only five games. What they show may be chance." in out
    assert "No plan is shown by enough of them to be told." in out
    assert "Model games" not in out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "PLACE is missing"),
        (["nowhere"], "no place is called"),
        (["iqp", "--against", "nowhere"], "no place is called"),
        (["iqp", "--from", "nobody"], "no games are of 'nobody'"),
        (["iqp", "--games", "-1"], "--games"),
    ],
)
def test_mistakes(folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str) -> None:
    capsys.readouterr()
    assert main(["plans", str(folder), *arguments]) == 2
    assert said in capsys.readouterr().err


def test_an_edition_without_games(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        main(["new", str(tmp_path / "e"), "--title", "x", "--side", "white", "--root", "qgd: 1.d4 d5"]) == 0
    )
    assert main(["plans", str(tmp_path / "e"), "qgd"]) == 2
    assert "no games yet" in capsys.readouterr().err
