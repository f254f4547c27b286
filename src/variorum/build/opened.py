"""An edition opened for looking things up: its texts, verdicts, games and graph, each read when it is first asked for."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from variorum.base import Diagnostic, InputError, Progress
from variorum.base.settings import UserSettings
from variorum.board import Verdict
from variorum.build.evidence import EditionEvidence
from variorum.build.games import open_games
from variorum.build.kept_graph import is_kept, kept_graph
from variorum.build.kept_verdicts import kept_verdicts
from variorum.build.mentions import Mention, mentions_of
from variorum.build.ways import Ways
from variorum.edition import Edition, Manuscript, Place, read_manuscript
from variorum.edition.digest import Digest
from variorum.edition.digest_reader import read_digest
from variorum.edition.folder import DIGEST, MANUSCRIPT, VERDICTS
from variorum.graph import (
    Graph,
    Teller,
    Traffic,
    VoiceValues,
    back_up_values,
    lay_traffic,
    off_roots,
)
from variorum.graph.inputs import STORE_FILE
from variorum.insight.structures import structure_codes
from variorum.store import Store
from variorum.voices.sigla import sigla_of
from variorum.voices.verdict_files import VerdictFile
from variorum.voices.verdicts import Verdicts

__all__ = ["FileStamp", "OpenEdition", "Pool", "stamp_of"]

T = TypeVar("T")
FileStamp = tuple[str, int, int]
"""Name, size and time of change (ns)."""


def stamp_of(path: Path) -> FileStamp | None:
    """What tells whether a file changed, `None` where there is none."""
    try:
        state = path.stat()
    except OSError:
        return None
    return path.name, state.st_size, state.st_mtime_ns


Pool = dict[str, tuple[object, Any]]
"""Parts by name: what each was made from, and the part."""


class OpenEdition:
    """What is known of an edition, as it was when each part was first asked for. Use it as a context manager; threads may share it.

    Each part raises `InputError` where a file cannot be read, those that need games `StoreError` where the store is damaged
    and `Interrupted` where the user stopped. What others put into the same `pool` is taken over where it is made from the same.
    """

    def __init__(
        self,
        edition: Edition,
        user: UserSettings,
        *,
        progress: Progress | None = None,
        pool: Pool | None = None,
    ) -> None:
        self.edition = edition
        self.user = user
        self._progress = progress
        self._stack = ExitStack()
        self._locks: dict[str, threading.RLock] = {}
        self._parts: Pool = {}
        self._pool: Pool = {} if pool is None else pool

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the store; what was read stays."""
        self._stack.close()

    def renewed(
        self, edition: Edition, user: UserSettings, *, progress: Progress | None = None
    ) -> OpenEdition:
        """The edition as it is now. Whatever is made from the same as here is taken over, and the store as it is now.

        This one can be read on by who has it; the new one lets go of the store for both.
        """
        fresh = OpenEdition(edition, user, progress=progress, pool=self._pool)
        fresh._stack = self._stack.pop_all()
        store = self._parts.get("store")
        if store is not None and store[1] is not None and store[0] == _store_file(edition, user):
            store[1].refresh()
            fresh._parts["store"] = store
        return fresh

    def _part(self, name: str, made_from: Callable[[], object], make: Callable[[Any], T]) -> T:
        """A part, made once. `make` gets one that was made of another state of the files, or `None`.

        `made_from` are values, or objects that are equal to nothing but themselves.
        """
        if (known := self._parts.get(name)) is None:
            with self._locks.setdefault(name, threading.RLock()):
                if (known := self._parts.get(name)) is None:
                    now, before = made_from(), self._pool.get(name)
                    if before is None or before[0] != now:
                        before = (now, make(None if before is None else before[1]))
                    known = self._parts[name] = self._pool[name] = before
        return known[1]

    def _own(self, name: str, make: Callable[[], T]) -> T:
        """A part, made once, that no other edition takes over."""
        with self._locks.setdefault(name, threading.RLock()):
            if name not in self._parts:
                self._parts[name] = (None, make())
        return self._parts[name][1]  # type: ignore[no-any-return]

    @property
    def manuscript(self) -> Manuscript | None:
        """The author's long text, `None` where there is none."""
        file = self.edition.path / MANUSCRIPT
        return self._part(
            "manuscript",
            lambda: stamp_of(file),
            lambda before: read_manuscript(file) if file.is_file() else None,
        )

    @property
    def _digest(self) -> tuple[Digest | None, list[Diagnostic]]:
        file = self.edition.path / DIGEST
        return self._part(
            "digest",
            lambda: stamp_of(file),
            lambda before: read_digest(file) if file.is_file() else (None, []),
        )

    @property
    def digest(self) -> Digest | None:
        """The author's short text, `None` where there is none."""
        return self._digest[0]

    @property
    def mentions(self) -> Mapping[int, tuple[Mention, ...]]:
        """Where the digest is about a position, by the position's key."""
        digest = self.digest
        return self._part(
            "mentions",
            lambda: (digest, self.edition),
            lambda before: {} if digest is None else mentions_of(digest, self.edition),
        )

    @property
    def _verdict_files(self) -> dict[Path, VerdictFile]:
        files = sorted((self.edition.path / VERDICTS).glob("*.epd"))

        def read(before: dict[Path, VerdictFile] | None) -> dict[Path, VerdictFile]:
            return {file: kept_verdicts(file, (before or {}).get(file)) for file in files}

        return self._part("verdict files", lambda: tuple(map(stamp_of, files)), read)

    @property
    def verdicts(self) -> Verdicts:
        """Everything that voices said."""
        files = self._verdict_files
        read = {file: found.verdicts for file, found in files.items()}

        def made(before: tuple[Verdicts, dict[Path, list[Verdict]]] | None) -> tuple[Verdicts, object]:
            if before is not None:
                known, then = before
                grew = all(read.get(file, [])[: len(some)] == some for file, some in then.items())
                if grew:
                    ends = (some[len(then.get(file, ())) :] for file, some in read.items())
                    return known.with_more(itertools.chain.from_iterable(ends)), read
            return Verdicts(itertools.chain.from_iterable(read.values())), read

        return self._part("verdicts", lambda: tuple(files.values()), made)[0]

    @property
    def said(self) -> tuple[Verdict, ...]:
        """The verdicts that count: of each voice the deepest on each position."""
        verdicts = self.verdicts
        return self._part("said", lambda: verdicts, lambda before: verdicts.all())

    @property
    def store(self) -> Store | None:
        """The games, `None` where nothing was sifted yet."""
        with self._locks.setdefault("store", threading.RLock()):
            if "store" not in self._parts:  # of its own: who shares the rest may close another
                file = _store_file(self.edition, self.user)
                self._parts["store"] = (file, open_games(self.edition, self.user, self._stack))
        return self._parts["store"][1]  # type: ignore[no-any-return]

    @property
    def graph(self) -> Graph:
        """All positions and moves between them."""
        edition, store, manuscript, said = self.edition, self.store, self.manuscript, self.said
        return self._part(
            "graph",
            lambda: (
                [(place.position, place.line) for place in (*edition.roots, *edition.names.values())],
                manuscript,
                frozenset(verdict.epd for verdict in said),
                None if store is None else store.generation,
            ),
            lambda before: kept_graph(
                edition, manuscript=manuscript, store=store, verdicts=said, progress=self._progress
            ),
        )

    @property
    def graph_is_kept(self) -> bool:
        """Whether the graph need not be grown."""
        return is_kept(self.edition, manuscript=self.manuscript, store=self.store, verdicts=self.said)

    @property
    def structure_codes(self) -> NDArray[np.uint16]:
        """The pawn structure of each position of the graph (`insight.structures`)."""
        graph = self.graph
        return self._part("structures", lambda: graph, lambda before: structure_codes(graph.packed))

    @property
    def traffic(self) -> Traffic:
        """How the traffic divides."""
        graph = self.graph
        return self._part("traffic", lambda: graph, lambda before: lay_traffic(graph))

    @property
    def values(self) -> dict[str, VoiceValues]:
        """The values of every voice, backed up."""
        graph, said = self.graph, self.said
        return self._part("values", lambda: (graph, said), lambda before: back_up_values(graph, said))

    @property
    def sigla(self) -> dict[str, str]:
        """The mark of each voice."""
        return self._own("sigla", lambda: sigla_of(self.edition, self.verdicts.voices, self.user))

    @property
    def tell(self) -> Teller:
        """Looks up what is printed of a position of the graph."""
        edition = self.edition
        return self._own(
            "tell",
            lambda: Teller(
                self.graph,
                self.traffic,
                self.values,
                self.sigla,
                edition.roots,
                edition.names,
                edition.settings.bands,
            ),
        )

    @property
    def evidence(self) -> EditionEvidence:
        """Looks up what the texts cite."""
        return self._own("evidence", lambda: EditionEvidence(self))

    @property
    def ways(self) -> Ways:
        """Positions in words."""
        return self._own("ways", lambda: Ways(self.edition, self.graph, self.traffic))

    def node(self, place: Place) -> int:
        """The place on the graph.

        Raises:
            InputError: No line of the edition leads there.
        """
        node = self.graph.node_of(place.position)
        if node is None:
            raise InputError(
                f"no line of the edition leads to {place.name or place.text!r}: it is not on the graph",
                remedy="write it into manuscript.pgn, name it in edition.toml, or sift games that reach it",
            )
        return node

    @property
    def verdict_diagnostics(self) -> list[Diagnostic]:
        """What is wrong with the files of verdicts."""
        return [fault for file in self._verdict_files.values() for fault in file.diagnostics]

    @property
    def diagnostics(self) -> list[Diagnostic]:
        """What is wrong with verdicts and manuscript."""
        manuscript = self.manuscript

        def found() -> list[Diagnostic]:
            if manuscript is None:
                return self.verdict_diagnostics
            faults = [*manuscript.diagnostics, *off_roots(manuscript, self.edition)]
            return [*self.verdict_diagnostics, *faults]

        return list(self._own("diagnostics", found))

    @property
    def digest_diagnostics(self) -> list[Diagnostic]:
        """What is wrong with the digest as a text."""
        return list(self._digest[1])


def _store_file(edition: Edition, user: UserSettings) -> tuple[Path, int, int] | None:
    """Which store there is: one that was deleted and made again is another."""
    file = edition.store_folder(user) / STORE_FILE
    try:
        state = file.stat()
    except OSError:
        return None
    return file, state.st_dev, state.st_ino
