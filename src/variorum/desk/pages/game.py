"""One game of the sources, read on the board: its moves with what its file says of them, its tags, and how it goes with the manuscript."""

from __future__ import annotations

from typing import Any, Final

import msgspec
import numpy as np
from starlette.requests import Request
from starlette.responses import Response

from variorum.base import InputError, UsageError
from variorum.board import Line
from variorum.build.opened import OpenEdition
from variorum.desk.game_text import Remark, Said, read_game
from variorum.desk.moves import address, name_of, printed, text_address
from variorum.desk.pages.frame import edition_for, editions_of, frame
from variorum.desk.pages.games_here import printed_result
from variorum.desk.pages.words import texts_of
from variorum.desk.render import page
from variorum.edition import Edition, Manuscript, Node, Place, resolve_place
from variorum.edition.folder import MANUSCRIPT
from variorum.edition.manuscript_find import follow, line_to, nodes_on
from variorum.sources import date_text
from variorum.store import Game

__all__ = ["game_page", "runs_with"]

_BRACES: Final = str.maketrans("{}", "()")
"""No comment of a PGN holds a brace."""


class GameMove(msgspec.Struct, frozen=True, kw_only=True):
    """A move of the game: as printed in its line and by itself, as typed, the FEN behind it, its way as the board draws it.

    `known` is whether the manuscript has the position behind it; `named` is the edition's name for that position.
    """

    ply: int
    text: str
    called: str
    typed: str
    fen: str
    mark: str
    remarks: tuple[Remark, ...]
    figures: str
    known: bool
    named: str


class Run(msgspec.Struct, frozen=True, kw_only=True):
    """Positions in a row that the manuscript has, from ply `first` to ply `last`: where the text has the last one, and whether by another order."""

    first: int
    last: int
    line: int
    href: str
    other_order: bool


def game_page(request: Request, sent: Any) -> Response:
    """A game by its number in the store."""
    del sent
    name, number, asked = request.path_params["name"], request.path_params["number"], request.query_params
    with edition_for(request) as opened:
        edition, game = opened.edition, _game(opened, number)
        line = game.line
        manuscript = texts_of(request).manuscript(editions_of(request).settings(name)[0])
        runs = runs_with(manuscript, line, name)
        place = _place(edition, asked.get("at", ""))
        at = "" if place is None else name_of(edition, place) or asked.get("at", "")
        moves = _moves(edition, game, line, runs)
        in_order = len(line.moves) - len(follow(manuscript.games, line).rest)
    start = _ply(asked.get("ply", ""), line, place)
    head, where = game, game.provenance
    return page(
        "game.html.j2",
        **frame(request, "games", f"{head.white} – {head.black}"),
        game=head,
        result=printed_result(head.result),
        date=date_text(head.date),
        event=", ".join(one for one in (head.event, head.site) if one and one != "?"),
        kind=", ".join(filter(None, (where.kind, where.voice))),
        tags=moves.tags,
        opening=moves.before,
        moves=moves.moves,
        ply=start,
        fen=line.start.fen,
        begin="" if line.start == line.start.start() else line.start.fen,
        runs=runs,
        stands=bool(manuscript.games),
        in_order=in_order,
        hash=manuscript.content_hash if manuscript.path.exists() else "",
        at=at,
        at_href=address(name, "games/here", at=at) if at else "",
        position_at=address(name, "position"),
        add_at=address(name, "words"),
        cite=_cited(game, at),
        called_so=_called(game),
    )


def _game(opened: OpenEdition, number: int) -> Game:
    if opened.store is not None:
        try:
            return opened.store.games([number])[0]
        except UsageError:
            pass
    raise InputError(
        f"there is no game {number} any more",
        remedy="its file was brought in anew: open it from its position",
    )


def _place(edition: Edition, text: str) -> Place | None:
    try:
        return resolve_place(edition, text) if text.strip() else None
    except InputError:  # the name of a link that is older than the edition
        return None


def _ply(text: str, line: Line, place: Place | None) -> int:
    """With which position it is opened: the one that is asked for, else that of the place, else the first."""
    if text.isdecimal() and len(text) < 6:
        return min(int(text), len(line.moves))
    found = (ply for ply, one in enumerate(line.positions()) if place is not None and one == place.position)
    return next(found, 0)


class _Told(msgspec.Struct, frozen=True):
    tags: tuple[tuple[str, str], ...]
    before: tuple[Remark, ...]
    moves: tuple[GameMove, ...]


def _moves(edition: Edition, game: Game, line: Line, runs: list[Run]) -> _Told:
    text, positions = read_game(game), line.positions()
    said = [*text.said, *[Said()] * (len(line.moves) + 1 - len(text.said))]
    names = {place.position: name for name, place in reversed(edition.places.items())}
    words, met, moves = line.san().split(), set[str](), []
    for ply, (move, word) in enumerate(zip(line.moves, words, strict=True), 1):
        called = Line(positions[ply - 1], (move,)).san()
        of_it = said[ply]
        named = names.get(positions[ply], "")
        moves.append(
            GameMove(
                ply=ply,
                text=printed(called if said[ply - 1].remarks else word) + of_it.signs,
                called=printed(called),
                typed=word,
                fen=positions[ply].fen,
                mark=f"itinerary {move.uci[:2]}-{move.uci[2:4]}",
                remarks=of_it.remarks,
                figures=of_it.figures,
                known=any(run.first <= ply <= run.last for run in runs),
                named=named if named not in met else "",
            )
        )
        met.add(named)
    return _Told(text.tags, said[0].remarks, tuple(moves))


def runs_with(manuscript: Manuscript, line: Line, name: str) -> list[Run]:
    """Where a game goes with the manuscript, by whatever order."""
    positions = line.positions()
    keys = np.array([position.key for position in positions], np.uint64)
    may_be = np.isin(keys, np.asarray(manuscript.index.columns.node_key))
    nodes: dict[int, Node] = {}
    for ply in np.flatnonzero(may_be).tolist():
        found = nodes_on(manuscript, positions[ply])
        own = Line(line.start, line.moves[:ply])
        if found:
            nodes[ply] = next((node for node in found if line_to(node) == own), found[0])
    runs: list[Run] = []
    for ply, node in nodes.items():
        row, column = node.place
        first = runs.pop().first if runs and runs[-1].last == ply - 1 else ply
        runs.append(
            Run(
                first=first,
                last=ply,
                line=row,
                href=text_address(name, MANUSCRIPT, row, column),
                other_order=line_to(node) != Line(line.start, line.moves[:ply]),
            )
        )
    return runs


def _called(game: Game) -> str:
    """A game as a comment of the manuscript names it; "" where its players have no names."""
    white, black = (one.partition(",")[0].strip() for one in (game.white, game.black))
    if not white.strip("?") or not black.strip("?"):
        return ""
    place = next((one.strip() for one in (game.event, game.site) if one.strip("? ")), "")
    rest = " ".join(filter(None, (place, str(game.date // 10_000 or ""))))
    words = f"{white} – {black}{f', {rest}' if rest else ''}"
    return " ".join(words.translate(_BRACES).split())


def _cited(game: Game, at: str) -> str:
    """The block that prints the game in the digest; "" where its players have no names to cite it by."""
    white, black = (" ".join(one.split()) for one in (game.white, game.black))
    if not white.strip("?") or not black.strip("?"):
        return ""
    year = f", {game.date // 10_000}" if game.date else ""
    lines = [f":::game {white} – {black}{year}", f"source: {game.provenance.source}"]
    lines += [f"number: {game.provenance.game_number}", *([f"from: {at}"] if at else []), ":::", ""]
    return "\n".join(lines)
