"""`variorum hinges`: what a move depends on, asked of one voice; each verdict is kept, so a study goes on where it stopped."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import msgspec

from variorum.base import Diagnostic, InputError, Progress
from variorum.base.settings import UserSettings
from variorum.board import Move, Position, Request, Verdict
from variorum.build.games import open_games
from variorum.build.kept import OpenVoice, ask_and_keep, bare
from variorum.build.kept_graph import kept_graph
from variorum.build.purse import Purse
from variorum.edition import Edition, Place, read_manuscript
from variorum.edition.folder import MANUSCRIPT, VERDICTS
from variorum.insight.changes import near_placements
from variorum.insight.hinges import Hinge, HingeReport, HingeStudy, Question
from variorum.voices.registry import workers_for
from variorum.voices.resident import RESIDENT
from variorum.voices.verdict_files import read_verdicts, verdict_path
from variorum.voices.verdicts import read_edition_verdicts
from variorum.voices.voice import Budget

__all__ = ["HINGE_VERDICTS", "HingeAsking", "find_hinges", "hinge_voices", "kept_answers", "kept_hinges"]

HINGE_VERDICTS = "hinges"
"""The folder in `verdicts/` for verdicts on changed positions.

They are on no line of the edition, so they lie apart from the verdicts that the graph is grown with.
"""


class HingeAsking(msgspec.Struct, frozen=True, kw_only=True):
    """Whom to ask: nodes for each verdict, the voice, what opens it, the whole budget, how many at a time."""

    nodes: int
    open_voice: OpenVoice
    voice: str = RESIDENT
    budget: Budget = Budget()
    workers: int | None = None


def find_hinges(
    edition: Edition,
    user: UserSettings,
    place: Place,
    move: Move,
    asking: HingeAsking,
    progress: Progress,
) -> tuple[HingeReport, list[Diagnostic]]:
    """Find what a move depends on, asking what is not known yet.

    Raises:
        MoveError: The move is not legal there.
        InputError: A file cannot be read or written, or the voice answers nothing.
        StoreError: The store is damaged.
        Interrupted: The user stopped; the same call goes on from there.
    """
    near, diagnostics = _near(edition, user, place.position, progress)
    study = HingeStudy(bare(place.position), move, asking.voice, asking.nodes, near)
    file = verdict_path(edition.path / VERDICTS / HINGE_VERDICTS, asking.voice)
    version = _version(asking)
    answers, faults = kept_answers(file, asking.voice, version, asking.nodes)
    unanswered: set[Question] = set()
    told = ""
    purse = Purse(asking.budget)
    while (wanted := study.wanted(answers, frozenset(unanswered))) and (budget := purse.left()) is not None:
        by_request = {_key(study.request(one)): one for one in wanted}

        found = ask_and_keep(
            edition,
            [study.request(one) for one in wanted],
            asking.open_voice,
            workers=asking.workers or workers_for(user),
            budget=budget,
            kept=lambda verdict: None,
            folder=(VERDICTS, HINGE_VERDICTS),
            progress=progress,
        )
        purse.pay(answer.request for answer in found)
        for answer in found:
            question = by_request[_key(answer.request)]
            if answer.verdict is not None and answer.verdict.lines:
                answers[question] = answer.verdict
            else:
                unanswered.add(question)
                told = told or (answer.fault.message if answer.fault is not None else "")
        if len(found) < len(wanted):
            break  # the budget is spent
    if not answers and unanswered:
        raise InputError(
            f"{asking.voice} answered nothing: {told}", remedy=f"variorum voices test {asking.voice}"
        )
    report = study.report(
        answers, edition=edition.title, standing=_standing(place), unanswered=frozenset(unanswered)
    )
    return report, diagnostics + faults


def kept_answers(
    file: Path, voice: str, version: str | None, nodes: int
) -> tuple[dict[Question, Verdict], list[Diagnostic]]:
    """The verdicts of a hinge file that a study at this effort may use, by question.

    Only those asked under the same limit count: two values of different effort would not be compared. Of several versions of
    the voice the given one counts; with `None` the one that spoke last.

    Raises:
        InputError: The file cannot be read.
    """
    if not file.is_file():
        return {}, []
    found = read_verdicts(file)
    fitting = [one for one in found.verdicts if one.voice == voice and one.asked == nodes]
    if fitting and version is None:
        version = fitting[-1].version
    answers = {
        Question(Position.from_fen(one.epd), one.multipv): one for one in fitting if one.version == version
    }
    return answers, found.diagnostics


def hinge_voices(edition: Edition) -> tuple[str, ...]:
    """The voices whose verdicts on changed positions are kept.

    Raises:
        InputError: A file cannot be read.
    """
    files = sorted((edition.path / VERDICTS / HINGE_VERDICTS).glob("*.epd"))
    return tuple({one.voice: None for file in files for one in read_verdicts(file).verdicts})


def kept_hinges(
    edition: Edition,
    position: Position,
    move: Move,
    voice: str,
    near: frozenset[tuple[str, str, str]] = frozenset(),
) -> tuple[Hinge, ...]:
    """The hinges of a move that a voice's kept verdicts show, by the study of greatest effort that found any.

    Args:
        edition: Whose verdicts.
        position: Where the move is played.
        move: The move.
        voice: Whose verdicts count.
        near: Unit, from and to, as near positions of the graph have it.

    Raises:
        MoveError: The move is not legal there.
        InputError: The file cannot be read.
    """
    file = verdict_path(edition.path / VERDICTS / HINGE_VERDICTS, voice)
    if not file.is_file():
        return ()
    efforts = sorted({one.asked for one in read_verdicts(file).verdicts}, reverse=True)
    for nodes in efforts:
        answers, _ = kept_answers(file, voice, None, nodes)
        hinges = HingeStudy(position, move, voice, nodes, near).report(answers).hinges
        if hinges:
            return hinges
    return ()


def _key(request: Request) -> tuple[Position, int]:
    return request.position, request.multipv


def _version(asking: HingeAsking) -> str:
    voice = asking.open_voice()
    try:
        return voice.version
    finally:
        voice.close()


def _standing(place: Place) -> Position:
    """The position of a place with the move number of its line."""
    return place.line.end if place.line is not None else place.position


def _near(
    edition: Edition, user: UserSettings, position: Position, progress: Progress
) -> tuple[frozenset[tuple[str, str, str]], list[Diagnostic]]:
    """Where near positions of the graph have a unit, and what is wrong in the author's files."""
    file = edition.path / MANUSCRIPT
    manuscript = read_manuscript(file) if file.is_file() else None
    diagnostics = list(manuscript.diagnostics) if manuscript is not None else []
    with ExitStack() as stack:
        store = open_games(edition, user, stack)
        verdicts, faults = read_edition_verdicts(edition.path / VERDICTS)
        graph = kept_graph(
            edition, manuscript=manuscript, store=store, verdicts=verdicts.all(), progress=progress
        )
    return frozenset(near_placements(graph, position)), diagnostics + faults
