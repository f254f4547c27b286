"""`variorum digest suggest`: what the short text should contain."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, EditionFolder, open_edition, user_settings
from variorum.cli.output import exit_if_faulty, print_diagnostics, show, words_in_letters
from variorum.cli.progress import progress_for

if TYPE_CHECKING:
    from variorum.build.suggesting import Suggestion


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.build.suggesting import Suggestion

    return Suggestion


def command(
    edition: EditionFolder = None,
    lines: Annotated[int, typer.Option(min=1, max=100, help="At most so many lines.")] = 8,
    diagrams: Annotated[int, typer.Option(min=1, max=50, help="At most so many diagrams.")] = 6,
    write: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the draft to this new file; none is overwritten."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Choose the lines and diagrams that answer most of what a reader will meet, and draft the short text from the evidence.

    Lines that decide the value of a root are always among them, your own tabiyas come before other diagrams. The draft holds facts as live references and leaves the sentences to you; where evidence is thin it says so. It is printed, or with --write put into a file.
    """
    from variorum.build.opened import OpenEdition
    from variorum.build.suggesting import suggest, write_draft

    chosen, user = open_edition(edition), user_settings()
    with OpenEdition(chosen, user, progress=progress_for(as_json=as_json)) as opened:
        suggestion, diagnostics = suggest(opened, lines, diagrams)
    if write is not None:
        suggestion = write_draft(suggestion, write)
    print_diagnostics(diagnostics)
    show(suggestion, lambda found: _as_text(found, user.pieces), as_json=as_json)
    exit_if_faulty(diagnostics)


def _as_text(found: Suggestion, letters: str) -> Iterable[str]:
    if not found.written:
        yield found.markdown
        return
    yield f"{found.edition}: written to {found.written}"
    yield f"Together they reach {found.reach:.1f} % of the traffic ({found.mix})."
    if found.present is not None:
        yield f"The present digest reaches {found.present.reach:.1f} %."
    yield f"Lines ({found.line_reach:.1f} %{_gap(found.line_gap)})"
    for line in found.lines:
        why = f"decides {line.decides}" if line.decides else f"{line.flow:.1f} % pass its end"
        yield f"  {words_in_letters(line.end, letters)}: {why}"
    yield f"Diagrams ({found.diagram_reach:.1f} %{_gap(found.diagram_gap)})"
    for one in found.diagrams:
        yield f"  {words_in_letters(one.place, letters)}: {one.flow:.1f} % pass it"
    if found.thin:
        yield "Not enough evidence"
        yield from (f"  {words_in_letters(text, letters)}" for text in found.thin)


def _gap(gap: float) -> str:
    return "; no other choice reaches more" if gap < 0.05 else f"; another choice may reach {gap:.1f} % more"
