"""`variorum voices test`: does a voice answer, how fast, and does it make sense."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, user_settings
from variorum.cli.output import columns, show
from variorum.cli.progress import progress_for

if TYPE_CHECKING:
    from variorum.voices.trial import TrialReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.voices.trial import TrialReport

    return TrialReport


def command(
    name: Annotated[
        str, typer.Argument(metavar="NAME", help="A name of `variorum voices list`.")
    ] = "resident",
    seconds: Annotated[
        float, typer.Option("--seconds", min=0.05, max=60, help="Seconds for a question by time.")
    ] = 1.0,
    as_json: AsJson = False,
) -> None:
    """Try a voice: its greeting, its options, its speed, and a few answers that every analyst knows.

    The answer is no (exit code 1) when an answer makes no sense.
    """
    from variorum.voices.registry import voice_opener
    from variorum.voices.trial import try_voice

    voice = voice_opener(name, user_settings())()
    try:
        report = try_voice(voice, progress_for(as_json=as_json), seconds)
    finally:
        voice.close()
    show(report, _as_text, as_json=as_json)
    if not report.sound:
        raise typer.Exit(1)


def _as_text(report: TrialReport) -> Iterable[str]:
    yield f"{report.voice}: {report.version or 'tells no name'}"
    if report.options:
        yield "Options"
        yield from columns(
            [
                [f"  {option.name}", option.takes, f"set to {option.set_to}" if option.set_to else ""]
                for option in report.options
            ]
        )
    yield "Answers"
    yield from columns(
        [
            [f"  {'sound' if question.sound else 'NOT SOUND'}", question.asked, question.answer]
            for question in report.questions
        ]
    )
    yield f"{report.nodes_per_second:,} nodes a second." if report.nodes_per_second else "It tells no nodes."
