from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from variorum.edition.marks import Mark, MarkKind, parse_marks


def test_all_marks_are_read() -> None:
    marks, errors = parse_marks("ring d5!; route Nf3-e5-c4 a; hole c6; changed d3; vacated c4!;")
    assert errors == []
    assert marks == [
        Mark(MarkKind.RING, ("d5",), rubric=True),
        Mark(MarkKind.ITINERARY, ("f3", "e5", "c4"), letter="a", unit="N"),
        Mark(MarkKind.HOLE, ("c6",)),
        Mark(MarkKind.CHANGED, ("d3",)),
        Mark(MarkKind.VACATED, ("c4",), rubric=True),
    ]


def test_a_faulty_mark_is_told_with_its_place_and_the_others_stand() -> None:
    text = "ring d5; circle e4;  hole i9; route f3-f3; route f3; ring; hole c6"
    marks, errors = parse_marks(text)
    assert [mark.squares for mark in marks] == [("d5",), ("c6",)]
    assert [text[error.offset :].split(";")[0] for error in errors] == [
        "circle e4",
        "hole i9",
        "route f3-f3",
        "route f3",
        "ring",
    ]


def test_at_most_three_routes() -> None:
    marks, errors = parse_marks("; ".join(f"route {file}2-{file}4" for file in "abcd"))
    assert len(marks) == 3
    assert "more than 3 routes" in errors[0].message


@given(st.text(alphabet="ring oute;-abch12345678NK! \t", max_size=60))
def test_any_text_is_read_without_an_exception(text: str) -> None:
    marks, errors = parse_marks(text)
    assert len(marks) + len(errors) == sum(bool(part.strip()) for part in text.split(";"))
    assert all(0 <= error.offset < len(text) for error in errors)
