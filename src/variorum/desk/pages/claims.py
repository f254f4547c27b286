"""The claims page: every sentence that can be checked, in the order of work."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from variorum.build.checking import check_edition
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.render import page

__all__ = ["claims_page"]

_MARKS = {"contradicted": "†", "undecided": "○", "stale": "[ ]", "holds": "*", "not checkable": ""}
_HEADINGS = {
    "contradicted": ("Contradicted", "the evidence says otherwise"),
    "undecided": ("Not enough evidence", "the numbers do not reach the threshold"),
    "stale": ("Stale", "decided by evidence that is older or shallower than the edition asks"),
    "holds": ("Holds", "every voice that was asked agrees"),
    "not checkable": ("Not checkable", "judgements that no figure can decide"),
}


def claims_page(request: Request, sent: Any) -> Response:
    """All claims of both texts."""
    del sent
    name = request.path_params["name"]
    edition, user = editions_of(request).settings(name)
    report, diagnostics = check_edition(edition, user)
    groups = [
        (standing, _MARKS[standing], *_HEADINGS[standing], list(claims))
        for standing, claims in groupby(report.claims, key=lambda claim: claim.standing)
    ]
    return page(
        "claims.html.j2",
        **frame(request, "claims", "Claims"),
        report=report,
        groups=groups,
        faults=[str(one.message) for one in diagnostics],
    )
