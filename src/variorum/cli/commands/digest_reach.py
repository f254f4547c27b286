"""`variorum digest reach`: how much of what a reader will meet the short text answers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import msgspec

from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import exit_if_faulty, print_diagnostics, show, words_in_letters
from variorum.cli.progress import progress_for

if TYPE_CHECKING:
    from variorum.build.suggesting import ReachReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.build.suggesting import ReachReport

    return ReachReport


def command(edition: EditionFolder = None, as_json: AsJson = False) -> None:
    """Tell how much of what a reader will meet the digest answers, and which lines would add most.

    A game is answered when it comes to a diagram, to the place of a fact or claim, or to the end of a line of the digest.
    """
    from variorum.build.opened import OpenEdition
    from variorum.build.suggesting import reach_report

    chosen, user = open_edition(edition), user_settings()
    with OpenEdition(chosen, user, progress=progress_for(as_json=as_json)) as opened:
        report, diagnostics = reach_report(opened)
    print_diagnostics(diagnostics)
    show(report, lambda found: _as_text(found, user.pieces), as_json=as_json)
    exit_if_faulty(diagnostics)


def _as_text(report: ReachReport, letters: str) -> Iterable[str]:
    found = report.reached
    places = f"{found.places:,} place{'' if found.places == 1 else 's'}"
    yield f"{report.edition}: the digest answers {found.reach:.1f} % of the traffic, at {places} ({report.mix})."
    if found.left_out:
        yield "Lines that would add most"
        for one in found.left_out:
            yield f"  {one.flow:.1f} %  {words_in_letters(one.place, letters)}"
