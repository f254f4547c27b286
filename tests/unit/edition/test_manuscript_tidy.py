from __future__ import annotations

from functools import partial

import pytest

from variorum.edition.manuscript import read_manuscript
from variorum.edition.manuscript_tidy import Finding, point_out, tidy
from variorum.edition.place import parse_place

WAYS = "1. d4 d5 (1... Nf6 2. c4 e6 3. Nf3 d5 4. Nc3{0}) 2. c4 e6 3. Nc3 Nf6 4. Nf3{1} *"


def found(text: str) -> tuple[Finding, ...]:
    return tidy(read_manuscript(text.encode()), see="see", resolve=lambda said: parse_place(said, {}))


def kinds(text: str) -> list[str]:
    return [finding.kind for finding in found(text)]


def test_two_signs_on_one_position_by_two_orders() -> None:
    (finding, *_) = found(WAYS.format(" $16", " $14"))
    assert finding.kind == "signs"
    assert finding.contradicts
    assert finding.message == "the position after 4.Nc3 has two signs: ± and ⩲, by 2 orders"
    assert [(place.order, place.says) for place in finding.places] == [
        ("1.d4 Nf6 2.c4 e6 3.Nf3 d5 4.Nc3", "±"),
        ("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3", "⩲"),
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (WAYS.format(" $14", " $14"), []),
        (WAYS.format(" $10", " $11"), []),  # level, and level and quiet
        (WAYS.format(" $1", " $2"), []),  # of two moves
        ("1. d4! d5 *\n\n1. d4? d5 *", ["signs"]),
        ("1. d4 $14 $16 d5 *", ["signs"]),
        (WAYS.format(" Be7", " Bb4"), ["twice"]),
        (WAYS.format("", " Bb4"), ["unpointed"]),
        (WAYS.format(" {see 1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3}", " Bb4"), []),
        (WAYS.format(" {see 1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Bg5}", " Bb4"), ["pointer"]),
        (WAYS.format(" {see 1.d4 d5 2.c4 e6}", " Bb4"), ["pointer"]),  # another position
        (WAYS.format(" {see 1.d4 d5 2.Ke3}", " Bb4"), ["pointer"]),
        (WAYS.format(" {the same as 4.Nf3, see there}", " Bb4 {see 4.Nf3}"), ["unpointed"]),
        (WAYS.format(" {See 3.Nc3, foreseen 9.z9}", ""), ["pointer"]),
        ("1. d4 d5 2. c4 *\n\n1. d4 d5 2. Nf3 *", []),  # two games begin alike
        ("1. d4 d5 (1... d5 2. Nf3) 2. c4 *", ["twice"]),  # one variation written twice
    ],
)
def test_what_is_found(text: str, expected: list[str]) -> None:
    assert kinds(text) == expected


def test_a_pointer_is_put_where_it_is_missing_and_is_right() -> None:
    text = WAYS.format("", " Bb4")
    manuscript = read_manuscript(text.encode())
    data, done = point_out(manuscript, see="see", hides=lambda _: False)
    assert data.decode() == WAYS.format(" {see 1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3}", " Bb4")
    assert len(done) == 1
    assert kinds(data.decode()) == []
    target = manuscript.games[0].main_line[2]
    assert point_out(manuscript, see="see", hides=partial(target.__eq__)) == (text.encode(), ())


def test_the_word_is_the_authors() -> None:
    text = WAYS.format(" {siehe 1.d4 d5 2.Ke3}", "")
    german = tidy(read_manuscript(text.encode()), see="siehe", resolve=lambda said: parse_place(said, {}))
    assert [finding.kind for finding in german] == ["pointer"]
    assert kinds(text) == []
