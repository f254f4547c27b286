"""`variorum drift`: what changed since an earlier build, sorted by what the author should look at first (methods.md 17)."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

from variorum.base import Diagnostic, InputError, Progress, UsageError
from variorum.base.settings import UserSettings
from variorum.board import Line, Move, Position
from variorum.build.checking import check_opened
from variorum.build.drift_report import ClaimDrift, DriftReport, Matter, VerdictDrift
from variorum.build.news import news_since
from variorum.build.opened import OpenEdition
from variorum.build.recording import claim_names, kept_sources, position_and_voice
from variorum.build.ways import Ways
from variorum.claims.check import CheckedClaim
from variorum.claims.standing import Standing
from variorum.edition import Edition, Manuscript, hash_on_disk
from variorum.edition.build_log import (
    BuildChange,
    BuildFound,
    KeptClaim,
    KeptValue,
    KeptVerdict,
    read_build_log,
    state_at,
)
from variorum.store import Store
from variorum.voices.noise import INTERVAL, noise_of

__all__ = ["compare_builds", "drift", "drift_of", "has_moved", "matter_of"]

_SETTLED = (Standing.HOLDS.value, Standing.NOT_CHECKABLE.value)
_MATTERS = list(Matter)


def drift(
    edition: Edition, user: UserSettings, since: str | None, progress: Progress
) -> tuple[DriftReport, list[Diagnostic]]:
    """What changed since a build.

    Args:
        edition: The edition.
        user: The user's own settings.
        since: The number of a build, or a date (ISO 8601): then the last build before that day (UTC) counts, or the first
            one there is. By default the build before the last.
        progress: Where to report.

    Raises:
        UsageError: `since` is neither.
        InputError: No build has been made yet, there is none of that number, or a file cannot be read.
        StoreError: The store is damaged.
        Interrupted: The user stopped.
    """
    with OpenEdition(edition, user, progress=progress) as opened:
        return drift_of(opened, since)


def drift_of(opened: OpenEdition, since: str | None) -> tuple[DriftReport, list[Diagnostic]]:
    """As `drift`, of an edition that was opened."""
    edition = opened.edition
    changes, faults = read_build_log(edition.path)
    if not changes:
        raise InputError(
            "no build has kept what it found yet", path=edition.path, remedy="give `variorum build` first"
        )
    before = state_at(changes, _build_meant(changes, since))
    now = state_at(changes, changes[-1].build)
    checked, _ = check_opened(opened)
    return compare_builds(opened, opened.store, checked.claims, before, now), faults


def _build_meant(changes: Sequence[BuildChange], since: str | None) -> int:
    """The number of the build that `since` means."""
    if since is None:
        return changes[-2].build if len(changes) > 1 else changes[-1].build
    if re.fullmatch(r"[0-9]{1,9}", since):
        number = int(since)
        if not changes[0].build <= number <= changes[-1].build:
            known = f"builds {changes[0].build} to {changes[-1].build}" if len(changes) > 1 else "one build"
            raise InputError(
                f"build {number} is not kept",
                remedy=f"there {'are' if len(changes) > 1 else 'is'} {known}, the last of {changes[-1].made}",
            )
        return number
    try:
        day = datetime.date.fromisoformat(since)
    except ValueError:
        raise UsageError(
            f"'{since}' is neither the number of a build nor a date",
            remedy="write --since 12 or --since 2026-05-01",
        ) from None
    earlier = [change.build for change in changes if change.made[:10] < str(day)]
    return earlier[-1] if earlier else changes[0].build


class Known(Protocol):
    """An edition as it is now: its texts, its graph and the traffic on it."""

    @property
    def edition(self) -> Edition:
        """Its settings."""

    @property
    def manuscript(self) -> Manuscript | None:
        """The long text."""

    @property
    def ways(self) -> Ways:
        """Positions in words."""


def compare_builds(
    known: Known,
    store: Store | None,
    claims: Sequence[CheckedClaim],
    before: BuildFound,
    now: BuildFound,
) -> DriftReport:
    """What the later of two builds found otherwise.

    Args:
        known: The edition as it is now.
        store: Its games.
        claims: Its claims; one that is not there any more is not told of.
        before: The earlier build.
        now: The later one.
    """
    comparison = _Comparison(known, claims, before, now)
    changed = {
        name
        for name, kept in now.files.items()
        if (hash_on_disk(known.edition.path / name) or "")[:16] != kept
    }
    if store is not None:
        sources = kept_sources(store)
        changed |= {
            name for name in sources.keys() | now.sources.keys() if sources.get(name) != now.sources.get(name)
        }
    return DriftReport(
        edition=known.edition.title,
        before=before.build,
        before_made=before.made,
        now=now.build,
        now_made=now.made,
        claims=tuple(sorted(comparison.claims(), key=_claim_rank)),
        places=tuple(sorted(comparison.places(), key=_verdict_rank)),
        verdicts=tuple(sorted(comparison.verdicts(), key=_verdict_rank)),
        new_verdicts=len(now.verdicts.keys() - before.verdicts.keys()),
        news=news_since(known.edition, known.manuscript, known.ways, store, before, now),
        changed_since=tuple(sorted(changed)),
    )


def _claim_rank(item: ClaimDrift) -> tuple[object, ...]:
    return (_MATTERS.index(item.matter), -item.flow, item.path, item.line, item.column)


def _verdict_rank(item: VerdictDrift) -> tuple[object, ...]:
    """What decides a root or tabiya first, then where a claim hangs, then by points times traffic."""
    points = max(abs(item.new - item.old) if item.moved else 0.0, item.gap or 0.0)
    return (not item.decides, not item.claims, -item.flow * points, -points, item.epd, item.voice)


class _Comparison:
    """Two builds side by side, told with the lines and the traffic of the edition as it is now."""

    def __init__(
        self, known: Known, claims: Sequence[CheckedClaim], before: BuildFound, now: BuildFound
    ) -> None:
        self._edition, self._ways, self._before, self._now = known.edition, known.ways, before, now
        self._named = dict(zip(claim_names(claims), claims, strict=True))
        self._at: dict[str, list[str]] = {}
        for claim in claims:
            if claim.epd and claim.standing != Standing.NOT_CHECKABLE.value:
                where = f"{claim.path}:{claim.line} {claim.subject} {claim.says}"
                self._at.setdefault(claim.epd, []).append(where)
        self._decided = self._deciding()

    def _deciding(self) -> dict[tuple[str, str], tuple[str, ...]]:
        """By EPD and voice, the roots and tabiyas whose value the position decides, or decided, and moved."""
        names = {place.position.epd: name for name, place in self._edition.places.items()}
        found: dict[tuple[str, str], dict[str, None]] = {}
        for key in self._now.values.keys() | self._before.values.keys():
            old, new = self._before.values.get(key), self._now.values.get(key)
            if old == new:
                continue
            *epd, voice = key.split(" ", 4)
            name = names.get(" ".join(epd))
            for value in (old, new):
                if value is not None and value.leaf and name is not None:
                    found.setdefault((value.leaf, voice), {})[name] = None
        return {key: tuple(sorted(names)) for key, names in found.items()}

    def claims(self) -> Iterator[ClaimDrift]:
        """Claims that stand otherwise, and new ones that are contradicted."""
        for name, claim in self._named.items():
            old, new = self._before.claims.get(name), self._now.claims.get(name)
            if new is None or (old is not None and old.standing == new.standing):
                continue
            matter = matter_of(old, new)
            if matter is None:
                continue
            position = Position.from_fen(claim.epd) if claim.epd else None
            yield ClaimDrift(
                matter=matter,
                path=claim.path,
                line=claim.line,
                column=claim.column,
                subject=claim.subject,
                says=claim.says,
                before="" if old is None else old.standing,
                now=new.standing,
                old=_given(old),
                new=_given(new),
                against=claim.refutation if claim.standing == Standing.CONTRADICTED.value else "",
                flow=0.0 if position is None else self._ways.flow(position),
                line_to="" if position is None else self._ways.line_to(position),
                epd=claim.epd,
                place=claim.place,
                against_from=claim.against_from,
            )

    def places(self) -> Iterator[VerdictDrift]:
        """Roots and tabiyas whose graph value moved by more than noise."""
        for key, new in self._now.values.items():
            old = self._before.values.get(key)
            if old is None or not has_moved(old.expected, old.nodes, new.expected, new.nodes):
                continue
            position, voice = position_and_voice(key)
            yield VerdictDrift(
                matter=Matter.PLACE,
                place=self._ways.line_to(position),
                voice=voice,
                old=old.expected,
                old_nodes=old.nodes,
                new=new.expected,
                new_nodes=new.nodes,
                noise=_noise(old.expected, old.nodes, new.expected, new.nodes),
                moved=True,
                old_move=self._leaf(old),
                new_move=self._leaf(new),
                gap=None,
                gap_is_least=False,
                decides=(),
                claims=tuple(self._at.get(position.epd, ())),
                flow=self._ways.flow(position),
                epd=position.epd,
            )

    def _leaf(self, value: KeptValue) -> str:
        return self._ways.line_to(Position.from_fen(value.leaf)) if value.leaf else ""

    def verdicts(self) -> Iterator[VerdictDrift]:
        """Positions on which a voice says something else than it did."""
        for key, new in self._now.verdicts.items():
            old = self._before.verdicts.get(key)
            if old is None or old == new or not old.lines or not new.lines:
                continue
            (old_move, old_score), (new_move, new_score) = old.lines[0], new.lines[0]
            moved = has_moved(old_score, old.nodes, new_score, new.nodes)
            if not moved and old_move == new_move:
                continue
            position, voice = position_and_voice(key)
            standing = self._ways.standing(position)
            gap, is_least = _gap(old_move, new) if old_move != new_move else (None, False)
            yield VerdictDrift(
                matter=Matter.VERDICT,
                place=self._ways.line_to(position),
                voice=voice,
                old=old_score,
                old_nodes=old.nodes,
                new=new_score,
                new_nodes=new.nodes,
                noise=_noise(old_score, old.nodes, new_score, new.nodes),
                moved=moved,
                old_move=_san(standing, old_move),
                new_move=_san(standing, new_move),
                gap=gap,
                gap_is_least=is_least,
                decides=self._decided.get((position.epd, voice), ()),
                claims=tuple(self._at.get(position.epd, ())),
                flow=self._ways.flow(position),
                epd=position.epd,
            )


def matter_of(old: KeptClaim | None, new: KeptClaim) -> Matter | None:
    """Why an author should look at a claim that stands otherwise, `None` where he need not."""
    if new.standing == Standing.CONTRADICTED.value:
        return Matter.CONTRADICTED
    if old is None:
        return None  # a new claim that nothing speaks against is no drift
    if old.standing == Standing.HOLDS.value:
        return Matter.LOST
    return (
        Matter.SETTLED
        if new.standing in _SETTLED or old.standing == Standing.CONTRADICTED.value
        else Matter.LOST
    )


def _given(claim: KeptClaim | None) -> str:
    figures = () if claim is None else claim.figures
    return "; ".join(
        f"{one.voice} {one.value:.1f} ± {one.noise:.1f} at {one.nodes:,} nodes" for one in figures
    )


def _gap(old_move: str, new: KeptVerdict) -> tuple[float, bool]:
    """By how many points the new verdict puts its best move over the old one, and whether that is only the least it can be."""
    scores: Mapping[str, float] = dict(reversed(new.lines))
    best = new.lines[0][1]
    if old_move in scores:
        return abs(best - scores[old_move]), False
    return abs(best - new.lines[-1][1]), True


def _noise(old: float, old_nodes: int, new: float, new_nodes: int) -> float:
    """1.96 times the root of both σ²; a mate or a finished game has none."""
    parts = (
        0.0 if score in (0.0, 100.0) else noise_of(nodes, score)
        for score, nodes in ((old, old_nodes), (new, new_nodes))
    )
    return float(INTERVAL * sum(sigma**2 for sigma in parts) ** 0.5)


def has_moved(old: float, old_nodes: int, new: float, new_nodes: int) -> bool:
    """Whether two scores differ by more than noise."""
    return abs(new - old) > _noise(old, old_nodes, new, new_nodes)


def _san(position: Position, uci: str) -> str:
    return Line(position, (Move(uci),)).san()
