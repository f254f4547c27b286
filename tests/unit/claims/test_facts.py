from __future__ import annotations

from pathlib import Path

import pytest
from invented_evidence import PANOV, SEMI_TARRASCH, InventedEvidence

from variorum.claims.facts import FACT_KINDS, look_up
from variorum.edition.digest_reader import parse_digest


def fact(markup: str) -> tuple[str | None, list[str]]:
    digest, faults = parse_digest(f"Text {markup}\n", Path("digest.md"))
    assert faults == []
    (span,) = digest.spans()
    found, diagnostics = look_up(span, InventedEvidence(), digest.path)
    assert all((fault.line, fault.column) == (1, 6) for fault in diagnostics)
    return found and found.text, [f"{fault.code}: {fault.message}" for fault in diagnostics]


@pytest.mark.parametrize(
    ("markup", "text"),
    [
        ('[61.8]{.fact kind=score at="iqp-main"}', "61.8"),
        ('[61.8]{.fact kind=score at="iqp-main" voice=A}', "61.8"),
        ('[38.2]{.fact kind=score at="iqp-main" side=black}', "38.2"),
        ('[+0.52]{.fact kind=score at="iqp-main" show=pawns}', "+0.52"),
        ('[-0.52]{.fact kind=score at="iqp-main" show=pawns side=black}', "−0.52"),
        ('[61.8 ± 1.1 (+0.52)]{.fact kind=score at="iqp-main" show=full}', "61.8 ± 1.1 (+0.52)"),
        ('[⩲]{.fact kind=score at="iqp-main" show=sign}', "⩲"),
        ('[54.3]{.fact kind=score at="iqp-main" voice=G}', "54.3"),
        ('[318]{.fact kind=count at="iqp-main"}', "318"),
        ('[2]{.fact kind=count at="iqp-main" of=orders}', "2"),
        ('[0]{.fact kind=count at="1.a4"}', "0"),
        (f'[{PANOV}]{{.fact kind=order at="iqp-main"}}', PANOV),
        (f'[{SEMI_TARRASCH}]{{.fact kind=order at="iqp-main" nth=2}}', SEMI_TARRASCH),
        ('[0.7]{.fact kind=risk at="iqp-main"}', "0.7"),
        (f'[4.3]{{.fact kind=risk at="iqp-main" order="{SEMI_TARRASCH}"}}', "4.3"),
        (f'[3.6]{{.fact kind=risk at="iqp-main" order="{SEMI_TARRASCH}" show=price side=white}}', "3.6"),
        ('[0.0 to 0.7]{.fact kind=risk at="iqp-main" show=guaranteed}', "0.0 to 0.7"),
        ('[31 of 61]{.fact kind=plan at="iqp-main" plan="d4-d5"}', "31 of 61"),
        ('[51 %]{.fact kind=plan at="iqp-main" plan="d4-d5" side=white show=share}', "51 %"),
        ('[15]{.fact kind=plan at="iqp-main" plan="d4-d5" of=playouts show=move}', "15"),
        ('[knight on f3]{.fact kind=hinge at="iqp-main" move="10...Nxd4"}', "knight on f3"),
        ('[−38.4]{.fact kind=hinge at="iqp-main" move="Nxd4" show=strength}', "−38.4"),
        ('[37.1]{.fact kind=hinge at="iqp-main" move="Nxd4" show=value nth=2}', "37.1"),
        ('[two]{.fact kind=tempo at="1.e4 d5 2.exd5 Qxd5 3.Nc3 Qd8" side=black}', "two"),
        ('[three]{.fact kind=tempo at="1.e4 d5 2.exd5 Qxd5 3.Nc3 Qd8" show=spent}', "three"),
        ('[one]{.fact kind=tempo at="1.d4 c6 2.Nf3 c5" side=black against="1.d4 c5 2.Nf3"}', "one"),
        ('[−1]{.fact kind=tempo at="1.d4 c5 2.Nf3" side=black against="1.d4 c6 2.Nf3 c5"}', "−1"),
        ('[with …h6 put in]{.fact kind=contrast at="1.e4 h6" against="1.e4"}', "with …h6 put in"),
        (
            '[with Nc3 put in]{.fact kind=contrast at="1.c4 e5 2.Nc3" against="1.e4 c5" reversed=yes}',
            "with Nc3 put in",
        ),
        ('[Carlsbad]{.fact kind=structure at="1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.cxd5 exd5 5.e3 c6"}', "Carlsbad"),
        (
            '[isolated queen\'s pawn]{.fact kind=structure at="1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 dxc4 5.Bxc4"}',
            "isolated queen’s pawn",
        ),
        ('[White]{.fact kind=structure at="1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4" show=side}', "White"),
        ('[both sides]{.fact kind=structure at="1.e4 e6 2.d4 d5 3.exd5 exd5" show=side}', "both sides"),
        (
            "[Andrew Soltis, Pawn Structure Chess, 1976]"
            '{.fact kind=structure at="1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4" show=source}',
            "Andrew Soltis, Pawn Structure Chess, 1976",
        ),
    ],
)
def test_values_are_looked_up(markup: str, text: str) -> None:
    assert fact(markup) == (text, [])


