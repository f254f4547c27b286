"""The published page: what is in it, that it is valid, and that nothing hostile gets into it."""

from __future__ import annotations

import base64
import datetime
import hashlib
import re
from pathlib import Path
from typing import NamedTuple

import html5lib
import pytest
from invented_evidence import InventedEvidence

from variorum import __version__
from variorum.base import Diagnostic
from variorum.claims.facts import Reading
from variorum.claims.standing import Standing
from variorum.edition.digest_reader import parse_digest
from variorum.publish import assets
from variorum.publish.apparatus import Siglum
from variorum.publish.compose import compose_digest
from variorum.publish.html import html_of, sanitise
from variorum.publish.notation import ENGLISH_LETTERS
from variorum.publish.page import ClaimNote, PageSetting

SETTING = PageSetting(
    edition="The Isolated Queen’s Pawn",
    made_on=datetime.date(2026, 11, 25),
    sigla=(
        Siglum("A", "the resident at 200 000 nodes"),
        Siglum("B", "an invented engine"),
        Siglum("G", "invented games"),
    ),
    cautions=("All games and figures of this page are invented.",),
)
DIGEST = Path(__file__).parent / "data" / "digest.md"


class Rendered(NamedTuple):
    html: str
    diagnostics: tuple[Diagnostic, ...]


def render(text: str, setting: PageSetting = SETTING, **more: object) -> Rendered:
    digest, faults = parse_digest(text, Path("digest.md"))
    composed = compose_digest(digest, InventedEvidence(), setting, **more)  # type: ignore[arg-type]
    return Rendered(html_of(composed.page), (*faults, *composed.diagnostics))


def body(html: str) -> str:
    """The page without styles, fonts, script and unit drawings."""
    html = re.sub(r"(<style>).*?(</style>)", r"\1…\2", html, flags=re.DOTALL)
    html = re.sub(r"(<script>).*?(</script>)", r"\1…\2", html, flags=re.DOTALL)
    html = re.sub(r"(<defs>)<path id=.*?(</defs>)", r"\1…\2", html)
    html = html.replace(f"Variorum {__version__}", "Variorum <version>")
    return re.sub(r"'sha256-[^']+'", "'sha256-…'", html)


def main_of(html: str) -> str:
    return html.partition("<main")[2]


def parse(html: str) -> html5lib.treebuilders.base.Node:
    """Parse by the WHATWG algorithm; any parse error fails (html5lib, strict)."""
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(html)


def test_a_whole_page(snapshot) -> None:  # type: ignore[no-untyped-def]
    digest, faults = parse_digest(DIGEST.read_text(encoding="utf-8"), Path("digest.md"))
    spans = [span for span in digest.spans() if span.kind.value == "claim"]
    standings = [Standing.HOLDS, Standing.CONTRADICTED, Standing.UNDECIDED]
    says = (Reading(siglum="A", expected=61.8, noise=1.1),)
    claims = {
        span.where: ClaimNote(standing, says, "9 of 14 games")
        for span, standing in zip(spans, standings, strict=True)
    }
    composed = compose_digest(digest, InventedEvidence(), SETTING, claims)
    html = html_of(composed.page)
    parse(html)
    assert [str(fault) for fault in (*faults, *composed.diagnostics)] == [
        "digest.md:17:46: fact-changed '300' was typed; it is '318' now, and so the page prints it"
    ]
    snapshot(body(html).replace("><", ">\n<"), extension="html")


def test_the_page_needs_nothing_else() -> None:
    html = render(DIGEST.read_text(encoding="utf-8")).html
    urls = re.findall(r"""(?:href|src|url)\s*[=(]\s*["']?([^"')\s>]+)""", html)
    assert all(url.startswith(("#", "data:", "https://example.org/")) or "${" in url for url in urls)
    assert html.count("data:font/woff2;base64,") == 4
    assert "@import" not in html
    assert len(html) < 600_000


