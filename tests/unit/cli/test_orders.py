from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from variorum.board import Line, Score, Verdict, VerdictLine
from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts, verdict_path

TABIYA = "panov Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"
EDITION = f"""\
title = "The isolated queen's pawn"
side = "white"

[roots]
panov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
semi-tarrasch = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5"

[names]
iqp = "{TABIYA}"
pin = "panov Nf6 5.Nc3 e6 6.Nf3 Bb4"
far = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.Bd3 Nc6 5.c4"
"""
MANUSCRIPT = """\
[Event "Panov"]

1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 5. Nc3 e6 (5... Nc6 6. Bg5) 6. Nf3 Be7 (6... Bb4 7. cxd5) 7. cxd5 Nxd5 (7...
exd5) 8. Bd3 (8. Bc4) 8... Nc6 9. O-O O-O 10. Re1 *

[Event "Semi-Tarrasch"]

1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. Nf3 c5 5. cxd5 Nxd5 (5... exd5 6. g3) 6. e3 Nc6 7. Bd3 cxd4 8. exd4 Be7 9. O-O O-O
10. Re1 Bf6 *
"""
START = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
SCORED = {
    f"{START} Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1": ("Bf6", 40),
    f"{START} Nf6 5.Nc3 e6 6.Nf3 Bb4": ("cxd5", 35),
    f"{START} Nf6 5.Nc3 Nc6": ("Bg5", 60),
    f"{START} Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 exd5": ("Bb5", 45),
    "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 exd5": ("g3", -120),
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "edition.toml").write_text(EDITION, encoding="utf-8")
    (tmp_path / "manuscript.pgn").write_text(MANUSCRIPT, encoding="utf-8")
    verdicts = []
    for text, (san, cp) in SCORED.items():
        position = Line.parse(text).end
        line = VerdictLine((position.parse(san).uci,), Score.of_cp(cp))
        verdicts.append(
            Verdict(
                key=position.key,
                epd=position.epd,
                voice="invented",
                version="1",
                lines=(line,),
                nodes=300_000,
                depth=14,
            )
        )
    (tmp_path / "verdicts").mkdir()
    append_verdicts(verdict_path(tmp_path / "verdicts", "invented"), verdicts)
    return tmp_path


def test_the_audit_as_text(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    assert main(["orders", str(folder), "iqp"]) == 0
    captured = capsys.readouterr()
    assert captured.err == ""
    snapshot(captured.out)


def test_legal_orders_for_both_sides(
    folder: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]
) -> None:
    (folder / "edition.toml").write_text(EDITION.replace('"white"', '"both"'), encoding="utf-8")
    assert main(["orders", str(folder), "iqp", "--legal", "--limit", "3"]) == 0
    snapshot(capsys.readouterr().out)


def test_json(folder: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["orders", str(folder), "iqp"])
    assert report["order_count"] == 2
    assert [order["root"] for order in report["orders"]] == ["semi-tarrasch", "panov"]
    best = {one["root"]: one["guaranteed"] for one in report["sides"][0]["best"]}
    assert best["semi-tarrasch"]["at_least"] > best["panov"]["at_least"]


def test_conditions(folder: Path, check_json: Callable[..., Any]) -> None:
    without_exchange = check_json(["orders", str(folder), "iqp", "--avoid", "5...exd5"])
    assert [order["root"] for order in without_exchange["orders"]] == ["panov"]
    past_the_pin = check_json(["orders", str(folder), "iqp", "--avoid", "pin"])
    assert [order["root"] for order in past_the_pin["orders"]] == ["semi-tarrasch"]
    with_bishop = check_json(["orders", str(folder), "iqp", "--keep", "Bc4"])
    assert [order["root"] for order in with_bishop["orders"]] == ["panov"]


def test_what_is_missing_is_asked_and_kept(folder: Path, check_json: Callable[..., Any]) -> None:
    """The resident is deterministic under a limit of nodes, so asking twice asks nothing more."""
    arguments = ["orders", str(folder), "iqp", "--nodes", "2000"]
    before = check_json(["orders", str(folder), "iqp"])
    assert before["missing"] > 0
    first = check_json(arguments)
    assert {value["voice"] for value in first["values"]} == {"invented", "resident"}
    file = folder / "verdicts" / "resident.epd"
    written = file.read_bytes()
    second = check_json(arguments)
    assert file.read_bytes() == written
    assert second == first


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["far"], "no line, game or root of the edition leads to far"),
        (["iqp", "--avoid", "Qh4"], "'Qh4' is nothing that is known to happen on the way"),
        (["iqp", "--keep", "nowhere"], "no place is called 'nowhere'"),
        (["iqp", "--minutes", "1"], "a budget needs --nodes"),
        (["iqp", "--nodes", "100", "--voice", "nobody"], "there is no voice 'nobody'"),
        ([], "PLACE is missing"),
    ],
)
def test_mistakes_are_told(
    folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], told: str
) -> None:
    assert main(["orders", str(folder), *arguments]) == 2
    assert told in capsys.readouterr().err


def test_a_root_that_nothing_else_leads_to(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["orders", str(folder), "panov"]) == 0
    assert "It is a root of the edition, and no other order leads to it." in capsys.readouterr().out


def test_without_any_verdict(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "verdicts" / "invented.epd").unlink()
    assert main(["orders", str(folder), "iqp"]) == 0
    out = capsys.readouterr().out
    assert "No voice has judged the position, so risks cannot be told." in out
    assert "--nodes N has the resident asked" in out


def test_the_digest_cites_risks_and_hinges(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    semi = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3 Nc6 7.Bd3 cxd4 8.exd4 Be7 9.O-O O-O 10.Re1"
    facts = {
        'risk at="iqp"': "1.1",
        f'risk at="iqp" order="{semi}" show=risk': "34.4",
        f'risk at="iqp" order="{semi}" show=price': "33.2",
        'hinge at="iqp" move="10...Nxd4"': "not looked for",
    }
    lines = [f"[{text}]{{.fact kind={kind}}}" for kind, text in facts.items()]
    (folder / "digest.md").write_text("# T\n\n" + ", ".join(lines) + "\n", encoding="utf-8")
    assert main(["publish", str(folder)]) == 0
    page = (folder / "out" / "digest.html").read_text(encoding="utf-8")
    assert all(f">{text}<" in page for text in ("1.1", "34.4", "33.2"))
    told = capsys.readouterr().err
    assert "no hinges of 10...Nxd4 are known" in told
    assert "fact-changed" not in told
    assert main(["hinges", str(folder), "iqp", "10...Nxd4", "--nodes", "1000"]) == 0
    capsys.readouterr()
    assert main(["publish", str(folder)]) == 0
    assert "no hinges" not in capsys.readouterr().err