def test_the_fact_is_printed_as_it_is_now_and_the_change_is_told() -> None:
    text, faults = fact('[60.0]{.fact kind=score at="iqp-main"}')
    assert text == "61.8"
    assert faults == ["fact-changed: '60.0' was typed; it is '61.8' now, and so the page prints it"]


@pytest.mark.parametrize(
    ("markup", "fault"),
    [
        ('[1]{.fact at="iqp-main"}', "fact-kind: a fact needs a kind"),
        (
            '[x]{.fact kind=contrast at="1.e4" against="1.e4"}',
            "fact-unknown: 1.e4: no unit differs; the page prints what was typed",
        ),
        (
            '[x]{.fact kind=contrast at="1.e4"}',
            "fact-place: a contrast needs another place",
        ),
        (
            '[x]{.fact kind=tempo at="4k3/8/8/8/8/8/8/4K3 w - - 0 1"}',
            "fact-unknown: 4k3/8/8/8/8/8/8/4K3 w - - 0 1: no line leads to it; the page prints what was typed",
        ),
        ('[1]{.fact kind=scores at="iqp-main"}', "fact-kind: there is no fact of kind 'scores'"),
        ("[1]{.fact kind=score}", "fact-attribute: a score needs a place"),
        ('[1]{.fact kind=score at="iqp-main" vocie=A}', "fact-attribute: a score has no attribute 'vocie'"),
        ('[1]{.fact kind=score at="iqp-main" show=all}', "fact-attribute: 'all' is not a value of 'show'"),
        ('[1]{.fact kind=order at="iqp-main" nth=0}', "fact-attribute: '0' is not a value of 'nth'"),
        ('[1]{.fact kind=score at="iqp-mian"}', "fact-place: no place is called 'iqp-mian'"),
        ('[1]{.fact kind=score at="1.e4 e4"}', "fact-place: ply 2: 'e4' is illegal"),
        (
            '[1]{.fact kind=score at="1.a4"}',
            "fact-unknown: 1.a4: no voice has judged it yet; the page prints what was typed",
        ),
        (
            '[1]{.fact kind=score at="iqp-main" voice=C}',
            "fact-unknown: iqp-main: voice C has not judged it yet; the page prints what was typed",
        ),
        (
            '[1]{.fact kind=score at="iqp-main" voice=G show=pawns}',
            "fact-unknown: iqp-main: voice G gives no pawns; the page prints what was typed",
        ),
        (
            '[1]{.fact kind=order at="iqp-main" nth=3}',
            "fact-unknown: iqp-main: 2 move orders are known, not 3; the page prints what was typed",
        ),
        (
            '[1]{.fact kind=risk at="iqp-main" order="1.d4"}',
            "fact-unknown: iqp-main: the graph has no such order to it, or no voice has judged it; "
            "the page prints what was typed",
        ),
        (
            f'[1]{{.fact kind=risk at="iqp-main" order="{SEMI_TARRASCH}" show=guaranteed}}',
            "fact-unknown: iqp-main: not all is judged that the opponent can play on this order (guaranteed); "
            "the page prints what was typed",
        ),
        ('[1]{.fact kind=plan at="iqp-main"}', "fact-place: a plan needs to be named"),
        (
            '[1]{.fact kind=plan at="iqp-main" plan="d4-d5" side=black}',
            "fact-unknown: iqp-main: fewer than one in twenty of 61 games show d4-d5; the page prints what was typed",
        ),
        ('[1]{.fact kind=hinge at="iqp-main"}', "fact-place: a hinge needs a move"),
        ('[1]{.fact kind=hinge at="iqp-main" move="Qh7"}', "fact-place: ply 1: 'Qh7' is illegal"),
        (
            '[1]{.fact kind=hinge at="iqp-main" move="Nxd4" nth=3}',
            "fact-unknown: iqp-main: 2 hinges of Nxd4 are known, not 3: variorum hinges finds them; "
            "the page prints what was typed",
        ),
    ],
)
def test_what_cannot_be_looked_up_is_told_and_what_was_typed_stands(markup: str, fault: str) -> None:
    assert fact(markup) == (None, [fault])


@pytest.mark.parametrize(
    ("typed", "is_same"),
    [("1.e4 c6 2.d4 d5", False), (PANOV.replace(".", ". "), True), (PANOV.replace(" ", "\u00a0"), True)],
)
def test_kinds_of_space_do_not_make_a_change(typed: str, is_same: bool) -> None:
    _, faults = fact(f'[{typed}]{{.fact kind=order at="iqp-main"}}')
    assert (faults == []) is is_same


def test_the_registry_names_the_kinds() -> None:
    assert list(FACT_KINDS) == [
        "score",
        "count",
        "order",
        "risk",
        "hinge",
        "plan",
        "tempo",
        "contrast",
        "structure",
    ]
