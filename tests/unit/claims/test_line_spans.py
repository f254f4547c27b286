from __future__ import annotations

from pathlib import Path

import pytest
from invented_evidence import InventedEvidence

from variorum.claims.lines import read_line
from variorum.edition.digest_reader import parse_digest


def line(markup: str) -> tuple[str | None, list[str]]:
    digest, _ = parse_digest(f"{markup}\n", Path("digest.md"))
    (span,) = digest.spans()
    found, faults = read_line(span, InventedEvidence(), digest.path)
    return found and found.san(), [f"{fault.code}: {fault.message}" for fault in faults]


@pytest.mark.parametrize(
    ("markup", "san"),
    [
        ('[10.Re1]{.line of="iqp-main"}', "10.Re1"),
        ('[9.O-O O-O 10. Re1]{.line of="iqp-main"}', "9.O-O O-O 10.Re1"),
        ('[10...Nf6 11.a3]{.line of="iqp-main"}', "10...Nf6 11.a3"),
        ('[10…Nf6]{.line of="iqp-main"}', "10...Nf6"),
        ('[Nf6 a3]{.line of="iqp-main"}', "10...Nf6 11.a3"),
        ('[6...Bb4 7.cxd5]{.line of="iqp-main"}', "6...Bb4 7.cxd5"),
        ("[1.e4 c6 2.d4]{.line}", "1.e4 c6 2.d4"),
        ('[20.Kf1]{.line of="4k3/8/8/8/8/8/8/4K3 w - - 0 20"}', "20.Kf1"),
    ],
)
def test_a_line_sets_in_where_its_number_says(markup: str, san: str) -> None:
    assert line(markup) == (san, [])


@pytest.mark.parametrize(
    ("markup", "fault"),
    [
        (
            '[12.Bc2]{.line of="iqp-main"}',
            "line-number: the line to iqp-main has no such move number as '12.Bc2' begins with",
        ),
        ('[10.Qe2 Ke9]{.line of="iqp-main"}', "line-move: ply 2: 'Ke9' is not a move"),
        ('[10.Qxe8]{.line of="iqp-main"}', "line-move: ply 1: 'Qxe8' is illegal"),
        ('[10.Re1]{.line of="nowhere"}', "line-place: no place is called 'nowhere'"),
        ('[10.Re1]{.line at="iqp-main"}', "line-attribute: a line has no attribute 'at'"),
    ],
)
def test_what_is_no_line_is_told(markup: str, fault: str) -> None:
    assert line(markup) == (None, [fault])
