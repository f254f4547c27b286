"""The tables of fixed words: complete in every language, and nothing English left where another language is set."""

from __future__ import annotations

import datetime
import html
import re
import shutil
import string
from pathlib import Path
from typing import get_args

import msgspec
import pypdf
import pytest

from variorum.base.settings import UserSettings
from variorum.board import Line, Position, Score, Verdict, VerdictLine
from variorum.build.opened import OpenEdition
from variorum.build.publishing import publish_edition
from variorum.cli import main
from variorum.edition import load_edition
from variorum.edition.settings import Language
from variorum.publish.wording import ENGLISH, LANGUAGES, Wording
from variorum.voices.verdict_files import append_verdicts

DEMO = Path(__file__).parents[3] / "demo" / "edition"
FINDINGS = """
[x]{.fact kind=structure at=iqp}: [x]{.fact kind=contrast at=iqp against="bishop-c4"}.

:::contrast iqp
against: bishop-c4
:::

:::plans iqp
of: practice
:::

:::orders iqp
:::
"""
SAME_IN_BOTH = {
    "fr": {"position", "figure", "page", "decimal", "date"},
    "de": set(),
    "es": set(),
}
"""Texts that read the same in English."""
NO_WORDS = {"language", "quotes", "letters", "decimal", "months", "units", "date"}


def fields(words: Wording) -> dict[str, str]:
    return {name: value for name, value in msgspec.structs.asdict(words).items() if name not in NO_WORDS}


def test_every_language_of_the_setting_has_a_table() -> None:
    assert set(LANGUAGES) == set(get_args(Language))


@pytest.mark.parametrize("language", sorted(set(LANGUAGES) - {"en"}))
def test_a_table_is_complete_and_filled_in_as_the_english_one(language: str) -> None:
    words = LANGUAGES[language]
    for name, text in fields(words).items():
        english = getattr(ENGLISH, name)
        assert text.strip(), name
        assert holes(text) == holes(english), name
        assert text.count("|") == english.count("|"), name
        assert text.endswith(".") == english.endswith("."), name
        if name not in SAME_IN_BOTH[language]:
            assert text.split() != english.split(), f"{name} is English"
    assert words.units.keys() == ENGLISH.units.keys()
    assert len(words.months) == 12 and len(set(words.months)) == 12
    assert len(words.letters) == len(set(words.letters)) == 5
    assert words.date_in_words(datetime.date(2026, 11, 5)).count("2026") == 1


def holes(text: str) -> list[str]:
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name)


@pytest.fixture(scope="module")
def german(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo edition published in German, with games and some verdicts."""
    folder = tmp_path_factory.mktemp("demo") / "edition"
    shutil.copytree(DEMO, folder)
    settings = (folder / "edition.toml").read_text(encoding="utf-8")
    line = 'title = "The Isolated Queen\'s Pawn"\n'
    assert line in settings
    (folder / "edition.toml").write_text(settings.replace(line, line + 'language = "de"\n'), encoding="utf-8")
    with (folder / "digest.md").open("a", encoding="utf-8") as digest:
        digest.write(FINDINGS)
    assert main(["sift", str(folder)]) == 0
    edition, faults = load_edition(folder)
    assert edition is not None and faults == []
    iqp = edition.names["iqp"].line
    assert iqp is not None
    said = [verdict(position) for position in (*iqp.positions(), edition.names["nimzo-iqp"].position)]
    append_verdicts(folder / "verdicts" / "resident.epd", said)
    with OpenEdition(edition, UserSettings()) as opened:
        report, _ = publish_edition(opened, made_on=datetime.date(2026, 11, 25))
    assert len(report.written) == 6
    return folder


def verdict(position: Position) -> Verdict:
    moves = [move.uci for move in position.legal_moves()[:2]]
    lines = tuple(VerdictLine((move,), Score.of_cp(30 - 20 * at)) for at, move in enumerate(moves))
    return Verdict(
        key=position.key,
        epd=position.epd,
        voice="resident",
        version="1",
        lines=lines,
        multipv=2,
        nodes=200_000,
    )


def text_of(path: Path) -> str:
    if path.suffix == ".pdf":
        pages = [page.extract_text() for page in pypdf.PdfReader(path).pages]
        # A word that is divided at the end of a line reads as one.
        return " ".join(re.sub(r"[-\u00ad\u2010]\n", "", "\n".join(pages)).split())
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".html":
        text = re.sub(r"<(style|script)>.*?</\1>", "", text, flags=re.DOTALL)
        labels = re.findall(r'(?:aria-label|alt|data-night|data-day)="([^"]*)"', text)
        text = html.unescape(" ".join([re.sub(r"<[^>]+>", " ", text), *labels]))
    return " ".join(text.split())


@pytest.mark.parametrize("name", ["digest.html", "digest.pdf", "manuscript.pdf", "manuscript.pgn"])
def test_no_fixed_word_of_the_german_demo_is_english(german: Path, name: str) -> None:
    """What reads as an English fixed word is no more often there than the author's words can be.

    That is twice: the sentence of a claim stands in the text and beside it.
    """
    said = text_of(german / "out" / name)
    files = ["edition.toml", "manuscript.pgn" if "manuscript" in name else "digest.md"]
    own = " ".join(" ".join((german / file).read_text(encoding="utf-8").split()) for file in files)
    for field, text in fields(ENGLISH).items():
        if getattr(LANGUAGES["de"], field) == text:
            continue
        for piece in re.split(r"\{\w+\}|\|", text):
            words = piece.strip(" .,;")
            if len(words) < 3:
                continue
            pattern = rf"(?<!\w){re.escape(words)}(?!\w)"
            assert len(re.findall(pattern, said)) <= 2 * len(re.findall(pattern, own)), (field, words)


def test_the_german_demo_reads_german(german: Path) -> None:
    page = text_of(german / "out" / "digest.html")
    for words in (
        "Verzeichnis der Stellungen",
        "Partien der Quellen",
        "nicht genug Belege",
        "Weiß: König g1, Dame d1",
        "25. November 2026",
        "Schwarz am Zug.",
        "Isolani : mit dem weißen Läufer auf d3 statt c4 .",
        "iqp ist wie bishop-c4, aber mit dem weißen Läufer auf d3 statt c4.",
        "In beiden ist Schwarz am Zug.",
        "Springer gegen Springer",
        "Weiß hat kein Tempo verloren",
        "Anteil: an allem, was hier ankommt.",
    ):
        assert words in page
    assert re.search(r"\d,\d ± \d+,\d \([+−]\d,\d\d\)", page), "decimal comma"
    book = text_of(german / "out" / "manuscript.pdf")
    assert "Verzeichnis der Varianten" in book and "Nach 10 Te1. Schwarz am Zug." in book.replace(
        "\u00a0", " "
    )
    pgn = (german / "out" / "manuscript.pgn").read_text(encoding="utf-8")
    assert "10. Re1" in pgn, "PGN has the English letters (PGN standard 1994, section 8.2.3.2)"
    assert Line.parse("1.e4").san() in pgn.replace("1. e4", "1.e4")
