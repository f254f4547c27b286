from __future__ import annotations

import html
import re

import html5lib
import pytest
from invented_desk import Desk

from variorum.desk.pages.settings import LABELS
from variorum.edition import load_edition


def hash_of(desk: Desk) -> str:
    found = re.search(r'data-hash="([0-9a-f]{64})"', desk.page("settings"))
    assert found
    return found[1]


def change(
    desk: Desk, values: dict[str, str], tables: dict[str, dict[str, str | None]] | None = None
) -> tuple[int, dict[str, str]]:
    sent = {"hash": hash_of(desk), "values": values, "tables": tables or {}}
    return desk.post(f"/e/{desk.name}/settings/change", sent)


def test_every_setting_is_on_the_page_in_chess_words(desk: Desk) -> None:
    text = desk.page("settings")
    html5lib.HTMLParser(strict=True).parse(text)
    text, _, rest = text.partition('<template id="rule-form">')
    assert "</form>" in rest and 'name="min_rating"' in rest  # the tables of sources have a form of their own
    shown = set(re.findall(r'name="([a-z_.]+)"', text)) | set(re.findall(r'data-table="([a-z_.]+)"', text))
    assert shown - {"token", "viewport"} == set(LABELS)


def test_only_the_lines_concerned_are_written(desk: Desk) -> None:
    file = desk.edition / "edition.toml"
    file.write_text(file.read_text() + "\n[thresholds]\npoor = 14.0  # my own\n")
    before = file.read_text()
    status, told = change(
        desk,
        {
            "title": "Another title",
            "thresholds.poor": "15",
            "thresholds.rare": "4.5",
            "budget.voices": "resident\nowl",
        },
        {"names": {"main line": "qgd 3.Nc3 Nf6"}},
    )
    assert (status, told) == (200, {"go": f"/e/{desk.name}/settings"})
    edition, faults = load_edition(desk.edition)
    assert edition is not None and not faults
    assert edition.title == "Another title"
    thresholds = edition.settings.thresholds
    assert (thresholds.poor, thresholds.rare) == (15.0, 4.5)
    assert edition.settings.budget.voices == ("resident", "owl")
    assert edition.names["main line"].text == "qgd 3.Nc3 Nf6"
    after = file.read_text()
    assert "# my own" in after
    kept = [line for line in before.splitlines() if line and not line.startswith(("title", "poor"))]
    assert [line for line in after.splitlines() if line in kept] == kept


def test_an_empty_field_is_the_default_and_a_step_is_taken_back(desk: Desk) -> None:
    file = desk.edition / "edition.toml"
    before = file.read_bytes()
    assert change(desk, {"bands.clear": "66"})[0] == 200
    text = desk.page("settings")
    assert 'value="66"' in text
    assert "set bands.clear" in text
    assert change(desk, {"bands.clear": ""})[0] == 200
    assert "clear =" not in file.read_text()
    for _ in range(2):
        assert desk.post(f"/e/{desk.name}/settings/undo", {"hash": hash_of(desk)})[0] == 200
    assert file.read_bytes() == before


def test_a_name_is_changed_and_taken_out(desk: Desk) -> None:
    assert change(desk, {}, {"names": {"one": "qgd 3.Nc3", "two": "one 3...Nf6"}})[0] == 200
    status, told = change(desk, {}, {"names": {"one": None}})
    assert (status, "two" in told["fault"]) == (422, True)  # it goes on from the other
    assert change(desk, {}, {"names": {"two": None}})[0] == 200
    assert change(desk, {}, {"names": {"one": None, "first": "qgd 3.Nc3"}})[0] == 200
    edition, _ = load_edition(desk.edition)
    assert edition is not None
    assert list(edition.names) == ["first"]


@pytest.mark.parametrize(
    ("values", "tables", "said"),
    [
        ({"thresholds.poor": "a lot"}, {}, "? concedes at least"),
        ({"thresholds.poor": "400"}, {}, "poor"),
        ({"thresholds.poor": "1"}, {}, "rise"),
        ({"bands.clear": "20"}, {}, ""),
        ({"side": "green"}, {}, "side"),
        ({"title": ""}, {}, "title"),
        ({"voices.evil.command": "sh"}, {}, "no setting"),
        ({"names": "x"}, {}, "no setting"),
        ({}, {"voices": {"evil": "sh"}}, "no table"),
        ({}, {"names": {"x": "1.e4 Ke4"}}, "Ke4"),
        ({}, {"roots": {"qgd": None}}, "root"),
    ],
)
def test_what_the_edition_does_not_allow_is_refused_and_nothing_is_written(
    desk: Desk, values: dict[str, str], tables: dict[str, dict[str, str | None]], said: str
) -> None:
    before = (desk.edition / "edition.toml").read_bytes()
    status, told = change(desk, {"language": "de", **values}, tables)
    assert status == 422
    assert said in told["fault"]
    assert (desk.edition / "edition.toml").read_bytes() == before


def test_a_change_by_another_hand_is_not_written_over(desk: Desk) -> None:
    mark, file = hash_of(desk), desk.edition / "edition.toml"
    file.write_text(file.read_text() + "# by another program\n")
    for path, sent in (("change", {"values": {"title": "Mine"}}), ("undo", {})):
        status, told = desk.post(f"/e/{desk.name}/settings/{path}", {"hash": mark, **sent})
        assert status == 422
        assert "changed outside" in told["fault"]
    assert file.read_text().endswith("# by another program\n")


def test_what_is_written_in_the_settings_is_shown_as_text(desk: Desk) -> None:
    hostile = '"><script>alert(1)</script>'
    assert change(desk, {"title": hostile})[0] == 200
    text = desk.page("settings")
    assert hostile not in text
    assert html.escape(hostile) in text.replace("&#34;", "&quot;")
