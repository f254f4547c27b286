"""`variorum voices list`: whom one can ask."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import msgspec

from variorum.cli.options import AsJson, user_settings
from variorum.cli.output import columns, show

if TYPE_CHECKING:
    from variorum.voices.registry import VoiceEntry, VoicesReport


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.voices.registry import VoicesReport

    return VoicesReport


def command(as_json: AsJson = False) -> None:
    """List the voices that can be asked: the resident and your own UCI programs."""
    from variorum.base.settings import settings_path
    from variorum.voices.registry import VoicesReport, list_voices

    report = VoicesReport(settings=str(settings_path()), voices=list_voices(user_settings()))
    show(report, _as_text, as_json=as_json)


def _as_text(report: VoicesReport) -> Iterable[str]:
    rows = [[entry.siglum or "-", entry.name, _how(entry)] for entry in report.voices]
    yield from columns(rows)
    yield f"Kept in {report.settings}."


def _how(entry: VoiceEntry) -> str:
    options = ", ".join(f"{name}={value}" for name, value in entry.options.items())
    return (" ".join(entry.command) or "comes with Variorum") + (f"   ({options})" if options else "")
