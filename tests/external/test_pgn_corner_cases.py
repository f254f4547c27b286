"""The reference cases of a careful PGN importer, in the manuscript's reader.

Source: `data/pgn_corner_cases`, self-made after the PGN standard (1994) and common practice, each with its rule and the
section it stands on; see the README beside it. Kinds of faults there are the codes here.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

import chess
import pytest

from variorum.board import Position
from variorum.edition.manuscript import Comment, Game, Manuscript, Node, read_manuscript

CASES = sorted((Path(__file__).parent / "data" / "pgn_corner_cases").glob("*.pgn"))
SECOND_GAME_ALLOWED = "35_truncated_in_tag"  # its note: "reporting a second, empty game is acceptable"


def uci(node: Node) -> str:
    move = node.move
    assert move is not None
    assert node.parent is not None
    if node.position.chess960 or move.is_null:
        return move.uci
    return node.parent.position.uci(move)


def where(comment: Comment) -> dict[str, Any]:
    place: dict[str, Any] = {}
    if comment.variation is not None:
        own = [variation.row for variation in comment.variation.branch.game.variations]
        place["variation"] = own.index(comment.variation.row) + 1
    assert comment.node is not None
    return place | {"ply": comment.node.ply, "text": " ".join(comment.text.split())}


def fold(entry: dict[str, Any]) -> dict[str, Any]:
    return entry | {"text": " ".join(entry["text"].split())}


def check_game(game: Game, expected: dict[str, Any]) -> None:
    assert game.tags == expected["tags"]
    assert [uci(node) for node in game.main_line] == expected["main_line_uci"]
    assert len(game.main_line) == expected["ply_count"]
    assert game.result == expected["result"]
    assert game.has_marker == (expected["result_from"] == "marker")
    last = game.main_line[-1] if game.main_line else game.root
    assert last.position.fen == expected["final_fen"]
    assert game.complete == expected.get("complete", True)
    assert len(game.variations) == expected["variation_count"]
    assert max((one.depth for one in game.variations), default=0) == expected["max_variation_depth"]
    found = [
        {
            "depth": one.depth,
            "alternative_to_ply": one.branch.ply + 1,
            "uci": [uci(node) for node in one.nodes],
        }
        for one in game.variations
    ]
    assert found == expected.get("variations", [])
    trailing = set(game.trailing_comments)
    comments = [where(one) for one in game.comments if one not in trailing and one.node is not None]
    if not expected["comments"] and game.manuscript.path.name.startswith("34_"):
        comments = []  # its note: "keeping the torn comment text is allowed"
    assert comments == [fold(one) for one in expected["comments"]]
    assert [one.text for one in game.trailing_comments] == expected.get("trailing_comments", [])
    assert [{"ply": node.ply, "codes": list(node.nags)} for node in game.main_line if node.nags] == expected[
        "nags"
    ]
    assert [
        {"variation": number, "ply": node.ply, "codes": list(node.nags)}
        for number, one in enumerate(game.variations, start=1)
        for node in one.nodes
        if node.nags
    ] == expected.get("variation_nags", [])
    if "start_fen" in expected:
        assert game.tags["FEN"] == expected["start_fen"]
    if "position_identity_fen" in expected:
        assert game.start is not None
        assert game.start.epd == " ".join(expected["position_identity_fen"].split()[:4])
    if "legal_moves_at_start" in expected:
        assert game.start is not None
        assert len(game.start.legal_moves()) == expected["legal_moves_at_start"]


def check_faults(manuscript: Manuscript, expected: list[dict[str, Any]], severity: str) -> None:
    found = [one for one in manuscript.diagnostics if one.severity.value == severity]
    assert Counter((one.game, one.line, one.code) for one in found) == Counter(
        (one["game"], one["line"], one["kind"]) for one in expected
    )
    for one in expected:
        fault = next(fault for fault in found if fault.code == one["kind"] and fault.line == one["line"])
        if "ply" in one:
            assert fault.ply == one["ply"]
        if "token" in one:
            assert f"'{one['token']}'" in fault.message
        for candidate in one.get("candidates", []):
            node = manuscript.games[one["game"] - 1].main_line[one["ply"] - 2]
            board = chess.Board(node.position.fen)
            assert board.san(chess.Move.from_uci(candidate)) in fault.message


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.stem)
def test_case(case: Path) -> None:
    expected = json.loads(case.with_suffix(".expected.json").read_text(encoding="utf-8"))
    manuscript = read_manuscript(case)
    assert b"".join(manuscript.pieces()) == case.read_bytes()
    games = manuscript.games
    if case.stem == SECOND_GAME_ALLOWED:
        assert len(games) == 2
        assert not games[1].main_line
        games = games[:1]
    assert len(games) == expected["game_count"]
    for game, wanted in zip(games, expected["games"], strict=True):
        check_game(game, wanted)
    check_faults(manuscript, expected["errors"], "error")
    check_faults(manuscript, expected["warnings"], "warning")


def test_all_cases_are_there() -> None:
    assert len(CASES) == 60


def test_two_writings_of_a_chess960_start_are_one_position() -> None:
    """The note of cases 42 and 43."""
    starts = [read_manuscript(CASES[number - 1]).games[0].start for number in (42, 43)]
    assert starts[0] == starts[1] != Position.start()
