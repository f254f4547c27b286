"""The printed book: what stands in the PDF, and that nothing written by an author is code of the typesetter.

What is read back is read by pypdf, a reader that knows nothing of this project.
"""

from __future__ import annotations

import datetime
import io
from pathlib import Path

import pypdf
import pytest
from invented_evidence import InventedEvidence

from variorum.claims.facts import Reading
from variorum.claims.standing import Standing
from variorum.edition.digest import SpanKind
from variorum.edition.digest_reader import parse_digest
from variorum.edition.manuscript import read_manuscript
from variorum.edition.settings import EditionSettings, PrivateMarks
from variorum.publish.apparatus import Siglum
from variorum.publish.book import compose_manuscript
from variorum.publish.compose import compose_digest
from variorum.publish.page import ClaimNote, Page, PageSetting
from variorum.publish.private import publishable
from variorum.publish.typeset import pdf_of

DIGEST = Path(__file__).parent / "data" / "digest.md"
EVIDENCE = InventedEvidence()
SETTING = PageSetting(
    edition="The Isolated Queen's Pawn",
    made_on=datetime.date(2026, 11, 25),
    sigla=(Siglum("A", "the resident at 200 000 nodes"), Siglum("G", "invented games")),
    names={place.position.epd: name for name, place in EVIDENCE.names.items()},
)
SETTINGS = EditionSettings(
    title="T",
    side="white",
    roots={"main": "1.e4"},
    private=PrivateMarks(nags=(142,), names=("Hammer",)),
)
GAME = """[Event "The pawn goes forward"]
[White "Manuscript"]
[Black "Panov"]

{Where the pawn stands alone.} 1. e4 c6 2. d4 d5 3. exd5 cxd5 4. c4 Nf6 5. Nc3 e6 (5... Nc6 6. Bg5 (6. Nf3 Bg4)
6... dxc4 $6) 6. Nf3 Be7 7. cxd5 Nxd5 8. Bd3 Nc6 9. O-O O-O 10. Re1 {The common tabiya; "the pin" waits.} *
"""


def digest_page(text: str, **more: object) -> Page:
    digest, _ = parse_digest(text, Path("digest.md"))
    kept, _ = publishable(digest, SETTINGS)
    return compose_digest(kept, EVIDENCE, SETTING, **more).page  # type: ignore[arg-type]


def book_page(pgn: str) -> Page:
    return compose_manuscript(read_manuscript(pgn.encode()), SETTINGS, EVIDENCE, SETTING).page


def read(data: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(data))


def words(data: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in read(data).pages).split())


@pytest.fixture(scope="module")
def digest_pdf() -> bytes:
    digest, _ = parse_digest(DIGEST.read_text(encoding="utf-8"), Path("digest.md"))
    spans = [span for span in digest.spans() if span.kind.value == "claim"]
    standings = [Standing.HOLDS, Standing.CONTRADICTED, Standing.UNDECIDED]
    says = (Reading(siglum="A", expected=61.8, noise=1.1),)
    claims = {
        span.where: ClaimNote(standing, says, "9 of 14 games")
        for span, standing in zip(spans, standings, strict=True)
    }
    return pdf_of(compose_digest(digest, EVIDENCE, SETTING, claims).page).pdf


@pytest.fixture(scope="module")
def book_pdf() -> bytes:
    return pdf_of(book_page(GAME), columns=2).pdf


def test_the_text_of_the_digest_stands_in_the_book(digest_pdf: bytes) -> None:
    text = words(digest_pdf)
    assert "When may the pawn advance?" in text
    assert "White has 61.8" in text
    assert "†" in text and "9 of 14 games" in text
    assert "Set by Variorum" in text and "25 November 2026" in text
    assert "10 Re1]" in text and "318 games" in text  # the apparatus at the foot
    assert "Index of positions" in text and "Index of variations" in text
    assert "A the resident at 200 000 nodes; G invented games; verdicts are" in text


