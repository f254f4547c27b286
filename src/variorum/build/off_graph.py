"""Positions that the digest cites and that no line of the edition leads to."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from variorum.base import Diagnostic, InputError, Severity
from variorum.edition import Edition, resolve_place
from variorum.edition.digest import Digest, SpanKind, Where
from variorum.graph import Graph

__all__ = ["cited_places", "off_graph"]


def cited_places(digest: Digest) -> Iterator[tuple[str, Where]]:
    """The places of diagrams, facts and claims, as they are written, and where."""
    yield from ((diagram.place, diagram.where) for diagram in digest.diagrams())
    for span in digest.spans():
        if span.kind is not SpanKind.LINE and "at" in span.attributes:
            yield span.attributes["at"], span.where


_COUNTED: Final = frozenset({"novelty", "popularity", "plan"})
"""Kinds of claim that games decide. The others need no line to their place: rules decide them, or a voice that is asked."""


def _graph_is_needed(digest: Digest) -> Iterator[tuple[str, Where]]:
    yield from ((diagram.place, diagram.where) for diagram in digest.diagrams())
    for span in digest.spans():
        is_counted = span.kind is SpanKind.CLAIM and span.attributes.get("kind") in _COUNTED
        if "at" in span.attributes and (span.kind is SpanKind.FACT or is_counted):
            yield span.attributes["at"], span.where


def off_graph(edition: Edition, digest: Digest | None, graph: Graph) -> list[Diagnostic]:
    """A warning for each diagram, each fact, and each claim that games decide, at a position that is not on the graph."""
    found = []
    for text, where in () if digest is None else _graph_is_needed(digest):
        try:
            position = resolve_place(edition, text).position
        except InputError:
            continue  # `check` tells of it
        if digest is not None and graph.node_of(position) is None:
            found.append(
                Diagnostic(
                    code="off-graph",
                    severity=Severity.WARNING,
                    path=digest.path,
                    message="no line of the manuscript or of a game leads to this position from a root",
                    line=where.line,
                    column=where.column,
                    hint="write the line into manuscript.pgn, or cite another position",
                )
            )
    return sorted(found, key=lambda fault: (fault.line or 0, fault.column or 0))
