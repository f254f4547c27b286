"""`variorum digest suggest`: lines and diagrams of greatest reach, and a skeleton of the short text from the evidence."""

from __future__ import annotations

from pathlib import Path

import msgspec

from variorum.base import Diagnostic
from variorum.build.drafting import draft
from variorum.build.off_graph import off_graph
from variorum.build.opened import OpenEdition
from variorum.build.selecting import ChosenDiagram, ChosenLine, Reached, Selector
from variorum.choice.reach import reach_of
from variorum.edition import atomic_write

__all__ = ["ReachReport", "Suggestion", "reach_report", "suggest", "write_draft"]


class Suggestion(msgspec.Struct, frozen=True, kw_only=True):
    """What the short text should contain. Shares are in percent of the traffic, by the stated `mix`.

    `reach` is that of lines and diagrams together; `line_gap` and `diagram_gap` are by how much the best choice of so many
    could reach more at most (0: these are the best). `thin` lists what the skeleton could not say for want of evidence. `present` is
    the reach of the digest as it is, `None` without one.
    """

    edition: str
    mix: str
    lines: tuple[ChosenLine, ...]
    line_reach: float
    line_gap: float
    diagrams: tuple[ChosenDiagram, ...]
    diagram_reach: float
    diagram_gap: float
    reach: float
    present: Reached | None
    thin: tuple[str, ...]
    markdown: str
    written: str = ""


class ReachReport(msgspec.Struct, frozen=True, kw_only=True):
    """What the digest of an edition reaches, by the stated mix."""

    edition: str
    mix: str
    reached: Reached


def suggest(opened: OpenEdition, lines: int, diagrams: int) -> tuple[Suggestion, list[Diagnostic]]:
    """Choose at most so many lines and diagrams, and draft a text.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
        Interrupted: The user stopped.
    """
    selector = Selector(opened)
    chosen_lines, by_lines = selector.lines(lines)
    chosen_diagrams, by_diagrams = selector.diagrams(diagrams)
    evidence = opened.evidence
    reach = 100.0 * reach_of(opened.traffic, {*by_lines.nodes, *by_diagrams.nodes})
    mix = opened.traffic.words
    sentence = f"Lines and diagrams together reach {reach:.1f} % of the traffic ({mix})."
    markdown, thin = draft(opened, evidence, selector, chosen_lines, chosen_diagrams, sentence)
    suggestion = Suggestion(
        edition=opened.edition.title,
        mix=mix,
        lines=tuple(chosen_lines),
        line_reach=100.0 * by_lines.reach,
        line_gap=100.0 * by_lines.gap,
        diagrams=tuple(chosen_diagrams),
        diagram_reach=100.0 * by_diagrams.reach,
        diagram_gap=100.0 * by_diagrams.gap,
        reach=reach,
        present=selector.reached() if opened.digest is not None else None,
        thin=thin,
        markdown=markdown,
    )
    return suggestion, opened.diagnostics


def write_draft(suggestion: Suggestion, path: Path) -> Suggestion:
    """Write the draft to a new file.

    Raises:
        ChangedOutsideError: There is such a file already.
        InputError: It cannot be written.
    """
    atomic_write(path, suggestion.markdown.encode("utf-8"), expected_hash=None)
    return msgspec.structs.replace(suggestion, written=str(path))


def reach_report(opened: OpenEdition) -> tuple[ReachReport, list[Diagnostic]]:
    """What the digest of an edition reaches.

    Raises:
        StoreError: The store is damaged.
        InputError: A file cannot be read.
        Interrupted: The user stopped.
    """
    selector = Selector(opened)
    report = ReachReport(edition=opened.edition.title, mix=opened.traffic.words, reached=selector.reached())
    return report, [
        *opened.diagnostics,
        *opened.digest_diagnostics,
        *off_graph(opened.edition, opened.digest, opened.graph),
    ]
