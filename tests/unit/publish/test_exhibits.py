"""Blocks that are looked up: each kind on the page, and each way in which one can be wrong."""

from __future__ import annotations

import datetime
import re
from pathlib import Path

import pytest
from invented_evidence import InventedEvidence

from variorum.base import Diagnostic, Severity
from variorum.claims.exhibits import EXHIBIT_OPTIONS
from variorum.claims.facts import FACT_KINDS, values_in_words
from variorum.claims.spans import digest_faults
from variorum.edition.digest_reader import parse_digest
from variorum.edition.settings import EditionSettings, PrivateMarks
from variorum.publish.compose import compose_digest
from variorum.publish.html import html_of
from variorum.publish.page import Listing, Page, PageSetting, Paragraph, Table, plain
from variorum.publish.private import publishable
from variorum.publish.typeset import pdf_of

REFERENCE = Path(__file__).parents[3] / "docs" / "reference" / "texts.md"
SETTING = PageSetting(edition="The isolated pawn", made_on=datetime.date(2026, 11, 5))
PATH = Path("digest.md")


def composed(text: str) -> tuple[Page, tuple[Diagnostic, ...]]:
    digest, faults = parse_digest(text, PATH)
    made = compose_digest(digest, InventedEvidence(), SETTING)
    assert list(made.diagnostics) == digest_faults(digest, InventedEvidence())
    return made.page, (*faults, *made.diagnostics)


def lines(page: Page) -> list[str]:
    found = []
    for block in page.blocks:
        if isinstance(block, Paragraph):
            found.append(plain(block.children))
        elif isinstance(block, Listing):
            found += [
                f"- {plain(item[0].children)}" for item in block.items if isinstance(item[0], Paragraph)
            ]
        elif isinstance(block, Table):
            found += [" | ".join(map(plain, row)) for row in (block.head, *block.rows)]
            found += [plain(block.note)] if block.note else []
    return [text.replace("\u00a0", " ") for text in found]


def shown(text: str) -> list[str]:
    page, faults = composed(text)
    assert [fault for fault in faults if fault.severity is Severity.ERROR] == []
    return lines(page)


@pytest.mark.parametrize(
    ("block", "expected"),
    [
        ("line iqp-main\nmoves: 10...Nf6 11.a3", ["10…♘f6 11 a3"]),
        ("line iqp-main\nmoves: 9.O-O O-O\ncaption: *Both* castle.", ["9 O-O O-O", "Both castle."]),
        (
            "game Orlo – Vesk, Spring Open 2019\nmoves: 14-15",
            ["Orlo, Tam – Vesk, Ina, Spring Open, Oakham, 2019: 14 d5 exd5 15 ♘xd5 1–0"],
        ),
        (
            "game Orlo - Vesk\nyear: 2020\nfrom: before the break\nmoves: 14",
            ["Orlo, Tam – Vesk, Ina, Spring Open, Oakham, 2020: 14 d5 exd5 … (½–½)"],
        ),
        (
            "plans iqp-main\nof: practice",
            [
                "Practice, 61 games | Games | About move",
                "Black: ♘d5–f6 | 40 of 61 | 11",
                "White: d4–d5 | 31 of 61 | 15",
            ],
        ),
        (
            "plans iqp-main\nside: white\nmost: 1",
            ["Practice, 61 games | Games | About move", "White: d4–d5 | 31 of 61 | 15"],
        ),
        ("apparatus iqp-main", ["10 ♖e1 A 61.8 ± 1.1 (+0.52) : G 54.3 ± 4.1, 318 games."]),
    ],
)
def test_what_is_printed(block: str, expected: list[str]) -> None:
    assert shown(f":::{block}\n:::\n") == expected


def test_orders_with_share_risk_and_price() -> None:
    head, first, second, note = shown(":::orders iqp-main\nmost: 2\n:::\n")
    assert head == " | Order | Share | Risk | Price"
    assert first.startswith("I | 1 e4 c6 2 d4 d5")
    assert first.endswith("10 ♖e1 | 63 % | 0.7 | 0.0")
    assert second.startswith("II | ") and second.endswith("| 37 % | at least 4.3 | –")
    assert note.startswith("Share: ")
    assert len(shown(":::orders iqp-main\nmost: 1\n:::\n")) == 3


def test_tables_have_heads_for_readers_that_cannot_see_them() -> None:
    html = html_of(composed(":::orders iqp-main\nmost: 2\n:::\n")[0])
    assert html.count('<th scope="col"') == 5 and html.count("<tr>") == 3
    assert '<td class="n">63&nbsp;%</td>' in html


def test_a_contrast_in_sentences() -> None:
    told = shown(":::contrast iqp-main\nagainst: iqp-main 10...Nf6\n:::\n")
    assert any("Black’s knight" in sentence for sentence in told)


