"""`variorum voices remove`: forget a UCI program."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, user_settings
from variorum.cli.output import show

if TYPE_CHECKING:
    from variorum.voices.registry import VoiceEntry


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.voices.registry import VoiceEntry

    return VoiceEntry


def command(
    name: Annotated[str, typer.Argument(metavar="NAME", help="A name of `variorum voices list`.")],
    as_json: AsJson = False,
) -> None:
    """Take a UCI program out of your voices. What it has said stays in the editions."""
    from variorum.voices.registry import remove_voice

    show(remove_voice(user_settings(), name), _as_text, as_json=as_json)


def _as_text(entry: VoiceEntry) -> Iterable[str]:
    yield f"{entry.name} is no longer asked; its verdicts stay where they are."
