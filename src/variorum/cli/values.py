"""Values of the graph and move orders as lines of text, for the commands that print them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from variorum.cli.output import columns, in_letters

if TYPE_CHECKING:
    from variorum.build.spoken import VoiceSays
    from variorum.graph import MapOrder, MapValue, PlaceOnMap, ValueRange

__all__ = [
    "SCALE",
    "effort_text",
    "key_text",
    "leads",
    "order_texts",
    "shortened",
    "value_texts",
    "voice_texts",
]

_SHOWN_PLIES = 12
"""Half-moves of a voice's line that are printed; all are in the JSON."""

SCALE = "Scores are White's, expected of 100, ± noise; ≥ and ≤ where other moves may be better for the side to move."


def key_text(sigla: Mapping[str, str]) -> str:
    """What the sigla stand for."""
    return "; ".join(f"{mark} {voice}" for voice, mark in sigla.items())


def shortened(line: str, places: Iterable[PlaceOnMap], letters: str) -> str:
    """A line as the edition would say it: from the last of its named places on the way, `iqp 10...Nf6 11.a3`."""
    ways = [place for place in places if leads(place.line, line)]
    if not ways:
        return in_letters(line, letters)
    last = max(ways, key=lambda place: len(place.line))
    moves = line[len(last.line) :].split()
    if moves and not moves[0][0].isdigit():
        moves[0] = f"{_number_before(last.line)}...{moves[0]}"
    return " ".join([last.name, *(in_letters(move, letters) for move in moves)])


def leads(way: str, line: str) -> bool:
    """Whether a line goes by way of another (both as SAN)."""
    return bool(way) and f"{line} ".startswith(f"{way} ")


def _number_before(line: str) -> str:
    """The number of the last move of a line."""
    numbers: list[str] = re.findall(r"(?:^| )(\d+)\.", line)
    return numbers[-1]


def effort_text(nodes: int, depth: int, threads: int = 1) -> str:
    """The effort of a verdict; threads where there were several, since then it cannot be repeated to the letter."""
    told = [
        f"{nodes:,} nodes" if nodes else "",
        f"depth {depth}" if depth else "",
        f"{threads} threads" if threads > 1 else "",
    ]
    return ", ".join(filter(None, told)) or "effort unknown"


def voice_texts(voice: VoiceSays, letters: str) -> Iterable[str]:
    """A voice on a position, then its lines."""
    noise = "" if voice.noise is None else f" ± {voice.noise:.1f}"
    of = ", ".join(filter(None, [effort_text(voice.nodes, voice.depth, voice.threads), voice.date]))
    shallow = "; less effort than the edition asks" if voice.shallow else ""
    results = ""
    if voice.results is not None:
        won, lost = round(voice.results.wins), round(voice.results.losses)
        results = f"of 100 games White wins {won}, draws {100 - won - lost}, loses {lost}; "
    yield (
        f"  {voice.siglum} {voice.expected:.1f}{noise} ({voice.pawns}) {voice.sign} ({voice.words}); {results}"
        f"{voice.voice} {voice.version}, {of}{shallow}"
    )
    rows = []
    for line in voice.lines:
        moves = in_letters(line.moves, letters).split()
        more = " …" if len(moves) > _SHOWN_PLIES else ""
        rows.append((f"{line.expected:.1f}", f"({line.pawns})", " ".join(moves[:_SHOWN_PLIES]) + more))
    yield from (f"      {row}" for row in columns(rows, right=[0, 1]))


def value_texts(values: Sequence[MapValue], together: ValueRange | None, letters: str) -> Iterable[str]:
    """One line for each voice, naming the leaf that decides, then the voices together."""
    for value in values:
        bound = {"at least": "≥ ", "at most": "≤ "}.get(value.certainty, "")
        noise = "" if value.noise is None else f" ± {value.noise:.1f}"
        words = "" if bound else f" {value.sign} ({value.words})"
        yield f"{value.siglum} {bound}{value.expected:.1f}{noise}{words}, {_ground(value, letters)}"
    if together is not None:
        yield f"the voices together {together.median:.1f} ({together.least:.1f} to {together.greatest:.1f})"


def _ground(value: MapValue, letters: str) -> str:
    line = in_letters(value.leaf, letters)
    effort = effort_text(value.nodes, value.depth)
    match value.basis:
        case "repetition":
            return "by repetition"
        case "rules":
            return f"the game ends after {line}" if line else "the game is over"
    return f"best {line}; {effort}" if value.own else f"decided by {line}; {effort}"


def order_texts(
    orders: Sequence[MapOrder], count: int, since: str | None, letters: str, indent: str
) -> Iterable[str]:
    """A heading and one line for each order; `since` is the line to where they part, as printed."""
    if not count or not any(order.moves for order in orders):
        return
    if since and count == 1:
        yield f"{indent}every order goes through {since}, and then:"
    else:
        behind = f" after {since}" if since else ""
        yield f"{indent}reached by {count:,} order{'' if count == 1 else 's'}{behind}:"
    for order in orders:
        root = f"from {order.root}: " if order.root else ""
        remark = "" if order.walked else "  (legal, not played or written throughout)"
        yield f"{indent}  {root}{in_letters(order.moves, letters)}{remark}"
    if count > len(orders):
        yield f"{indent}  and {count - len(orders):,} more"
