"""Every code of a `Diagnostic`, by the file it is about, with what it means. Codes are stable.

`docs/reference/diagnostics.md` is made from this table, and a test asks that each code is shown by a test.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

__all__ = ["CODES"]

CODES: Final[Mapping[str, Mapping[str, str]]] = {
    "Any file of settings (`edition.toml`, `settings.toml`)": {
        "toml-too-large": "The file is larger than any settings are; it is not read.",
        "toml-not-utf8": "A byte is not UTF-8. Save the file as UTF-8.",
        "toml-syntax": "The file breaks a rule of TOML at this place; nothing of it is read.",
        "unknown-key": "The key means nothing here, mostly because it is misspelt. It has no effect.",
        "missing-key": "A key that must be there is not.",
        "wrong-type": "The value is of another type than the key takes. The default stands.",
        "bad-value": "The value is of the right type, but none that the key takes. The default stands.",
    },
    "`edition.toml`": {
        "no-root": "The edition has no root that can be used, so there is no graph to make.",
        "bad-name": "A name of a place would be misread elsewhere. The place is left out.",
        "bad-place": "The line or FEN of a name is faulty; the message says at which ply and why. It is left out.",
        "duplicate-name": "Two names differ only in case, accents or spaces. The second is left out.",
        "same-place": "Two roots are one position, or two names.",
        "out-of-reach": "No root can lead to this place: units or castling rights would have to come back.",
        "unknown-name": "A name is mentioned that neither `[roots]` nor `[names]` has.",
        "bad-siglum": "A siglum is not one or two letters.",
        "duplicate-siglum": "Two voices have the same siglum.",
        "bad-path": "The path of a `[[sources]]` table is not one under the edition's folder, written with `/`.",
        "missing-voice": "A `[[sources]]` table of kind `engine` or `analysis` does not say who speaks.",
        "bad-pattern": "The regular expression of `score_comment` cannot be used; the default stands.",
    },
}
