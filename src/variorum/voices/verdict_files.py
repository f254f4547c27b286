"""Verdicts as text: `verdicts/*.epd`, one file a voice, appended to and never rewritten.

Each line of a verdict is one record of extended position description (PGN standard 1994, section 16.2), so any reader
of the standard understands it: `acd` depth, `acn` nodes, `acs` seconds, `bm` the best move (first line only), `ce` and
`dm` the score for the side to move, `pv` the moves. The ten comments hold what the standard has no operation for:

    c0      the voice
    c1      its version
    c2      its options, as `name=value`, divided by `; `
    c3      `line 1 of 3, threads 1, 1250 ms, 2026-11-25`; `, asked 300000 nodes` where it was asked under a limit of
            nodes; and `, wdl 312 600 88` where the voice said White's wins, draws and losses per mille
    c4      where a foreign verdict was read
    c5–c9   the iterations, `depth nodes move score` divided by `, `; the move in UCI, the score White's, in
            centipawns or `#` and moves; on the first line only

The records of one verdict follow one another. A verdict whose records are not all there, because a machine stopped
in the middle of writing, is told in a diagnostic and not used; its position is asked again.
"""

from __future__ import annotations

import datetime
import hashlib
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import msgspec

from variorum.base import Diagnostic, InputError, Severity, VariorumError
from variorum.board import (
    Epd,
    Iteration,
    Move,
    Operand,
    Position,
    Score,
    Side,
    Verdict,
    VerdictLine,
    ce_of_score,
    score_of_ce,
)
from variorum.edition.files import ordinary_bytes
from variorum.edition.folder import place_to_write

__all__ = ["VerdictFile", "append_verdicts", "read_verdicts", "verdict_path", "verdict_records"]

_STRING_LENGTH = 255
"""Longest string token of the PGN standard, section 7."""
_ITERATION_COMMENTS = ("c5", "c6", "c7", "c8", "c9")
_LINE = re.compile(
    r"line (?P<rank>\d+) of (?P<count>\d+)(?: \(MultiPV (?P<multipv>\d+)\))?, threads (?P<threads>\d+), "
    r"(?P<elapsed>\d+) ms(?:, (?P<date>\d{4}-\d\d-\d\d))?(?:, asked (?P<asked>\d+) nodes)?"
    r"(?:, wdl (?P<wdl>\d+ \d+ \d+))?"
)


def verdict_path(folder: Path, voice: str) -> Path:
    """The file of a voice in the folder `verdicts` of an edition: its name in plain letters."""
    plain = re.sub(r"[^a-z0-9]+", "-", voice.casefold()).strip("-")
    return folder / f"{plain or 'voice'}.epd"


def verdict_records(verdict: Verdict) -> str:
    """The records of one verdict, one line of text for each of its lines, each with its line end.

    Raises:
        EpdError: A name holds a quotation mark or a control character.
        MoveError: A line holds a move that is not legal there.
    """
    position = Position.from_fen(verdict.epd)
    return "".join(f"{_record(verdict, rank, position)}\n" for rank in range(1, len(verdict.lines) + 1))


def append_verdicts(path: Path, verdicts: Iterable[Verdict]) -> None:
    """Write verdicts behind those in the file, durably: when it returns, they are on the disk.

    Raises:
        InputError: The file cannot be written, or is a symbolic link that leads out of its folder.
    """
    place_to_write(path.parent, path.name)
    block = "".join(verdict_records(verdict) for verdict in verdicts).encode()
    if not block:
        return
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a+b") as file:
            if file.tell() and _last_byte(path) != b"\n":
                block = b"\n" + block  # a record torn by a stopped machine stays alone on its line
            file.write(block)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise InputError(
            f"the verdict cannot be written: {error.strerror or error}",
            remedy="make room or allow writing there; the verdicts before it are kept",
            path=path,
        ) from None


