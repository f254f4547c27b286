"""What is offered where the author writes is what the readers of the digest take."""

from __future__ import annotations

from pathlib import Path

import pytest

from variorum.board import Line
from variorum.claims.exhibits import EXHIBIT_OPTIONS
from variorum.claims.facts import FACT_KINDS
from variorum.claims.spans import CLAIM_KINDS
from variorum.desk.completion import complete
from variorum.edition import Edition, Manuscript, load_edition, new_edition, read_manuscript


@pytest.fixture(scope="module")
def edition(tmp_path_factory: pytest.TempPathFactory) -> Edition:
    folder: Path = tmp_path_factory.mktemp("completion") / "edition"
    new_edition(folder, "x", ["main: 1.d4 d5 2.c4 e6", "slav: 1.d4 d5 2.c4 c6"], "white")
    found, _ = load_edition(folder)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def manuscript() -> Manuscript:
    return read_manuscript(b"1. d4 d5 2. c4 e6 3. Nf3 (3. Nc3) *")


def words(edition: Edition, before: str, manuscript: Manuscript | None = None) -> list[str]:
    return [one.words for one in complete(edition, manuscript, before).choices]


def test_directives_and_what_they_take(edition: Edition) -> None:
    assert {one.strip() for one in words(edition, "Text.\n\n:::")} == {
        "diagram",
        *(kind.value for kind in EXHIBIT_OPTIONS),
    }
    assert words(edition, ":::ord") == ["orders "]
    assert words(edition, ":::orders ") == ["main", "slav"]
    assert words(edition, ":::orders main\n") == ["most: ", "side: ", "caption: "]
    assert words(edition, ":::orders main\nside: w") == ["white"]
    assert words(edition, ":::contrast main\nagainst: s") == ["slav"]
    assert words(edition, ":::diagram main\nmarks: ring d5; ro") == ["route "]
    assert words(edition, ":::orders main\n:::\n\nside") == []


def test_spans_from_the_brace_to_the_last_value(edition: Edition) -> None:
    assert words(edition, "[x]{") == [".fact ", ".claim ", ".line "]
    assert words(edition, "[x]{.c") == [".claim "]
    assert words(edition, "[x]{.fact ") == ["kind=", 'at="']
    assert words(edition, "[x]{.claim kind=") == list(CLAIM_KINDS)
    assert words(edition, "[x]{.fact kind=") == list(FACT_KINDS)
    assert words(edition, "[x]{.claim kind=co") == ["concedes"]
    assert words(edition, "[x]{.claim kind=concedes ") == ['at="', 'move="', 'says="']
    assert words(edition, "[x]{.claim kind=concedes at=") == ['"main"', '"slav"']
    assert words(edition, '[x]{.claim kind=score at="main" says="cl') == ["clear White", "clear Black"]
    assert words(edition, '[x]{.fact kind=count at="main" of=') == ["games", "orders"]
    assert words(edition, "[x]{.line ") == ['of="']
    assert words(edition, '[x]{.line of="m') == ["main"]
    assert words(edition, '[x]{.line of="main"} and more') == []
    assert words(edition, "plain words {x} and") == []


def test_moves_of_a_place_those_of_the_manuscript_first(edition: Edition, manuscript: Manuscript) -> None:
    before = '[x]{.claim kind=novelty at="main" move="'
    assert words(edition, before, manuscript)[:2] == ["3.Nf3", "3.Nc3"]
    knights = words(edition, before + "3.N", manuscript)
    assert knights[:2] == ["3.Nf3", "3.Nc3"]
    assert set(knights) == {"3.Nf3", "3.Nc3", "3.Nh3", "3.Nd2", "3.Na3"}
    assert words(edition, '[x]{.line of="main ', manuscript)[:2] == ["3.Nf3", "3.Nc3"]
    black = words(edition, '[x]{.line of="main 3.Nf3 N', manuscript)
    assert set(black) == {"Nh6", "Nf6", "Ne7", "Nd7", "Nc6", "Na6"}
    assert words(edition, '[x]{.line of="slav 3.Nf3 3...a') in (["3...a6", "3...a5"], ["3...a5", "3...a6"])
    assert words(edition, '[x]{.claim kind=novelty at="nowhere" move="') == []


def test_what_is_taken_goes_on_from_what_was_typed(edition: Edition, manuscript: Manuscript) -> None:
    typed = "main 3.Nf3 N"
    found = complete(edition, manuscript, f'[x]{{.line of="{typed}')
    for one in found.choices:
        text = typed[: len(typed) - found.typed] + one.words
        Line.parse(text.replace("main", "1.d4 d5 2.c4 e6"))


@pytest.mark.parametrize(
    "before",
    ["", "\n", "{" * 200, '{.fact at="' * 50, ":::" * 100, "[x]{.fact kind=nothing x=", "\x00{.claim"],
)
def test_no_text_is_too_strange(edition: Edition, before: str) -> None:
    complete(edition, None, before)
