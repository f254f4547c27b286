"""sift, position, rejects, doubles: from files to what they say, by the command line."""

from __future__ import annotations

import gzip
import random
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from variorum.board import Line, Position, Score
from variorum.cli import main
from variorum.store import open_store

ROOT = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
PANOV = "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 5. Nc3 e6 6. Nf3"
OTHER_ORDER = "1. c4 c6 2. e4 d5 3. exd5 cxd5 4. d4 Nf6 5. Nc3"


def game(
    moves: str, result: str = "1-0", white: str = "Orlo, Tam", date: str = "2024.05.01", **tags: str
) -> str:
    rows = {"Event": "Invented", "White": white, "Black": "Vesk, Ina", "Date": date, "Result": result, **tags}
    return "".join(f'[{name} "{value}"]\n' for name, value in rows.items()) + f"\n{moves} {result}\n\n"


@pytest.fixture
def edition(tmp_path: Path) -> Path:
    folder = tmp_path / "panov"
    assert main(["new", str(folder), "--title", "Panov", "--root", ROOT, "--side", "white"]) == 0
    return folder


def test_from_files_to_what_they_say(
    edition: Path, capsys: pytest.CaptureFixture[str], check_json: Callable[..., Any]
) -> None:
    text = (
        game(PANOV)
        + game(OTHER_ORDER, "1/2-1/2", white="Kessl, Bo")
        + game("1. e4 e5 2. Nf3 Nc6", "0-1", white="Dorn, Pim")
        + game(f"{PANOV} Qa9", "0-1", white="Tevis, Ulm")
        + game("1. e4 c6 2. Ke3 d5", "0-1", white="Wrong, Way")
    )
    (edition / "sources" / "a.pgn").write_text(text)
    (edition / "sources" / "b.pgn.gz").write_bytes(gzip.compress(game(PANOV, white="Tam ORLO").encode()))
    capsys.readouterr()

    report = check_json(["sift", str(edition)])
    first, second = report["sources"]
    assert (first["sections"], first["kept"], first["passed"], first["aside"]) == (5, 3, 1, 1)
    assert (second["source"], second["kept"]) == ("sources/b.pgn.gz", 1)
    again = check_json(["sift", str(edition)])
    assert [source["state"] for source in again["sources"]] == ["unchanged", "unchanged"]
    assert [source["kept"] for source in again["sources"]] == [3, 1]

    reject = check_json(["rejects", str(edition)])["rejects"][0]
    assert (reject["game"], reject["ply"], reject["reason"]) == (5, 3, "illegal-move")
    assert "Wrong, Way" in reject["text"]

    position = check_json(["position", str(edition), ROOT])["games"]
    assert position["different_orders"] == 2
    assert position["results"]["games"] == 3  # four were kept, two of them are one game
    assert position["moves"][0]["move"] == "4...Nf6"


def test_the_games_of_a_file_that_is_gone_leave_the_store(
    edition: Path, capsys: pytest.CaptureFixture[str], check_json: Callable[..., Any]
) -> None:
    kept, gone = edition / "sources" / "kept.pgn", edition / "sources" / "gone.pgn"
    kept.write_text(game(PANOV))
    gone.write_text(game(OTHER_ORDER) + game(OTHER_ORDER, white="Kessl, Bo"))
    outside = edition.parent / "outside.pgn"
    outside.write_text(game(PANOV, white="Dorn, Pim"))
    assert main(["sift", str(edition), str(edition / "sources"), str(outside)]) == 0
    gone.unlink()
    outside.unlink()
    assert main(["sift", str(edition), str(kept)]) == 0  # one file is meant, not the folder
    with open_store(edition / ".variorum") as store:
        assert store.count == 4
    capsys.readouterr()
    report = check_json(["sift", str(edition)])
    assert [(one["source"], one["state"], one["kept"]) for one in report["sources"]] == [
        ("sources/kept.pgn", "unchanged", 1),
        ("sources/gone.pgn", "gone", 2),
    ]
    assert report["games"] == 2  # what came from outside of the edition is nobody's to take out
    kept.unlink()
    capsys.readouterr()
    assert main(["sift", str(edition)]) == 2
    told = capsys.readouterr()
    assert "sources/kept.pgn is gone, and its game with it." in told.out
    assert "no files of games" in told.err


