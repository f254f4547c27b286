"""What a build keeps of what it found, and in which line of the edition's log it is written."""

from __future__ import annotations

import datetime
import hashlib
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from variorum import __version__
from variorum.base import InputError, Progress
from variorum.board import Position
from variorum.build.asking import Study
from variorum.claims.check import CheckedClaim
from variorum.edition import Edition, hash_on_disk, resolve_place
from variorum.edition.build_log import (
    BUILD_LOG,
    BuildChange,
    BuildFound,
    KeptClaim,
    KeptFigure,
    KeptSource,
    KeptValue,
    KeptVerdict,
    append_build,
    read_build_log,
    state_at,
)
from variorum.edition.folder import DIGEST, MANUSCRIPT, SETTINGS, VERDICTS
from variorum.graph import Certainty, Why, back_up_values
from variorum.store import PLAYOUT, Store
from variorum.voices.scale import expected_of
from variorum.voices.verdicts import Verdicts

__all__ = ["claim_names", "position_and_voice", "record_build", "treated_positions"]


def record_build(study: Study, claims: Sequence[CheckedClaim], store: Store, progress: Progress) -> int:
    """Write what a build found behind the earlier builds, and note which games it met first; gives its number.

    A build that found nothing otherwise than the one before it writes nothing, and has that one's number.

    Raises:
        InputError: The log cannot be read or written.
        StoreError: The store is damaged.
    """
    edition = study.edition
    changes, _ = read_build_log(edition.path)
    before = state_at(changes, changes[-1].build) if changes else BuildFound()
    found = BuildFound(
        build=before.build + 1,
        made=datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
        version=__version__,
        files=dict(_files(edition)),
        sources=kept_sources(store),
        claims=dict(zip(claim_names(claims), map(_claim, claims), strict=True)),
        values=dict(_values(study)),
        verdicts=dict(_verdicts(study)),
    )
    store.births.record(found.build, _known_before(changes, found), progress)
    change = found.since(before)
    if change.is_empty:
        return before.build
    append_build(edition.path, edition.place_to_write(*BUILD_LOG), change)
    return found.build


def claim_names(claims: Iterable[CheckedClaim]) -> list[str]:
    """A name for each claim by which it is known again when the text around it has changed.

    It holds the file, the kind, the position, the move or place, and what is said; the second of two that are alike in all
    that is told apart by its number.
    """
    seen: Counter[str] = Counter()
    names = []
    for claim in claims:
        name = f"{claim.path} {claim.kind} [{claim.epd}] {claim.subject}: {claim.says}"
        seen[name] += 1
        names.append(name if seen[name] == 1 else f"{name} #{seen[name]}")
    return names


def position_and_voice(name: str) -> tuple[Position, str]:
    """What a verdict or value is kept under: an EPD (four fields), and behind it the voice."""
    *epd, voice = name.split(" ", 4)
    return Position.from_fen(" ".join(epd)), voice


def treated_positions(study: Study) -> set[Position]:
    """Positions that the digest names."""
    if study.digest is None:
        return set()
    texts = [span.attributes.get("at", span.attributes.get("of", "")) for span in study.digest.spans()]
    texts += study.digest.shown_places()
    return set(_places(study.edition, texts))


def _places(edition: Edition, texts: Iterable[str]) -> Iterator[Position]:
    for text in filter(None, texts):
        try:
            yield resolve_place(edition, text).position
        except InputError:
            continue  # diagnosed by `check`


def _files(edition: Edition) -> Iterator[tuple[str, str]]:
    verdicts = (f"{VERDICTS}/{path.name}" for path in sorted((edition.path / VERDICTS).glob("*.epd")))
    for name in (SETTINGS, MANUSCRIPT, DIGEST, *verdicts):
        if (content := hash_on_disk(edition.path / name)) is not None:
            yield name, content[:16]


def kept_sources(store: Store) -> dict[str, KeptSource]:
    """The sources of a store as a build keeps them; playouts are none."""
    return {
        sift.source: KeptSource(hashlib.sha256(sift.cache_key.encode()).hexdigest()[:16], sift.kept)
        for sift in store.sources()
        if sift.kind != PLAYOUT
    }


def _known_before(changes: Sequence[BuildChange], found: BuildFound) -> dict[str, int]:
    """For each source the first build that met the same content, where there was one."""
    first: dict[str, int] = {}
    for change in changes:
        for source in change.sources.values():
            if source is not None:
                first.setdefault(source.hash, change.build)
    return {name: first[one.hash] for name, one in found.sources.items() if one.hash in first}


def _claim(claim: CheckedClaim) -> KeptClaim:
    return KeptClaim(
        claim.standing,
        tuple(
            KeptFigure(one.voice, round(one.value, 1), round(one.noise, 1), one.nodes)
            for one in claim.figures
        ),
    )


def _values(study: Study) -> Iterator[tuple[str, KeptValue]]:
    """The graph value of each root and tabiya, by each voice; a bound is none."""
    for voice, values in back_up_values(study.graph, study.verdicts).items():
        for place in study.edition.places.values():
            node = study.graph.node_of(place.position)
            value = None if node is None else values.at(study.graph, node)
            if value is None or value.score is None or value.certainty is not Certainty.VALUE:
                continue
            leaf = "" if value.leaf is None else study.graph.position(value.leaf).epd
            yield f"{place.position.epd} {voice}", KeptValue(round(value.score, 1), value.nodes, leaf)


def _verdicts(study: Study) -> Iterator[tuple[str, KeptVerdict]]:
    """The verdict that counts of each voice on each position that a text treats."""
    named = treated_positions(study)
    for verdict in Verdicts(study.verdicts).all():
        position = Position.from_fen(verdict.epd)
        node = study.graph.node_of(position)
        treated = node is not None and study.graph.why[node] & (Why.TEXT | Why.ROOT)
        if treated or position in named:
            lines = tuple(
                (line.moves[0], round(expected_of(verdict, line.score), 1))
                for line in verdict.lines
                if line.moves
            )
            yield f"{verdict.epd} {verdict.voice}", KeptVerdict(verdict.allowed, verdict.nodes, lines)
