"""publish: what is private reaches no file of out/, and what is public reaches any program, by the command line."""

from __future__ import annotations

import base64
import html
import re
from pathlib import Path

import chess.pgn
import html5lib
import pypdf
import pytest

from variorum.board import Line, Score, Verdict, VerdictLine
from variorum.cli import main
from variorum.voices.verdict_files import append_verdicts

SETTINGS = """\
title = "Panov"
side = "white"

[roots]
main = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"

[names]
Bluebell = "main Nf6 5.Nc3 e6"
Falcon = "main Nf6 5.Nc3 e6 6.Nf3"
fen-bell = "rnbqkb1r/pp2pppp/5n2/3p4/2PP4/5N2/PP3PPP/RNBQKB1R b KQkq - 1 5"

[private]
comments = ["private", "nb"]
lines = ["private line", "for Tuesday"]
nags = [142]
names = ["Bluebell", "fen-bell", "Falcon"]
"""
MANUSCRIPT = """\
{needle-preamble}
[Event "The file of Falcon, needle-tag"]
[White "W"]
[Annotator "Public Hand"]

{nb needle-start} 1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 {plain words}
(4... e6 {for Tuesday: needle-line} 5. Na3 {needle-deep} (5. b4 {needle-nested}) 5... a6)
(4... Nc6 $142 5. a3 {needle-nag}) (4... e5 {private needle-comment} 5. dxe5)
5. Nc3 {as Falcon plays, needle-name} e6 {todo: needle-question} (5... g6 {private line needle-own} 6. h4) 6. Nf3 *

[Event "needle-game"]

{private line} 1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 b6 {needle-whole} *
"""
DIGEST = """\
# Panov

*Words on the [web](https://example.org/falcon/needle-link).*

Public words, with [a link](https://example.org/public).

nb needle-paragraph with [it is won]{.claim kind=score at="main" says="winning White"}

Look at [that](https://example.org/Falcon?needle-target).

:::diagram fen-bell
caption: The position.
:::

After it [they say]{.fact kind=score at="Bluebell"} so, and [this is level]{.claim kind=score at="Bluebell" says="level"}.

## For Tuesday needle-section

[5.Nc3]{.line of="main Nf6"} needle-inside.

:::diagram main
caption: needle-caption
:::
"""
PRIVATE = r"needle|\bfalcon\b|\bbluebell\b|\bfen-bell\b|for tuesday"
PRIVATE_MOVES = ("Na3", "b4", "h4", "b6", "5. a3", "4... Nc6", "g6")


def verdict(line: str, voice: str, *scored: tuple[str, int]) -> Verdict:
    position = Line.parse(line).end
    lines = tuple(VerdictLine((position.parse(move).uci,), Score.of_cp(cp)) for move, cp in scored)
    return Verdict(key=position.key, epd=position.epd, voice=voice, version="1", lines=lines, nodes=300_000)


@pytest.fixture
def edition(tmp_path: Path) -> Path:
    (tmp_path / "edition.toml").write_text(SETTINGS, encoding="utf-8")
    (tmp_path / "manuscript.pgn").write_text(MANUSCRIPT, encoding="utf-8")
    (tmp_path / "digest.md").write_text(DIGEST, encoding="utf-8")
    root = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
    append_verdicts(
        tmp_path / "verdicts" / "falcon.epd",
        [
            verdict(f"{root} Nf6 5.Nc3 e6", "falcon", ("Nf3", 10)),
            verdict(f"{root} Nf6", "falcon", ("Nc3", 10)),
        ],
    )
    return tmp_path