@pytest.mark.skipif(sys.platform == "win32", reason="needs links")
def test_links_to_the_edition_and_in_it_change_nothing(
    edition: Path, tmp_path: Path, check_json: Callable[..., Any]
) -> None:
    settings = edition / "edition.toml"
    settings.write_text(
        settings.read_text() + '\n[[sources]]\npath = "sources/*"\nkind = "engine"\nvoice = "owl"\n'
    )
    (edition / "sources" / "a.pgn").write_text(game(PANOV))
    (tmp_path / "elsewhere.pgn").write_text(game(PANOV, white="Dorn, Pim"))
    (edition / "sources" / "link.pgn").symlink_to(tmp_path / "elsewhere.pgn")
    (tmp_path / "door").symlink_to(edition)
    expected = [("sources/a.pgn", "engine"), ("sources/link.pgn", "engine")]
    for folder, state in ((edition, "sifted"), (tmp_path / "door", "unchanged")):
        report = check_json(["sift", str(folder)])
        assert [(one["source"], one["kind"]) for one in report["sources"]] == expected
        assert {one["state"] for one in report["sources"]} == {state}
    (edition / "sources" / "link.pgn").unlink()
    report = check_json(["sift", str(tmp_path / "door")])
    assert [(one["source"], one["state"]) for one in report["sources"]] == [
        ("sources/a.pgn", "unchanged"),
        ("sources/link.pgn", "gone"),
    ]
    assert (tmp_path / "elsewhere.pgn").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="needs links")
