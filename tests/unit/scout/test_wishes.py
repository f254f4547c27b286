"""What a graph asks for, on a graph small enough to say by hand."""

from __future__ import annotations

from pathlib import Path

from variorum.board import Line, Move, Position, Score, Side, Verdict, VerdictLine
from variorum.edition import load_edition, read_manuscript
from variorum.graph import back_up_values, edition_graph, lay_traffic
from variorum.scout.wishes import Reason, Wish, close_lines, deciding_leaves, graph_wishes, order_wishes

ROOT = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
TEXT = f"""[Event "x"]
[Result "*"]

{ROOT} Nf6 5. Nc3 (5. Nf3 e6 6. Nc3) 5... e6 6. Nf3 Be7 *
"""


def wishes_of(tmp_path: Path) -> list[Wish]:
    (tmp_path / "edition.toml").write_text(f'title = "x"\nside = "white"\n[roots]\npanov = "{ROOT}"\n')
    (tmp_path / "manuscript.pgn").write_text(TEXT)
    edition, _ = load_edition(tmp_path)
    assert edition is not None
    graph = edition_graph(edition, manuscript=read_manuscript(tmp_path / "manuscript.pgn"))
    return graph_wishes(graph, lay_traffic(graph))


def at(line: str) -> Position:
    return Line.parse(f"{ROOT} {line}").end


def test_confluence_leaf_and_what_would_be_a_bound(tmp_path: Path) -> None:
    by_reason: dict[Reason, set[Position]] = {}
    for wish in wishes_of(tmp_path):
        by_reason.setdefault(wish.reason, set()).add(wish.position)
    assert by_reason[Reason.CONFLUENCE] == {at("Nf6 5.Nc3 e6 6.Nf3")}
    assert by_reason[Reason.LEAF] == {at("Nf6 5.Nc3 e6 6.Nf3 Be7")}
    above = ["", "Nf6", "Nf6 5.Nc3", "Nf6 5.Nf3", "Nf6 5.Nc3 e6", "Nf6 5.Nf3 e6", "Nf6 5.Nc3 e6 6.Nf3"]
    assert by_reason[Reason.BOUND] == {at(line) for line in above}


def test_what_an_audit_of_the_last_position_needs(tmp_path: Path) -> None:
    wishes_of(tmp_path)
    edition, _ = load_edition(tmp_path)
    assert edition is not None
    text = f'[Event "x"]\n\n{ROOT} Nf6 5. Nc3 (5. Nf3 e6 6. Nc3) 5... e6 (5... Nc6 6. Bg5) 6. Nf3 *\n'
    (tmp_path / "manuscript.pgn").write_text(text)
    graph = edition_graph(edition, manuscript=read_manuscript(tmp_path / "manuscript.pgn"))
    node = graph.node_of(at("Nf6 5.Nc3 e6 6.Nf3"))
    assert node is not None
    asked = order_wishes(graph, lay_traffic(graph), [node], [Side.WHITE])
    assert {wish.reason for wish in asked} == {Reason.ORDER}
    lines = ["", "Nf6 5.Nc3", "Nf6 5.Nf3", "Nf6 5.Nc3 Nc6"]
    target = at("Nf6 5.Nc3 e6 6.Nf3")
    assert {wish.position for wish in asked} - {target} == {at(line) for line in lines}


def test_the_list_is_the_same_each_time(tmp_path: Path) -> None:
    assert wishes_of(tmp_path) == wishes_of(tmp_path)


def verdict(line: str, *scored: tuple[str, int], nodes: int = 262_144) -> Verdict:
    position = at(line)
    lines = tuple(VerdictLine((position.parse(move).uci,), Score.of_cp(cp)) for move, cp in scored)
    return Verdict(key=position.key, epd=position.epd, voice="owl", version="1", lines=lines, nodes=nodes)


def test_the_leaf_that_decides_a_root(tmp_path: Path) -> None:
    wishes_of(tmp_path)
    edition, _ = load_edition(tmp_path)
    assert edition is not None
    said = [
        verdict("", ("Nf6", 40), nodes=1_000),
        verdict("Nf6", ("Nc3", 60), nodes=500_000),
    ]
    graph = edition_graph(edition, manuscript=read_manuscript(tmp_path / "manuscript.pgn"), verdicts=said)
    values = back_up_values(graph, said)["owl"]
    found = deciding_leaves(graph, values, [at("")])
    assert [doubt.positions for doubt in found] == [(at("Nf6"),)]


def test_two_moves_within_the_noise() -> None:
    close, apart = verdict("", ("Nf6", 40), ("e5", 30)), verdict("", ("Nf6", 400), ("e5", -400))
    found = close_lines([(at(""), close), (at(""), apart)])
    assert [doubt.positions for doubt in found] == [(at("").play(Move("g8f6")), at("").play(Move("e7e5")))]
    assert close_lines([(at(""), verdict("", ("Nf6", 40)))]) == []
