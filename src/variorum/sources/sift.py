"""The sift: files in, the games that reach a root by any move order into the store, nothing lost on the way."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from pathlib import Path

import msgspec

from variorum.base import InputError, Progress, VariorumError
from variorum.edition import Edition
from variorum.edition.folder import PLAYOUTS, SOURCES
from variorum.edition.settings import SourceRule
from variorum.sources.collect import SUFFIXES, find_games_files, source_name
from variorum.sources.playouts import is_playout_file, sift_playouts
from variorum.sources.report import SourceReport
from variorum.sources.scan import READER_VERSION, ScanFilter, scan_file
from variorum.sources.scores import note_scores
from variorum.store import Hashing, SiftRecord, Store

__all__ = ["SiftOptions", "SiftReport", "fault_of", "faults_of", "forget_missing", "sift", "sift_files"]


class SiftOptions(msgspec.Struct, frozen=True, kw_only=True):
    """What the caller says of the files, in place of the edition's `[[sources]]` tables; `None` leaves it to them."""

    kind: str | None = None
    voice: str | None = None
    min_rating: int | None = None
    since: date | None = None
    until: date | None = None
    pace: str | None = None

    def over(self, rule: SourceRule) -> SourceRule:
        """The rule with what is said here in its place.

        Raises:
            InputError: Kind `engine` or `analysis` without a voice, or dates that exclude everything.
        """
        said = {name: value for name in self.__struct_fields__ if (value := getattr(self, name)) is not None}
        whole = {name: getattr(rule, name) for name in rule.__struct_fields__} | said
        if whole["kind"] in ("engine", "analysis") and not whole["voice"]:
            raise InputError(
                f"whose voice speaks in games of kind {whole['kind']}?",
                remedy="say --voice NAME, or set it in the [[sources]] table of edition.toml",
            )
        try:
            return SourceRule(**whole)
        except ValueError as error:
            raise InputError(str(error)) from None


class SiftReport(msgspec.Struct, frozen=True, kw_only=True):
    """What a sift brought. `games` counts the store afterwards, doubles each, playouts not; `doubles` the groups of doubles.

    `unreached` are the roots that no game of the store reaches.
    """

    edition: str
    sources: tuple[SourceReport, ...]
    games: int
    doubles: int
    unreached: tuple[str, ...] = ()


def sift(
    edition: Edition,
    store: Store,
    paths: Sequence[Path],
    options: SiftOptions,
    progress: Progress,
    *,
    hashing: Hashing = Hashing.WHEN_NEEDED,
) -> SiftReport:
    """Bring the games of files and folders up to date in the store; a file that did not change is not read again.

    The edition's own playouts are brought up to date with them. A file that cannot be read to its end does not keep
    the others from being sifted. Where the edition's folder of sources is meant, the games of files that lie there no
    more leave the store.

    Raises:
        InputError: A path does not exist, or the options contradict each other.
        Interrupted: The user stopped; the same call goes on from there.
        StoreError: The store cannot be written.
    """
    folder = edition.path / SOURCES
    whole = folder.is_dir() and folder.resolve() in [path.resolve() for path in paths]
    gone = forget_missing(edition, store) if whole else []
    reports = sift_files(edition, store, paths, options, progress, hashing=hashing) + gone
    reports += sift_playouts(edition, store, progress)
    store.settle(progress)
    unreached = [root for root in edition.roots if not store.reaches(root.position.key)]
    return SiftReport(
        edition=str(edition.path),
        sources=tuple(reports),
        games=store.count,
        doubles=store.double_count,
        unreached=tuple(root.name or root.text for root in unreached),
    )


def sift_files(
    edition: Edition,
    store: Store,
    paths: Sequence[Path],
    options: SiftOptions,
    progress: Progress,
    *,
    hashing: Hashing = Hashing.WHEN_NEEDED,
) -> list[SourceReport]:
    """As `sift`, without what comes after: doubles are not looked for and runs not merged. Everything is durable."""
    sources = [file for file in find_games_files(paths) if not is_playout_file(edition, file)]
    files = [(file, options.over(edition.rule_for(file))) for file in sources]
    reports = []
    try:
        with progress.task("files of games", total=len(files), unit="files") as task:
            for file, rule in files:
                reports.append(_sift_file(edition, store, file, rule, progress, hashing))
                task.advance(1)
    finally:
        store.flush()
    return reports