def test_the_policy_lets_in_exactly_what_is_there() -> None:
    html = render("Text.\n").html
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', html)
    assert policy is not None
    rules = policy[1]
    assert rules.startswith("default-src 'none'; ")
    for tag in ("style", "script"):
        (inside,) = re.findall(rf"<{tag}>(.*?)</{tag}>", html, flags=re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in rules
    assert "unsafe" not in rules
    assert not re.search(r"<[^>]+\sstyle=", html), "a style attribute would be refused by the policy"
    assert not re.search(r"<[^>]+\son[a-z]+=", html)


def test_facts_are_printed_as_they_are_now() -> None:
    page = render('White has [61.0]{.fact kind=score at="iqp-main"}.\n')
    assert '<span class="fact">61.8</span>.' in page.html
    assert "61.0" not in page.html
    assert [fault.code for fault in page.diagnostics] == ["fact-changed"]


def test_what_cannot_be_looked_up_is_printed_as_typed() -> None:
    page = render(
        'A [61.0]{.fact kind=score at="nowhere"}, [Qxd4]{.line of="iqp-main"} and [x]{.claim kind=score}.\n'
        "\n:::diagram nowhere\n:::\n"
    )
    assert '<span class="vh">A</span> 61.0, <span class="mv">♕xd4</span> and x.' in page.html
    assert [fault.code for fault in page.diagnostics] == ["fact-place", "line-move", "diagram-place"]
    assert "<figure" not in page.html
    parse(page.html)


def test_a_reference_waits_for_the_end_of_its_sentence() -> None:
    page = render(
        'Of [318]{.fact kind=count at="iqp-main"} games, [14.d5]{.line of="before the break"} is new. Of *these*.\n'
        "\n"
        '- [61.8]{.fact kind=score at="iqp-main"} without a stop\n'
    )
    assert (
        'is new.<a class="ref" href="#note-1"><sup>1</sup></a><sup>,</sup>'
        '<a class="ref" href="#note-2"><sup>2</sup></a> Of <em>these</em>.</p>'
    ) in page.html
    assert 'without a stop<a class="ref" href="#note-1"><sup>1</sup></a></li>' in page.html


def test_the_apparatus_cites_every_voice_with_the_lemma() -> None:
    page = render('After [14.d5]{.line of="before the break"}.\n')
    entry = re.search(r'<p class="entry" id="note-1">.*?</p>', page.html)
    assert entry is not None
    plain = (
        re.sub(r"<[^>]+>", "", entry[0]).replace("&ensp;", " ").replace("&nbsp;", " ").replace("\u00a0", " ")
    )
    assert plain == (
        "1 14 d5 A 74.3 ± 1.4 (+1.15) : B 69.5 ± 2.6 (+0.89)."
        " Bg5 A 58.0 ± 1.2 (+0.35) : G 3 games. Bh6 A 47.0 ± 1.3 (−0.13)."
    )
    assert "<i>B</i> an invented engine; <i>G</i> invented games;" in page.html


def test_without_evidence_the_apparatus_says_so() -> None:
    page = render("Nothing is cited.\n")
    assert '<p class="empty">This text shows no position that a voice has judged.</p>' in page.html


def test_the_colophon_says_how_and_when() -> None:
    colophon = main_of(render("Text.\n").html).partition('<p class="colophon">')[2].partition("</p>")[0]
    assert "on 25 November 2026" in colophon
    assert "no proof" in colophon
    assert colophon.endswith("All games and figures of this page are invented.")


def test_notation_and_language() -> None:
    page = render("After 10...Nf6 and more.\n", SETTING)
    assert '<html lang="en">' in page.html
    assert '<span class="mv">10…♘f6</span>' in page.html
    letters = PageSetting(edition="E", made_on=SETTING.made_on, notation=ENGLISH_LETTERS)
    assert '<span class="mv">10…Nf6</span>' in render("After 10...Nf6 and more.\n", letters).html


def test_diagrams_are_numbered_described_and_seen_from_either_side() -> None:
    page = render(
        ":::diagram iqp-main\ncaption: After 10.Re1.\nview: black\n:::\n\nx\n\n:::diagram 1.e4\n:::\n"
    )
    assert (
        '<figcaption><b>1</b>&ensp;After <span class="mv">10\u00a0Re1</span>. Black to move.'
        in page.html.replace("&nbsp;", "\u00a0")
    )
    assert '<figure id="figure-2">' in page.html
    labels = re.findall(r'role="img" aria-label="([^"]+)"', page.html)
    assert labels[0].startswith("Figure 1. Black to move. White: king g1, queen d1,")
    assert re.findall(r"<v-board [^>]*?( flip)?>", main_of(page.html).partition("<script>")[0]) == [
        " flip",
        "",
    ]
    assert page.html.count('class="plates"') == 2


def test_a_route_must_begin_with_the_unit_it_names() -> None:
    page = render(":::diagram iqp-main\nmarks: route Bf3-e5; route Nf3-e5; route Nb5-d6\n:::\n")
    assert 'marks="itinerary f3-e5"' in page.html
    assert [fault.message for fault in page.diagnostics] == [
        "route Bf3-e5: on f3 stands knight; the route is left out",
        "route Nb5-d6: on b5 stands nothing; the route is left out",
    ]


HOSTILE = [
    "<script>alert('needle')</script>",
    "a <img src=x onerror=alert('needle')> b",
    "[x](javascript:alert(1))",
    "[x](JaVaScRiPt:alert(1))",
    "[x](data:text/html;base64,PHNjcmlwdD4=)",
    "[x](vbscript:x)",
    "[x](https://example.org/\"onmouseover=alert(1))",
    '[x](<https://example.org/"><script>alert(1)</script>>)',
    '[x]{.claim kind=score onclick="alert(1)"}',
    '[x]{.fact kind=score at="<script>alert(1)</script>"}',
    '[<b onclick=alert(1)>x]{.line of="&quot;><script>"}',
    '[1.e4"><script>]{.line}',
    "`</style><script>alert(1)</script>`",
    "```\n</pre><script>alert(1)</script>\n```",
    '# <svg onload=alert(1)>\n\n*</p><script>alert(1)</script>*\n\n## "><script>',
    ':::diagram 1.e4\nmarks: ring d5"><script>alert(1)</script>\ncaption: "><svg/onload=alert(1)>\n:::',
    ':::diagram "><script>alert(1)</script>\n:::',
    "![x](https://example.org/pixel.png)",
    "<!-- --><script>alert(1)</script>",
    "&lt;script&gt;alert(1)&lt;/script&gt;",
    "<https://example.org/><iframe src=//example.org>",
    "\u202e<script>\u202c \ufeff\x00 \x0b",
    "[ref]\n\n[ref]: javascript:alert(1) \"title\"",
    "<style>*{background:url(https://example.org/)}</style>",
    "<meta http-equiv=refresh content=0;url=https://example.org/>",
    "<base href=https://example.org/><form action=//example.org><input>",
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_nothing_hostile_gets_in(text: str) -> None:
    """Common attacks on Markdown and HTML, written for this test."""
    html = render(f"Before.\n\n{text}\n\nAfter.\n", PageSetting(edition=text, made_on=SETTING.made_on)).html
    tree = parse(html)
    allowed = {
        *[
            "html",
            "head",
            "meta",
            "title",
            "style",
            "body",
            "a",
            "svg",
            "defs",
            "path",
            "header",
            "span",
            "nav",
            "button",
            "main",
            "h1",
            "h2",
            "p",
            "em",
            "section",
        ],
        *[
            "script",
            "figure",
            "v-board",
            "pattern",
            "rect",
            "text",
            "g",
            "use",
            "figcaption",
            "b",
            "div",
            "code",
            "pre",
            "ul",
            "ol",
            "li",
            "circle",
            "strong",
            "sup",
        ],
    }
    scripts = []
    for element in tree.iter():
        if not isinstance(element.tag, str):
            continue
        tag = element.tag.rpartition("}")[2]
        assert tag in allowed, tag
        assert not any(
            name.lower().startswith("on") or name in ("src", "style", "srcset") for name in element.attrib
        )
        target = element.attrib.get("href", "#")
        assert target.startswith(("#", "https://example.org/")), target
        if tag == "script":
            scripts.append(element.text)
        if tag == "meta" and "http-equiv" in element.attrib:
            assert element.attrib["http-equiv"] == "Content-Security-Policy"
    assert scripts == [assets.script()]
    assert "After." in html and "Before." in html.replace(
        '<span class="versal" aria-hidden="true">B</span>', ""
    ).replace('<span class="vh">B</span><span class="sc">efore.</span>', "Before.")


def test_the_second_lock_holds_alone() -> None:
    """What `sanitise` lets through if the writer ever failed to escape."""
    assert sanitise(
        "<p onclick=x>a<script>b</script><style>c</style><img src=d><a href='javascript:e'>f</a></p>"
    ) == ("<p>a<a>f</a></p>")


def test_what_the_writer_makes_passes_the_lock_unchanged() -> None:
    html = render(DIGEST.read_text(encoding="utf-8")).html
    for paragraph in re.findall(r"<p(?: class=\"first\")?>.*?</p>", main_of(html)):
        assert sanitise(paragraph) == paragraph


def test_a_diagram_against_another_place_marks_what_differs() -> None:
    page = render(":::diagram 1.e4 c5\nagainst: 1.e4 c6\n:::\n")
    assert page.diagnostics == ()
    assert 'marks="changed c5!; vacated c6!"' in page.html
    page = render(":::diagram 1.e4 c5\nagainst: nowhere\n:::\n")
    assert [fault.code for fault in page.diagnostics] == ["diagram-mark"]
    assert "v-board" in page.html
    far = "1.e4 e5 2.Nf3 Nc6 3.Bc4 Bc5 4.c3 Nf6 5.d3 d6"
    page = render(f":::diagram start\nagainst: {far}\n:::\n")
    assert [fault.code for fault in page.diagnostics] == ["diagram-mark"]
