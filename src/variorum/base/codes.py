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
    "`manuscript.pgn`": {
        "illegal-move": "A move that is not legal; the rest of its line is not read.",
        "ambiguous-move": "A move that more than one unit can make; the rest of its line is not read.",
        "unreadable-move": "Something like a move that cannot be read as one; the rest of its line is not read.",
        "stray-text": "Text without meaning where it stands; passed over.",
        "unclosed-comment": "A comment without its closing brace.",
        "unclosed-variation": "Variations without their closing parenthesis.",
        "unopened-variation": "A closing parenthesis without an opening one.",
        "variation-without-move": "A variation where there is no move that it could replace; not read.",
        "unclosed-tag": "A tag pair without its closing quote or bracket.",
        "malformed-tag": "A line in square brackets that is no tag pair; passed over.",
        "bad-start": "A start position that cannot be used; the game's moves are not read.",
        "unknown-variant": "A variant of chess whose rules are not known here; read as chess.",
        "fen-without-setup": 'A start position without the tag `SetUp "1"`.',
        "setup-without-fen": 'A tag `SetUp "1"` without a start position.',
        "duplicate-tag": "A tag given twice in one game; the first value stands.",
        "unescaped-quote": "A quote or backslash in a tag that should have a backslash before it.",
        "missing-tags": "A game without tags.",
        "missing-termination": "A game without termination marker.",
        "non-standard-termination": "A termination marker in another writing than the standard's.",
        "result-mismatch": "A termination marker that disagrees with the tag Result.",
        "result-inside-variation": "A termination marker inside a variation; it ends nothing.",
        "text-after-result": "Text between the termination marker and the next game.",
        "wrong-move-number": "A move number that is not the move's.",
        "nag-out-of-range": "A NAG above 255.",
        "empty-variation": "A variation without a move.",
        "reserved-token": "Text in angle brackets; passed over.",
        "nul-bytes": "NUL bytes.",
    },
    "`verdicts/*.epd`": {
        "verdict-unread": "A record is no verdict that can be read. It stays in the file and is not used.",
    },
    "A digest (`digest.md`)": {
        "not-utf8": "A byte is not UTF-8. The file is read as Windows-1252; save it as UTF-8.",
        "digest-too-long": "The file is longer than any digest is. What is beyond the limit is left out.",
        "paragraph-too-long": "Too much text stands without an empty line. What is beyond the limit is left out.",
        "second-title": "A heading `#` stands after the beginning. It is printed as `##`.",
        "raw-html": "HTML stands in the text. It is left out; comments `<!-- … -->` are left out without a word.",
        "image": "A picture is given. Only diagrams are published; it is left out.",
        "link-target": "A link leads neither to the web nor to a mail address. Its words are printed without it.",
        "broken-attributes": "The braces behind a bracket cannot be read. The words in the bracket are printed.",
        "span-kind": "A bracket with braces is not `.fact`, `.line` or `.claim`. Its words are printed.",
        "unclosed-directive": "A `:::` block has no end. It is taken to end at its first empty line.",
        "stray-directive-end": "A line `:::` ends nothing.",
        "unknown-directive": "There is no such `:::` block. It is left out.",
        "directive-line": "A line of a `:::` block has no meaning or stands twice. It is passed over.",
        "diagram-place": "A diagram has no place, or an unknown one. It is left out.",
        "diagram-view": "A diagram's `view:` is neither `white` nor `black`. It is drawn from White's side.",
        "diagram-mark": "A mark cannot be read, or does not fit the position. It is left out.",
        "fact-kind": "There is no such kind of fact. What was typed is printed.",
        "fact-attribute": "A fact lacks an attribute, or has one it does not take. What was typed is printed.",
        "fact-place": "The place of a fact is not known. What was typed is printed.",
        "fact-unknown": "Nobody has said yet what the fact asks for. What was typed is printed.",
        "fact-changed": "What was typed is not so any more. The page prints what is so now.",
        "line-attribute": "A line has an attribute that it does not take. What was typed is printed.",
        "line-place": "The place of a line is not known. What was typed is printed.",
        "line-number": "No move of the line to the place has the number with which the words begin.",
        "line-move": "A move of a line is not legal, or not a move. What was typed is printed.",
    },
}
