"""A drift report in words: headings with entries, each a sentence and what stands below it; for the terminal and the author's page."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

import msgspec

from variorum.build.drift_report import (
    ClaimDrift,
    DriftReport,
    Matter,
    News,
    NewsMove,
    VerdictDrift,
)

__all__ = ["Part", "drift_parts", "drift_title", "results_in_words", "was_before"]

T = TypeVar("T")
Entry = tuple[str, ...]
"""A sentence, and the sentences below it."""


class Part(msgspec.Struct, frozen=True):
    """A heading and its entries; `more` are left out."""

    heading: str
    entries: tuple[Entry, ...]
    more: int = 0


_HEADINGS = {
    Matter.CONTRADICTED: "Contradicted now",
    Matter.LOST: "Hold no more",
    Matter.SETTLED: "Settled",
}


_NOW = {"holds": "it holds", "undecided": "not enough evidence"}
_BEFORE = {
    "holds": "it held before",
    "contradicted": "it was contradicted before",
    "undecided": "there was not enough evidence before",
    "stale": "its evidence was stale before",
    "not checkable": "it could not be checked before",
}


def drift_title(report: DriftReport) -> str:
    """Which builds are compared."""
    now = f"build {report.now} of {_minute(report.now_made)}"
    if report.before == report.now:
        return f"{now} has no other build to be compared with"
    return f"{now} compared with build {report.before} of {_minute(report.before_made)}"


def _minute(instant: str) -> str:
    return instant[:16].replace("T", " ")


def drift_parts(report: DriftReport, limit: int) -> list[Part]:
    """The report in order, at most `limit` entries under a heading."""

    def claims(matter: Matter) -> Part:
        items = [item for item in report.claims if item.matter is matter]
        return _part(_HEADINGS[matter], items, _claim, limit)

    parts = [
        claims(Matter.CONTRADICTED),
        _part("Roots and tabiyas whose value moved", report.places, _place, limit),
        claims(Matter.LOST),
        _part("Verdicts that moved, best moves that changed", report.verdicts, _verdict, limit),
        claims(Matter.SETTLED),
        _news(report.news, limit),
    ]
    return [part for part in parts if part.entries]


def _part(heading: str, items: Sequence[T], write: Callable[[T], Iterator[str]], limit: int) -> Part:
    entries = tuple(tuple(write(item)) for item in items[:limit])
    return Part(heading, entries, max(0, len(items) - limit))


def _claim(item: ClaimDrift) -> Iterator[str]:
    where = f"{item.path}:{item.line}:{item.column}"
    yield f"{where}: {item.subject} {item.says}: {was_before(item)}"
    if item.old or item.new:
        yield "; ".join(
            filter(None, (f"was {item.old}" if item.old else "", f"is {item.new}" if item.new else ""))
        )
    if item.against:
        yield f"against it: {item.against}"


def was_before(item: ClaimDrift) -> str:
    """How a claim stands, and how it stood: `contradicted; it held before`."""
    return f"{_NOW.get(item.now, item.now)}; {_BEFORE.get(item.before, 'written since')}"


def _place(item: VerdictDrift) -> Iterator[str]:
    yield f"{item.place}: {_scores(item)}"
    leaves = [(item.old_move, "before"), (item.new_move, "now")]
    if any(leaf not in ("", item.place) for leaf, _ in leaves):
        own = "its own verdict"
        yield "; ".join(
            f"decided {when} by {own if leaf == item.place else leaf}" for leaf, when in leaves if leaf
        )


def _verdict(item: VerdictDrift) -> Iterator[str]:
    yield f"{item.place}: {_scores(item)}"
    if item.gap is not None:
        gap = f"{'at least ' if item.gap_is_least else ''}{item.gap:.1f} points"
        yield f"best is {item.new_move}, not {item.old_move} any more; the difference is {gap}"
    if item.decides:
        yield f"it decides the value of {' and '.join(item.decides)}"
    yield from (f"{claim} hangs on it" for claim in item.claims)


def _scores(item: VerdictDrift) -> str:
    noise = f"{'beyond' if item.moved else 'within'} the noise of {item.noise:.1f}"
    old, new = (
        f"{score:.1f} ({nodes:,} nodes)"
        for score, nodes in ((item.old, item.old_nodes), (item.new, item.new_nodes))
    )
    return f"{item.voice} had {old}, has {new}, {noise}"


def _news(news: News, limit: int) -> Part:
    entries: list[Entry] = [tuple(_departure(item)) for item in news.moves[:limit]]
    if news.stayed:
        entries.append((f"{_games(news.stayed)} ended in a position of the manuscript",))
    files = ", ".join(f"{one.games:,} in {one.source}" for one in news.sources)
    if news.games:
        entries.insert(0, (f"{_games(news.games)} came: {files}",))
    entries += [(f"{name} is gone, and its games with it",) for name in news.gone]
    return Part("News", tuple(entries), max(0, len(news.moves) - limit))


def _departure(item: NewsMove) -> Iterator[str]:
    ever = ", never played before" if item.first_ever else ""
    yield f"{item.place}: {item.move} leaves the manuscript in {_games(item.count)}{ever}; {results_in_words(item)}"
    yield "; ".join(item.examples)


def results_in_words(item: NewsMove) -> str:
    """What the games with a new move came to: `White won 2, lost 1, 1 without a result`; of a single game `White won`."""
    if item.count == 1 and not item.unknown:
        return "White won" if item.won else "White lost" if item.lost else "drawn"
    told = [("won", item.won), ("drew", item.drawn), ("lost", item.lost)]
    results = [f"{word} {count}" for word, count in told if count]
    unknown = [f"{item.unknown} without a result"] if item.unknown else []
    return ", ".join([*([f"White {', '.join(results)}"] if results else []), *unknown])


def _games(count: int) -> str:
    return f"{count:,} game{'' if count == 1 else 's'}"
