"""How much changed since the build before the last, counted from the log of builds alone: for a glance at many editions."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from variorum.build.drift import has_moved, matter_of
from variorum.build.drift_report import DriftCounts, Matter
from variorum.claims.standing import Standing
from variorum.edition.build_log import read_build_log, state_at

__all__ = ["count_drift"]


def count_drift(folder: Path) -> DriftCounts | None:
    """How much the last build of an edition found otherwise than the one before it, by what the builds kept; `None` before the first.

    Nothing of the edition is opened but the log of its builds.

    Raises:
        InputError: The log cannot be read.
    """
    changes, _ = read_build_log(folder)
    if not changes:
        return None
    last = state_at(changes, changes[-1].build)
    first = state_at(changes, changes[-2].build) if len(changes) > 1 else last
    matters: Counter[Matter] = Counter()
    for name, claim in last.claims.items():
        earlier = first.claims.get(name)
        if earlier is not None and earlier.standing == claim.standing:
            continue
        matter = matter_of(earlier, claim)
        if matter is not None:
            matters[matter] += 1
    values = sum(
        has_moved(then.expected, then.nodes, value.expected, value.nodes)
        for key, value in last.values.items()
        if (then := first.values.get(key)) is not None
    )
    verdicts = sum(
        old.lines[0][0] != new.lines[0][0]
        or has_moved(old.lines[0][1], old.nodes, new.lines[0][1], new.nodes)
        for key, new in last.verdicts.items()
        if (old := first.verdicts.get(key)) is not None and old != new and old.lines and new.lines
    )
    standings = Counter(claim.standing for claim in last.claims.values())
    games = [sum(source.games for source in build.sources.values()) for build in (first, last)]
    return DriftCounts(
        build=last.build,
        made=last.made,
        before=first.build,
        before_made=first.made,
        newly_contradicted=matters[Matter.CONTRADICTED],
        lost=matters[Matter.LOST],
        settled=matters[Matter.SETTLED],
        values=values,
        verdicts=verdicts,
        games=max(0, games[1] - games[0]),
        contradicted=standings[Standing.CONTRADICTED.value],
        undecided=standings[Standing.UNDECIDED.value],
        claims=len(last.claims),
    )
