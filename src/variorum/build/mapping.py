"""`variorum map`: where the lines of an edition lead and where they meet."""

from __future__ import annotations

from typing import Final

from variorum.base import Diagnostic
from variorum.build.opened import OpenEdition
from variorum.graph import MapReport, map_report

__all__ = ["map_edition"]


_CONFLUENCES: Final = 12


def map_edition(
    opened: OpenEdition, *, confluences: int = _CONFLUENCES
) -> tuple[MapReport, list[Diagnostic]]:
    """The map of an edition, with what is wrong in manuscript and verdicts; at most so many confluences are told.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
        Interrupted: The user stopped.
    """
    edition = opened.edition
    report = map_report(
        edition.title,
        opened.graph,
        opened.traffic,
        opened.values,
        sigla=opened.sigla,
        roots=edition.roots,
        names=edition.names,
        bands=edition.settings.bands,
        confluences=confluences,
    )
    return report, opened.diagnostics
