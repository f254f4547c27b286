"""Games of a position and one game read: told apart, ranked, followed through the manuscript, and nothing of a file runs."""

from __future__ import annotations

import html
import re

import html5lib
import pytest
from invented_desk import HOSTILE, Desk

from variorum.board import Line
from variorum.cli import main
from variorum.desk.pages.game import runs_with
from variorum.edition import content_hash, read_manuscript

TAGS = (
    '[Event "{event}"]\n[White "{white}"]\n[Black "{black}"]\n[Date "{date}"]\n[Result "{result}"]\n{more}\n'
)
RATED = '[WhiteElo "{}"]\n[BlackElo "{}"]\n'


def game(
    moves: str,
    *,
    white: str = "Orlo, Tam",
    black: str = "Vesk, Ina",
    date: str = "2021.03.04",
    result: str = "1-0",
    elos: tuple[int, int] | None = None,
    event: str = "An Open",
) -> str:
    more = RATED.format(*elos) if elos else ""
    head = TAGS.format(event=event, white=white, black=black, date=date, result=result, more=more)
    return f"{head}{moves} {result}\n\n"


def sift(desk: Desk, name: str, *games: str) -> None:
    (desk.edition / "sources" / name).write_text("".join(games))
    assert main(["sift", str(desk.edition)]) == 0


def part(desk: Desk, at: str) -> str:
    return desk.part("games", at)


QGD = "1. d4 d5 2. c4 e6"


def test_practice_is_not_hidden_by_games_of_engines(desk: Desk) -> None:
    old = [
        game(f"{QGD} 3. Nc3", white=f"Amis {n}", elos=(2500 - n, 2400), date="1999.01.01") for n in range(5)
    ]
    new = [game(f"{QGD} 3. Nf3", white=f"Brun {n}", date=f"2020.03.0{n + 1}") for n in range(5)]
    sift(desk, "practice.pgn", *old, *new)
    settings = desk.edition / "edition.toml"
    settings.write_text(
        f'{settings.read_text()}\n[[sources]]\npath = "sources/engines.pgn"\nkind = "engine"\nvoice = "resident"\n'
    )
    machines = [game(f"{QGD} 3. Nf3 Nf6", white=f"resident {n}", date="2026.11.01") for n in range(9)]
    sift(desk, "engines.pgn", *machines)
    text = html.unescape(part(desk, "qgd"))
    practice, engines = text.split('class="kind-of-games"')[1:]
    assert "Practice, 12" in practice
    assert re.findall(r">(\w+ \d) – Vesk, Ina<", practice) == [
        "Amis 0", "Amis 1", "Amis 2", "Brun 4", "Brun 3", "Brun 2",
    ]  # fmt: skip
    assert "by rating the strongest" in practice
    assert "of the others the latest" in practice
    assert "Engine games, 9" in engines
    assert len(re.findall(r">resident \d – ", engines)) == 3
    every = desk.page("games/here?at=qgd")
    assert "21 games" in every
    assert "practice" in desk.page("games/here?at=qgd&of=practice")
    assert "12 games" in desk.page("games/here?at=qgd&of=practice")
    assert "5 games of Brun" in desk.page("games/here?at=qgd&player=Brun")
    latest = desk.page("games/here?at=qgd&of=practice&first=latest")
    assert latest.index("Orlo") > latest.index("Brun 4") > 0
    assert desk.client.get(f"/e/{desk.name}/games/here?at=qgd&of=nonsense").status_code == 422


def test_a_long_list_comes_in_pages(desk: Desk) -> None:
    sift(desk, "many.pgn", *[game(QGD, white=f"Amis {n}", date="1990.01.01") for n in range(140)])
    first = desk.page("games/here?at=qgd&first=latest")
    assert "1 to 100." in first
    link = html.unescape(re.search(r'href="([^"]+)">Those behind', first)[1])  # type: ignore[index]
    second = desk.client.get(link).text
    assert "101 to 142." in second
    rows = r"<a href=\"/e/[^/]+/game/(\d+)\?"
    assert len({*re.findall(rows, first), *re.findall(rows, second)}) == 142


def moves(text: str) -> list[str]:
    inside = text.split('id="moves"')[1].split("</div>")[0]
    return [html.unescape(one) for one in re.findall(r'data-called="[^"]*"[^>]*>([^<]*)</button>', inside)]


def test_a_game_shows_its_moves_comments_variations_and_tags(desk: Desk) -> None:
    body = (
        f"{{Before it all.}} {QGD} {{[%clk 0:12:01] The root, at last.}} 3. Nc3! {{+0.36/18}} "
        "(3. Nf3 {quieter} Nf6 (3... c5 4. e3) 4. g3) Nf6 4. Bg5"
    )
    sift(desk, "c.pgn", game(body, event="The Harbour Open", elos=(2444, 2333)))
    text = html.unescape(desk.page("game/3?at=qgd"))
    assert moves(text)[3:] == ["e6", "3\u00a0♘c3!", "3…♘f6", "4\u00a0♗g5"]
    assert "Before it all." in text
    assert "The root, at last." in text
    assert "[%clk" not in text
    assert 'data-figures="+0.36/18"' in text
    assert "(3\u00a0♘f3 quieter 3…♘f6 (3…c5 4\u00a0e3) 4\u00a0g3)" in text
    assert "<dt>WhiteElo</dt><dd>2444</dd>" in text
    assert "The Harbour Open" in text
    assert 'data-ply="4"' in text  # opened where it came to the place
    assert ":::game Orlo, Tam – Vesk, Ina, 2021\nsource: sources/c.pgn\nnumber: 1\nfrom: qgd\n:::" in text