def test_sources_on_a_disk_that_is_away_lose_nothing(
    edition: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    disk = tmp_path / "disk"
    (edition / "sources").rename(disk)
    (edition / "sources").symlink_to(disk)
    (disk / "a.pgn").write_text(game(PANOV))
    assert main(["sift", str(edition)]) == 0
    disk.rename(tmp_path / "away")
    assert main(["sift", str(edition)]) == 2
    assert "no such file or folder" in capsys.readouterr().err
    with open_store(edition / ".variorum") as store:
        assert store.count == 1


def test_doubles_are_one_game(
    edition: Path, check_json: Callable[..., Any], capsys: pytest.CaptureFixture[str]
) -> None:
    longer = f"{PANOV} Be7 7. cxd5 Nxd5 8. Bd3 Nc6 9. O-O O-O 10. Re1 Nf6 11. a3 b6 12. Bg5 Bb7 13. Bc2 Rc8 14. Qd3 g6 15. Rad1 Nd5 16. Bh6 Re8"
    text = game(longer, white="Orlo, Tam") + game(f"{longer} 17. h4", white="Tam ORLO", date="2024.??.??")
    (edition / "sources" / "a.pgn").write_text(text)
    capsys.readouterr()
    assert check_json(["sift", str(edition)])["doubles"] == 1
    (group,) = check_json(["doubles", str(edition)])["groups"]
    assert sorted(entry["number"] for entry in group["games"]) == [1, 2]
    assert check_json(["position", str(edition), ROOT])["games"]["results"]["games"] == 1


def test_a_new_root_sifts_again(
    edition: Path, check_json: Callable[..., Any], capsys: pytest.CaptureFixture[str]
) -> None:
    (edition / "sources" / "a.pgn").write_text(game(PANOV) + game("1. d4 d5 2. c4 e6 3. Nc3 Nf6"))
    capsys.readouterr()
    assert check_json(["sift", str(edition)])["games"] == 1
    settings = edition / "edition.toml"
    settings.write_text(settings.read_text().replace("[roots]", '[roots]\nqueens = "1.d4 d5 2.c4 e6"', 1))
    report = check_json(["sift", str(edition)])
    assert (report["sources"][0]["state"], report["games"]) == ("sifted", 2)


def test_filters_pass_over(
    edition: Path, check_json: Callable[..., Any], capsys: pytest.CaptureFixture[str]
) -> None:
    (edition / "sources" / "a.pgn").write_text(
        game(PANOV, WhiteElo="2400", BlackElo="2410", TimeControl="5400+30")
        + game(PANOV, WhiteElo="2400", BlackElo="2100", TimeControl="180+2")
        + game(PANOV, date="2009.01.01", WhiteElo="2500", BlackElo="2510", TimeControl="900+10")
    )
    capsys.readouterr()
    source = check_json(["sift", str(edition), "--min-rating", "2300"])["sources"][0]
    assert (source["kept"], source["passed"]) == (2, 1)
    source = check_json(["sift", str(edition), "--since", "2010-01-01", "--pace", "classical"])["sources"][0]
    assert (source["kept"], source["passed"]) == (1, 2)


def test_engine_games_bring_verdicts_of_their_player(
    edition: Path, check_json: Callable[..., Any], capsys: pytest.CaptureFixture[str]
) -> None:
    """A score is told behind the move: it is the mover's on the position before, White's view in the store."""
    moves = "1. e4 {+0.30/9 1.5s} c6 {-0.25/8} 2. d4 {quiet} d5 3. exd5 cxd5 4. c4 {#4/12} Nf6 {+0.10/7}"
    (edition / "sources" / "a.pgn").write_text(game(moves, white="Owl 3", date="2025.11.25"))
    capsys.readouterr()
    (source,) = check_json(["sift", str(edition), "--kind", "engine", "--voice", "owl"])["sources"]
    assert source["verdicts"] == 2  # Black is somebody else
    start = Position.start()
    before_c4 = Line.parse("1.e4 c6 2.d4 d5 3.exd5 cxd5").end
    with open_store(edition / ".variorum") as store:
        verdict = store.deepest_verdicts(start.key)["owl"]
        assert (verdict.lines[0].moves, verdict.lines[0].score) == (("e2e4",), Score.of_cp(30))
        assert (verdict.depth, verdict.date, verdict.origin) == (9, "2025-11-25", "sources/a.pgn, game 1")
        assert store.deepest_verdicts(before_c4.key)["owl"].lines[0].score == Score.of_mate(4)


@pytest.mark.parametrize(
    ("content", "kept", "aside"),
    [
        (b"", 0, 0),
        (b"\x00\xff\xfe\x01" * 500, 0, None),
        (b'[Event "x"]\r\n\r\n1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 *', 1, 0),
    ],
)
def test_odd_files(
    edition: Path,
    content: bytes,
    kept: int,
    aside: int | None,
    check_json: Callable[..., Any],
    capsys: pytest.CaptureFixture[str],
) -> None:
    (edition / "sources" / "odd.pgn").write_bytes(content)
    capsys.readouterr()
    source = check_json(["sift", str(edition)], code=0 if kept else 2)["sources"][0]
    assert (source["kept"], source["state"]) == (kept, "sifted" if kept else "empty")
    assert aside is None or source["aside"] == aside
    assert source["kept"] + source["passed"] + source["aside"] == source["sections"] + source["untagged"]


def test_a_truncated_archive_keeps_what_can_be_read(
    edition: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    noise = random.Random(1)
    games = "".join(
        game(f"{PANOV} {{{noise.randbytes(2000).hex()}}}", white=f"Player {n}") for n in range(300)
    )
    whole = gzip.compress(games.encode(), compresslevel=1)
    (edition / "sources" / "cut.pgn.gz").write_bytes(whole[: len(whole) * 3 // 4])
    capsys.readouterr()
    assert main(["sift", str(edition)]) == 2
    told = capsys.readouterr()
    assert "cut.pgn.gz" in told.err
    assert "faulty" in told.out
    assert main(["position", str(edition), ROOT]) == 0
    assert "Nf6" in capsys.readouterr().out


@pytest.mark.parametrize(
    "arguments",
    [
        ["sift", "/nowhere/at/all.pgn"],
        ["position", "1.e4 e5 2.Ke3"],
        ["position", "no such name"],
        ["sift", "--kind", "engine"],
    ],
)
def test_mistakes_are_told(
    edition: Path, arguments: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (edition / "sources" / "a.pgn").write_text(game(PANOV))
    monkeypatch.chdir(edition)
    assert main(["sift"]) == 0
    capsys.readouterr()
    assert main(arguments) == 2
    told = capsys.readouterr().err
    assert told.startswith("variorum: ")
    assert "Traceback" not in told
