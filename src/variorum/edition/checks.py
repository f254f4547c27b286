"""What the settings of an edition must be together, beyond the type of each: sigla, mentions of names, sources."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePosixPath, PureWindowsPath

import msgspec

from variorum.base import Diagnostic, InputError, Severity
from variorum.base.shape import nearest
from variorum.base.toml import TomlText
from variorum.edition.place import Place, same_name
from variorum.edition.score_comments import ScorePattern
from variorum.edition.settings import SCORE_COMMENT, EditionSettings, SourceRule

__all__ = ["check_settings"]


def check_settings(
    settings: EditionSettings, toml: TomlText, places: Mapping[str, Place]
) -> tuple[EditionSettings, list[Diagnostic]]:
    """The settings without what cannot be used, and a diagnostic for each fault."""
    faults: list[Diagnostic] = []
    sigla = _check_sigla(settings.sigla, toml, faults)
    _check_private_names(settings, toml, places, faults)
    rules = tuple(
        checked
        for number, rule in enumerate(settings.sources)
        if (checked := _check_rule(rule, number, toml, faults)) is not None
    )
    return msgspec.structs.replace(settings, sigla=sigla, sources=rules), faults


def _check_sigla(sigla: Mapping[str, str], toml: TomlText, faults: list[Diagnostic]) -> dict[str, str]:
    good: dict[str, str] = {}
    for voice, siglum in sigla.items():
        twin = next((other for other, mark in good.items() if mark == siglum), None)
        if not (1 <= len(siglum) <= 2 and siglum.isalpha()):
            faults.append(
                toml.fault(
                    "bad-siglum", f"the siglum of {voice!r} must be one or two letters", ("sigla", voice)
                )
            )
        elif twin is not None:
            message = f"{siglum!r} is the siglum of {twin!r} and of {voice!r}"
            faults.append(toml.fault("duplicate-siglum", message, ("sigla", voice)))
        else:
            good[voice] = siglum
    return good


def _check_private_names(
    settings: EditionSettings, toml: TomlText, places: Mapping[str, Place], faults: list[Diagnostic]
) -> None:
    written = (*settings.roots, *settings.names)  # a faulty place is diagnosed as such, not as unknown
    known = {same_name(name) for name in (*places, *written)}
    for number, name in enumerate(settings.private.names):
        if same_name(name) not in known:
            guess = nearest(name, written)
            faults.append(
                toml.fault(
                    "unknown-name",
                    f"no place of this edition is called {name!r}",
                    ("private", "names", number),
                    hint=f"did you mean {guess!r}?" if guess else None,
                )
            )


def _check_rule(rule: SourceRule, number: int, toml: TomlText, faults: list[Diagnostic]) -> SourceRule | None:
    here = ("sources", number)
    fault = _path_fault(rule.path)
    if fault:
        faults.append(toml.fault("bad-path", f"the path {rule.path!r} {fault}", (*here, "path")))
        return None
    if rule.kind in ("engine", "analysis") and not rule.voice.strip():
        message = f"games of kind {rule.kind!r} need a voice: who speaks in them"
        faults.append(toml.fault("missing-voice", message, here, severity=Severity.ERROR))
    try:
        ScorePattern.compile(rule.score_comment)
    except InputError as error:
        faults.append(toml.fault("bad-pattern", f"the pattern {error.message}", (*here, "score_comment")))
        return msgspec.structs.replace(rule, score_comment=SCORE_COMMENT)
    return rule


def _path_fault(path: str) -> str | None:
    """Why a path is not one under the edition's folder on every system, `None` if it is."""
    if "\\" in path:
        return "holds '\\'; write '/' on every system"
    if PurePosixPath(path).is_absolute() or PureWindowsPath(path).drive:
        return "is not relative to the edition's folder"
    if ".." in PurePosixPath(path).parts:
        return "leads out of the edition's folder"
    return None
