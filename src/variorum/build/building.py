"""`variorum build`: everything derived brought up to date, in order, going on where an interrupted build stopped.

Sources are sifted, the graph is grown, voices are asked within the budget, claims are checked and both texts published.
Each part keeps what it has finished, so nothing is done twice; what a build found is kept in the store by step.
"""

from __future__ import annotations

import datetime
import time
from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING

import msgspec

from variorum.base import Diagnostic, Progress, Severity, StoreBusyError
from variorum.base.settings import UserSettings
from variorum.build.limits import Limits
from variorum.build.report import AuditLine, BuildReport, ClaimLine, Meeting, PlannedVerdict, SourceLine
from variorum.build.stock import stock_key
from variorum.edition import Edition
from variorum.edition.folder import SOURCES
from variorum.store import Mode, StepRecord, Store, open_store

if TYPE_CHECKING:
    from variorum.build.asking import Asked, Study
    from variorum.build.checking import CheckReport
    from variorum.build.publishing import PublishReport
    from variorum.sources import SiftReport, SourceReport
    from variorum.voices.voice import Voice

__all__ = ["BuildLimits", "build_edition", "plan_build"]

_BUILD, _SIFT, _CHECK, _PUBLISH = "build", "sift", "check", "publish"
_ORDERS = 12
"""Orders into a tabiya that a report looks at, the heaviest."""
_MEETINGS = 3
"""Meetings of lines that a report names."""
_ORDERS = 50
"""Orders to a meeting that are followed back to their root."""


class BuildLimits(Limits, frozen=True, kw_only=True):
    """What a build may spend on verdicts; where nothing is given, what the edition says."""

    def nodes(self, edition: Edition) -> int | None:
        """The budget in nodes, `None` where the clock counts."""
        if self.minutes is not None:
            return None
        return edition.settings.budget.total_nodes if self.total_nodes is None else self.total_nodes


def build_edition(
    edition: Edition,
    user: UserSettings,
    limits: BuildLimits,
    progress: Progress,
    *,
    cautions: tuple[str, ...] = (),
    workers: int | None = None,
    voices: Mapping[str, Callable[[], Voice]] | None = None,
) -> BuildReport:
    """Bring an edition up to date; with nothing changed and nobody waiting to be asked, nothing is done.

    Args:
        edition: The edition.
        user: The user's settings.
        limits: What may be spent.
        progress: Where to report.
        cautions: Sentences for the end of the page.
        workers: How many questions are asked at a time; by default as many as the processors hold (`workers_for`).
        voices: Whom to ask, by name; by default the voices that the edition names, as far as this user has them.

    Raises:
        StoreBusyError: Another build or sift of this edition is running.
        StoreError, InputError: Something cannot be read or written.
        Interrupted: The user stopped; the same call goes on from there.
    """
    deadline = None if limits.minutes is None else time.monotonic() + 60 * limits.minutes
    today = datetime.datetime.now(datetime.UTC).date()
    with _open(edition, user) as store:
        known = _up_to_date(store, stock_key(edition, user, store, cautions), today, limits.nodes(edition))
        if known is not None:
            return known
        # Only from here on is something done, and only for that are the heavy packages needed.
        from variorum.build.asking import Study, ask_rounds
        from variorum.build.checking import check_opened
        from variorum.build.drifting import write_drift_page
        from variorum.build.opened import OpenEdition
        from variorum.build.publishing import publish_edition
        from variorum.build.recording import record_build
        from variorum.build.whom import edition_voices
        from variorum.sources import SiftOptions, forget_missing, sift
        from variorum.voices.registry import workers_for

        there, absent = edition_voices(edition, user) if voices is None else (voices, ())
        with progress.task("build", total=5, unit="steps") as steps:
            gone = forget_missing(edition, store)
            folder = edition.path / SOURCES
            sifted = sift(edition, store, [folder] if folder.is_dir() else [], SiftOptions(), progress)
            steps.advance(1, note="graph")
            study = Study(edition, user, store, today, progress)
            steps.advance(1, note="verdicts")
            asked = ask_rounds(
                study,
                there,
                total_nodes=limits.nodes(edition),
                deadline=deadline,
                workers=workers or workers_for(user),
                progress=progress,
            )
            steps.advance(1, note="check")
            with OpenEdition(edition, user) as opened:
                checked, found = check_opened(opened, today=today)
                steps.advance(1, note="publish")
                # What publishing finds wrong holds what checking does.
                published, faults = publish_edition(
                    opened, made_on=today, cautions=cautions, checked=(checked, found)
                )
            steps.advance(1)
        number = record_build(study, checked.claims, store, progress)
        page = write_drift_page(study, store, checked.claims)
        report = _report(study, sifted, gone, asked, checked, published, faults, tuple(there), absent)
        report = msgspec.structs.replace(report, build=number, drift_page=page)
        _keep(edition, user, store, report, sifted, checked, published, cautions, _good_until(study))
    return report


