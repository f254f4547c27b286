"""`variorum voices add`: name a UCI program as a voice."""

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
    name: Annotated[str, typer.Argument(metavar="NAME", help="The name under which editions know it.")],
    program: Annotated[
        list[str],
        typer.Argument(metavar="PATH [ARGUMENT]...", help="The UCI program; its own arguments after `--`."),
    ],
    option: Annotated[
        list[str] | None,
        typer.Option("--option", metavar="K=V", help="A UCI option to set; may be given several times."),
    ] = None,
    siglum: Annotated[
        str,
        typer.Option(
            "--siglum", metavar="LETTERS", help="The mark by which it is cited; default: a free letter."
        ),
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Add a UCI program to your voices.

    It is started once to see that it answers and takes the options. It is kept in your own settings, never in an edition.
    """
    from variorum.base.settings import VoiceSettings
    from variorum.voices.registry import add_voice, option_of, resolved_command
    from variorum.voices.uci import UciVoice

    options = dict(option_of(text) for text in option or ())
    user = user_settings()
    settings = VoiceSettings(command=resolved_command(program), options=options)
    voice = UciVoice(name, settings)
    try:
        voice.offered()
        version = voice.version
    finally:
        voice.close()
    entry = add_voice(user, name, settings.command, options, siglum)
    show(entry, lambda entry: _as_text(entry, version), as_json=as_json)


def _as_text(entry: VoiceEntry, version: str) -> Iterable[str]:
    yield f"{entry.name} ({version or 'it tells no name'}) can be asked; its siglum is {entry.siglum or 'still to be chosen'}."
    yield f"Try it: variorum voices test {entry.name}"