def test_every_value_that_an_attribute_takes_is_said_in_words() -> None:
    patterns = {one for options in EXHIBIT_OPTIONS.values() for one in options.values()}
    patterns |= {one for kind in FACT_KINDS.values() for one in kind.attributes.values()}
    for pattern in patterns:
        said = values_in_words(pattern)
        assert not set(said) & set("[](){}\\|?*+^$"), said
        assert "some text" not in said or re.fullmatch(r"\.\+|\[\\s\\S\]\+", pattern), pattern


@pytest.mark.parametrize(
    ("block", "code", "said", "where"),
    [
        ("orders nowhere", "exhibit-place", "no place is called 'nowhere'", (3, 1)),
        ("orders", "exhibit-place", ":::orders needs a place", (3, 1)),
        ("orders iqp-main\nmuch: 3", "exhibit-option", "':::orders' has no line 'much:'", (4, 7)),
        ("orders iqp-main\nmost: many", "exhibit-option", "'many' is no value of 'most:'", (4, 7)),
        ("orders before the break", "exhibit-unknown", "no line of the edition leads to it", (3, 1)),
        ("line iqp-main\nmoves: 10...Qxd4", "exhibit-line", "'Qxd4' is illegal", (4, 8)),
        ("line start", "exhibit-line", "no moves lead to the place", (3, 1)),
        ("game Orlo", "exhibit-option", "a game is cited by its players", (3, 1)),
        ("game Orlo – Nobody, 2019", "game-missing", "no game of the sources is Orlo – Nobody, 2019", (3, 1)),
        (
            "game Orlo – Vesk",
            "game-several",
            "2 games fit: Spring Open, 2019 (sources/invented.pgn, game 7); Spring Open, 2020",
            (3, 1),
        ),
        ("game Orlo – Vesk, 2019\nmoves: 40-50", "exhibit-option", "it ends with move 15", (4, 8)),
        ("game Orlo – Vesk, 2019\nfrom: 1.d4 c5", "exhibit-option", "does not reach 1.d4 c5", (4, 7)),
        ("plans iqp-main\nof: nobody", "exhibit-unknown", "no games are of 'nobody'", (4, 5)),
        ("plans before the break", "exhibit-unknown", "no game shows a plan", (3, 1)),
        ("contrast iqp-main", "exhibit-option", "needs another place", (3, 1)),
        ("contrast iqp-main\nagainst: nowhere", "exhibit-place", "no place is called", (4, 10)),
    ],
)
def test_what_is_wrong_is_told_and_the_rest_stands(
    block: str, code: str, said: str, where: tuple[int, int]
) -> None:
    page, faults = composed(f"Before.\n\n:::{block}\n:::\n\nAfter.\n")
    assert lines(page)[1:] == ["After."]
    (fault,) = faults
    assert fault.code == code
    assert said in fault.message
    assert (fault.line, fault.column) == where


def test_an_unknown_directive_is_told_with_the_nearest_word() -> None:
    page, faults = composed("Before.\n\n:::order iqp-main\n:::\n")
    assert len(lines(page)) == 1
    assert [(fault.code, fault.hint) for fault in faults] == [
        ("unknown-directive", "did you mean :::orders?")
    ]


def test_games_stand_in_an_index_and_both_media_set_them() -> None:
    page, _ = composed(
        "## Games\n\n:::game Orlo – Vesk, 2019\nmoves: 14\n:::\n\n- in a list\n\n  :::orders iqp-main\n  :::\n"
    )
    (games,) = (index for index in page.indexes if index.title == "Index of games")
    assert [plain(entry.label) for entry in games.entries] == ["Orlo, Tam – Vesk, Ina, 2019"]
    html = html_of(page)
    assert 'href="#game-1"' in html
    assert '<span id="game-1">' in html
    assert pdf_of(page).pdf.startswith(b"%PDF")


def test_hostile_names_are_text() -> None:
    page, _ = composed(":::apparatus iqp-main\ncaption: <script>alert(1)</script>\n:::\n")
    assert "<script>alert" not in html_of(page)


def test_what_is_private_is_not_published() -> None:
    text = ":::game Orlo – Vesk, 2019\n:::\n\n:::orders iqp-main\ncaption: private: my choice\n:::\n\nRest.\n"
    digest, _ = parse_digest(text, PATH)
    settings = EditionSettings(
        title="x", side="white", roots={"a": "1.d4"}, private=PrivateMarks(names=("Vesk",))
    )
    kept, left = publishable(digest, settings)
    assert [type(block).__name__ for block in kept.blocks] == ["Paragraph"]
    assert [str(one) for one in left] == ["digest.md:1:1: private name", "digest.md:4:1: private comment"]


def test_the_examples_of_the_reference() -> None:
    """Each `:::` block in docs/reference/texts.md shows something, on invented evidence under the page's names."""
    text = REFERENCE.read_text(encoding="utf-8")
    section = text[text.index("## Blocks that are looked up") : text.index("## How a claim stands")]
    examples = re.findall(r"```text\n(.*?)```", section, re.DOTALL)
    assert len(examples) == len(re.findall("^### ", section, re.MULTILINE)) == 6
    for example in examples:
        known = example.replace(" iqp\n", " iqp-main\n").replace(
            "against: break", "against: before the break"
        )
        assert shown(known), example