def test_what_is_private_is_in_no_file_of_out(edition: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["publish", str(edition)]) == 0
    told = capsys.readouterr()
    files = [path for path in sorted((edition / "out").rglob("*")) if path.is_file()]
    assert [path.name for path in files] == [
        "digest.html",
        "digest.pdf",
        "manuscript.pdf",
        "manuscript.pgn",
        "publication.json",
        "verdicts.epd",
    ]
    for path in files:
        text = text_of_pdf(path) if path.suffix == ".pdf" else path.read_text(encoding="utf-8")
        forms = [text, html.unescape(text), str(path.relative_to(edition))]
        forms += [
            base64.b64decode(data).decode("latin-1") for data in re.findall(r"base64,([A-Za-z0-9+/=]+)", text)
        ]
        for form in forms:
            assert not re.search(PRIVATE, form, re.IGNORECASE), path
    assert "needle" not in told.out + told.err
    left = [line.rpartition(": ")[2] for line in told.out.splitlines() if line.startswith("Left out:")]
    assert sorted(left) == [
        "comment before the first game",
        "private comment",  # {nb …}, {private …}, and a paragraph of the digest
        "private comment",
        "private comment",
        "private line",  # 4...e6, 4...Nc6, 5...g6, and the second game
        "private line",
        "private line",
        "private line",
        "private name",  # {as Falcon plays}, the standfirst's link, another link
        "private name",
        "private name",
        "private name in a tag",
        "private section",
        "question to yourself",
    ]


def text_of_pdf(path: Path) -> str:
    """What a reader shows, and all that lies in the file: metadata, alternative texts, fonts, drawings."""
    reader = pypdf.PdfReader(path)
    shown = [page.extract_text() for page in reader.pages]
    inside = [repr(reader.get_object(number)) for number in range(1, len(reader.xref[0]) + 1)]
    streams = [
        one.get_data().decode("latin-1")
        for number in range(1, len(reader.xref[0]) + 1)
        if hasattr(one := reader.get_object(number), "get_data")
    ]
    assert len(streams) > len(reader.pages)
    return "\n".join([*shown, *inside, *streams, path.read_bytes().decode("latin-1")])


def test_what_is_public_is_there(edition: Path) -> None:
    assert main(["publish", str(edition)]) == 0
    page = (edition / "out" / "digest.html").read_text(encoding="utf-8")
    html5lib.HTMLParser(strict=True).parse(page)
    assert "ublic words" in page
    assert "https://example.org/public" in page
    assert "The position." in page
    assert "51.4" in page
    pgn = (edition / "out" / "manuscript.pgn").read_text(encoding="utf-8")
    assert "plain words" in pgn
    assert 'Annotator "Public Hand"' in pgn
    assert not [move for move in PRIVATE_MOVES if move in pgn]
    with (edition / "out" / "manuscript.pgn").open(encoding="utf-8") as file:
        game = chess.pgn.read_game(file)
        assert chess.pgn.read_game(file) is None  # the second game is private
    assert game is not None
    assert game.errors == []
    assert game.board().variation_san(game.mainline_moves()) == (
        "1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 5. Nc3 e6 6. Nf3"
    )
    fourth = game.end().parent
    while fourth is not None and fourth.ply() > 7:
        fourth = fourth.parent
    assert fourth is not None
    assert sorted(node.san() for node in fourth.variations) == ["Nf6", "e5"]


def test_computed_lines_are_not_private(edition: Path) -> None:
    """That a voice by itself names a move which is also in a private line betrays nothing: it is printed."""
    root = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
    append_verdicts(
        edition / "verdicts" / "owl.epd",
        [verdict(root, "owl", ("e6", -900)), verdict(f"{root} Nf6", "owl", ("Nc3", 0), ("a3", -10))],
    )
    (edition / "digest.md").write_text(
        f"""# P\n\n[5.Nc3]{{.line of="main Nf6"}}; [all is well]{{.claim kind=score at="{root}" says="level"}}.\n""",
        encoding="utf-8",
    )
    assert main(["publish", str(edition)]) == 0
    page = (edition / "out" / "digest.html").read_text(encoding="utf-8")
    assert '<b class="rival">a3</b>' in page
    assert "4…e6" in page
