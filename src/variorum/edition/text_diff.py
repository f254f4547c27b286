"""What a change would do to a text, for people: the lines that differ, shortened to what differs in them."""

from __future__ import annotations

import difflib
import itertools

__all__ = ["diff_text"]

_WIDTH = 160
_AROUND = 50
_CONTEXT = 1
_MOST_LINES = 400


def diff_text(before: str, after: str, name: str) -> str:
    """A unified diff; empty where nothing differs. Long lines are cut around the difference, marked by `…`.

    >>> print(diff_text("1. e4 e5 *", "1. e4 e5 {x} *", "m.pgn"))
    --- m.pgn
    +++ m.pgn
    @@ -1 +1 @@
    -1. e4 e5 *
    +1. e4 e5 {x} *
    """
    old, new = before.splitlines(), after.splitlines()
    lines = list(difflib.unified_diff(old, new, name, name, n=_CONTEXT, lineterm=""))
    if len(lines) > _MOST_LINES:
        more = len(lines) - _MOST_LINES
        lines = [*lines[:_MOST_LINES], f"… and {more} more lines"]
    shown = []
    for kind, group in itertools.groupby(
        lines, key=lambda line: line[:1] in "+-" and line[:3] not in ("---", "+++")
    ):
        run = list(group)
        shown += _shortened(run) if kind else [line[:_WIDTH] for line in run]
    return "\n".join(shown)


def _shortened(run: list[str]) -> list[str]:
    """Removed and added lines; those that pair off are cut at what they have in common."""
    removed = [line for line in run if line[0] == "-"]
    added = [line for line in run if line[0] == "+"]
    cut = {}
    for one, other in itertools.zip_longest(removed, added):
        cut[id(one)], cut[id(other)] = _pair(one, other)
    return [text for line in run if (text := cut[id(line)]) is not None]


def _pair(one: str | None, other: str | None) -> tuple[str | None, str | None]:
    if one is None or other is None:
        return _clip(one, 1, None), _clip(other, 1, None)
    shorter = min(len(one), len(other))
    start = 1 + _common(one[1:], other[1:], shorter - 1)  # behind the signs - and +
    tail = _common(one[::-1], other[::-1], shorter - start)
    return _clip(one, start, len(one) - tail), _clip(other, start, len(other) - tail)


def _common(one: str, other: str, most: int) -> int:
    """How many characters two texts begin with alike; by halves, for a line may be very long."""
    low, high = 0, most
    while low < high:
        middle = (low + high + 1) // 2
        if one[low:middle] == other[low:middle]:
            low = middle
        else:
            high = middle - 1
    return low


def _clip(line: str | None, start: int, end: int | None) -> str | None:
    """A line around the part from `start` to `end`."""
    if line is None or len(line) <= _WIDTH:
        return line
    first = max(1, start - _AROUND)
    last = min(len(line), min(end if end is not None else len(line), start + _WIDTH) + _AROUND)
    return line[0] + ("…" if first > 1 else "") + line[first:last] + ("…" if last < len(line) else "")
