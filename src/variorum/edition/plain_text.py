"""The bytes of an author's text file: encoding, line ends, places. The bytes are never changed here."""

from __future__ import annotations

import codecs
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from variorum.base import InputError

__all__ = ["PlainText", "decode_text", "refuse_what_is_no_text"]

_SAMPLE = 65536
_CONTROLS = bytes(byte for byte in range(32) if byte not in b"\t\n\v\f\r\x1a")
_BOM = codecs.BOM_UTF8
_NOT_CONTINUATION = bytes(byte for byte in range(256) if byte & 0xC0 != 0x80)
_CP1252 = "".join(
    bytes([byte]).decode("cp1252", errors="ignore") or chr(byte)  # five bytes have no meaning: as in Latin-1
    for byte in range(256)
)
_TO_CP1252 = {character: byte for byte, character in enumerate(_CP1252)}


def decode_text(data: bytes) -> str:
    """UTF-8 where the bytes are valid UTF-8, else CP1252 (which holds Latin-1). Every sequence of bytes has a text."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return codecs.charmap_decode(data, "strict", _CP1252)[0]


def refuse_what_is_no_text(data: bytes, path: Path | None) -> None:
    """Some control characters are dirt; many, in a file without a tag of PGN, are no text.

    Raises:
        InputError: The bytes are those of a picture, an archive or the like, or a text in UTF-16.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError("the file is in UTF-16", remedy="save it as UTF-8", path=path)
    sample = data[:_SAMPLE]
    controls = len(sample) - len(sample.translate(None, _CONTROLS))
    if controls * 20 > len(sample) and b"\n[Event " not in b"\n" + sample:
        raise InputError(
            "the file is no text", remedy="name a text file; archives are unpacked first", path=path
        )


class PlainText:
    r"""A text file as bytes.

    >>> text = PlainText(b"caf\xe9\r\n1. e4\r\n")
    >>> text.encoding, text.newline, text.place(9)
    ('cp1252', '\r\n', (2, 4))
    >>> text.encode("née\n")
    b'n\xe9e\r\n'
    """

    def __init__(self, data: bytes) -> None:
        self.data = data

    @cached_property
    def encoding(self) -> str:
        """`utf-8` (ASCII included) or `cp1252`: how new text is written."""
        try:
            self.data.decode("utf-8")
        except UnicodeDecodeError:
            return "cp1252"
        return "utf-8"

    @cached_property
    def has_bom(self) -> bool:
        """Whether a byte order mark stands in front; it belongs to no line."""
        return self.data.startswith(_BOM)

    @cached_property
    def newline(self) -> str:
        """The line end that the file uses most; LF for a file of one line."""
        pairs = self.data.count(b"\r\n")
        counts = {"\n": self.data.count(b"\n") - pairs, "\r\n": pairs, "\r": self.data.count(b"\r") - pairs}
        return max(counts, key=lambda newline: counts[newline])

    def text(self, start: int, end: int) -> str:
        """The text of a span of bytes."""
        return decode_text(self.data[start:end])

    def encode(self, text: str) -> bytes:
        """New text in the encoding and with the line ends of the file.

        Raises:
            InputError: The file is in CP1252, which has no such character.
        """
        text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\n", self.newline)
        if self.encoding == "utf-8":
            return text.encode("utf-8")
        try:
            return bytes(_TO_CP1252[character] for character in text)
        except KeyError as error:
            raise InputError(
                f"'{error.args[0]}' cannot be written in this file: its encoding is CP1252",
                remedy="save the file as UTF-8 first",
            ) from None

    @cached_property
    def line_starts(self) -> NDArray[np.int64]:
        """Offset of each line, `(n_lines,) int64`; lines end with LF, CR LF, or CR alone."""
        data = np.frombuffer(self.data, dtype=np.uint8)
        ends = data == 0x0A
        if b"\r" in self.data:
            returns = data == 0x0D
            returns[:-1] &= data[1:] != 0x0A
            ends |= returns
        return np.concatenate(([0], np.flatnonzero(ends) + 1))

    def place(self, offset: int) -> tuple[int, int]:
        """Line and column of an offset, from 1, the column in characters."""
        return self.places([offset])[0]

    def places(self, offsets: list[int]) -> list[tuple[int, int]]:
        """Line and column of offsets in rising order; linear in the text, however long its lines are."""
        lines = np.searchsorted(self.line_starts, offsets, side="right")
        found: list[tuple[int, int]] = []
        line, column, at = 0, 1, 0
        for offset, number in zip(offsets, lines.tolist(), strict=True):
            if number != line:
                line, column, at = number, 1, int(self.line_starts[number - 1])
                if line == 1 and self.has_bom:
                    at = min(len(_BOM), offset)
            column += self._characters(at, offset)
            at = offset
            found.append((line, column))
        return found

    def _characters(self, start: int, end: int) -> int:
        chunk = self.data[start:end]
        if self.encoding == "cp1252":
            return len(chunk)
        return len(chunk) - len(chunk.translate(None, _NOT_CONTINUATION))