def plan_build(
    edition: Edition,
    user: UserSettings,
    limits: BuildLimits,
    progress: Progress,
    *,
    voices: tuple[str, ...] | None = None,
) -> BuildReport:
    """What `build_edition` would ask first, from what is there; nothing is sifted, asked or written.

    Raises:
        StoreError, InputError: Something cannot be read.
        Interrupted: The user stopped.
    """
    from contextlib import ExitStack

    from variorum.build.asking import Study
    from variorum.build.games import open_games
    from variorum.build.whom import edition_voices
    from variorum.scout.plan import within

    there, absent = edition_voices(edition, user) if voices is None else (voices, ())
    with ExitStack() as stack:
        store = open_games(edition, user, stack)
        study = Study(edition, user, store, datetime.datetime.now(datetime.UTC).date(), progress)
        waiting = study.next_of_all(there)
        count = len(within([one for _, one in waiting], limits.nodes(edition)))
        return BuildReport(
            edition=edition.title,
            dry_run=True,
            games=0 if store is None else store.count,
            positions=study.graph.nodes,
            moves=study.graph.edges,
            confluences=len(study.graph.confluences()),
            verdicts=len(study.verdicts),
            plan=tuple(
                PlannedVerdict(
                    voice=voice,
                    place=study.line_to(one.position),
                    fen=one.position.fen,
                    reason=one.reason.value,
                    nodes=one.nodes,
                )
                for voice, one in waiting[:count]
            ),
            waiting=len(waiting) - count,
            waiting_nodes=sum(one.nodes for _, one in waiting[count:]),
            absent=absent,
        )


def _open(edition: Edition, user: UserSettings) -> Store:
    try:
        return open_store(edition.store_folder(user), mode=Mode.WRITE)
    except StoreBusyError as busy:
        raise StoreBusyError(
            "another build or sift of this edition is running", remedy=busy.remedy, path=edition.path
        ) from None


def _up_to_date(store: Store, key: str, today: datetime.date, budget: int | None) -> BuildReport | None:
    """The last build's report where it still tells all there is to tell, and nobody waits whom the budget lets ask."""
    for record in store.steps(_BUILD):
        fresh = not record.good_until or str(today) <= record.good_until
        if record.key == key and fresh:
            try:
                report = msgspec.json.decode(record.result, type=BuildReport)
            except msgspec.ValidationError:
                return None  # kept by another version
            if (not report.waiting or budget == 0) and not any(
                one.state == "faulty" for one in report.sources
            ):
                return msgspec.structs.replace(
                    report, nothing_new=True, asked=0, nodes=0, sources=_unchanged(report.sources)
                )
    return None


def _unchanged(sources: tuple[SourceLine, ...]) -> tuple[SourceLine, ...]:
    return tuple(msgspec.structs.replace(one, state="unchanged") for one in sources if one.state != "gone")


def _good_until(study: Study) -> str:
    """The last day before a verdict becomes too old, empty where none does."""
    days = study.edition.settings.thresholds.stale_days
    dates = [verdict.date for verdict in study.verdicts if verdict.date] if days else []
    today = datetime.datetime.now(datetime.UTC).date()
    # A day that is still to come (a clock was wrong) counts as today.
    given = [min(datetime.date.fromisoformat(date), today) for date in dates]
    ends = [day + datetime.timedelta(days) for day in given]
    return str(min((end for end in ends if end >= today), default=""))


