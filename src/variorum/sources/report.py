"""What became of one file that was sifted."""

from __future__ import annotations

import msgspec

__all__ = ["SourceReport"]


class SourceReport(msgspec.Struct, frozen=True, kw_only=True):
    """What became of one file. `state` is `sifted`, `unchanged`, `empty` (no game was met in it), `faulty` or `gone`.

    What could be read of a faulty file is kept; `fault` says what is wrong with a faulty or empty one. The games of a file that
    is gone from `sources/` left the store; `kept` says how many they were.

    `kept`, `passed` over and set `aside` are together the games met: tag sections and `untagged` games.
    """

    source: str
    kind: str
    voice: str
    state: str
    sections: int = 0
    untagged: int = 0
    kept: int = 0
    passed: int = 0
    aside: int = 0
    verdicts: int = 0
    fault: str = ""
