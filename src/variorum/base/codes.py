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
        "illegal-move": "The move is not legal there. The rest of its line is not read; correct the move.",
        "ambiguous-move": "More than one unit can make the move. The rest of its line is not read; say which unit.",
        "unreadable-move": "A word like a move that is none. The rest of its line is not read; write it in English SAN.",
        "stray-text": "Text without meaning where it stands is passed over; put it in braces, or take it out.",
        "unclosed-comment": "A comment has no closing brace. It is taken to end where the next game starts.",
        "unclosed-variation": "A closing parenthesis is missing. The variations are read as far as the game goes.",
        "unopened-variation": "A closing parenthesis has no opening one. It is passed over.",
        "variation-without-move": "A variation stands where there is no move that it could replace. It is not read.",
        "unclosed-tag": "A tag lacks its closing quote or bracket. It is taken to end with its line.",
        "malformed-tag": 'A line in square brackets is not a tag pair, as `[Name "value"]`. It is passed over.',
        "bad-start": "The tag FEN holds no legal position. The moves of the game are not read.",
        "unknown-variant": "The tag Variant names rules that are not known here. The game is read as chess.",
        "fen-without-setup": 'A tag FEN stands without `[SetUp "1"]`. The position is used all the same.',
        "setup-without-fen": '`[SetUp "1"]` stands without a tag FEN. The normal start position is used.',
        "duplicate-tag": "A tag is given twice in one game. The first value stands.",
        "unescaped-quote": "A quote or backslash in a tag lacks the backslash before it. The value is read all the same.",
        "missing-tags": "A game has no tags.",
        "missing-termination": "A game has no termination marker. The tag Result gives its result.",
        "non-standard-termination": "The termination marker is none of `1-0`, `0-1`, `1/2-1/2`, `*`. It is understood.",
        "result-mismatch": "The termination marker and the tag Result differ. The marker stands.",
        "result-inside-variation": "A termination marker stands inside a variation. It ends nothing.",
        "text-after-result": "Text stands behind the termination marker. Comments there belong to no move.",
        "wrong-move-number": "A move number is not that of the move. The moves count, not the numbers.",
        "nag-out-of-range": "A numeric sign is above 255.",
        "empty-variation": "A variation holds no move.",
        "reserved-token": "Text in angle brackets is reserved by the standard. It is passed over.",
        "nul-bytes": "The file holds NUL bytes, mostly after a fault of a disk. They are read as blanks.",
    },
    "`verdicts/*.epd`": {
        "verdict-unread": "A record is no verdict that can be read. It stays in the file and is not used.",
    },
    "`digest.md`": {
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
        "print-letters": "The fonts of the PDF lack a letter. Its place stays empty there; HTML and PGN have it.",
        "fact-kind": "There is no such kind of fact. What was typed is printed.",
        "fact-attribute": "A fact lacks an attribute, or has one it does not take. What was typed is printed.",
        "fact-place": "The place of a fact is not known. What was typed is printed.",
        "fact-unknown": "Nobody has said yet what the fact asks for. What was typed is printed.",
        "fact-changed": "What was typed is not so any more. The page prints what is so now.",
        "claim-kind": "There is no such kind of claim. The words are printed, nothing is checked.",
        "claim-attribute": "A claim lacks an attribute, has one it does not take, or says no words of a score.",
        "claim-place": "The place of a claim is not known. The words are printed, nothing is checked.",
        "line-attribute": "A line has an attribute that it does not take. What was typed is printed.",
        "line-place": "The place of a line is not known. What was typed is printed.",
        "line-number": "No move of the line to the place has the number with which the words begin.",
        "line-move": "A move of a line is not legal, or not a move. What was typed is printed.",
    },
    "`manuscript.pgn`, held against the edition": {
        "off-roots": "No line of a game passes a root of the edition. Its positions stand apart on the map.",
    },
}
