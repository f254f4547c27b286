"""The deepest verdict of each voice on each position, from the verdict files of an edition."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from variorum.base import Diagnostic
from variorum.board import Position, PositionKey, Verdict
from variorum.voices.verdict_files import read_verdicts

__all__ = ["Verdicts", "read_edition_verdicts", "speeds"]


class Verdicts:
    """Verdicts by position. Of several of a voice on a position the one of greatest effort counts, then the latest."""

    def __init__(self, verdicts: Iterable[Verdict] = ()) -> None:
        self._by_key: dict[int, dict[str, Verdict]] = {}
        for verdict in verdicts:
            _count(verdict, self._by_key.setdefault(verdict.key, {}))

    def with_more(self, verdicts: Iterable[Verdict]) -> Verdicts:
        """These and some more; these stay as they are."""
        found = Verdicts()
        found._by_key = dict(self._by_key)
        for verdict in verdicts:
            here = found._by_key[verdict.key] = dict(found._by_key.get(verdict.key, {}))
            _count(verdict, here)
        return found

    @property
    def voices(self) -> tuple[str, ...]:
        """Whoever spoke, by name."""
        return tuple(sorted({voice for here in self._by_key.values() for voice in here}))

    def all(self) -> tuple[Verdict, ...]:
        """Every verdict that counts."""
        return tuple(verdict for here in self._by_key.values() for verdict in here.values())

    def on(self, position: Position) -> dict[str, Verdict]:
        """The verdict of each voice on a position, by name of the voice."""
        found = self._by_key.get(PositionKey(position.key), {})
        return {voice: found[voice] for voice in sorted(found) if found[voice].epd == position.epd}


def _count(verdict: Verdict, here: dict[str, Verdict]) -> None:
    known = here.get(verdict.voice)
    if known is None or (verdict.effort, verdict.date) > (known.effort, known.date):
        here[verdict.voice] = verdict


def read_edition_verdicts(folder: Path) -> tuple[Verdicts, list[Diagnostic]]:
    """The verdicts in the `*.epd` files of a folder, and what is wrong with the files.

    Raises:
        InputError: A file cannot be read.
    """
    files = [read_verdicts(path) for path in sorted(folder.glob("*.epd"))]
    verdicts = Verdicts(verdict for file in files for verdict in file.verdicts)
    return verdicts, [fault for file in files for fault in file.diagnostics]


def speeds(verdicts: Iterable[Verdict]) -> dict[str, float]:
    """Nodes a second of each voice, over the verdicts that tell both nodes and time; a voice that never told is not there."""
    nodes: Counter[str] = Counter()
    elapsed: Counter[str] = Counter()
    for verdict in verdicts:
        if verdict.nodes and verdict.elapsed_ms and not verdict.origin:
            nodes[verdict.voice] += verdict.nodes
            elapsed[verdict.voice] += verdict.elapsed_ms
    return {voice: 1000 * nodes[voice] / elapsed[voice] for voice in elapsed}
