"""A graph that took long to grow, kept in the user's cache under a hash of what it was grown from."""

from __future__ import annotations

import hashlib
import io
import time
from collections.abc import Collection, Sequence
from typing import Any, Final

import msgspec
import numpy as np

from variorum import __version__
from variorum.base import Progress
from variorum.base.derived import Derived
from variorum.base.settings import cache_folder
from variorum.board import Position, Verdict
from variorum.edition import Edition, Manuscript
from variorum.graph import Channel, Counts, Graph, edition_graph
from variorum.store import Store

__all__ = ["is_kept", "kept_graph"]

_FORM: Final = 1
"""Of what is kept; another one is not read."""
_WORTH_KEEPING: Final = 0.5
"""Seconds."""
_ON_DISK: Final = 256 << 20
_COLUMNS: Final = (
    "keys",
    "packed",
    "why",
    "legal",
    "white",
    "outcome",
    "offsets",
    "targets",
    "moves",
    "roots",
    "elsewhere",
    "off_moves",
)
_COUNTS: Final = ("node_counts", "edge_counts", "off_counts")


class _Rest(msgspec.Struct, frozen=True):
    channels: tuple[Channel, ...]
    min_games: int
    unreached: tuple[int, int]


def kept_graph(
    edition: Edition,
    *,
    manuscript: Manuscript | None,
    store: Store | None,
    verdicts: Sequence[Verdict],
    more: Collection[Position] = (),
    progress: Progress | None = None,
) -> Graph:
    """The graph of an edition, grown where none is kept that was grown from the same (`graph.edition_graph`).

    Raises:
        StoreError: The store is damaged.
        Interrupted: The user stopped.
    """
    key = _key(edition, manuscript, store, verdicts, more)
    kept = _kept()
    if (data := kept.get(key)) is not None and (known := _graph_of(data)) is not None:
        return known
    began = time.monotonic()
    graph = edition_graph(
        edition, manuscript=manuscript, store=store, verdicts=verdicts, more=more, progress=progress
    )
    if time.monotonic() - began > _WORTH_KEEPING:
        kept.put(key, _bytes_of(graph))
    return graph


def is_kept(
    edition: Edition, *, manuscript: Manuscript | None, store: Store | None, verdicts: Sequence[Verdict]
) -> bool:
    """Whether the graph of an edition need not be grown."""
    return _kept().has(_key(edition, manuscript, store, verdicts, ()))


def _kept() -> Derived:
    # Not beside the store: an edition may come from somebody else, and this is believed as it is.
    return Derived(cache_folder() / "graphs", most=_ON_DISK)


def _key(
    edition: Edition,
    manuscript: Manuscript | None,
    store: Store | None,
    verdicts: Sequence[Verdict],
    more: Collection[Position],
) -> str:
    places = [
        (place.position.fen, None if place.line is None else (place.line.start.fen, place.line.san()))
        for place in (*edition.roots, *edition.names.values())
    ]
    sifts = (
        []
        if store is None
        else [(one.id, one.cache_key, one.kind, one.voice, one.kept) for one in store.sources()]
    )
    made_from = (
        _FORM,
        __version__,
        places,
        None if manuscript is None else manuscript.content_hash,
        None if store is None else (store.generation, sifts),
        sorted({*(verdict.epd for verdict in verdicts), *(position.epd for position in more)}),
    )
    return hashlib.sha256(repr(made_from).encode()).hexdigest()


def _bytes_of(graph: Graph) -> bytes:
    columns = {name: getattr(graph, name) for name in _COLUMNS}
    for name in _COUNTS:
        counts: Counts = getattr(graph, name)
        columns |= {
            f"{name} places": counts.places,
            f"{name} channels": counts.channels,
            f"{name} games": counts.games,
        }
    rest = _Rest(graph.channels, graph.min_games, graph.unreached)
    columns["rest"] = np.frombuffer(msgspec.json.encode(rest), np.uint8)
    written = io.BytesIO()
    np.savez(written, **columns)
    return written.getvalue()


def _graph_of(data: bytes) -> Graph | None:
    """The graph that was kept, `None` where the file is damaged."""
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as found:
            rest = msgspec.json.decode(found["rest"].tobytes(), type=_Rest)
            counts: dict[str, Any] = {
                name: Counts(found[f"{name} places"], found[f"{name} channels"], found[f"{name} games"])
                for name in _COUNTS
            }
            columns: dict[str, Any] = {name: found[name] for name in _COLUMNS}
            return Graph(
                **columns,
                **counts,
                channels=rest.channels,
                min_games=rest.min_games,
                unreached=rest.unreached,
            )
    except (ValueError, KeyError, OSError, EOFError, msgspec.DecodeError):
        return None