class VerdictFile:
    """What a file of verdicts holds: `verdicts` in file order, and `diagnostics` for what could not be read."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.verdicts: list[Verdict] = []
        self.diagnostics: list[Diagnostic] = []
        self._whole: tuple[int, int, bytes] | None = None
        """Bytes and lines that were read, and their hash; `None` where the end was cut short."""

    @classmethod
    def read_to_its_end(cls, path: Path, data: bytes, verdicts: list[Verdict]) -> VerdictFile:
        """A file without a fault, of which it is known what it holds."""
        found = cls(path)
        found.verdicts = verdicts
        found.ended(data, len(data.decode("utf-8", "replace").splitlines()))
        return found

    @property
    def is_whole(self) -> bool:
        """Whether it ends with a verdict that is all there."""
        return self._whole is not None

    def begun(self, data: bytes) -> tuple[VerdictFile, bytes, int]:
        """For the file as it is now: what of this reading stands, the bytes that must be read, and their first line."""
        fresh = VerdictFile(self.path)
        if self._whole is None or _hash(data[: self._whole[0]]) != self._whole[2]:
            return fresh, data, 1
        fresh.verdicts, fresh.diagnostics = list(self.verdicts), list(self.diagnostics)
        size, lines, _ = self._whole
        return fresh, data[size:], lines + 1

    def ended(self, data: bytes, lines: int) -> None:
        """Note that a file was read to its end, which is the end of a verdict."""
        if data.endswith(b"\n"):
            self._whole = (len(data), lines, _hash(data))


def read_verdicts(path: Path, before: VerdictFile | None = None) -> VerdictFile:
    """Read a file of verdicts; lines that cannot be read are left out and diagnosed.

    A record without our `c3` is somebody else's, whose comments say what they like: it is the verdict of a voice named
    as the file.

    Args:
        path: The file.
        before: An earlier reading of it; of a file that only grew since, the new end is read.

    Raises:
        InputError: The file itself cannot be read.
    """
    try:
        data = ordinary_bytes(path)
    except OSError as error:
        raise InputError(f"the verdicts cannot be read: {error.strerror or error}", path=path) from None
    found, rest, first = (before or VerdictFile(path)).begun(data)
    pending: list[tuple[int, Epd]] = []
    lines = rest.decode("utf-8", "replace").splitlines()
    for number, line in enumerate(lines, first):
        if not line.strip():
            continue
        try:
            epd = Epd.parse(line)
            rank, count, _ = _place_in_verdict(epd)
        except VariorumError as error:
            found.diagnostics.append(_diagnostic(path, number, f"not a verdict: {error.message}"))
            continue
        if rank != len(pending) + 1 or (pending and not _same_verdict(pending[-1][1], epd)):
            _drop(found, pending)
            if rank != 1:
                found.diagnostics.append(
                    _diagnostic(path, number, "the first line of this verdict is missing")
                )
                continue
        pending.append((number, epd))
        if rank == count:
            try:
                found.verdicts.append(_verdict([record for _, record in pending], path))
            except VariorumError as error:
                found.diagnostics.append(_diagnostic(path, number, f"not a verdict: {error.message}"))
            pending.clear()
    if not pending:
        found.ended(data, first - 1 + len(lines))
    _drop(found, pending)
    return found


def _hash(data: bytes) -> bytes:
    return hashlib.blake2b(data, digest_size=16).digest()


def _record(verdict: Verdict, rank: int, position: Position) -> Epd:
    line = verdict.lines[rank - 1]
    count = len(verdict.lines)
    asked = "" if verdict.multipv == count else f" (MultiPV {verdict.multipv})"
    dated = f", {verdict.date}" if verdict.date else ""
    odds = ", wdl {} {} {}".format(*line.score.wdl) if line.score.wdl else ""
    limit = f", asked {verdict.asked} nodes" if verdict.asked else ""
    operations: dict[str, Operand] = {
        "acd": verdict.depth,
        "acn": verdict.nodes,
        "acs": verdict.elapsed_ms // 1000,
        "c0": (verdict.voice,),
        "c1": (verdict.version,),
        "c3": (
            f"line {rank} of {count}{asked}, threads {verdict.threads}, {verdict.elapsed_ms} ms{dated}{limit}{odds}",
        ),
        "ce": ce_of_score(line.score, position.turn),
        "pv": tuple(Move(move) for move in line.moves),
    }
    if verdict.options:
        operations["c2"] = ("; ".join(verdict.options),)
    if verdict.origin:
        operations["c4"] = (verdict.origin,)
    if rank == 1:
        operations["bm"] = (Move(line.moves[0]),)
        for opcode, text in zip(_ITERATION_COMMENTS, _iteration_texts(verdict.iterations), strict=False):
            operations[opcode] = (text,)
    mover = line.score.seen_from(position.turn)
    if mover.mate is not None and mover.mate > 0:
        operations["dm"] = mover.mate
    return Epd(position, operations)


def _iteration_texts(iterations: Sequence[Iteration]) -> list[str]:
    """The iterations in strings of the standard's length; where they are too many, the latest are kept."""
    texts: list[str] = []
    for iteration in reversed(iterations):
        score = iteration.score
        number = f"#{score.mate}" if score.mate is not None else f"{score.cp}"
        text = f"{iteration.depth} {iteration.nodes} {iteration.move} {number}"
        if texts and len(texts[-1]) + len(text) + 2 <= _STRING_LENGTH:
            texts[-1] = f"{text}, {texts[-1]}"
        elif len(texts) < len(_ITERATION_COMMENTS):
            texts.append(text)
        else:
            break
    return texts[::-1]


