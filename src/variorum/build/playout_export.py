"""Playouts out of an edition, as one PGN file."""

from __future__ import annotations

from pathlib import Path

import msgspec

from variorum.base import InputError, Progress
from variorum.base.settings import UserSettings
from variorum.edition import Edition, resolve_place
from variorum.edition.files import atomic_write, hash_on_disk
from variorum.sources import sift_playouts
from variorum.store import PLAYOUT, Filter, Mode, open_store
from variorum.voices.playout_files import kept_playout

__all__ = ["PlayoutExport", "export_playouts"]


class PlayoutExport(msgspec.Struct, frozen=True, kw_only=True):
    """Where playouts were written, how many, from how many positions, and who plays in them."""

    path: str
    games: int
    positions: int
    voices: tuple[str, ...]


def export_playouts(
    edition: Edition, user: UserSettings, target: Path, progress: Progress, *, voice: str = "", at: str = ""
) -> PlayoutExport:
    """Write the playouts of an edition into one file, in the order in which they were played.

    Args:
        edition: The edition.
        user: The user's settings.
        target: The file; what was there is replaced.
        progress: Where to report.
        voice: Who plays in them; anybody where it is empty.
        at: From where; from everywhere where it is empty.

    Raises:
        InputError: There is no such place or no such game, or a file cannot be read or written.
    """
    start = resolve_place(edition, at).position if at else None
    texts: list[str] = []
    starts, voices = set(), set()
    with open_store(edition.store_folder(user), mode=Mode.WRITE) as store:
        sift_playouts(edition, store, progress)
        wanted = Filter(kinds=frozenset({PLAYOUT}), voice=voice)
        for _, rows, columns in store.games_by_source(wanted):
            for game in store.games((rows + columns.first).tolist()):
                kept = kept_playout(game)
                if kept is None or (start is not None and kept.playout.plan.start != start):
                    continue
                texts.append(game.text.strip() + "\n")
                starts.add(kept.playout.plan.start)
                voices |= {game.white, game.black}
    if not texts:
        raise InputError(
            "there are no such playouts", remedy="play some first: variorum playout PLACE --games 10"
        )
    atomic_write(target, "\n".join(texts).encode(), expected_hash=hash_on_disk(target))
    return PlayoutExport(
        path=str(target), games=len(texts), positions=len(starts), voices=tuple(sorted(voices))
    )
