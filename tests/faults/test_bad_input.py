"""Bad input by the command line: exit code 2, words that say what to do, nothing lost, no byte of the author's changed."""

from __future__ import annotations

import bz2
import gzip
import random
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.faults.command_line import (
    MOVES,
    ROOT,
    answered,
    call,
    game,
    games,
    new_edition,
    program,
    refused,
    untouched,
)

Capture = pytest.CaptureFixture[str]
NESTED = f"{MOVES} " + "(6... h6 " * 10_000 + ")" * 10_000
NOISE = random.Random(7).randbytes(200_000)
READERS = ("check", "map", "publish")
"""The commands that read the manuscript."""


def zstd(data: bytes) -> bytes:
    import pyarrow

    packed: bytes = pyarrow.compress(data, codec="zstd", asbytes=True)
    return packed


PACKERS = {"gz": gzip.compress, "bz2": bz2.compress, "zst": zstd}


@pytest.fixture
def edition(tmp_path: Path) -> Path:
    return new_edition(tmp_path / "exchange")


@pytest.mark.parametrize(
    "arguments",
    [
        ["sift", "{edition}", "{tmp}/no-such.pgn"],
        ["sift", "{edition}", "{edition}/sources/good.pgn", "{tmp}/no-such-folder"],
        *(
            [command, "{tmp}/nowhere"]
            for command in ("edition", "map", "check", "publish", "rejects", "doubles")
        ),
        ["position", "{tmp}/nowhere", ROOT],
        ["name", "{tmp}/nowhere", "x", ROOT],
    ],
)
def test_missing_path(
    edition: Path, arguments: list[str], capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(edition.parent)
    (edition / "sources" / "good.pgn").write_text(games(3))
    call(capsys, "sift", edition)
    given = [argument.format(tmp=edition.parent, edition=edition) for argument in arguments]
    with untouched(edition.parent):
        told = refused(capsys, *given)
    assert "no such" in told or "no edition.toml" in told
    assert answered(capsys, "position", edition, "exchange")["games"]["results"]["games"] == 3


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.pgn", b""),
        ("blank.pgn", b"\r\n \n" * 100),
        ("empty.pgn.gz", gzip.compress(b"")),
        ("picture.pgn", NOISE),
        ("words.pgn", b"This is a letter, not a game.\n" * 50),
        ("no-archive.pgn.gz", b"not packed at all"),
    ],
    ids=["empty", "blank", "empty archive", "binary", "words", "no archive"],
)
def test_a_source_without_a_game(edition: Path, name: str, content: bytes, capsys: Capture) -> None:
    (edition / "sources" / name).write_bytes(content)
    (edition / "sources" / "good.pgn").write_text(games(3))
    with untouched(edition):
        for _ in range(2):  # also when it is known already
            assert f"sources/{name}: there is no game in it" in refused(capsys, "sift", edition)
    states = {
        source["source"]: source["state"] for source in answered(capsys, "sift", edition, code=2)["sources"]
    }
    assert states == {f"sources/{name}": "empty", "sources/good.pgn": "unchanged"}
    assert answered(capsys, "position", edition, "exchange")["games"]["results"]["games"] == 3
    passed = sum(note["length"] for note in answered(capsys, "rejects", edition)["notes"])
    if name in ("words.pgn", "no-archive.pgn.gz"):
        assert passed == len(content.strip()), "every byte that is no game is accounted for"


def test_nothing_to_sift(edition: Path, capsys: Capture) -> None:
    assert "put files (.pgn" in refused(capsys, "sift", edition)
    (edition / "sources" / "notes.txt").write_text(games(1))
    assert "no files of games" in refused(capsys, "sift", edition)
    assert "neither a file nor a folder" in refused(capsys, "sift", edition, "/dev/null")


@pytest.mark.parametrize(
    "content",
    [NOISE, gzip.compress(b"1. e4 *"), "1. d4 *".encode("utf-16")],
    ids=["binary", "archive", "UTF-16"],
)
@pytest.mark.parametrize("text", ["manuscript.pgn", "digest.md"])
def test_a_text_that_is_none(edition: Path, text: str, content: bytes, capsys: Capture) -> None:
    (edition / text).write_bytes(content)
    commands = READERS if text == "manuscript.pgn" else ("check", "publish")
    with untouched(edition):
        for command in commands:
            told = refused(capsys, command, edition)
            assert text in told
            assert "no text" in told or "UTF-16" in told
    # What does not need the text works.
    assert call(capsys, "edition", edition)[0] == 0


@pytest.mark.parametrize(
    "content", [NOISE, b"\xff\xfe\x00", b"", b'title = "x'], ids=["binary", "UTF-16", "empty", "cut"]
)
def test_settings_that_are_none(edition: Path, content: bytes, capsys: Capture) -> None:
    (edition / "edition.toml").write_bytes(content)
    with untouched(edition):
        for arguments in (["sift"], ["map"], ["check"], ["publish"], ["rejects"], ["doubles"]):
            assert "edition.toml" in refused(capsys, *arguments, edition)
        assert "edition.toml" in refused(capsys, "position", edition, ROOT)
        assert "edition.toml" in refused(capsys, "name", edition, "x", ROOT)
        assert answered(capsys, "edition", edition, code=1)["errors"]


