"""Expected scores by rating difference against the published table.

Source: FIDE Handbook, B.02 Rating Regulations, table 8.1.2 (`data/fide_expected.csv`; see `data/README.md`).
"""

from __future__ import annotations

import csv
from pathlib import Path

from variorum.board.rating import rating_expectation

TABLE = Path(__file__).parent / "data" / "fide_expected.csv"


def test_every_difference_of_the_table() -> None:
    with TABLE.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 51
    for row in rows:
        last = int(row["diff_to"] or 1500)
        for difference in range(int(row["diff_from"]), last + 1):
            higher = float(rating_expectation(1500 + difference, 1500))
            assert higher == round(100 * float(row["pd_high"])), difference
            if difference:
                assert float(rating_expectation(1500, 1500 + difference)) == round(100 * float(row["pd_low"]))
