"""An edition opened for looking things up: its texts, verdicts, games and graph, each read when it is first asked for."""

from __future__ import annotations

from contextlib import ExitStack
from functools import cached_property
from typing import Self

from variorum.base import Diagnostic, InputError, Progress
from variorum.base.settings import UserSettings
from variorum.board import Verdict
from variorum.build.evidence import EditionEvidence
from variorum.build.games import open_games
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
    edition_graph,
    lay_traffic,
    off_roots,
)
from variorum.store import Store
from variorum.voices.sigla import sigla_of
from variorum.voices.verdicts import Verdicts, read_edition_verdicts

__all__ = ["OpenEdition"]


class OpenEdition:
    """What is known of an edition, as it was when each part was first asked for. Use it as a context manager.

    Each part raises `InputError` where a file cannot be read, those that need games `StoreError` where the store is damaged
    and `Interrupted` where the user stopped.
    """

    def __init__(self, edition: Edition, user: UserSettings, *, progress: Progress | None = None) -> None:
        self.edition = edition
        self.user = user
        self._progress = progress
        self._stack = ExitStack()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the store; what was read stays."""
        self._stack.close()

    @cached_property
    def manuscript(self) -> Manuscript | None:
        """The author's long text, `None` where there is none."""
        file = self.edition.path / MANUSCRIPT
        return read_manuscript(file) if file.is_file() else None

    @cached_property
    def _digest(self) -> tuple[Digest | None, list[Diagnostic]]:
        file = self.edition.path / DIGEST
        return read_digest(file) if file.is_file() else (None, [])

    @property
    def digest(self) -> Digest | None:
        """The author's short text, `None` where there is none."""
        return self._digest[0]

    @cached_property
    def _verdicts(self) -> tuple[Verdicts, list[Diagnostic]]:
        return read_edition_verdicts(self.edition.path / VERDICTS)

    @property
    def verdicts(self) -> Verdicts:
        """Everything that voices said."""
        return self._verdicts[0]

    @cached_property
    def said(self) -> tuple[Verdict, ...]:
        """The verdicts that count: of each voice the deepest on each position."""
        return self.verdicts.all()

    @cached_property
    def store(self) -> Store | None:
        """The games, `None` where nothing was sifted yet."""
        return open_games(self.edition, self.user, self._stack)

    @cached_property
    def graph(self) -> Graph:
        """All positions and moves between them."""
        return edition_graph(
            self.edition,
            manuscript=self.manuscript,
            store=self.store,
            verdicts=self.said,
            progress=self._progress,
        )

    @cached_property
    def traffic(self) -> Traffic:
        """How the traffic divides."""
        return lay_traffic(self.graph)

    @cached_property
    def values(self) -> dict[str, VoiceValues]:
        """The values of every voice, backed up."""
        return back_up_values(self.graph, self.said)

    @cached_property
    def sigla(self) -> dict[str, str]:
        """The mark of each voice."""
        return sigla_of(self.edition, self.verdicts.voices, self.user)

    @cached_property
    def tell(self) -> Teller:
        """Looks up what is printed of a position of the graph."""
        edition = self.edition
        return Teller(
            self.graph,
            self.traffic,
            self.values,
            self.sigla,
            edition.roots,
            edition.names,
            edition.settings.bands,
        )

    @cached_property
    def evidence(self) -> EditionEvidence:
        """Looks up what the texts cite."""
        return EditionEvidence(self)

    @cached_property
    def ways(self) -> Ways:
        """Positions in words."""
        return Ways(self.edition, self.graph, self.traffic)

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
        return list(self._verdicts[1])

    @cached_property
    def diagnostics(self) -> list[Diagnostic]:
        """What is wrong with verdicts and manuscript."""
        found = self.verdict_diagnostics
        if self.manuscript is not None:
            found += [*self.manuscript.diagnostics, *off_roots(self.manuscript, self.edition)]
        return found

    @property
    def digest_diagnostics(self) -> list[Diagnostic]:
        """What is wrong with the digest as a text."""
        return list(self._digest[1])