def test_empty_texts_are_no_fault(edition: Path, capsys: Capture) -> None:
    for text in ("manuscript.pgn", "digest.md"):
        (edition / text).write_bytes(b"")
    with untouched(edition):
        for command in READERS:
            answered(capsys, command, edition)


LONG = 40 << 20
"""Bytes of a line; more than every buffer and limit of the readers (32 MiB for a game, 1 MiB for a lookahead)."""


@pytest.mark.parametrize(
    ("line", "aside", "reason"),
    [
        (lambda: b"x" * LONG, 0, "no-game"),
        (lambda: b" ".join([b"word"] * (LONG // 5)), 0, "no-game"),
        (lambda: b"\0" * LONG, 0, ""),
        (lambda: b'[Event "' + b"x" * LONG, 1, "overlong"),
        (lambda: b'[Event "x"] ' + MOVES.encode() + b" {" + b"long " * (LONG // 5), 1, "overlong"),
        (lambda: b'[Event "x"] 1. e4 ' + b"(1. d4 " * (LONG // 7), 1, "overlong"),
    ],
    ids=["letters", "words", "zeros", "tag", "comment", "variations"],
)
def test_one_endless_line(
    edition: Path, line: Callable[[], bytes], aside: int, reason: str, capsys: Capture
) -> None:
    (edition / "sources" / "line.pgn").write_bytes(line())
    (edition / "sources" / "good.pgn").write_text(games(3))
    code, out, err = call(capsys, "sift", edition)
    assert code == (0 if aside else 2), out + err
    listed = answered(capsys, "rejects", edition)
    assert [reject["reason"] for reject in listed["rejects"]] == [reason] * aside
    if not aside and reason:
        assert reason in {note["what"] for note in listed["notes"]}
    assert answered(capsys, "position", edition, "exchange")["games"]["results"]["games"] == 3


@pytest.mark.parametrize("text", ["manuscript.pgn", "digest.md"])
def test_texts_of_two_gigabytes_are_not_read(edition: Path, text: str, capsys: Capture) -> None:
    with (edition / text).open("r+b") as file:
        file.truncate(2 << 30)  # a hole: no disk is used, and a reader that took it in would need 2 GiB
    for command in READERS if text == "manuscript.pgn" else ("check", "publish"):
        assert "more than 64 MB" in refused(capsys, command, edition)


def test_ten_thousand_nested_variations_in_a_source(edition: Path, capsys: Capture) -> None:
    (edition / "sources" / "deep.pgn").write_text(game(1, NESTED) + game(2))
    with untouched(edition):
        (source,) = answered(capsys, "sift", edition)["sources"]
    assert (source["kept"], source["aside"]) == (2, 0)
    assert answered(capsys, "position", edition, f"{ROOT} 5.Bg5 Be7 6.e3")["games"]["results"]["games"] == 2


@pytest.mark.parametrize("closed", [True, False], ids=["closed", "left open"])
def test_ten_thousand_nested_variations_in_the_manuscript(
    edition: Path, closed: bool, capsys: Capture
) -> None:
    text = game(1, NESTED if closed else NESTED.rstrip(")"))
    (edition / "manuscript.pgn").write_text(text)
    wanted = 0 if closed else 2  # an unclosed parenthesis is an error in the text; the rest of it is read
    with untouched(edition):
        code, _, err = call(capsys, "check", edition)
        assert code == wanted
        assert closed == ("unclosed-variation" not in err)
        assert answered(capsys, "map", edition, code=wanted)["positions"] >= 5
        assert call(capsys, "publish", edition)[0] == wanted
    assert call(capsys, "name", edition, "main", "exchange 5.Bg5")[0] == 0
    assert (edition / "manuscript.pgn").read_text() == text


def test_wrong_encoding_of_a_source(edition: Path, capsys: Capture) -> None:
    latin = game(1, white="Dör, Zoé").encode("cp1252") + game(2, f"{MOVES} {{d\u00e9j\u00e0 vu}}").encode()
    (edition / "sources" / "latin.pgn").write_bytes(latin)
    with untouched(edition):
        assert answered(capsys, "sift", edition)["sources"][0]["kept"] == 2
    names = {entry["white"] for entry in answered(capsys, "position", edition, "exchange")["games"]["first"]}
    assert names <= {"Dör, Zoé", "Orlo, Tam"}
    (edition / "sources" / "wide.pgn").write_bytes(games(2).encode("utf-16"))
    with untouched(edition):
        assert "UTF-16; save it as UTF-8" in refused(capsys, "sift", edition)


def test_wrong_encoding_of_the_texts(edition: Path, capsys: Capture) -> None:
    (edition / "manuscript.pgn").write_bytes(
        game(1, f"{MOVES} {{d\u00e9j\u00e0 vu}} $14", white="Zoé").encode("cp1252")
    )
    (edition / "digest.md").write_bytes("# Caf\u00e9\n".encode("cp1252"))
    with untouched(edition):
        code, _, err = call(capsys, "check", edition)
        assert code == 0
        assert "digest.md:1:6: not-utf8" in err
        assert call(capsys, "map", edition)[0] == 0
        assert call(capsys, "publish", edition)[0] == 0
    assert "Café" in (edition / "out" / "digest.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("root", "why"),
    [
        ("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.cxd5 Nxe5", "at ply 8, 'Nxe5' is illegal"),
        ("rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQQBNR w kq - 0 1", "king"),
        ("not a place", "no place is called"),
    ],
)
def test_an_illegal_root(edition: Path, root: str, why: str, capsys: Capture) -> None:
    told = refused(capsys, "new", edition.parent / "other", "--title", "x", "--side", "white", "--root", root)
    assert why in told
    assert not (edition.parent / "other").exists()
    settings = edition / "edition.toml"
    settings.write_text(settings.read_text().replace(ROOT, root))
    (edition / "sources" / "good.pgn").write_text(games(3))
    with untouched(edition):
        for command in ("sift", *READERS):
            told = refused(capsys, command, edition)
            assert "bad-place" in told
            assert why in told
            assert "mend them first" in told


def test_a_root_that_nothing_reaches(tmp_path: Path, capsys: Capture) -> None:
    edition = new_edition(tmp_path / "e", root="spanish: 1.e4 e5 2.Nf3 Nc6 3.Bb5 a6 4.Ba4 Nf6 5.O-O Nxe4")
    (edition / "sources" / "good.pgn").write_text(games(3))
    with untouched(edition):
        told = refused(capsys, "sift", edition)
        assert "no game reaches the root 'spanish'" in told
        assert answered(capsys, "sift", edition, code=2)["unreached"] == ["spanish"]
        assert answered(capsys, "position", edition, "spanish")["games"]["results"]["games"] == 0
        for command in READERS:
            assert call(capsys, command, edition)[0] == 0


@pytest.mark.parametrize("packing", PACKERS)
@pytest.mark.parametrize("share", [0.02, 0.75, 1.0])
def test_a_truncated_archive(edition: Path, packing: str, share: float, capsys: Capture) -> None:
    noise = random.Random(1)
    text = "".join(game(n, f"{MOVES} {{{noise.randbytes(9000).hex()}}}") for n in range(1, 101)).encode()
    whole = PACKERS[packing](text)
    path = edition / "sources" / f"cut.pgn.{packing}"
    path.write_bytes(whole[: min(int(len(whole) * share), len(whole) - 3)])
    (edition / "sources" / "good.pgn").write_text(game(500))
    with untouched(edition):
        assert f"cut.pgn.{packing}: it cannot be read" in refused(capsys, "sift", edition)
    cut, good = answered(capsys, "sift", edition, code=2)["sources"]
    assert (cut["state"], good["kept"]) == ("faulty", 1)
    assert cut["kept"] > (40 if share > 0.7 else -1)
    kept = answered(capsys, "position", edition, "exchange")["games"]["results"]["games"]
    assert kept == cut["kept"] + 1
    # The whole file in its place: each game is there once.
    path.write_bytes(whole)
    first = answered(capsys, "sift", edition)["sources"][0]
    assert (first["state"], first["kept"]) == ("sifted", 100)
    assert answered(capsys, "position", edition, "exchange")["games"]["results"]["games"] == 101


def test_a_whole_file_that_is_cut_later(edition: Path, capsys: Capture) -> None:
    text = games(50).encode()
    path = edition / "sources" / "a.pgn.gz"
    path.write_bytes(gzip.compress(text))
    assert answered(capsys, "sift", edition)["games"] == 50
    path.write_bytes(gzip.compress(text)[:-20])
    assert refused(capsys, "sift", edition)
    assert answered(capsys, "position", edition, "exchange")["games"]["results"]["games"] == 50


def test_two_sifts_at_once(edition: Path, capsys: Capture) -> None:
    (edition / "sources" / "good.pgn").write_text(games(3))
    assert call(capsys, "sift", edition)[0] == 0
    (edition / "sources" / "more.pgn").write_text(games(5))
    hold = [sys.executable, "-m", "tests.faults.store_work", "hold", str(edition / ".variorum")]
    with subprocess.Popen(hold, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2]) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "open\n"
        try:
            with untouched(edition):
                assert "wait" in refused(capsys, "sift", edition)
                # Whoever only reads is not disturbed.
                assert answered(capsys, "position", edition, "exchange")["games"]["results"]["games"] == 3
                for command in (*READERS, "rejects", "doubles"):
                    assert call(capsys, command, edition)[0] == 0
        finally:
            holder.kill()
    assert call(capsys, "sift", edition)[0] == 0


def test_two_sifts_started_together(edition: Path, capsys: Capture) -> None:
    (edition / "sources" / "good.pgn").write_text(games(40))
    with program("sift", edition) as one, program("sift", edition) as two:
        ended = [(process.communicate(timeout=120)[1], process.returncode) for process in (one, two)]
    codes = sorted(code for _, code in ended)
    assert codes in ([0, 0], [0, 2]), ended
    assert not [err for err, _ in ended if "Traceback" in err or "defect" in err]
    assert answered(capsys, "sift", edition)["games"] == 40