def test_the_text_of_the_manuscript_stands_in_the_book(book_pdf: bytes) -> None:
    text = words(book_pdf)
    assert "The pawn goes forward" in text and "Manuscript – Panov" in text
    assert "Where the pawn stands alone." in text
    assert "“the pin” waits." in text
    assert "10\u00a0♖e1" in text or "10 ♖e1" in text
    assert "i 5…♘c6 6 ♗g5 (6 ♘f3 ♗g4) 6…dxc4?!" in text.replace("\u00a0", " ")
    assert "iqp-main. After 10 Re1. Black to move." in text.replace("\u00a0", " ")


def test_the_same_page_gives_the_same_bytes(book_pdf: bytes) -> None:
    assert pdf_of(book_page(GAME), columns=2).pdf == book_pdf


def test_bookmarks_links_language_and_alternative_texts(digest_pdf: bytes, book_pdf: bytes) -> None:
    reader = read(digest_pdf)
    titles = [entry.title for entry in flat(reader.outline)]
    assert titles[0] == "When may the pawn advance?"
    assert "Index of positions" in titles
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert reader.metadata is not None and reader.metadata.title == "When may the pawn advance?"
    said = alternatives(reader)
    assert any(one.startswith("Figure 1. Black to move. White: Kg1, Qd1,") for one in said)
    targets = [
        annotation.get_object()
        for page in reader.pages
        for annotation in page.get("/Annots", ())
        if annotation.get_object()["/Subtype"] == "/Link"
    ]
    assert any("/URI" in one.get("/A", {}) for one in targets), "the author's links"
    assert any("/Dest" in one or "/D" in one.get("/A", {}) for one in targets), "those of index and notes"
    chapters = [entry.title for entry in flat(read(book_pdf).outline)]
    assert "The pawn goes forward" in chapters
    assert "Index of variations" in chapters


def flat(outline: list[object]) -> list[pypdf.generic.Destination]:
    found: list[pypdf.generic.Destination] = []
    for entry in outline:
        if isinstance(entry, list):
            found += flat(entry)
        else:
            found.append(entry)  # type: ignore[arg-type]
    return found


def alternatives(reader: pypdf.PdfReader) -> list[str]:
    found, waiting, seen = [], [reader.trailer["/Root"]["/StructTreeRoot"]], set()
    while waiting:
        node = waiting.pop()
        if isinstance(node, pypdf.generic.IndirectObject):
            if node.idnum in seen:
                continue
            seen.add(node.idnum)
            node = node.get_object()
        if isinstance(node, list):
            waiting += node
        elif isinstance(node, dict):
            if "/Alt" in node:
                found.append(str(node["/Alt"]))
            waiting += [node[key] for key in ("/K",) if key in node]
    return found


def test_only_the_fonts_of_the_look_and_no_clock(digest_pdf: bytes) -> None:
    reader = read(digest_pdf)
    fonts = {
        str(font.get_object()["/BaseFont"]).partition("+")[2]
        for page in reader.pages
        for font in page["/Resources"].get("/Font", {}).values()
    }
    assert fonts and all(name.startswith("Variorum") for name in fonts), fonts
    metadata = reader.metadata or {}
    assert not any("2026" in str(value) for value in metadata.values())
    assert "/Author" not in metadata