def forget_missing(edition: Edition, store: Store) -> list[SourceReport]:
    """Take the games of files out of the store that were in `sources/` or `playouts/` and are there no more."""
    gone = []
    for record in store.sources():
        name = record.source
        if name.startswith((f"{SOURCES}/", f"{PLAYOUTS}/")) and not (edition.path / name).is_file():
            store.forget(name)
            gone.append(
                SourceReport(
                    source=name, kind=record.kind, voice=record.voice, state="gone", kept=record.kept
                )
            )
    return gone


def _sift_file(
    edition: Edition, store: Store, file: Path, rule: SourceRule, progress: Progress, hashing: Hashing
) -> SourceReport:
    source = source_name(edition, file)
    try:
        content = store.content_hash(source, file, hashing)
    except OSError as error:
        return _report(source, rule, fault=f"it cannot be read: {error.strerror or error}")
    roots = [root.position for root in edition.roots]
    key = _cache_key(content, [root.fen for root in roots], rule)
    if store.is_current(source, key):
        record = next(record for record in store.sources() if record.source == source)
        return _report(source, rule, record, state="unchanged")
    settings = {"roots": [root.name or root.text for root in edition.roots], **_filters(rule)}
    intake = store.begin_sift(source, key, kind=rule.kind, voice=rule.voice, settings=settings)
    counts = dict.fromkeys(("sections", "untagged", "kept", "passed", "aside"), 0)
    verdicts, fault = 0, ""
    wanted = ScanFilter(min_rating=rule.min_rating, since=rule.since, until=rule.until, pace=rule.pace)
    try:
        for batch in scan_file(file, roots, wanted, progress, name=source):
            intake.add_batch(batch)
            if rule.kind == "engine":
                verdicts += store.add_verdicts(note_scores(batch, rule, source))
            for name in counts:
                counts[name] += batch.counts[name]
    except InputError as error:
        fault = error.message
    else:
        intake.finish()
    return _report(source, rule, fault=fault, counts=counts, verdicts=verdicts)


def _report(
    source: str,
    rule: SourceRule,
    record: SiftRecord | None = None,
    *,
    state: str = "sifted",
    fault: str = "",
    counts: dict[str, int] | None = None,
    verdicts: int = 0,
) -> SourceReport:
    if record is not None:
        counts = {name: getattr(record, name) for name in ("sections", "untagged", "kept", "passed", "aside")}
    if fault:
        state = "faulty"
    elif counts and not counts["sections"] + counts["untagged"]:
        state, fault = "empty", "there is no game in it"
    return SourceReport(
        source=source,
        kind=rule.kind,
        voice=rule.voice,
        state=state,
        fault=fault,
        verdicts=verdicts,
        **(counts or {}),
    )


def _filters(rule: SourceRule) -> dict[str, object]:
    return {
        "min_rating": rule.min_rating,
        "since": str(rule.since or ""),
        "until": str(rule.until or ""),
        "pace": rule.pace,
    }


def _cache_key(content: str, roots: Iterable[str], rule: SourceRule) -> str:
    """Content, roots, filters and reader version: the same again changes nothing, a new root sifts again."""
    scores = (rule.score_comment, rule.score_view) if rule.kind == "engine" else ()
    parts = (READER_VERSION, content, *roots, rule.kind, rule.voice, *scores, repr(_filters(rule)))
    return hashlib.sha256("\n".join(map(str, parts)).encode()).hexdigest()


def faults_of(report: SiftReport) -> Iterator[InputError]:
    """What was wrong with files of a sift, and with the roots, each with what to do; everything else was brought in."""
    for source in report.sources:
        if source.fault:
            remedy = "what could be read of it is kept; mend or replace the file and sift again"
            if source.state == "empty":
                remedy = "check that it is a PGN file, or take it out; the other files are brought in"
            yield InputError(source.fault, path=source.source, remedy=remedy)
    if _files_in(report):
        for root in report.unreached:
            yield InputError(
                f"no game reaches the root {root!r} by any order",
                remedy="check its line in the settings (edition.toml), or bring in files that hold such games",
            )


def _files_in(report: SiftReport) -> bool:
    return any(source.state != "gone" for source in report.sources)


def fault_of(report: SiftReport) -> VariorumError | None:
    """What was wrong with the files of a sift, or with the roots, as one error; `None` when nothing was."""
    if not _files_in(report):
        return InputError(
            "there are no files of games there",
            path=report.edition,
            remedy=f"put files ({', '.join(SUFFIXES)}) into sources/, or name files",
        )
    first = next(faults_of(report), None)
    more = sum(bool(source.fault) for source in report.sources) - 1
    if first is None or more < 1:
        return first
    others = f" (and {more} more such {'file' if more == 1 else 'files'})"
    return InputError(f"{first.message}{others}", path=first.where, remedy=first.remedy)
