"""`variorum new` and `variorum edition`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from variorum.base import InputError, UsageError
from variorum.cli import main
from variorum.cli.options import edition_and_place, edition_and_rest

NEW = [
    "--title",
    "Isolated queen's pawn",
    "--root",
    "panov: 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4",
    "--side",
    "white",
]
FAULTY = """
titel = "x"
title = "Isolated queen's pawn"
side = "both"
[roots]
panov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
bad = "1.e4 e5 2.Nf6"
[names]
early = "1.e4"
"""

Snapshot = Callable[[str], None]
CheckJson = Callable[..., Any]


def test_new_then_edition(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], snapshot: Snapshot
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["new", "iqp", *NEW, "--root", "ending: 4k3/8/8/8/8/8/4P3/4K3 w - -"]) == 0
    assert main(["edition", "iqp"]) == 0
    monkeypatch.chdir(tmp_path / "iqp" / "sources")
    assert main(["edition"]) == 0
    captured = capsys.readouterr()
    assert captured.err == ""
    snapshot(captured.out.replace("\\", "/"))


def test_new_in_json(tmp_path: Path, check_json: CheckJson) -> None:
    value = check_json(["new", str(tmp_path / "iqp"), *NEW])
    assert (value["title"], value["side"], value["errors"]) == ("Isolated queen's pawn", "white", 0)
    assert value["roots"][0]["line"] == "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            ["--title", "a", "--side", "white", "--root", "1.e4 e4"],
            "the root '1.e4 e4' is no place: at ply 2, 'e4' is",
        ),
        (
            ["--title", "a", "--side", "whte", "--root", "1.e4"],
            "'whte' is not one of 'white', 'black', 'both'",
        ),
        (["--title", "a\udce9", "--side", "white", "--root", "1.e4"], "holds bytes that are not UTF-8"),
        (["--title", "a", "--side", "white"], "Missing option '--root'"),
    ],
)
def test_new_refuses(
    tmp_path: Path, arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["new", str(tmp_path / "e"), *arguments]) == 2
    assert message in capsys.readouterr().err
    assert not (tmp_path / "e").exists()


def test_new_overwrites_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", str(tmp_path), *NEW]) == 0
    before = (tmp_path / "edition.toml").read_bytes()
    assert main(["new", str(tmp_path), *NEW]) == 2
    assert "nothing is overwritten" in capsys.readouterr().err
    assert (tmp_path / "edition.toml").read_bytes() == before


def test_faults_are_the_answer_no(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], snapshot: Snapshot, check_json: CheckJson
) -> None:
    (tmp_path / "edition.toml").write_text(FAULTY, encoding="utf-8")
    assert main(["edition", str(tmp_path)]) == 1
    snapshot(capsys.readouterr().out)
    value = check_json(["edition", str(tmp_path / "edition.toml")], code=1)
    assert (value["usable"], value["errors"], value["warnings"]) == (True, 2, 1)
    assert [(fault["code"], fault["line"]) for fault in value["diagnostics"]] == [
        ("unknown-key", 2),
        ("bad-place", 7),
        ("out-of-reach", 9),
    ]


def test_an_edition_that_cannot_be_read(tmp_path: Path, check_json: CheckJson) -> None:
    (tmp_path / "edition.toml").write_bytes(b"\xff\xfe\0")
    value = check_json(["edition", str(tmp_path)], code=1)
    assert (value["usable"], value["errors"]) == (False, 1)


def test_no_edition(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["edition", str(tmp_path / "nothing")]) == 2
    assert "there is no such edition" in capsys.readouterr().err


def test_the_users_letters(tmp_path: Path, own_settings: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (own_settings / "settings.toml").write_text('pieces = "KDTLS"\n')
    assert (
        main(["new", str(tmp_path), "--title", "a", "--root", "1.d4 Nf6 2.c4 e6 3.Nc3 Bb4", "--side", "both"])
        == 0
    )
    assert main(["edition", str(tmp_path)]) == 0
    assert "1.d4 Sf6 2.c4 e6 3.Sc3 Lb4" in capsys.readouterr().out


def test_dividing_arguments(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["new", str(tmp_path / "e"), *NEW]) == 0
    (tmp_path / "e" / "a.pgn").touch()
    monkeypatch.chdir(tmp_path)
    edition, rest = edition_and_rest(["e", "a.pgn"])
    assert (edition.path, rest) == (tmp_path / "e", ["a.pgn"])
    _, place = edition_and_place(["e/edition.toml", "panov", "Nf6", "5.Nc3"])
    assert place.line is not None and place.line.san().endswith("4.c4 Nf6 5.Nc3")
    with pytest.raises(InputError, match=r"no edition\.toml in this folder"):
        edition_and_rest(["a.pgn"])
    monkeypatch.chdir(tmp_path / "e")
    assert edition_and_rest(["a.pgn"])[1] == ["a.pgn"]
    with pytest.raises(UsageError, match="PLACE is missing"):
        edition_and_place([])


def test_work_needs_settings_without_errors(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "edition.toml").write_text(FAULTY, encoding="utf-8")
    with pytest.raises(InputError, match="there are 2 errors in the settings"):
        edition_and_rest([str(tmp_path)])
    assert "edition.toml:7:7: bad-place" in capsys.readouterr().err


def test_naming_a_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], check_json: CheckJson
) -> None:
    assert main(["new", str(tmp_path / "e"), *NEW]) == 0
    capsys.readouterr()
    monkeypatch.chdir(tmp_path / "e")
    assert main(["name", "fork", "panov", "Nf6", "5.Nc3", "e6"]) == 0
    assert capsys.readouterr().out == "fork: 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6\n"
    assert check_json(["name", "after", "fork 6.Nf3"])["line"].endswith("5.Nc3 e6 6.Nf3")
    assert main(["name", "bad", "fork 6.Nf4"]) == 2
    assert "at ply 1, 'Nf4' is illegal" in capsys.readouterr().err
    assert main(["name", "fork"]) == 2
    assert "NAME and PLACE are needed" in capsys.readouterr().err
