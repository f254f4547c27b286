from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from variorum.board import Side
from variorum.edition.digest import (
    Code,
    Diagram,
    Digest,
    Heading,
    Link,
    Listing,
    ListOrder,
    Paragraph,
    Quotation,
    SpanKind,
    Text,
    Verbatim,
    plain_text,
)
from variorum.edition.digest_reader import MOST_CHARACTERS, MOST_IN_A_RUN, parse_digest, read_digest
from variorum.edition.marks import MarkKind

PATH = Path("digest.md")


def read(text: str) -> tuple[Digest, list[str]]:
    digest, faults = parse_digest(text, PATH)
    return digest, [f"{fault.line}:{fault.column} {fault.code}" for fault in faults]


def test_the_example_of_the_architecture() -> None:
    """The syntax as `docs/architecture.md` gives it, section Texts."""
    digest, faults = read(
        'White has [57.4]{.fact kind=score at="iqp-main"} after [10.Re1]{.line of="iqp-main"}, and\n'
        '[a small edge]{.claim kind=score at="iqp-main" says="slight White"}.\n'
        "\n"
        ":::diagram iqp-main\n"
        "marks: ring d5; route Nf3-e5\n"
        "caption: Before the break.\n"
        ":::\n"
    )
    assert faults == []
    assert [
        (span.kind, span.text, span.attributes, span.where.line, span.where.column) for span in digest.spans()
    ] == [
        (SpanKind.FACT, "57.4", {"kind": "score", "at": "iqp-main"}, 1, 11),
        (SpanKind.LINE, "10.Re1", {"of": "iqp-main"}, 1, 56),
        (
            SpanKind.CLAIM,
            "a small edge",
            {"kind": "score", "at": "iqp-main", "says": "slight White"},
            2,
            1,
        ),
    ]
    (diagram,) = digest.diagrams()
    assert diagram.place == "iqp-main"
    assert [mark.kind for mark in diagram.marks] == [MarkKind.RING, MarkKind.ITINERARY]
    assert plain_text(diagram.caption) == "Before the break."
    assert diagram.view is Side.WHITE


def test_title_and_standfirst() -> None:
    digest, faults = read("# When may the *pawn* advance?\n\n*Only when nothing\ncan stop it.*\n\nText.\n")
    assert faults == []
    assert plain_text(digest.title) == "When may the pawn advance?"
    assert plain_text(digest.standfirst) == "Only when nothing can stop it."
    assert [type(block) for block in digest.blocks] == [Paragraph]


def test_an_emphasised_word_does_not_make_a_standfirst() -> None:
    digest, _ = read("# Title\n\n*Only* now.\n")
    assert digest.standfirst == ()
    assert len(digest.blocks) == 1


def test_blocks_of_markdown() -> None:
    digest, faults = read(
        "## Part\n\n1. one\n2. two `Nf3`\n\n- a\n  - b\n\n> said\n\n```\nraw [1]{.fact}\n```\n\n---\n\n"
        "See [the page](https://example.org/a)\nand **bold**.\n"
    )
    assert faults == []
    heading, numbered, plain, quotation, verbatim, _, paragraph = digest.blocks
    assert isinstance(heading, Heading) and heading.level == 2
    assert isinstance(numbered, Listing) and numbered.order is ListOrder.NUMBERED
    assert isinstance(plain, Listing) and isinstance(plain.items[0][1], Listing)
    assert isinstance(quotation, Quotation)
    assert isinstance(verbatim, Verbatim) and verbatim.text == "raw [1]{.fact}\n"
    assert isinstance(paragraph, Paragraph) and isinstance(paragraph.children[1], Link)
    assert Code("Nf3") in numbered.items[1][0].children  # type: ignore[union-attr]


def test_where_a_span_stands_in_nested_and_indented_text() -> None:
    text = (
        "> - item *[1]{.fact kind=score}*\n"
        ">   more [2]{.fact kind=a}\n"
        "\n"
        "## Head [3]{.line} ##\n"
        "\n"
        "   lead\n"
        '  tail [**4**]{.claim says="a [5]\n'
        'b"} [outer [6]{.fact}]{.claim}\n'
    )
    digest, faults = read(text)
    assert faults == []
    lines = text.split("\n")
    for span in digest.spans():
        assert lines[span.where.line - 1][span.where.column - 1] == "["
    assert [(span.text, span.where.line, span.where.column) for span in digest.spans()] == [
        ("1", 1, 11),
        ("2", 2, 10),
        ("3", 4, 9),
        ("4", 7, 8),
        ("outer 6", 8, 5),
        ("6", 8, 12),
    ]


def test_a_quoted_value_may_run_over_a_line_end_and_hold_escaped_quotation_marks() -> None:
    digest, faults = read('[x]{.claim says="slight\nWhite \\"now\\""}\n')
    assert faults == []
    (span,) = digest.spans()
    assert span.attributes == {"says": 'slight White "now"'}


