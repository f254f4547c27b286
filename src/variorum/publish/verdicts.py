"""`out/verdicts.epd`: what voices said on the positions that the published texts speak of, as standard EPD."""

from __future__ import annotations

from collections.abc import Iterable, Set

import msgspec

from variorum.board import Verdict
from variorum.edition import EditionSettings
from variorum.publish.private import names_in
from variorum.publish.wording import Wording
from variorum.voices.verdict_files import verdict_records

__all__ = ["render_verdicts"]


def render_verdicts(
    verdicts: Iterable[Verdict], positions: Set[str], settings: EditionSettings, words: Wording
) -> str:
    """The records of the verdicts on these positions (EPD). A verdict on a private line would tell of it.

    Where a verdict was read is the author's business, and so are paths among the options of a voice and private names.
    """
    return "".join(
        verdict_records(_public(verdict, settings, words)) for verdict in verdicts if verdict.epd in positions
    )


def _public(verdict: Verdict, settings: EditionSettings, words: Wording) -> Verdict:
    return msgspec.structs.replace(
        verdict,
        voice=words.a_voice if names_in(verdict.voice, settings) else verdict.voice,
        version="" if names_in(verdict.version, settings) else verdict.version,
        options=tuple(
            option
            for option in verdict.options
            if not {"/", "\\"} & set(option) and not names_in(option.replace("=", " "), settings)
        ),
        origin="",
    )
