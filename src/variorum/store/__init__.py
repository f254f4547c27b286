"""SQLite for what changes, Parquet for bulk, the manifest between them. A cache: deleting it loses nothing but time."""

from variorum.store.batch import Batch, Reject, SkippedBytes
from variorum.store.files import Hashing
from variorum.store.games import Game, GameColumns, GameHead, Provenance
from variorum.store.intake import Sift
from variorum.store.listing import GameAt, GameList, Listing, Ranking
from variorum.store.manifest import SiftRecord
from variorum.store.occurrences import Occurrences
from variorum.store.queue import QuestionQueue, QuestionState, QueuedQuestion
from variorum.store.statistics import (
    PLAYOUT,
    PRACTICE,
    Filter,
    GamesThrough,
    MoveTally,
    Order,
    Orders,
    Pace,
    PositionGames,
    RatingBalance,
    Tally,
)
from variorum.store.steps import StepRecord
from variorum.store.store import Mode, Store, open_store

__all__ = [
    "PLAYOUT",
    "PRACTICE",
    "Batch",
    "Filter",
    "Game",
    "GameAt",
    "GameColumns",
    "GameHead",
    "GameList",
    "GamesThrough",
    "Hashing",
    "Listing",
    "Mode",
    "MoveTally",
    "Occurrences",
    "Order",
    "Orders",
    "Pace",
    "PositionGames",
    "Provenance",
    "QuestionQueue",
    "QuestionState",
    "QueuedQuestion",
    "Ranking",
    "RatingBalance",
    "Reject",
    "Sift",
    "SiftRecord",
    "SkippedBytes",
    "StepRecord",
    "Store",
    "Tally",
    "open_store",
]