def _keep(
    edition: Edition,
    user: UserSettings,
    store: Store,
    report: BuildReport,
    sifted: SiftReport,
    checked: CheckReport,
    published: PublishReport,
    cautions: tuple[str, ...],
    good_until: str,
) -> None:
    """Keep what each step found, all in one commit: a build that was stopped before is done again where it must be."""
    key = stock_key(edition, user, store, cautions)
    made = datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")
    found = {_SIFT: sifted, _CHECK: checked, _PUBLISH: published, _BUILD: report}
    store.record_steps(
        [
            StepRecord(
                name=name, key=key, made=made, good_until=good_until, result=msgspec.json.encode(result)
            )
            for name, result in found.items()
        ]
    )


def _report(
    study: Study,
    sifted: SiftReport,
    gone: list[SourceReport],
    asked: Asked,
    checked: CheckReport,
    published: PublishReport,
    faults: list[Diagnostic],
    voices: tuple[str, ...],
    absent: tuple[str, ...],
) -> BuildReport:
    graph = study.graph
    waiting = study.next_of_all(voices)
    return BuildReport(
        edition=study.edition.title,
        sources=tuple(
            SourceLine(source=one.source, state=one.state, kept=one.kept, fault=one.fault, kind=one.kind)
            for one in (*sifted.sources, *gone)
        ),
        games=sifted.games,
        doubles=sifted.doubles,
        positions=graph.nodes,
        moves=graph.edges,
        confluences=len(graph.confluences()),
        meetings=_meetings(study),
        audits=tuple(_audits(study)),
        asked=asked.verdicts,
        nodes=asked.nodes,
        unanswered=tuple(
            f"{answer.request.position.epd}: {answer.fault.message}"
            for answer in asked.failed
            if answer.fault is not None
        ),
        verdicts=len(study.verdicts),
        waiting=len(waiting),
        waiting_nodes=sum(one.nodes for _, one in waiting),
        absent=absent,
        contradicted=checked.contradicted,
        undecided=checked.undecided,
        left_open=max((study.left_open(voice) for voice in voices), default=0),
        stale=checked.stale,
        holds=checked.holds,
        not_checkable=checked.not_checkable,
        questions=len(checked.questions),
        claims=tuple(
            ClaimLine(
                path=claim.path,
                line=claim.line,
                column=claim.column,
                subject=claim.subject,
                says=claim.says,
                standing=claim.standing,
                band=claim.band,
                figures=claim.figures,
                remark=claim.remark,
                against=claim.refutation,
            )
            for claim in checked.claims
            if claim.standing in ("contradicted", "undecided", "stale")
        ),
        written=published.written,
        reach=published.reach,
        left_out=published.left_out,
        faults=tuple(str(fault) for fault in faults if fault.severity is not Severity.NOTE),
        errors=sum(fault.severity is Severity.ERROR for fault in faults),
    )


def _meetings(study: Study) -> tuple[Meeting, ...]:
    """Where most traffic comes in by another order than the heaviest."""
    from variorum.graph import map_report

    edition = study.edition
    told = map_report(
        edition.title,
        study.graph,
        study.traffic,
        {},
        roots=edition.roots,
        names=edition.names,
        sigla={},
        confluences=_MEETINGS,
        lines=0,
        orders=_ORDERS,
    )
    return tuple(
        Meeting(
            name=one.name,
            line=one.line,
            orders=one.order_count,
            flow=one.flow,
            roots=tuple(dict.fromkeys(order.root for order in one.orders if order.root is not None)),
        )
        for one in told.confluences
    )


def _audits(study: Study) -> Iterator[AuditLine]:
    """The orders into each tabiya, by each voice and for each side."""
    from variorum.insight.passage import MOST_COUNTED

    for name, audited in study.audits():
        ways, count = audited.passage.heaviest(_ORDERS)
        walked = [way for way in ways if way.edges and audited.is_walked(way)]
        for side in audited.sides:
            for voice, risks in side.risks.items():
                found = [risks.along(way.stations).low for way in walked]
                if found:
                    yield AuditLine(
                        name=name,
                        orders=None if count == MOST_COUNTED else count,
                        side=side.side.value,
                        voice=voice,
                        least=max(0.0, min(found)),
                        greatest=max(0.0, *found),
                        missing=len(audited.missing(voice, 0)),
                    )