def _iterations(epd: Epd) -> Iterator[Iteration]:
    for opcode in _ITERATION_COMMENTS:
        for text in (epd.text(opcode) or "").split(", "):
            words = text.split()
            if len(words) != 4:
                continue
            try:
                depth, nodes = int(words[0]), int(words[1])
                mate = words[3].startswith("#")
                score = Score.of_mate(int(words[3][1:])) if mate else Score.of_cp(int(words[3]))
            except ValueError:
                continue
            yield Iteration(depth, nodes, words[2], score)


def _place_in_verdict(epd: Epd) -> tuple[int, int, re.Match[str] | None]:
    """Which line of how many a record is; a foreign record is a verdict of one line."""
    match = _LINE.fullmatch(epd.text("c3") or "")
    if match is None:
        return 1, 1, None
    return int(match["rank"]), max(1, int(match["count"])), match


def _same_verdict(one: Epd, other: Epd) -> bool:
    def rest(epd: Epd) -> tuple[str, ...]:
        line = re.sub(r"^line \d+ |, wdl [\d ]+$", "", epd.text("c3") or "")
        return (epd.position.epd, *(epd.text(opcode) or "" for opcode in ("c0", "c1", "c2", "c4")), line)

    return rest(one) == rest(other)


def _verdict(records: list[Epd], path: Path) -> Verdict:
    first = records[0]
    _, _, match = _place_in_verdict(first)
    date = (match and match["date"]) or ""
    if date and not _is_day(date):
        raise InputError(f"there is no day {date}")
    elapsed = int(match["elapsed"]) if match else 1000 * (first.number("acs") or 0)
    multipv = int(match["multipv"] or match["count"]) if match else 1
    return Verdict(
        key=first.position.key,
        epd=first.position.epd,
        voice=(match and first.text("c0")) or path.stem,
        version=(match and first.text("c1")) or "",
        lines=tuple(_line(record) for record in records),
        multipv=multipv,
        nodes=first.number("acn") or 0,
        depth=first.number("acd") or 0,
        elapsed_ms=elapsed,
        threads=int(match["threads"]) if match else 1,
        options=tuple(filter(None, (first.text("c2") or "").split("; "))) if match else (),
        date=date,
        origin=(first.text("c4") or "") if match else path.name,
        iterations=tuple(_iterations(first)),
        asked=int(match["asked"] or 0) if match else 0,
    )


def _is_day(text: str) -> bool:
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _line(epd: Epd) -> VerdictLine:
    moves = epd.moves("pv") or epd.moves("bm")[:1]
    ce, mate = epd.number("ce"), epd.number("dm")
    if not moves or (ce is None and mate is None):
        raise InputError("it needs moves ('pv' or 'bm') and a score ('ce' or 'dm')")
    if ce is not None:
        score = score_of_ce(ce, epd.position.turn)
    else:
        assert mate is not None
        score = Score.of_mate(mate if epd.position.turn is Side.WHITE else -mate)
    _, _, match = _place_in_verdict(epd)
    if match is not None and match["wdl"]:
        wins, draws, losses = map(int, match["wdl"].split())
        if wins + draws + losses != 1000:
            raise InputError("wins, draws and losses are not per mille")
        score = msgspec.structs.replace(score, wdl=(wins, draws, losses))
    return VerdictLine(tuple(move.uci for move in moves), score)


def _drop(found: VerdictFile, pending: list[tuple[int, Epd]]) -> None:
    if pending:
        message = "this verdict is not complete; its position will be asked again"
        found.diagnostics.append(_diagnostic(found.path, pending[0][0], message))
        pending.clear()


def _diagnostic(path: Path, line: int, message: str) -> Diagnostic:
    return Diagnostic(code="verdict-unread", severity=Severity.WARNING, path=path, line=line, message=message)


def _last_byte(path: Path) -> bytes:
    with path.open("rb") as file:
        file.seek(-1, os.SEEK_END)
        return file.read(1)