def test_straight_quotation_marks_are_set() -> None:
    digest, _ = read('"White\'s" edge\n')
    assert digest.blocks[0].children == (Text("“White’s” edge"),)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("text", "fault", "left"),
    [
        ("a [57.4]{.fact kind=} b", "1:21 broken-attributes", "a 57.4 b"),
        ("a [57.4]{.fact kind=score [b]", "1:27 broken-attributes", "a 57.4{.fact kind=score [b]"),
        ("a [57.4]{.fact at=10.Re1} b", "1:21 broken-attributes", "a 57.4 b"),
        ("a [57.4]{.fcat kind=score} b", "1:3 span-kind", "a 57.4 b"),
        ("a [57.4]{kind=score} b", "1:3 span-kind", "a 57.4 b"),
        ("a [57.4]{.fact .line} b", "1:3 span-kind", "a 57.4 b"),
        ("a <b>bold</b>", "1:3 raw-html", "a bold"),
        ("a ![text](picture.png)b", "1:3 image", "a b"),
        ("a [words](notes.md)", "1:11 link-target", "a words"),
        ("a [words](javascript:alert)", None, "a [words](javascript:alert)"),
        ("a <!-- a note to myself -->b", None, "a b"),
    ],
)
def test_broken_parts_are_told_and_the_rest_stands(text: str, fault: str | None, left: str) -> None:
    digest, faults = read(text + "\n")
    assert faults[:1] == ([fault] if fault else [])
    assert plain_text(digest.blocks[0].children) == left  # type: ignore[union-attr]


def test_an_unclosed_directive_swallows_nothing() -> None:
    digest, faults = read(
        "Before.\n\n:::diagram a\nmarks: ring d5\n\nBetween.\n\n:::diagram b\n:::\n\nAfter.\n\n:::diagram c\ncaption: x"
    )
    assert faults == ["3:1 unclosed-directive", "13:1 unclosed-directive"]
    assert [
        block.place if isinstance(block, Diagram) else plain_text(block.children) for block in digest.blocks
    ] == [
        "Before.",
        "a",
        "Between.",
        "b",
        "After.",
        "c",
    ]


def test_faults_in_a_directive_have_their_place() -> None:
    digest, faults = read(
        ":::diagram iqp-main\n"
        "marks: ring d5; arc e4;\n"
        "   hole z9\n"
        "view: sideways\n"
        "size: 3\n"
        "caption: A [9]{.bad} and [8]{.fact kind=count}\n"
        "caption: again\n"
        ":::\n"
        "\n"
        ":::digram x\n"
        ":::\n"
        "\n"
        ":::diagram\n"
        ":::\n"
        "\n"
        ":::\n"
    )
    assert faults == [
        "2:17 diagram-mark",
        "3:4 diagram-mark",
        "4:7 diagram-view",
        "5:1 directive-line",
        "6:12 span-kind",
        "7:1 directive-line",
        "10:1 unknown-directive",
        "13:1 diagram-place",
        "16:1 stray-directive-end",
    ]
    (diagram,) = digest.diagrams()
    assert [mark.squares for mark in diagram.marks] == [("d5",)]
    (span,) = digest.spans()
    assert (span.where.line, span.where.column) == (6, 26)


def test_a_second_title_becomes_a_heading() -> None:
    digest, faults = read("# One\n\ntext\n\n# Two\n")
    assert faults == ["5:1 second-title"]
    assert isinstance(digest.blocks[1], Heading) and digest.blocks[1].level == 2


def test_other_encodings_are_told(tmp_path: Path) -> None:
    path = tmp_path / "digest.md"
    path.write_bytes("# T\n\nabc é [1]{.fact}\n".encode("cp1252"))
    digest, faults = read_digest(path)
    assert [(fault.code, fault.line, fault.column) for fault in faults] == [("not-utf8", 3, 5)]
    assert plain_text(digest.blocks[0].children) == "abc é 1"  # type: ignore[union-attr]


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_line_ends_and_byte_order_mark(tmp_path: Path, ending: str) -> None:
    path = tmp_path / "digest.md"
    path.write_bytes(b"\xef\xbb\xbf" + ending.join(["# Title", "", "A [1]{.fact}", ""]).encode())
    digest, faults = read_digest(path)
    assert faults == []
    assert plain_text(digest.title) == "Title"
    assert [(span.where.line, span.where.column) for span in digest.spans()] == [(3, 3)]


def test_emoji_and_right_to_left_text_count_as_characters() -> None:
    digest, faults = read("😀 שלום [1]{.fact} مرحبا\n")
    assert faults == []
    (span,) = digest.spans()
    assert span.where.column == 8


def test_what_is_too_long_is_cut_and_told() -> None:
    _, faults = read("word word\n\n" * (MOST_CHARACTERS // 11 + 1))
    assert [fault.split()[1] for fault in faults] == ["digest-too-long"]


def test_a_run_without_end_is_cut_and_the_next_paragraph_stands() -> None:
    digest, faults = read("word " * 10_000 + "\nmore\n\nNext.\n")
    assert faults == [f"1:{MOST_IN_A_RUN + 1} paragraph-too-long"]
    assert [len(plain_text(block.children)) for block in digest.blocks] == [MOST_IN_A_RUN - 1, 5]  # type: ignore[union-attr]


@pytest.mark.parametrize(
    "text",
    ["[" * 400_000, "[a]{.fact " * 40_000, ":::\n" * 20_000, ":::x\n" * 20_000, "'" * 400_000, ("[a]{" * 5_000 + "\n\n") * 10,
     "> " * 2_000 + "x", "*a " * 20_000, "<!--" * 10_000, "{.fact kind=" * 10_000 + "}"],
    ids=lambda text: text[:10].strip(),
)  # fmt: skip
@pytest.mark.timeout(60)
def test_hostile_text_ends(text: str) -> None:
    parse_digest(text, PATH)


@given(st.text(alphabet='[]{}.#=":-;>*`\n\t fact diagram marks caption line 1aé', max_size=200))
def test_any_text_is_read_without_an_exception(text: str) -> None:
    digest, faults = parse_digest(text, PATH)
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for where in [span.where for span in digest.spans()]:
        assert lines[where.line - 1][where.column - 1 : where.column] == "["
    assert all(fault.line and fault.line <= len(lines) for fault in faults)
