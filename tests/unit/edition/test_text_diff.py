from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from variorum.edition.text_diff import diff_text


def test_a_long_line_is_cut_around_what_differs() -> None:
    line = "word " * 2_000
    shown = diff_text(line + "a" + line, line + "{new} a" + line, "m.pgn").splitlines()
    assert shown[:3] == ["--- m.pgn", "+++ m.pgn", "@@ -1 +1 @@"]
    assert all(len(one) < 300 for one in shown)
    assert shown[3].startswith("-…")
    assert "{new} a" in shown[4]


def test_nothing_is_shown_where_nothing_differs() -> None:
    assert diff_text("a\nb\n", "a\nb\n", "m.pgn") == ""


def test_very_many_lines_are_counted() -> None:
    shown = diff_text("", "x\n" * 5_000, "m.pgn").splitlines()
    assert shown[-1].endswith("more lines")
    assert len(shown) < 500


@given(st.text(alphabet="ab\n", max_size=60), st.text(alphabet="ab\n", max_size=60))
def test_short_lines_are_shown_whole(before: str, after: str) -> None:
    shown = diff_text(before, after, "m.pgn")
    assert "…" not in shown
    removed = [line[1:] for line in shown.splitlines()[2:] if line[:1] == "-"]
    assert all(line in before.splitlines() for line in removed)
