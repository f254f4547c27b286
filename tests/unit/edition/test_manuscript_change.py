from __future__ import annotations

from pathlib import Path

import pytest

from variorum.base import InputError
from variorum.edition import (
    ChangedOutsideError,
    Edition,
    add_comment,
    apply_edits,
    load_edition,
    read_manuscript,
    resolve_place,
)
from variorum.edition.manuscript_change import (
    Writing,
    keep_change,
    open_manuscript,
    redo_changes,
    undo_changes,
)
from variorum.edition.manuscript_find import node_at
from variorum.edition.manuscript_reports import merge_file, split_manuscript, tidy_report

SETTINGS = 'title = "QGD"\nside = "white"\n[roots]\nqgd = "1.d4 d5 2.c4 e6"\n[names]\nknight = "qgd 3.Nc3"\n'
TEXT = '1. d4 d5 (1... e6 2. c4 d5 3. Nc3 $16) 2. c4 e6 3. Nc3 Nf6 *\r\n\r\n[Event "two"]\r\n\r\n1. d4 d5 2. c4 *\r\n'


@pytest.fixture
def edition(tmp_path: Path) -> Edition:
    (tmp_path / "edition.toml").write_text(SETTINGS)
    (tmp_path / "manuscript.pgn").write_bytes(TEXT.encode())
    edition, faults = load_edition(tmp_path)
    assert edition is not None
    assert faults == []
    return edition


def commented(
    edition: Edition, place: str, words: str, writing: Writing = Writing.WRITE, **where: int
) -> None:
    manuscript = open_manuscript(edition)
    node = node_at(manuscript, resolve_place(edition, place), **where)
    data = apply_edits(manuscript.data, add_comment(node, words))
    keep_change(edition, manuscript, data, what=f"comment {words}", writing=writing)


def text(edition: Edition) -> str:
    return (edition.path / "manuscript.pgn").read_bytes().decode()


@pytest.mark.parametrize(
    ("place", "where", "order"),
    [
        ("knight", {}, 5),  # the name's own order, not the other one
        ("1.d4 e6 2.c4 d5 3.Nc3", {}, 5),
        ("1.c4 e6 2.d4 d5 3.Nc3 Nf6", {}, 6),  # an order that is not there: its position is
        ("1.d4 d5 2.c4", {"game": 2}, 3),
        ("1.d4 d5 2.c4", {"file_line": 5}, 3),
    ],
)
def test_finding_a_place(edition: Edition, place: str, where: dict[str, int], order: int) -> None:
    assert node_at(open_manuscript(edition), resolve_place(edition, place), **where).ply == order


@pytest.mark.parametrize(
    ("place", "where", "said"),
    [
        ("1.d4 d5", {}, "several places: game 1, line 1: 1.d4 d5; game 2, line 5: 1.d4 d5"),
        ("1.c4 d5 2.d4 e6", {"game": 2}, "no game begins with its first move"),
        ("knight 3...Be7", {}, "the manuscript follows 1.d4 d5 2.c4 e6 3.Nc3 and has no 3...Be7 there"),
        ("1.d4", {"game": 3}, "there is no game 3: the manuscript has 2 games"),
    ],
)
def test_what_cannot_be_found(edition: Edition, place: str, where: dict[str, int], said: str) -> None:
    with pytest.raises(InputError) as raised:
        node_at(open_manuscript(edition), resolve_place(edition, place), **where)
    assert said in str(raised.value)


def test_changes_are_undone_and_made_again(edition: Edition) -> None:
    commented(edition, "knight", "one")
    commented(edition, "knight", "two")
    commented(edition, "knight", "three", Writing.SHOW)
    after = text(edition)
    assert after == TEXT.replace("3. Nc3 Nf6", "3. Nc3 {one} {two} 3... Nf6")
    shown = undo_changes(edition, 2, Writing.SHOW)
    assert text(edition) == after
    undone = undo_changes(edition, 2)
    assert text(edition) == TEXT
    assert undone.diff == shown.diff
    assert undone.what == "undone: comment two; comment one"
    with pytest.raises(InputError, match="nothing to undo"):
        undo_changes(edition)
    with pytest.raises(InputError, match="only 2 steps to redo"):
        redo_changes(edition, 3)
    redo_changes(edition, 2)
    assert text(edition) == after


def test_nothing_is_undone_where_the_file_was_changed_outside(edition: Edition) -> None:
    commented(edition, "knight", "one")
    changed = text(edition) + "\n; mine\n"
    (edition.path / "manuscript.pgn").write_bytes(changed.encode())
    with pytest.raises(ChangedOutsideError):
        undo_changes(edition)
    assert text(edition) == changed
    commented(edition, "knight", "two")
    undo_changes(edition)
    assert text(edition) == changed


def test_a_file_that_changed_underneath_is_not_written(edition: Edition) -> None:
    manuscript = open_manuscript(edition)
    (edition.path / "manuscript.pgn").write_bytes(b"1. d4 *\n")
    with pytest.raises(ChangedOutsideError):
        keep_change(edition, manuscript, manuscript.data + b"\n", what="x")
    assert text(edition) == "1. d4 *\n"


def test_a_change_tells_what_it_contradicts(edition: Edition) -> None:
    manuscript = open_manuscript(edition)
    data = manuscript.data.replace(b"3. Nc3 Nf6", b"3. Nc3 $14 Nf6")
    change = keep_change(edition, manuscript, data, what="sign", writing=Writing.SHOW)
    assert [one.kind for one in change.findings] == ["signs"]
    assert "+1. d4 d5 (1... e6 2. c4 d5 3. Nc3 $16) 2. c4 e6 3. Nc3 $14 Nf6 *" in change.diff


def test_merging_a_file_and_pointing(edition: Edition, tmp_path: Path) -> None:
    other = tmp_path / "notes.pgn"
    other.write_bytes("1. c4 e6 2. d4 d5 3. Nf3 {geh\xf6rt dazu} *".encode("cp1252"))
    report, faults = merge_file(edition, other)
    assert [fault.code for fault in faults] == ["missing-tags"]
    assert "{see 1.d4 e6 2.c4}" in text(edition)
    assert "(3. Nf3 {gehört dazu})" in text(edition)
    assert (report.moves, len(report.transpositions)) == (4, 1)
    told = tidy_report(edition, Writing.WRITE)
    assert told.change is not None
    assert told.change.written
    assert tidy_report(edition).findings == told.findings
    assert not [one for one in told.findings if one.kind == "unpointed"]


def test_splitting_writes_no_file_over_another(edition: Edition) -> None:
    report = split_manuscript(edition)
    assert [(file.root, file.path) for file in report.files] == [
        ("qgd", "split/qgd.pgn"),
        (None, "split/rest.pgn"),
    ]
    assert read_manuscript(edition.path / "split" / "qgd.pgn").games[0].span[0] == 0
    assert split_manuscript(edition) == report
    (edition.path / "split" / "qgd.pgn").write_text("mine")
    with pytest.raises(ChangedOutsideError):
        split_manuscript(edition)
    with pytest.raises(InputError, match="leads out"):
        split_manuscript(edition, "../elsewhere")
    assert text(edition) == TEXT
