from __future__ import annotations

import io
from pathlib import Path

import chess
import chess.pgn
from invented_evidence import PANOV, InventedEvidence

from variorum.edition import EditionSettings, PrivateMarks
from variorum.edition.manuscript import read_manuscript
from variorum.publish.apparatus import Siglum
from variorum.publish.pgn import render_manuscript

SETTINGS = EditionSettings(
    title="T", side="white", roots={"main": "1.e4"}, private=PrivateMarks(names=("Hammer",), nags=(142,))
)
DEMO = Path(__file__).parents[3] / "demo" / "edition" / "manuscript.pgn"


def export(text: str):  # type: ignore[no-untyped-def]
    manuscript = read_manuscript(text.encode())
    return render_manuscript(manuscript, SETTINGS, InventedEvidence(), (Siglum("A", "the resident"),))


def games(pgn: str) -> list[chess.pgn.Game]:
    """Read back by `chess`, which must find no error."""
    stream, found = io.StringIO(pgn), []
    while game := chess.pgn.read_game(stream):
        assert game.errors == []
        found.append(game)
    return found


def lines(node: chess.pgn.GameNode) -> list[str]:
    """All lines to the leaves, as UCI."""
    leaves, stack = [], [(node, "")]
    while stack:
        at, way = stack.pop()
        if not at.variations:
            leaves.append(way.strip())
        stack += [(child, f"{way} {child.move}") for child in at.variations]
    return sorted(leaves)


def test_verdicts_are_added_as_plain_comments() -> None:
    found = export(f"{PANOV} {{The tabiya.}} Nf6 *")
    (game,) = games(found.pgn)
    node = next(node for node in game.mainline() if node.ply() == 19)
    assert node.comment == "The tabiya. A 61.8 ± 1.1 (+0.52); G 54.3 ± 4.1, 318 games"
    assert game.comment.startswith("A the resident; verdicts are expected scores for White of 100")
    assert found.left_out == ()


def test_the_whole_demonstration_is_read_back_with_every_line() -> None:
    pgn = render_manuscript(read_manuscript(DEMO), SETTINGS, InventedEvidence()).pgn
    before, after = games(DEMO.read_text(encoding="utf-8")), games(pgn)
    assert [lines(game) for game in after] == [lines(game) for game in before]
    assert [dict(game.headers) for game in after] == [dict(game.headers) for game in before]
    assert all(len(line) <= 90 for line in pgn.splitlines())


def test_what_is_private_is_left_out_and_listed() -> None:
    found = export(
        '[White "The Hammer"]\n\n'
        "1. e4 {private: needle one} e5 (1... c5 {private line needle two} 2. Nf3 {needle three})\n"
        "(1... e6 $142 2. d4 {needle four}) (1... c6 {solid} 2. d4 {todo needle five})\n"
        "2. Nf3 {called the hammer: needle six} Nc6 {Hammers are public} *\n"
    )
    assert "needle" not in found.pgn and 'Hammer"' not in found.pgn and "Nf3 {" not in found.pgn
    assert "1... c5" not in found.pgn and "e6" not in found.pgn
    (game,) = games(found.pgn)
    assert lines(game) == ["e2e4 c7c6 d2d4", "e2e4 e7e5 g1f3 b8c6"]
    assert sorted((left.what, left.line) for left in found.left_out) == [
        ("private comment", 3),
        ("private line", 3),
        ("private line", 4),
        ("private name", 5),
        ("private name in a tag", 1),
        ("question to yourself", 4),
    ]


def test_a_private_main_line_gives_way_to_its_variation() -> None:
    (game,) = games(export("1. e4 {private line} (1. d4 d5) 1... e5 *").pgn)
    assert lines(game) == ["d2d4 d7d5"]


def test_hostile_comments_and_depth() -> None:
    text = '1. e4 ; a } brace {\n e5 {%eval [%cal Ga1] \u202e\x00 [Event "x"]} *'
    (game,) = games(export(text).pgn)
    assert [str(move) for move in game.mainline_moves()] == ["e2e4", "e7e5"]
    deep = "1. e4 e5 " + "(1... e6 " * 300 + ")" * 300 + " *"
    assert games(export(deep).pgn)
