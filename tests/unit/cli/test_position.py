"""position: what voices, the graph, the author and games say, by the command line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest
from invented_verdicts import said

from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts

ROOT = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
PLACE = f"{ROOT} Nf6 5.Nc3 e6"
SETTINGS = """\
title = "Panov"
side = "white"

[roots]
panov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"

[names]
tabiya = "panov Nf6 5.Nc3 e6"

[sigla]
owl = "O"
"""
MANUSCRIPT = """\
[Event "One"]

1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 (4... e6 {private line} 5. Nc3 Nf6 {kept for the match}) 5. Nc3 e6 $14
{Usual.} {private: ask again} {todo: 6.c5?} 6. Nf3 $1 (6. c5) *
"""
DIGEST = """\
# Panov

## The usual way

After [5...e6]{.line of="tabiya"} comes 6.Nf3, and [White is better]{.claim kind=score at="tabiya" says="slight White"}.

## Private line of thought

:::diagram tabiya
caption: Kept back.
:::
"""


@pytest.fixture
def edition(tmp_path: Path) -> Path:
    (tmp_path / "edition.toml").write_text(SETTINGS, encoding="utf-8")
    (tmp_path / "manuscript.pgn").write_text(MANUSCRIPT, encoding="utf-8")
    (tmp_path / "digest.md").write_text(DIGEST, encoding="utf-8")
    owl = [
        said("owl", PLACE, ("Nf3 Be7", 40), ("c5 Be7 Nf3", 10)),
        said("owl", f"{PLACE} 6.Nf3", ("Be7", 80), nodes=1_048_576),
    ]
    append_verdicts(tmp_path / "verdicts" / "owl.epd", owl)
    append_verdicts(tmp_path / "verdicts" / "wren.epd", [said("wren", PLACE, ("c5", -20), nodes=4_096)])
    return tmp_path


def test_the_text(edition: Path, capsys: pytest.CaptureFixture[str], snapshot: Callable[..., None]) -> None:
    assert main(["position", str(edition), "tabiya"]) == 0
    snapshot(capsys.readouterr().out)


def test_everything_in_one_report(edition: Path, check_json: Callable[..., Any]) -> None:
    report = check_json(["position", str(edition), "tabiya"])
    owl, wren = report["voices"]
    assert (owl["siglum"], owl["pawns"], owl["sign"], owl["shallow"]) == ("O", "+0.40", "⩲", False)
    assert owl["noise"] == pytest.approx(1.96 * 0.90 * 4.24)  # σ at 262,144 nodes, near level
    assert [line["moves"] for line in owl["lines"]] == ["6.Nf3 Be7", "6.c5 Be7 7.Nf3"]
    assert (wren["siglum"], wren["shallow"]) == ("A", True)
    # The verdict after 6.Nf3 is deeper: 0.80 pawns stand against the 0.40 of the position's own.
    value = report["values"][0]
    assert (value["siglum"], value["leaf"], value["own"]) == ("O", "6.Nf3 Be7", False)
    assert value["expected"] == pytest.approx(100 / (1 + 10 ** (-80 / 249)))
    assert report["range"] is not None
    assert report["order_count"] == 2
    assert report["games"] is None


def test_the_authors_words_with_what_is_private_marked(edition: Path, check_json: Callable[..., Any]) -> None:
    main_line, private = sorted(
        check_json(["position", str(edition), "tabiya"])["passages"], key=lambda one: one["private"]
    )
    assert [(one["text"], one["kept_back"]) for one in main_line["remarks"]] == [
        ("Usual.", ""),
        ("private: ask again", "private comment"),
        ("todo: 6.c5?", "question to yourself"),
    ]
    assert (main_line["signs"], main_line["moves"]) == (["⩲"], ["6.Nf3!", "6.c5"])
    assert (private["by"], private["private"]) == (f"{ROOT} e6 5.Nc3 Nf6", True)
    mentions = check_json(["position", str(edition), "tabiya"])["mentions"]
    assert [(one["what"], one["section"], one["private"]) for one in mentions] == [
        ("line", "The usual way", False),
        ("claim", "The usual way", False),
        ("diagram", "Private line of thought", True),
    ]


def test_a_move_that_was_looked_at_gives_way_to_the_next_best(
    edition: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The voice's best, 6.Nf3, is worth less behind it (E 45.4): the value is that of its second line, and is shown."""
    again = said("owl", f"{PLACE} 6.Nf3", ("Be7", -20), nodes=4_194_304)
    append_verdicts(edition / "verdicts" / "owl.epd", [again])
    assert main(["position", str(edition), "tabiya"]) == 0
    text = capsys.readouterr().out
    assert "  O 59.1 ± 7.5 (+0.40)" in text
    assert "With what follows on the map\n  O 52.3 ± 7.5 = (level), best 6.c5; 262,144 nodes" in text


def test_several_threads_are_told_with_the_effort(edition: Path, capsys: pytest.CaptureFixture[str]) -> None:
    deeper = msgspec.structs.replace(
        said("owl", PLACE, ("6.Nf3", 40), nodes=4_194_304), threads=4, date="2026-05-02"
    )
    append_verdicts(edition / "verdicts" / "owl.epd", [deeper])
    assert main(["position", str(edition), "tabiya"]) == 0
    assert "4,194,304 nodes, depth 12, 4 threads, 2026-05-02" in capsys.readouterr().out


def test_a_position_that_nobody_knows(edition: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["position", str(edition), "1.f3 e5 2.g4 Qh4"]) == 0
    text = capsys.readouterr().out
    assert "the game is over, 0-1" in text
    assert "None: neither manuscript.pgn nor digest.md has the position." in text
    assert "No line from a root leads there yet." in text
    assert "None were sifted yet" in text
