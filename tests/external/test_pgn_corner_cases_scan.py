"""The reference cases of a careful PGN importer, in the bulk scan.

Source: `data/pgn_corner_cases`, self-made after the PGN standard (1994) and common practice, each with its rule and the
section it stands on; see the README beside it.

Compared are the keys that concern a reader of main lines: `game_count`, `tags`, `start_fen`, `main_line_uci`,
`ply_count`, `result`, `final_fen`, and the `errors` outside variations with `game`, `line`, `kind` and `ply`. The scan
keeps comments, variations and glyphs as text only; of the warnings it gives `reserved-token` alone. The other keys are
the manuscript's.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from variorum import _core
from variorum._core import ScanBatch
from variorum.base import Silent
from variorum.board import Position
from variorum.sources.scan import ScanFilter, scan_file

CASES = sorted((Path(__file__).parent / "data" / "pgn_corner_cases").glob("*.pgn"))
RESULTS = ["*", "1-0", "0-1", "1/2-1/2"]
SECOND_GAME_ALLOWED = "35_truncated_in_tag"  # its note: "reporting a second, empty game is acceptable"


class Kept(NamedTuple):
    number: int
    tags: dict[str, str]
    columns: dict[str, str]
    moves: np.ndarray[Any, np.dtype[np.uint16]]
    result: str
    fault: tuple[str, int, int]
    offset: int


def string(column: tuple[Any, Any], row: int) -> str:
    ends, data = column
    return bytes(data[ends[row] : ends[row + 1]]).decode()


def kept_games(batch: ScanBatch) -> Iterator[Kept]:
    ends, moves = batch.moves
    for row, number in enumerate(batch.game_number):
        tags: dict[str, str] = {}
        for name, value in _core.read_tags(string(batch.text, row)):
            tags.setdefault(name, value)
        yield Kept(
            int(number),
            tags,
            {
                "White": string(batch.white, row),
                "Black": string(batch.black, row),
                "Event": string(batch.event, row),
                "Site": string(batch.site, row),
                "FEN": string(batch.start_fen, row),
            },
            moves[ends[row] : ends[row + 1]],
            RESULTS[batch.result[row]],
            (_core.SCAN_FAULTS[batch.fault[row]], int(batch.fault_ply[row]), int(batch.fault_line[row])),
            int(batch.file_offset[row]),
        )


def start_of(game: dict[str, Any]) -> Position:
    fen = game.get("start_fen")
    return Position.start() if fen is None else Position.from_fen(fen, chess960="castling_uci" in game)


def uci_line(start: Position, packed: Any) -> tuple[list[str], Position]:
    position = start
    line = []
    for move in start.unpack(packed):
        # Moves are kept with castling as king takes rook; standard games are compared in standard UCI.
        line.append(move.uci if start.chess960 or move.is_null else position.uci(move))
        position = position.play(move)
    return line, position


def line_of(text: bytes, offset: int) -> int:
    before = text[:offset]
    return before.count(b"\n") + before.count(b"\r") - before.count(b"\r\n") + 1


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_corner_case(path: Path) -> None:
    expected = json.loads(path.with_suffix(".expected.json").read_text(encoding="utf-8"))
    text = path.read_bytes()
    starts = [start_of(game) for game in expected["games"]] or [Position.start()]
    batches = list(scan_file(path, starts, ScanFilter(), Silent(), name=path.name))
    games = [game for batch in batches for game in kept_games(batch)]
    rejects = [reject for batch in batches for reject in batch.rejects]
    notes = [note for batch in batches for note in batch.notes]

    assert len(games) == expected["game_count"]
    assert len(rejects) == (1 if path.stem == SECOND_GAME_ALLOWED else 0)
    errors = {(number, line, reason, ply) for _, _, number, line, reason, ply, _ in rejects}
    for game, wanted, start in zip(games, expected["games"], starts, strict=False):
        assert game.tags == wanted["tags"]
        assert game.columns == {name: wanted["tags"].get(name, "") for name in game.columns}
        line, end = uci_line(start, game.moves)
        assert line == wanted["main_line_uci"]
        assert len(game.moves) == wanted["ply_count"]
        assert game.result == wanted["result"]
        assert end.fen == wanted["final_fen"]
        assert bool(game.fault[0]) == (not wanted.get("complete", True))
        if game.fault[0]:
            kind, ply, at_line = game.fault
            errors.add((game.number, at_line, kind, ply))
    for offset, _, what in notes:
        if what in ("stray-text", "reserved-token"):
            number = max(game.number for game in games if game.offset <= offset)
            errors.add((number, line_of(text, offset), what, 0))

    wanted_errors = [error for error in expected["errors"] if "variation" not in error]
    wanted_errors += [warning for warning in expected["warnings"] if warning["kind"] == "reserved-token"]
    assert len(errors) == len(wanted_errors)
    for error in wanted_errors:
        found = [one for one in errors if one[:3] == (error["game"], error["line"], error["kind"])]
        assert found, (error, errors)
        if "ply" in error:
            assert found[0][3] == error["ply"]
