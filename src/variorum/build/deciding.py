"""`variorum check --decide`: voices are asked what open claims wait for, the cheapest evidence first."""

from __future__ import annotations

import datetime
import time
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from itertools import zip_longest

from variorum.base import Progress
from variorum.base.settings import UserSettings
from variorum.build.asking import Asked, Study, ask_rounds
from variorum.build.games import open_games
from variorum.build.kept import OpenVoice
from variorum.build.limits import Limits
from variorum.build.whom import edition_voices
from variorum.claims.check import CheckedClaim
from variorum.edition import Edition
from variorum.scout.plan import Inquiry
from variorum.voices.registry import workers_for

__all__ = ["decide_claims"]


def decide_claims(
    edition: Edition,
    user: UserSettings,
    limits: Limits,
    progress: Progress,
    *,
    voices: Mapping[str, OpenVoice] | None = None,
    meant: Callable[[CheckedClaim], bool] = lambda claim: True,
) -> Asked:
    """Ask about claims without enough evidence and stale ones until each is decided, or asked as deep as a build asks.

    Args:
        edition: The edition.
        user: The user's own settings.
        limits: What may be spent; where nothing is given, what the edition gives a build.
        progress: Where to report.
        voices: Whom to ask; by default the voices that the edition names, as far as this user has them.
        meant: Which claims; by default all.

    Raises:
        Interrupted: The user stopped; the verdicts that came are kept.
        InputError: A file cannot be read, or verdicts not be written.
        StoreError: The store is damaged.
    """
    deadline = None if limits.minutes is None else time.monotonic() + 60 * limits.minutes
    nodes = limits.total_nodes
    if deadline is None and nodes is None:
        nodes = edition.settings.budget.total_nodes
    there = edition_voices(edition, user)[0] if voices is None else voices
    with ExitStack() as stack:
        store = open_games(edition, user, stack)
        study = Study(edition, user, store, datetime.datetime.now(datetime.UTC).date(), progress)

        def rounds() -> list[tuple[str, Inquiry]]:
            each = [[(voice, one) for one in study.open_claims(voice, meant)] for voice in there]
            found = [one for rank in zip_longest(*each) for one in rank if one is not None]
            return sorted(found, key=lambda one: one[1].nodes)

        return ask_rounds(
            study,
            there,
            total_nodes=nodes,
            deadline=deadline,
            workers=workers_for(user),
            progress=progress,
            rounds=rounds,
        )