HOSTILE = [
    '#read("/etc/passwd")',
    '#import "@preview/needle:1.0.0": *',
    '#eval("1+1") #sys.inputs #panic(\'x\') #image("/etc/passwd")',
    r"\u{41} \# \[ \\",
    "$ a^2 $ `raw` ```typ #panic() ``` _x_ *y* <label> @ref ~ -- --- // comment /* c */",
    "[unclosed ( { = heading - item + item / term: x",
    "\u202e rechts nach links \u2067עברית العربية\u2069 日本 🦄 \U000e0001 \ufeff",
    '"] } ); #panic("x") ([{"',
    "a\x00b\x07c",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_what_an_author_writes_is_never_code(text: str) -> None:
    markdown = text.replace("\x00", "")
    page = digest_page(
        f"# {markdown}\n\nBefore {markdown} after.\n\n`{markdown}`\n\n:::diagram iqp-main\ncaption: {markdown}\n:::\n"
    )
    data = pdf_of(page).pdf
    said = words(data)
    assert "root:" not in said
    pgn = f'[Event "{text.translate({34: None, 92: None, 0: None})}"]\n\n1. e4 {{Before {text.replace("}", "")} after}} e5 *\n'
    book = words(pdf_of(book_page(pgn), columns=2).pdf)
    assert "root:" not in book
    assert "after" in said and "after" in book
    if text.startswith(("#read", "#import")):
        assert text.replace('"', "”")[:6] in said


def test_private_needles_are_in_no_pdf_text_metadata_or_font() -> None:
    page = digest_page("# Title\n\nprivate: the needle.\n\nOpen text.\n\nThe Hammer needle.\n")
    pgn = (
        '[Event "Open"]\n[Site "Hammer needle"]\n\n1. e4 {private: needle} e5 (1... c5 {private line needle} 2. Nf3) '
        "(1... c6 $142 2. d4 {needle}) 2. Nf3 *\n"
    )
    for data in (pdf_of(page).pdf, pdf_of(book_page(pgn), columns=2).pdf):
        reader = read(data)
        streams = [
            one.get_object().get_data()
            for one in reader.resolved_objects.values()
            if hasattr(one, "get_data")
        ]
        text = words(data)
        # Read by its place on the sheet, a versal stands apart from the word that it begins.
        assert "Open" in text.replace("O pen", "Open")
        for output in (text.encode(), data, str(reader.metadata).encode(), *streams):
            assert b"needle" not in output.lower()
            assert b"hammer" not in output.lower()
        assert "c5" not in text and "2 d4" not in text.replace("\u00a0", " ")


def test_notes_and_claims_stand_on_the_page_of_their_sentence() -> None:
    """However the text before it fills the page: a note is at the foot of its sentence's page, a claim below its sentence."""
    told = 'Here [57.4]{.fact kind=score at="iqp-main"} is the score, and [it is sentence]{.claim kind=score at="iqp-main" says="slight White"}.'
    for length in range(60, 100, 3):
        text = f"# Title\n\n{'Filler line of text that goes on. ' * length}\n\n## Heading\n\n{told}\n\nEnd.\n"
        digest, _ = parse_digest(text, Path("digest.md"))
        notes = {
            span.where: ClaimNote(Standing.UNDECIDED, remark=f"marginal {'and more ' * 60}")
            for span in digest.spans()
            if span.kind is SpanKind.CLAIM
        }
        page = compose_digest(digest, InventedEvidence(), SETTING, notes).page
        pages = [one.extract_text() for one in read(pdf_of(page).pdf).pages]
        where = {
            word: [number for number, one in enumerate(pages) if word in one]
            for word in ("is the score", "10 Re1]", "marginal", "Heading")
        }
        assert where["10 Re1]"] == where["is the score"] == where["marginal"], (length, where)
        assert where["is the score"][0] in where["Heading"], (length, where)


def test_a_versal_is_three_lines_high_whatever_the_text_begins_with() -> None:
    for text in (
        "A.",
        "Black waits.",
        "Ångström " * 200,
        "White plays 10.Re1. " * 40,
        "I",
        "Öffnung [1.e4]{.line}. " * 30,
    ):
        assert pdf_of(digest_page(f"# Title\n\n{text}\n")).pdf


def test_headings_that_leave_a_level_out_and_empty_texts_are_set() -> None:
    assert pdf_of(
        digest_page("#### Deep first\n\nText.\n\n## Then two\n\n> quoted\n\n---\n\n```\ncode\n```\n")
    )
    assert pdf_of(digest_page(""))
    assert pdf_of(book_page("*\n"), columns=2)


def test_a_comment_without_end_is_printed_in_part_and_told() -> None:
    long = " ".join(f"word{number}" for number in range(700_000))  # about 7 MB
    text = GAME.replace("Where the pawn stands alone.", f"{long} and here it ends")
    book = compose_manuscript(read_manuscript(text.encode()), SETTINGS, EVIDENCE, SETTING)
    (told,) = book.diagnostics
    assert told.code == "print-long"
    assert "60,000" in told.message
    printed = "".join(
        page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf_of(book.page).pdf)).pages
    )
    assert "word0 word1" in " ".join(printed.split())
    assert "[…]" in printed
    assert "here it ends" not in printed
