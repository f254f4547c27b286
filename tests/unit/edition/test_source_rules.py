"""`[[sources]]` tables said and taken back: other lines, comments and order stay."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from variorum.base import InputError
from variorum.edition import Edition, load_edition, new_edition
from variorum.edition.files import ChangedOutsideError
from variorum.edition.history import History
from variorum.edition.settings import SourceRule
from variorum.edition.source_rules import change_rule, is_own_rule, rule_number, say_file, take_out_rule

TABLES = """
# what the files are

# games of the owl
[[sources]]  # first
path = "sources/owl/*"   # all of them
kind = "engine"
# who it is
voice = "owl"

[[sources]]
path = "sources/b.pgn"
min_rating = 2400

# above the thresholds
[thresholds]
poor = 14.0  # my own
"""


def opened(folder: Path, tables: str = TABLES, newline: str = "\n") -> Edition:
    if not folder.exists():
        new_edition(folder, "IQP", ["panov: 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"], "white")
        file = folder / "edition.toml"
        text = file.read_text(encoding="utf-8") + tables
        file.write_bytes(text.replace("\n", newline).encode())
    edition, faults = load_edition(folder)
    assert edition is not None and not faults
    return edition


def text_of(edition: Edition) -> str:
    return (edition.path / "edition.toml").read_bytes().decode()


def rule_of(edition: Edition, name: str) -> SourceRule:
    return edition.rule_for(edition.path / name)


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_the_table_of_a_file_is_changed_in_its_lines_only(tmp_path: Path, newline: str) -> None:
    edition = opened(tmp_path / "e", newline=newline)
    before = text_of(edition)
    wish = SourceRule(path="", min_rating=2500, since=datetime.date(2015, 1, 1), pace="classical")
    edition = say_file(edition, "sources/b.pgn", wish)
    added = newline.join(["min_rating = 2500", "since = 2015-01-01", 'pace = "classical"'])
    assert text_of(edition) == before.replace("min_rating = 2400", added)
    assert rule_of(edition, "sources/b.pgn").since == datetime.date(2015, 1, 1)
    # What becomes the default needs no line.
    edition = say_file(edition, "sources/b.pgn", SourceRule(path=""))
    assert text_of(edition) == before.replace(f"min_rating = 2400{newline}", "")
    assert opened(edition.path) == edition


def test_a_file_that_a_pattern_means_gets_a_table_of_its_own_before_it(tmp_path: Path) -> None:
    edition = opened(tmp_path / "e")
    before = text_of(edition)
    assert say_file(edition, "sources/owl/a.pgn", SourceRule(path="", kind="engine", voice="owl")) is edition
    edition = say_file(edition, "sources/owl/a.pgn", SourceRule(path="", kind="analysis", voice="owl"))
    table = '[[sources]]\npath = "sources/owl/a.pgn"\nkind = "analysis"\nvoice = "owl"\n\n'
    assert text_of(edition) == before.replace("# games of the owl\n", f"{table}# games of the owl\n")
    assert rule_of(edition, "sources/owl/a.pgn").kind == "analysis"
    assert rule_of(edition, "sources/owl/b.pgn").kind == "engine"
    History(edition.path / "edition.toml").undo()
    assert text_of(edition) == before


def test_a_file_that_nothing_means_gets_a_table_at_the_end_whatever_its_name(tmp_path: Path) -> None:
    edition = opened(tmp_path / "e")
    before = text_of(edition)
    assert say_file(edition, "sources/n.pgn", SourceRule(path="")) is edition
    odd = 'sources/a[1] "x".pgn'
    edition = say_file(edition, odd, SourceRule(path="", kind="correspondence"))
    assert text_of(edition).startswith(before)
    assert rule_of(edition, odd).kind == "correspondence"
    assert rule_of(edition, 'sources/a1 "x".pgn').kind == "practice"
    number = rule_number(edition, odd)
    assert number == 2 and is_own_rule(edition.settings.sources[number], odd)
    edition = say_file(edition, odd, SourceRule(path=""))
    assert len(edition.settings.sources) == 3  # changed in place, not said twice


@pytest.mark.parametrize(
    ("number", "gone"),
    [
        (
            0,
            '[[sources]]  # first\npath = "sources/owl/*"   # all of them\nkind = "engine"\n# who it is\nvoice = "owl"\n',
        ),
        (1, '\n[[sources]]\npath = "sources/b.pgn"\nmin_rating = 2400\n'),
    ],
)
def test_a_table_is_taken_out_and_comments_around_it_stay(tmp_path: Path, number: int, gone: str) -> None:
    edition = opened(tmp_path / "e")
    before = text_of(edition)
    edition = take_out_rule(edition, number)
    assert text_of(edition) == before.replace(gone, "")
    assert len(edition.settings.sources) == 1
    assert edition.settings.thresholds.poor == 14.0


def test_the_last_table_of_a_file_without_a_line_end(tmp_path: Path) -> None:
    edition = opened(tmp_path / "e", '\n[[sources]]\npath = "sources/b.pgn"\nmin_rating = 2400')
    before = text_of(edition)
    edition = say_file(edition, "sources/c.pgn", SourceRule(path="", min_rating=2300))
    edition = take_out_rule(edition, 1)
    assert text_of(edition).rstrip("\n") == before
    edition = take_out_rule(edition, 0)
    assert not edition.settings.sources


def test_what_makes_no_sense_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    edition = opened(tmp_path / "e")
    before = text_of(edition)
    with pytest.raises(InputError, match="need a voice"):
        say_file(edition, "sources/b.pgn", SourceRule(path="", kind="engine"))
    with pytest.raises(InputError, match="leads out of"):
        change_rule(edition, 0, SourceRule(path="../*", kind="engine", voice="owl"))
    assert text_of(edition) == before
    file = edition.path / "edition.toml"
    file.write_text(before + "# by another hand\n", encoding="utf-8", newline="")
    with pytest.raises(ChangedOutsideError):
        say_file(edition, "sources/b.pgn", SourceRule(path=""))
    with pytest.raises(ChangedOutsideError):
        take_out_rule(edition, 1)
    assert text_of(edition) == before + "# by another hand\n"


def test_tables_written_as_one_list_are_left_to_the_author(tmp_path: Path) -> None:
    edition = opened(tmp_path / "e", "")
    file = edition.path / "edition.toml"
    file.write_text('sources = [{path = "sources/b.pgn", pace = "rapid"}]\n' + text_of(edition), newline="")
    edition, before = opened(edition.path), text_of(edition)
    for change in (
        lambda: take_out_rule(edition, 0),
        lambda: say_file(edition, "sources/n.pgn", SourceRule(path="", pace="rapid")),
        lambda: say_file(edition, "sources/b.pgn", SourceRule(path="", min_rating=2000)),
    ):
        with pytest.raises(InputError) as refused:
            change()
        assert refused.value.remedy
    assert text_of(edition) == before
