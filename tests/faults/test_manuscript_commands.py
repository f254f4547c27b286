"""Manuscript commands on files that are hard to write: done without loss, or refused with nothing changed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faults.command_line import MOVES, call, new_edition, refused
from variorum.base import InputError
from variorum.edition import read_manuscript
from variorum.edition.manuscript_merge import merge_games

Capture = pytest.CaptureFixture[str]
CORNERS = Path(__file__).parents[1] / "external" / "data" / "pgn_corner_cases"
ARABIC = "\u202bالبيدق المعزول\u202c"
HOSTILE = {
    "script": f"{MOVES} {{<script>alert(1)</script><img src=x onerror=alert(2)>}} *\n".encode(),
    "right to left": f"{MOVES} {{{ARABIC}}} *\n".encode(),
    "emoji": f"{MOVES} {{the pawn 👩‍🔬♟️ stays}} *\n".encode(),
    "byte order mark": b"\xef\xbb\xbf" + f"{MOVES} {{caf\u00e9}} *\r\n".encode(),
    "windows": f"{MOVES} {{caf\u00e9, na\u00efve}} *\r\n".encode("cp1252"),
    "carriage returns": f'[Event "x"]\r\r{MOVES} {{old}} *\r'.encode(),
    "nested": f"{MOVES} {'(6... h6 ' * 1_000}{')' * 1_000} *\n".encode(),
    "torn": f"{MOVES} {{never closed".encode(),
    "five megabytes": f"{MOVES} {{{'the isolated pawn ' * 290_000}}} *\n".encode(),
    "nul bytes": f'[Event "x"]\n\n{MOVES} {{a\0b}} *\n'.encode(),
}
PLACE = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.cxd5 exd5 5.Bg5"


@pytest.fixture
def edition(tmp_path: Path) -> Path:
    return new_edition(tmp_path / "exchange")


def write(edition: Path, data: bytes) -> Path:
    path = edition / "manuscript.pgn"
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("kind", HOSTILE)
def test_a_change_leaves_every_other_byte(edition: Path, kind: str, capsys: Capture) -> None:
    data = HOSTILE[kind]
    path = write(edition, data)
    code, out, err = call(capsys, "manuscript", "comment", edition, PLACE, "--text", "Before the break.")
    assert code == 0, err
    after = path.read_bytes()
    at = data.index(b"5. Bg5") + len(b"5. Bg5")
    assert after == data[:at] + b" {Before the break.} 5..." + data[at:]
    assert len(out) < 20_000
    assert call(capsys, "manuscript", "undo", edition)[0] == 0
    assert path.read_bytes() == data


@pytest.mark.parametrize("kind", HOSTILE)
@pytest.mark.parametrize(
    "words",
    [
        ["add", f"{PLACE} Bd6"],
        ["sign", PLACE, "--sign", "⩲"],
        ["delete", f"{PLACE} Be7"],
        ["promote", f"{PLACE} Be7 6.e3 h6"],
        ["demote", f"{PLACE} Be7 6.e3 c6"],
        ["split"],
        ["tidy"],
    ],
    ids=lambda words: words[0],
)
def test_every_command_ends_in_words(edition: Path, kind: str, words: list[str], capsys: Capture) -> None:
    path = write(edition, HOSTILE[kind])
    code, _, err = call(capsys, "manuscript", words[0], edition, *words[1:])
    if code == 2:
        assert err.startswith("variorum: ")
        assert path.read_bytes() == HOSTILE[kind]
        return
    assert code in (0, 1)
    if path.read_bytes() != HOSTILE[kind]:
        assert call(capsys, "manuscript", "undo", edition)[0] == 0
        assert path.read_bytes() == HOSTILE[kind]


def test_a_character_that_the_encoding_lacks(edition: Path, capsys: Capture) -> None:
    path = write(edition, HOSTILE["windows"])
    told = refused(capsys, "manuscript", "comment", edition, PLACE, "--text", ARABIC)
    assert "CP1252" in told
    other = edition.parent / "other.pgn"
    other.write_bytes(HOSTILE["right to left"])
    assert "CP1252" in refused(capsys, "manuscript", "merge", edition, other)
    assert path.read_bytes() == HOSTILE["windows"]


@pytest.mark.parametrize("kind", [kind for kind in HOSTILE if kind not in ("nul bytes", "torn")])
def test_merging_what_is_hard_to_read(edition: Path, kind: str, capsys: Capture) -> None:
    path = write(edition, f"{MOVES} *\n".encode())
    other = edition.parent / "other.pgn"
    other.write_bytes(HOSTILE[kind])
    code, _, err = call(capsys, "manuscript", "merge", edition, other)
    assert code == 0, err
    merged, incoming = read_manuscript(path), read_manuscript(other)
    words = {comment.text for game in incoming.games for comment in game.comments}
    assert words <= {comment.text for game in merged.games for comment in game.comments}
    assert other.read_bytes() == HOSTILE[kind]
    once = path.read_bytes()
    assert call(capsys, "manuscript", "merge", edition, other)[0] == 0
    assert path.read_bytes() == once


def test_the_corner_cases_are_merged_into_one_manuscript() -> None:
    """Source: `tests/external/data/pgn_corner_cases`. Each comes in without a loss, and nothing of it a second time."""
    data = f"{MOVES} *\n".encode()
    for case in sorted(CORNERS.glob("*.pgn")):
        try:
            incoming = read_manuscript(case)
        except InputError:
            continue
        before = read_manuscript(data)
        once = merge_games(before, incoming, see="see", hides=lambda _: False)
        again = merge_games(read_manuscript(once.data), incoming, see="see", hides=lambda _: False)
        assert again.data == once.data, case.name
        data = once.data


def test_what_is_no_text_is_refused(edition: Path, capsys: Capture) -> None:
    for content in (b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40, "1. d4 *".encode("utf-16")):
        path = write(edition, content)
        refused(capsys, "manuscript", "comment", edition, PLACE, "--text", "x")
        assert path.read_bytes() == content


def test_a_file_that_cannot_be_written_stays(
    edition: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    from variorum.edition import files

    path = write(edition, HOSTILE["emoji"])

    def full(temporary: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "_replace", full)
    told = refused(capsys, "manuscript", "delete", edition, PLACE)
    assert "No space left" in told
    assert path.read_bytes() == HOSTILE["emoji"]
    assert [one.name for one in edition.iterdir() if one.name.endswith(".tmp")] == []
