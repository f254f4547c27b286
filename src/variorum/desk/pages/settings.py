"""The page of settings: what edition.toml says of the edition, in chess words, each changed in its own line of the file."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final, Literal, TypeVar

import msgspec
from msgspec.inspect import (
    DictType,
    Field,
    FloatType,
    IntType,
    LiteralType,
    Metadata,
    NoneType,
    StrType,
    StructType,
    Type,
    UnionType,
    VarTupleType,
    type_info,
)
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.base import InputError, UsageError
from variorum.base.shape import type_in_words
from variorum.desk.moves import address
from variorum.desk.pages.frame import editions_of, frame
from variorum.desk.pages.sources import KINDS, form_of, said_of
from variorum.desk.pages.words import texts_of
from variorum.desk.render import page
from variorum.edition import Edition, EditionSettings
from variorum.edition.edit import SettingValue, change_settings
from variorum.edition.files import ChangedOutsideError
from variorum.edition.folder import SETTINGS
from variorum.edition.history import History

__all__ = ["LABELS", "change", "settings_page", "undo"]

Number = TypeVar("Number", int, float)

LABELS: Final = {
    "title": "Title",
    "side": "Moves are recommended for",
    "language": "Language of publications",
    "notation": "Units in published moves",
    "store": "Where the store lies",
    "roots": "Roots",
    "names": "Tabiyas",
    "private.comments": "A private comment begins with",
    "private.lines": "A private line is marked by",
    "private.nags": "Signs that make a move private (NAG numbers)",
    "private.names": "Names that are never printed",
    "words.questions": "A question to yourself begins with",
    "words.novelty": "A novelty is claimed by",
    "words.claims": "Words that claim something",
    "words.see": "A pointer to another line begins with",
    "sigla": "Sigla",
    "budget.total_nodes": "Nodes for one build",
    "budget.nodes_per_verdict": "Nodes for a first verdict",
    "budget.minimum_effort": "Nodes under which no claim is judged",
    "budget.lines": "Lines of a verdict",
    "budget.voices": "Whom the edition asks",
    "bands.slight": "Slightly better from",
    "bands.clear": "Clearly better from",
    "bands.winning": "Winning from",
    "thresholds.questionable": "?! concedes at least",
    "thresholds.poor": "? concedes at least",
    "thresholds.very_poor": "?? concedes at least",
    "thresholds.only_move": "Only move: the second best concedes at least",
    "thresholds.hold_from": "It holds: with it the score is at least",
    "thresholds.hold_lost": "and with the second best below",
    "thresholds.win_from": "Or it wins: with it the score is at least",
    "thresholds.win_lost": "and with the second best below",
    "thresholds.better": "“Better” is worth at least",
    "thresholds.common": "A common move: in so many percent of the games",
    "thresholds.rare": "A rare move: in less than so many percent",
    "thresholds.few_games": "Games under which there is no score",
    "thresholds.stale_days": "Days after which a verdict is stale",
}
"""What each setting is called on the page; one that is not here is called by its key."""
_SAID_HERE: Final = {
    "notation": "Small print has letters instead of figurines.",
    "store": "What was read of the games: with the edition, or in your folder for caches. It can be made again.",
    "roots": "Where the lines begin: a name, and the place that it names. At least one.",
    "names": "A name, and the place that it names.",
    "private.names": "Names of roots and tabiyas that no publication prints.",
    "words.claims": "Words that a comment begins with, and what they claim of its move or position: “the main move”, for example, may stand for “popularity most played”.",
    "sigla": "A voice, and the one or two letters by which it is cited.",
    "budget.total_nodes": "Where no other budget is given; 0 asks nobody.",
    "budget.minimum_effort": "A verdict of fewer nodes judges no claim.",
    "budget.lines": "How many first moves a voice weighs against each other.",
    "budget.voices": "The resident, and programs by the names they have on the page of voices. One that is not there is told and passed over.",
}
"""What the page says of a setting where the page of reference speaks of the file."""
_GROUPS: Final = (
    ("", "The edition"),
    ("roots", "Roots"),
    ("names", "Tabiyas"),
    ("budget", "Asking voices"),
    ("bands", "When White is better, in points of 100; Black’s side is mirrored"),
    ("thresholds", "Signs of moves, in points of 100, and what counts as evidence"),
    ("words", "What your comments mean"),
    ("private", "What is never published"),
    ("sigla", "Marks of voices"),
)
_SAID_ALREADY: Final = (
    "title",
    "side",
    "bands.",
    *(f"thresholds.{key}" for key in ("q", "p", "v", "o", "h", "w", "b", "c", "r")),
)
"""How the settings begin whose label says it all."""
_CHOICES: Final = {
    "white": "White",
    "black": "Black",
    "both": "both sides",
    "en": "English",
    "de": "German",
    "es": "Spanish",
    "fr": "French",
    "figurine": "figurines",
    "letters": "English letters",
    "local": "letters of the language",
    "edition": "in this folder",
    "cache": "in the folder for caches",
}


class Setting(msgspec.Struct, frozen=True, kw_only=True):
    """One setting on the page; `value` and `default` as they are typed, `rows` those of a table."""

    id: str
    called: str
    form: Literal["text", "number", "choice", "list", "table"]
    meaning: str
    takes: str
    value: str = ""
    default: str = ""
    is_set: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    rows: tuple[tuple[str, str], ...] = ()


class _Changes(msgspec.Struct):
    hash: str
    values: dict[str, str] = {}
    tables: dict[str, dict[str, str | None]] = {}


class _Back(msgspec.Struct):
    hash: str
    page: Literal["settings", "games"] = "settings"


def settings_page(request: Request, sent: Any) -> Response:
    """All settings of an edition with their meaning."""
    del sent
    name = request.path_params["name"]
    edition, _ = editions_of(request).settings(name)
    every = {one.id: one for one in _settings(edition.settings)}
    groups = [(title, [one for one in every.values() if _group_of(one.id) == key]) for key, title in _GROUPS]
    steps = History(edition.path / SETTINGS).done
    return page(
        "settings.html.j2",
        **frame(request, "settings", "Settings"),
        groups=groups,
        sources=[_rule(edition, number) for number in range(len(edition.settings.sources))],
        kinds=KINDS,
        act_at=address(name, "games/act"),
        hash=edition.settings_hash,
        change_at=address(name, "settings/change"),
        undo_at=address(name, "settings/undo"),
        last=steps[-1].what if steps else "",
        folder=str(edition.path / SETTINGS),
    )


def _rule(edition: Edition, number: int) -> dict[str, str]:
    """A table of `[[sources]]` on the page: its path, what it says, its form, and the question before it is taken out."""
    rule = edition.settings.sources[number]
    form = {"rule": msgspec.to_builtins(form_of(rule)), "number": number}
    confirm = {
        "question": f"Take out what is said of {rule.path}? Files stay. They are then what another table says of them, else games of practice.",
        "yes": "Take it out",
        "sent": {"act": "drop", "number": number},
    }
    encode = msgspec.json.encode
    return {
        "path": rule.path,
        "said": said_of(rule),
        "rule": encode(form).decode(),
        "confirm": encode(confirm).decode(),
    }


def _group_of(key: str) -> str:
    first, dot, _ = key.partition(".")
    return first if dot or key in ("roots", "names", "sigla") else ""


def change(request: Request, sent: Any) -> Response:
    """Write what was changed, all of it or nothing, unless somebody else changed the file meanwhile."""
    wish = _read(sent, _Changes)
    name = request.path_params["name"]
    edition, _ = editions_of(request).settings(name)
    if edition.settings_hash != wish.hash:
        raise ChangedOutsideError(
            edition.path / SETTINGS, expected_hash=wish.hash, found_hash=edition.settings_hash
        )
    every = {one.id: (one, kind) for one, kind in _typed_settings(edition.settings)}
    changes: dict[tuple[str, ...], SettingValue | None] = {}
    for key, text in wish.values.items():
        if key not in every or every[key][0].form == "table":
            raise UsageError(f"there is no setting {key!r}")
        changes[tuple(key.split("."))] = _value(*every[key], text)
    for key, rows in wish.tables.items():
        if key not in every or every[key][0].form != "table":
            raise UsageError(f"there is no table {key!r}")
        # What is taken out makes room for what is named anew.
        for entry, said in sorted(rows.items(), key=lambda row: row[1] is not None):
            if entry.strip():
                changes[(*key.split("."), entry.strip())] = None if said is None else " ".join(said.split())
    if changes:
        with texts_of(request).writing:
            change_settings(edition, changes)
    return JSONResponse({"go": address(name, "settings")})


def undo(request: Request, sent: Any) -> Response:
    """Take the last change of the settings back."""
    wish = _read(sent, _Back)
    name = request.path_params["name"]
    with texts_of(request).writing:
        edition, _ = editions_of(request).settings(name)
        if edition.settings_hash != wish.hash:
            raise ChangedOutsideError(
                edition.path / SETTINGS, expected_hash=wish.hash, found_hash=edition.settings_hash
            )
        History(edition.place_to_write(SETTINGS)).undo()
    return JSONResponse({"go": address(name, wish.page)})


def _read(sent: Any, kind: type[Any]) -> Any:
    try:
        return msgspec.convert(sent, kind)
    except msgspec.ValidationError as error:
        raise UsageError(f"the form is not complete: {error}") from None


def _settings(settings: EditionSettings) -> Iterator[Setting]:
    yield from (one for one, _ in _typed_settings(settings))


def _typed_settings(settings: EditionSettings) -> Iterator[tuple[Setting, Type]]:
    """Every setting but the tables of sources, in the order of the structs."""
    struct = type_info(EditionSettings)
    assert isinstance(struct, StructType)
    yield from _of(struct, settings, "")


def _of(struct: StructType, values: Any, prefix: str) -> Iterator[tuple[Setting, Type]]:
    for field in struct.fields:
        kind, meaning = _unwrapped(field.type)
        value = getattr(values, field.name)
        if isinstance(kind, StructType):
            yield from _of(kind, value, f"{field.encode_name}.")
        elif not (isinstance(kind, VarTupleType) and isinstance(kind.item_type, StructType)):
            yield _setting(field, kind, meaning, value, f"{prefix}{field.encode_name}"), kind


def _unwrapped(kind: Type) -> tuple[Type, str]:
    meaning = ""
    while isinstance(kind, Metadata):
        meaning = str((kind.extra_json_schema or {}).get("description", meaning))
        kind = kind.type
    if isinstance(kind, UnionType):
        kind = next(one for one in kind.types if not isinstance(one, NoneType))
    return kind, meaning


def _setting(field: Field, kind: Type, meaning: str, value: Any, key: str) -> Setting:
    default = None if field.default is msgspec.NODEFAULT else field.default
    form: Literal["text", "number", "choice", "list", "table"] = "text"
    choices: tuple[tuple[str, str], ...] = ()
    rows: tuple[tuple[str, str], ...] = ()
    match kind:
        case IntType() | FloatType():
            form = "number"
        case LiteralType():
            form = "choice"
            given = sorted(map(str, kind.values), key=list(_CHOICES).index)
            choices = tuple((one, _CHOICES[one]) for one in given)
        case VarTupleType():
            form = "list"
        case DictType():
            form, rows = "table", tuple(value.items())
    return Setting(
        id=key,
        called=LABELS.get(key, key),
        form=form,
        meaning="" if key.startswith(_SAID_ALREADY) else _SAID_HERE.get(key, meaning.replace("`", "")),
        takes=type_in_words(field.type),
        value="" if form == "table" else _typed(value),
        default="" if form == "table" else _CHOICES.get(_typed(default), _typed(default)),
        is_set=value != default,
        choices=choices,
        rows=rows,
    )


def _typed(value: Any) -> str:
    """A value as it is typed; lists one entry a line."""
    if value is None:
        return ""
    if isinstance(value, tuple):
        return "\n".join(map(str, value))
    return (
        f"{value:g}" if isinstance(value, float) else f"{value:,}" if isinstance(value, int) else str(value)
    )


def _value(setting: Setting, kind: Type, text: str) -> SettingValue | None:
    """What was typed, as the file has it; nothing typed is the default.

    Raises:
        InputError: It is no number.
    """
    text = text.strip()
    if not text:
        return None
    match kind:
        case VarTupleType():
            lines = [line.strip() for line in text.splitlines() if line.strip()]
            item, _ = _unwrapped(kind.item_type)
            return [_number(setting, one, int) for one in lines] if isinstance(item, IntType) else lines
        case IntType():
            return _number(setting, text, int)
        case FloatType():
            return _number(setting, text, float)
        case StrType() | LiteralType():
            return text
    raise UsageError(f"{setting.id} is not changed here")


def _number(setting: Setting, text: str, kind: Callable[[str], Number]) -> Number:
    try:
        return kind(text.replace(",", "").replace("_", ""))
    except ValueError:
        raise InputError(f"“{setting.called}” must be {setting.takes}, not {text!r}") from None
