from __future__ import annotations

from hypothesis import given, settings
from invented_manuscripts import games

from variorum.board import Line, Position
from variorum.edition.manuscript import read_manuscript
from variorum.edition.manuscript_find import line_to
from variorum.edition.manuscript_split import REST, split

TEXT = """[Event "a"]

{first} 1. d4 $1 d5 (1... Nf6 2. c4 e6 3. Nc3 Bb4 {pin} (3... b6)) 2. c4 e6 3. Nc3 *
"""


def roots(**lines: str) -> dict[str, Position]:
    return {name: Line.parse(line).end for name, line in lines.items()}


def test_each_root_has_its_lines_and_what_leads_to_them() -> None:
    texts = split(
        read_manuscript(TEXT.encode()), roots(qgd="1.d4 d5 2.c4 e6", nimzo="1.d4 Nf6 2.c4 e6 3.Nc3 Bb4")
    )
    assert {name: text.decode() for name, text in texts.items()} == {
        "qgd": '[Event "a"]\n\n{first} 1. d4 $1 d5 2. c4 e6 3. Nc3 *\n',
        "nimzo": '[Event "a"]\n\n{first} 1. d4 $1 Nf6 2. c4 e6 3. Nc3 Bb4 {pin} *\n',
        REST: '[Event "a"]\n\n{first} 1. d4 $1 Nf6 2. c4 e6 3. Nc3 b6 *\n',
    }


def test_a_line_belongs_to_the_first_root_on_it() -> None:
    texts = split(read_manuscript(TEXT.encode()), roots(deep="1.d4 d5 2.c4", early="1.d4 d5"))
    assert set(texts) == {"early", REST}


@settings(max_examples=40, deadline=None)
@given(games(), games())
def test_every_line_is_in_one_text_at_least_and_none_is_new(one: str, other: str) -> None:
    manuscript = read_manuscript((one + "\n" + other).encode())
    chosen = {str(node.row): node.position for node in manuscript.games[0].nodes[1:3]}
    texts = split(manuscript, chosen)
    lines = {line_to(node).san() for game in manuscript.games for node in game.nodes}
    parts = {
        line_to(node).san()
        for text in texts.values()
        for game in read_manuscript(text).games
        for node in game.nodes
    }
    assert parts == lines
