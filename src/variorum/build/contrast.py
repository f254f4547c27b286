"""`variorum contrast`: two places of an edition side by side, and their diagram."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import Final

import msgspec

from variorum.base import Diagnostic, InputError, UsageError
from variorum.base.settings import UserSettings
from variorum.build.games import open_games
from variorum.build.plans import plan_differences
from variorum.edition import Edition, Place
from variorum.edition.folder import VERDICTS
from variorum.insight.contrast import contrast_marks
from variorum.insight.contrast_report import Colours, ContrastReport, contrast_report
from variorum.publish.diagram import Diagram, standalone_svg
from variorum.voices.sigla import sigla_of
from variorum.voices.verdicts import read_edition_verdicts

__all__ = ["contrast_places", "write_contrast"]

WIDTH: Final = 480
"""Pixels of a diagram that is written alone."""


def contrast_places(
    edition: Edition, here: Place, there: Place, user: UserSettings, colours: Colours = Colours.KEPT
) -> tuple[ContrastReport, list[Diagnostic]]:
    """Two places side by side with the edition's verdicts and games, and what is wrong with the files of the former.

    Raises:
        InputError: A file cannot be read.
        StoreError: The store is damaged.
    """
    verdicts, diagnostics = read_edition_verdicts(edition.path / VERDICTS)
    sigla = sigla_of(edition, verdicts.voices, user)
    report = contrast_report(here, there, verdicts, sigla, edition.settings.bands, colours)
    if colours is Colours.KEPT and here.position != there.position:
        with ExitStack() as stack:
            store = open_games(edition, user, stack)
            if store is not None:
                typical, _ = plan_differences(store, here, there)
                report = msgspec.structs.replace(report, plans=tuple(plan.sentence for plan in typical))
    return report, diagnostics


def write_contrast(path: Path, here: Place, report: ContrastReport) -> None:
    """Write the diagram of the first position with the differing units marked.

    Raises:
        UsageError: Nothing can be marked: too many units differ, or none.
        InputError: The file cannot be written.
    """
    if not report.units:
        why = "no unit differs" if report.unit_count == 0 else f"{report.unit_count} units differ"
        raise UsageError(f"there is nothing to draw: {why}")
    diagram = Diagram(position=here.position, label=report.sentences[0], marks=contrast_marks(report.units))
    try:
        path.write_text(standalone_svg(diagram, WIDTH), encoding="utf-8", newline="\n")
    except OSError as error:
        raise InputError(f"cannot be written: {error.strerror}", path=path) from None