def test_nothing_of_a_file_runs(desk: Desk) -> None:
    name = HOSTILE.replace('"', "'")
    sift(desk, "h.pgn", game(f"{QGD} {{{HOSTILE}}} 3. Nc3 (3. Nf3 {{{HOSTILE}}})", white=name, event=name))
    for path in ("game/3", "games/here?at=qgd", f"games/here?at=qgd&player={name}"):
        text = desk.page(path)
        assert HOSTILE not in text
        assert name not in text
        parser = html5lib.HTMLParser(strict=True)
        for element in parser.parse(text).iter():
            tag = str(element.tag).rsplit("}", 1)[-1]
            assert tag != "img"
            assert not any(str(attribute).startswith("on") for attribute in element.attrib)
            assert tag != "script" or not (element.text or "").strip()


def test_it_is_said_where_a_game_leaves_the_manuscript_and_comes_back(desk: Desk) -> None:
    text = read_manuscript(
        b'[Event "e"]\n\n1. d4 d5 2. c4 e6 3. Nc3 Nf6 (3... c5) 4. Nf3 Be7 *\n\n[Event "e"]\n\n1. Nf3 d5 *\n'
    )

    def runs(line: str) -> list[tuple[int, int, bool]]:
        return [(run.first, run.last, run.other_order) for run in runs_with(text, Line.parse(line), "x")]

    assert runs("1.e4 e5") == [(0, 0, False)]
    assert runs("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 Be7") == [(0, 8, False)]
    assert runs("1.d4 d5 2.c4 e6 3.Nf3 Nf6 4.Nc3 Be7 5.Bf4") == [(0, 4, False), (7, 8, True)]
    assert runs("1.c4 e6 2.d4 d5 3.Nc3 c5 4.cxd5") == [(0, 0, False), (4, 6, True)]
    page = re.sub(r"<[^>]+>", "", html.unescape(desk.page("game/2")))
    words = " ".join(page.split("With the manuscript", 1)[1].split())
    assert "With the manuscript to 4 ♘c3, line 6. 4…♗e7 leaves it." in words


def test_a_game_is_added_to_the_manuscript_as_far_as_it_was_read(desk: Desk) -> None:
    page = desk.page("game/1")
    mark = re.search(r'data-hash="([0-9a-f]+)"', page)
    assert mark
    assert mark[1] == content_hash((desk.edition / "manuscript.pgn").read_bytes())
    assert 'data-in-order="7"' in page
    assert 'data-called="Orlo – Vesk, x 2020"' in page
    line = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 Be7"
    before = (desk.edition / "manuscript.pgn").read_text()
    wish = {"act": "add", "hash": mark[1], "at": line, "words": "Orlo – Vesk, x 2020"}
    status, told = desk.post(f"/e/{desk.name}/words", wish)
    assert status == 200
    after = " ".join((desk.edition / "manuscript.pgn").read_text().split())
    assert "4. Nf3 Be7 {Orlo – Vesk, x 2020} *" in after
    assert "The whole game is in the manuscript" in desk.page("game/1")
    status, told = desk.post(f"/e/{desk.name}/words", {**wish, "hash": told["hash"]})  # once is enough
    assert " ".join((desk.edition / "manuscript.pgn").read_text().split()) == after
    assert desk.post(f"/e/{desk.name}/words", {"act": "undo", "hash": told["hash"]})[0] == 200
    assert (desk.edition / "manuscript.pgn").read_text() == before


@pytest.mark.parametrize("number", ["0", "77", "99999999999999999999"])
def test_a_game_that_is_not_there_is_an_erratum(desk: Desk, number: str) -> None:
    answer = desk.client.get(f"/e/{desk.name}/game/{number}")
    assert answer.status_code == 422
    assert "Erratum" in answer.text
    assert "Traceback" not in answer.text


def test_a_game_from_a_position_of_its_own_is_read_and_opened(desk: Desk) -> None:
    fen = "rnbqkbnr/ppp2ppp/4p3/3p4/2PP4/8/PP2PPPP/RNBQKBNR w KQkq - 0 3"
    text = game("3. Nc3 Nf6").replace("\n\n", f'\n[SetUp "1"]\n[FEN "{fen}"]\n\n', 1)
    sift(desk, "f.pgn", text)
    page = desk.page("game/3")
    assert f'data-begin="{fen}"' in page
    assert moves(page)[0] == "3\u00a0♘c3"
    assert desk.client.get(f"/e/{desk.name}/position", params={"at": f"{fen} 3.Nc3"}).status_code == 200
