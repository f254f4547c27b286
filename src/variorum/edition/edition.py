"""An edition as it was opened: its settings checked, its roots and names resolved to positions.

Opening reads one file, `edition.toml`. It runs nothing and writes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import msgspec

from variorum.base import Diagnostic, InputError, Severity
from variorum.base.settings import UserSettings
from variorum.base.shape import read_shape
from variorum.base.toml import TomlText, read_toml
from variorum.board import MoveError
from variorum.edition.checks import check_settings
from variorum.edition.files import content_hash, ordinary_bytes
from variorum.edition.folder import SETTINGS, matches_rule, place_to_write, store_folder
from variorum.edition.place import Place, name_fault, parse_place, same_name
from variorum.edition.reachable import cannot_follow
from variorum.edition.settings import EditionSettings, EditionSide, SourceRule

__all__ = ["Edition", "load_edition", "read_edition", "resolve_place"]


class Edition(msgspec.Struct, frozen=True, kw_only=True):
    """An opened edition. `path` is its folder, absolute; `names` are the tabiyas, in the order of the file.

    Each root is a `Place` with its name; the graph starts from `roots`. `settings_hash` is that of `edition.toml` as it
    was read.
    """

    path: Path
    settings: EditionSettings
    roots: tuple[Place, ...]
    names: Mapping[str, Place]
    settings_hash: str

    @property
    def title(self) -> str:
        """The title."""
        return self.settings.title

    @property
    def side(self) -> EditionSide:
        """For whom moves are recommended."""
        return self.settings.side

    @property
    def places(self) -> dict[str, Place]:
        """Roots and tabiyas by name."""
        return {root.name or root.text: root for root in self.roots} | dict(self.names)

    def store_folder(self, user: UserSettings) -> Path:
        """Where its store lies: as the edition says, else as the user's settings say.

        Raises:
            InputError: A symbolic link leads out of the edition.
        """
        return store_folder(self.path, self.settings.store or user.store)

    def place_to_write(self, *parts: str) -> Path:
        """The path of a file to be written.

        Raises:
            InputError: It lies outside of the edition, by its name or through a symbolic link.
        """
        return place_to_write(self.path, *parts)

    def rule_for(self, file: Path) -> SourceRule:
        """What a source file is: the first `[[sources]]` table that means it, else games of practice."""
        inside = self.inside(file)
        if inside is not None:
            for rule in self.settings.sources:
                if matches_rule(inside, rule.path):
                    return rule
        return SourceRule(path="*")

    def inside(self, file: Path) -> Path | None:
        """A file's path relative to the edition, as its author sees it; `None` for one outside.

        A link in the edition is where it stands, wherever it leads; and the edition may itself be opened through one.
        """
        path, folder = file.absolute(), self.path
        if ".." in path.parts or not path.is_relative_to(folder):
            path, folder = file.resolve(), folder.resolve()
        return path.relative_to(folder) if path.is_relative_to(folder) else None


def load_edition(path: Path) -> tuple[Edition | None, list[Diagnostic]]:
    """Open the edition in a folder (or of an `edition.toml`): what could be read of it, and what is wrong, by line.

    `None` stands for an edition of which nothing can be used: the file is no TOML, title or side are missing, or no
    root is legal.

    Raises:
        InputError: There is no `edition.toml`.
        OSError: It cannot be read.
    """
    file = path if path.name == SETTINGS else path / SETTINGS
    try:
        source = ordinary_bytes(file)
    except (FileNotFoundError, NotADirectoryError):
        raise InputError(
            "there is no such edition",
            path=file,
            remedy="name the folder that holds edition.toml, or make one with `variorum new`",
        ) from None
    return read_edition(file, source)


def read_edition(file: Path, source: bytes) -> tuple[Edition | None, list[Diagnostic]]:
    """As `load_edition`, of the content `source` that `file` has or is to have."""
    toml, faults = read_toml(file, source)
    if toml is None:
        return None, faults
    settings, shape_faults = read_shape(toml, EditionSettings, subject="an edition")
    if settings is None:
        return None, _by_place(faults + shape_faults)
    reader = _PlaceReader(toml)
    roots = reader.read("roots", settings.roots)
    names = reader.read("names", settings.names)
    reader.check_reach(roots, names)
    settings, setting_faults = check_settings(settings, toml, reader.known)
    found = _by_place(faults + shape_faults + reader.faults + setting_faults)
    if not roots:
        return None, found
    edition = Edition(
        path=file.parent.absolute(),
        settings=settings,
        roots=tuple(roots.values()),
        names=names,
        settings_hash=content_hash(source),
    )
    return edition, found


def _by_place(faults: list[Diagnostic]) -> list[Diagnostic]:
    return sorted(faults, key=lambda fault: (fault.line or 0, fault.column or 0))


def resolve_place(edition: Edition, text: str) -> Place:
    """The place that a text says in this edition: a name, a typed line (also after a name), or a FEN.

    Raises:
        MoveError: With the ply among the typed moves, and the reason.
        FenError: The FEN cannot be used.
        InputError: It is none of these; the remedy suggests a name.
    """
    return parse_place(text, edition.places)


class _PlaceReader:
    """Resolves names in the order of the file: a line may go on from any name before it."""

    def __init__(self, toml: TomlText) -> None:
        self.toml = toml
        self.known: dict[str, Place] = {}
        self.faults: list[Diagnostic] = []

    def read(self, table: str, texts: Mapping[str, str]) -> dict[str, Place]:
        found: dict[str, Place] = {}
        for name, text in texts.items():
            place = self._place(table, name, text)
            if place is not None:
                self._compare(table, name, place, found)
                self.known[name] = found[name] = place
        if table == "roots" and not found:
            hint = None if texts else 'for instance: main = "1.e4 c6 2.d4 d5"'
            self.faults.append(
                self.toml.fault("no-root", "[roots] has no usable position", ("roots",), of="key", hint=hint)
            )
        return found

    def _place(self, table: str, name: str, text: str) -> Place | None:
        fault = name_fault(name)
        if fault:
            self._fault("bad-name", f"the name {name!r} {fault}", (table, name), of="key")
            return None
        twin = next((other for other in self.known if same_name(other) == same_name(name)), None)
        if twin is not None:
            what = (
                f"the name {name!r} is given twice"
                if twin == name
                else f"the name {name!r} is {twin!r} again"
            )
            self._fault("duplicate-name", what, (table, name), of="key")
            return None
        try:
            place = parse_place(text, self.known)
        except InputError as error:
            ply = error.ply if isinstance(error, MoveError) else None
            at = f"at ply {ply}, " if ply else ""
            message = f"{name!r} is no place: {at}{error.message}"
            self.faults.append(
                self.toml.fault("bad-place", message, (table, name), hint=error.remedy, ply=ply)
            )
            return None
        return msgspec.structs.replace(place, text=text, name=name)

    def _compare(self, table: str, name: str, place: Place, others: Mapping[str, Place]) -> None:
        twin = next((key for key, other in others.items() if other.position == place.position), None)
        if twin is not None:
            message = f"{name!r} is the same position as {twin!r}"
            self.faults.append(
                self.toml.fault("same-place", message, (table, name), of="key", severity=Severity.WARNING)
            )

    def check_reach(self, roots: Mapping[str, Place], names: Mapping[str, Place]) -> None:
        for name, place in names.items():
            reasons = [cannot_follow(root.position, place.position) for root in roots.values()]
            if reasons and all(reasons):
                message = f"no root can lead to {name!r}: {reasons[0]}"
                self.faults.append(
                    self.toml.fault("out-of-reach", message, ("names", name), severity=Severity.WARNING)
                )

    def _fault(self, code: str, message: str, key_path: tuple[str, ...], *, of: str) -> None:
        self.faults.append(self.toml.fault(code, message, key_path, of=of))
