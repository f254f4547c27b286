"""The games of an edition, for reading."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from variorum.base.settings import UserSettings
from variorum.edition import Edition
from variorum.graph.inputs import STORE_FILE
from variorum.store import Store, open_store

__all__ = ["open_games"]


def open_games(edition: Edition, user: UserSettings, stack: ExitStack) -> Store | None:
    """The edition's store for reading, `None` where nothing was sifted yet."""
    folder: Path = edition.store_folder(user)
    return stack.enter_context(open_store(folder)) if (folder / STORE_FILE).is_file() else None
