"""Merging into a manuscript: what it has already is met again, what is new is put where it belongs.

A position that the manuscript treats under another order is pointed at, and what follows is merged there. Comments and
signs of the incoming text are kept; where two signs of one kind meet on a move, the manuscript's stands and the other is told.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence

import msgspec

from variorum.base import InputError
from variorum.board import NAGS, Line, Move, Position, PositionKey
from variorum.edition.manuscript import Game, Manuscript, Node, read_manuscript
from variorum.edition.manuscript_branches import (
    Branch,
    branches_after,
    chain,
    comment_words,
    put_branches,
    put_comment,
    put_nags,
    same_kind,
)
from variorum.edition.manuscript_find import follow, follow_in, line_to
from variorum.edition.manuscript_see import pointer_text
from variorum.edition.manuscript_shape import refuse_unless, ways_of
from variorum.edition.manuscript_spans import Insertions, apply_edits

__all__ = ["Conflict", "Hides", "Merged", "Merging", "Transposition", "finished", "merge_games", "merge_line"]


class Conflict(msgspec.Struct, frozen=True, kw_only=True):
    """Two signs of one kind on one move: the manuscript's stands."""

    order: str
    stands: str
    incoming: str
    line: int
    """Of the incoming text."""


class Transposition(msgspec.Struct, frozen=True):
    """A position that was reached by a new order: the order, and the one under which it is treated."""

    order: str
    see: str


class Merged(msgspec.Struct, frozen=True, kw_only=True):
    """The new text, and what was put into it."""

    data: bytes
    moves: int = 0
    comments: int = 0
    signs: int = 0
    games: int = 0
    transpositions: tuple[Transposition, ...] = ()
    conflicts: tuple[Conflict, ...] = ()


class _Spot:
    """A position in the manuscript as it will be: nodes that are there already (one order, maybe in several games), or a new branch."""

    def __init__(
        self,
        position: Position,
        parent: _Spot | None,
        nodes: tuple[Node, ...] = (),
        branch: Branch | None = None,
    ) -> None:
        self.position = position
        self.parent = parent
        self.nodes = nodes
        self.branch = branch

    @property
    def order(self) -> Line:
        """The moves to it."""
        moves: list[Move] = []
        at = self
        while at.branch is not None and at.parent is not None:
            moves.append(at.branch.move)
            at = at.parent
        before = line_to(at.nodes[0])
        return Line(before.start, (*before.moves, *reversed(moves)))

    def passes(self, other: _Spot) -> bool:
        """Whether the way to it, itself included, goes through a spot."""
        at: _Spot | None = self
        while at is not None:
            if at.branch is not None and at.branch is other.branch:
                return True
            if at.nodes:
                return bool(_rows_to(at.nodes) & {node.row for node in other.nodes})
            at = at.parent
        return False


def _rows_to(nodes: Iterable[Node]) -> set[int]:
    rows = set()
    for node in nodes:
        at: Node | None = node
        while at is not None:
            rows.add(at.row)
            at = at.parent
    return rows


class Merging:
    """A manuscript and what is to be put into it; nothing is written before `finished`."""

    def __init__(self, manuscript: Manuscript, word: str, hides: Callable[[Node], bool]) -> None:
        self.manuscript = manuscript
        self.word = word
        self.rows: dict[PositionKey, list[int]] = {}
        """Rows of nodes that may be pointed at, by key."""
        hidden: set[int] = set()
        for game in manuscript.games:
            if game.start is None:
                continue
            for node in game.nodes:
                parent = node.parent
                if (parent is not None and parent.row in hidden) or hides(node):
                    hidden.add(node.row)
                else:
                    self.rows.setdefault(node.key, []).append(node.row)
        self.new_spots: dict[PositionKey, _Spot] = {}
        self.new_branches: dict[int, list[Branch]] = {}
        self.new_nags: dict[int, list[int]] = {}
        self.new_comments: dict[int, list[str]] = {}
        self.moves = self.comments = self.signs = self.games = 0
        self.transpositions: list[Transposition] = []
        self.conflicts: list[Conflict] = []
        self.appended: list[bytes] = []

    def spot(self, nodes: tuple[Node, ...]) -> _Spot:
        """Where the nodes of one order stand."""
        return _Spot(nodes[0].position, None, nodes)

    def merge(self, top: _Spot, branches: Sequence[Branch]) -> None:
        """Put branches behind a spot."""
        pending = [(top, list(branches))]
        while pending:
            spot, kids = pending.pop()
            deeper = []
            for kid in kids:
                further, told = self.step(spot, kid)
                if told:
                    self.remarks(further, kid)
                if kid.children:
                    deeper.append((self.going_on(further), kid.children))
            pending += reversed(deeper)

    def step(self, spot: _Spot, kid: Branch) -> tuple[_Spot, bool]:
        """The spot behind a move, made if it is new; and whether the move's remarks still have to be brought there."""
        position = spot.position.play(kid.move)
        found = self.known(spot, kid.move, position)
        if found is not None:
            return found, True
        branch = Branch(kid.move, list(kid.nags), list(kid.comments), [])
        here = _Spot(position, spot, branch=branch)
        other = self.elsewhere(here)
        if spot.branch is not None:
            spot.branch.children.append(branch)
        else:
            self.new_branches.setdefault(self.home(spot).row, []).append(branch)
        self.moves += 1
        self.comments += len(branch.comments)
        self.signs += len(branch.nags)
        if other is None:
            self.new_spots.setdefault(position.key, here)
        else:
            self.point(here, other)
            self.compare(other, kid, [nag for nag in kid.nags if nag >= 10])
        return here, False

    def known(self, spot: _Spot, move: Move, position: Position) -> _Spot | None:
        """The spot behind a move that is there already, or was put there just now."""
        if spot.branch is not None:
            listed: Sequence[Branch] = spot.branch.children
        else:
            followed = follow_in(spot.nodes, (move,))
            if not followed.rest:
                return _Spot(position, spot, followed.nodes)
            listed = self.new_branches.get(self.home(spot).row, ())
        known = next((one for one in listed if one.move == move), None)
        return None if known is None else _Spot(position, spot, branch=known)

    def going_on(self, spot: _Spot) -> _Spot:
        """Where moves behind a spot go: where its position is treated, which is elsewhere if nothing follows here."""
        follows = spot.branch.children if spot.branch is not None else self.follows(spot)
        other = None if follows else self.elsewhere(spot)
        if other is None or (spot.nodes and not self.follows(other)):
            return spot
        self.point(spot, other)
        return other

    def follows(self, spot: _Spot) -> bool:
        """Whether moves stand behind a spot."""
        if spot.branch is not None:
            return bool(spot.branch.children)
        return any(node.children or self.new_branches.get(node.row) for node in spot.nodes)

    def point(self, here: _Spot, other: _Spot) -> None:
        """Write `see` at an order under which a position is not treated, once."""
        order = other.order
        text = pointer_text(order, self.word)
        if here.branch is not None:
            said = here.branch.comments
            known = list(said)
        else:
            said = self.new_comments.setdefault(self.home(here).row, [])
            known = [*said, *(one.raw for node in here.nodes for one in node.comments)]
        if not any(text in comment_words(one) for one in known):
            said.append(text)
            self.transpositions.append(Transposition(here.order.san(), order.san()))

    def home(self, spot: _Spot) -> Node:
        """Of the nodes of one order, the one to which something new is put: where most follows already."""
        return max(spot.nodes, key=lambda node: (len(node.children), -node.row))

    def elsewhere(self, here: _Spot) -> _Spot | None:
        """Where the position stands under another order; never on the way to it, for a repetition is no transposition."""
        rows = self.rows.get(here.position.key, ())
        nodes = [Node(self.manuscript, row) for row in rows]
        nodes = [node for node in nodes if node.position == here.position]
        for node in sorted(nodes, key=lambda node: (not node.children, node.row)):
            found = self.spot((node,))
            if not here.passes(found):
                return found
        known = self.new_spots.get(here.position.key)
        if known is not None and known.position == here.position and not here.passes(known):
            return known
        return None

    def remarks(self, spot: _Spot, kid: Branch) -> None:
        """Bring a move's comments and signs to where the move is already."""
        if spot.branch is not None:
            said, nags = spot.branch.comments, spot.branch.nags
        else:
            row = self.home(spot).row
            said, nags = self.new_comments.setdefault(row, []), self.new_nags.setdefault(row, [])
        known = set(map(comment_words, said))
        known.update(
            comment_words(one.raw) for node in spot.nodes for one in (*node.opening_comments, *node.comments)
        )
        if any(node.parent is None for node in spot.nodes):
            known.update(comment_words(one.raw) for one in self.manuscript.preamble)
        for comment in kid.comments:
            if comment_words(comment) not in known:
                said.append(comment)
                known.add(comment_words(comment))
                self.comments += 1
        for nag in self.compare(spot, kid, kid.nags):
            nags.append(nag)
            self.signs += 1

    def compare(self, spot: _Spot, kid: Branch, nags: Iterable[int]) -> list[int]:
        """The signs that are new at a spot; those that speak against one that stands there are told instead."""
        standing = [nag for node in spot.nodes for nag in (*node.nags, *self.new_nags.get(node.row, ()))]
        standing += spot.branch.nags if spot.branch is not None else ()
        new = []
        for nag in dict.fromkeys(nags):
            rival = next((one for one in standing if same_kind(one, nag)), None)
            if nag in standing:
                continue
            if rival is None:
                new.append(nag)
                continue
            line = 0 if kid.node is None else kid.node.place[0]
            self.conflicts.append(
                Conflict(order=spot.order.san(), stands=_sign(rival), incoming=_sign(nag), line=line)
            )
        return new

    def game(self, game: Game) -> None:
        """Merge a game where its start position stands, or else append it."""
        start = game.start
        if start is None:
            return
        nodes = self.nodes_at(start)
        if not nodes:
            self.append(game)
            return
        branches = branches_after(game.root)
        moves = [node.move for node in game.main_line if node.move is not None]
        if follow_in(nodes, moves).rest:
            _cite(game, branches)
        preamble = game.manuscript.preamble if game.row == 0 else ()
        start_comments = [one.raw for one in (*preamble, *game.root.comments)]
        closing = [one.raw for one in game.trailing_comments]
        last = _last(branches)
        (start_comments if last is None else last.comments).extend(closing)
        spot = self.spot(nodes)
        self.remarks(spot, Branch(Move.null(), comments=start_comments))
        self.merge(spot, branches)

    def nodes_at(self, start: Position, games: Sequence[Game] | None = None) -> tuple[Node, ...]:
        """The nodes behind which a line from a position goes: where games start with it, else the first that reaches it."""
        found = follow(self.manuscript.games if games is None else games, Line(start, ())).nodes
        if found:
            return found
        nodes = (Node(self.manuscript, row) for row in self.rows.get(start.key, ()))
        return next(
            ((node,) for node in nodes if node.position == start and games in (None, (node.game,))), ()
        )

    def append(self, game: Game) -> None:
        """Have a game stand behind the others as it is."""
        start, end = game.span
        text = game.manuscript.text.text(start, end)
        if not game.has_marker:
            text += f" {game.result}"
        self.appended.append(self.manuscript.text.encode(f"{text.strip()}\n"))
        self.games += 1

    def begin(self, line: Line, title: str) -> None:
        """A new game of one line."""
        tags = {"Event": title, "Site": "?", "Date": "????.??.??", "Round": "?", "White": "?", "Black": "?"}
        tags["Result"] = "*"
        if line.start != Position.start():
            tags |= {"SetUp": "1", "FEN": line.start.fen}
        pairs = "".join(f'[{name} "{_escaped(value)}"]\n' for name, value in tags.items())
        self.appended.append(self.manuscript.text.encode(f"{pairs}\n{line.san()} *\n"))
        self.games += 1

    def result(self) -> Merged:
        """The new text and what was put into it, not yet looked at again (see `finished`)."""
        insertions = Insertions(self.manuscript)
        for row, nags in self.new_nags.items():
            put_nags(insertions, Node(self.manuscript, row), nags)
        for row, comments in self.new_comments.items():
            for comment in comments:
                put_comment(insertions, Node(self.manuscript, row), comment)
        for row, branches in self.new_branches.items():
            put_branches(insertions, Node(self.manuscript, row), branches)
        data = apply_edits(self.manuscript.data, insertions.edits())
        newline = self.manuscript.text.newline.encode()
        for text in self.appended:
            data = data.rstrip(b" \t\r\n") + 2 * newline + text if data.strip() else text
        return Merged(
            data=data,
            moves=self.moves,
            comments=self.comments,
            signs=self.signs,
            games=self.games,
            transpositions=tuple(self.transpositions),
            conflicts=tuple(self.conflicts),
        )


def _escaped(value: str) -> str:
    return value.replace("\\", "\\\\").replace('"', '\\"')


def _sign(nag: int) -> str:
    entry = NAGS[nag] if nag < len(NAGS) else None
    return (entry.glyph or entry.ascii if entry else "") or f"${nag}"


def _last(branches: list[Branch]) -> Branch | None:
    """The last move of the main line."""
    last = None
    while branches:
        last = branches[0]
        branches = last.children
    return last


def _cite(game: Game, branches: list[Branch]) -> None:
    """Say at the end of a game's moves whose game it is, where its tags tell; without a result it is somebody's analysis."""
    tags = game.tags
    white, black = (tags.get(name, "?").strip() for name in ("White", "Black"))
    last = _last(branches)
    if last is None or game.result == "*" or not {"?", ""}.isdisjoint((white, black)):
        return
    event = next(
        (one for name in ("Event", "Site") if (one := tags.get(name, "").strip()) not in ("", "?")), ""
    )
    year = tags.get("Date", "")[:4]
    told = [f"{white} – {black}", event, year if year.isdecimal() else "", game.result]
    last.comments.append(", ".join(filter(None, told)).replace("}", ")"))


Hides = Callable[[Node], bool]
"""Whether a move of the manuscript and all behind it are private; nothing points there."""


def merge_games(manuscript: Manuscript, incoming: Manuscript, *, see: str, hides: Hides) -> Merged:
    """Merge all games of another PGN text; what of it could not be read is not among them (see its diagnostics).

    Args:
        manuscript: The author's.
        incoming: The other text.
        see: The word of a pointer.
        hides: What must not be pointed at.

    Raises:
        InputError: The encoding of the manuscript lacks a character of the incoming text, or the manuscript is written
            in too tangled a way.
    """
    merging = Merging(manuscript, see, hides)
    for game in incoming.games:
        merging.game(game)
    return finished(manuscript, merging)


def merge_line(
    manuscript: Manuscript, line: Line, *, see: str, hides: Hides, game: Game | None = None, title: str = "?"
) -> Merged:
    """Put a typed line into the manuscript; where no game has its start, into a new game.

    Args:
        manuscript: The author's.
        line: At least one move.
        see: The word of a pointer.
        hides: What must not be pointed at.
        game: Into this game; by default into the one that follows the line furthest.
        title: The tag Event of a new game.

    Raises:
        InputError: As `merge_games`; or the game does not have the line's start.
    """
    merging = Merging(manuscript, see, hides)
    nodes = merging.nodes_at(line.start, None if game is None else (game,))
    if not nodes and game is not None:
        raise InputError(
            f"game {game.number} does not have the position that the line starts from",
            remedy="leave out --game for a new game",
            path=manuscript.path,
        )
    if nodes:
        merging.merge(merging.spot(nodes), [chain(line.moves)])
    else:
        merging.begin(line, title)
    return finished(manuscript, merging)


def finished(manuscript: Manuscript, merging: Merging) -> Merged:
    """The result, when it holds all that was there and exactly what was put in."""
    merged = merging.result()
    after = read_manuscript(merged.data, path=manuscript.path)
    old, new = _ways(manuscript), _ways(after)
    fits = len(after.games) == len(manuscript.games) + merged.games and not old - new
    added = sum((new - old).values()) - sum(_ways(after, len(manuscript.games)).values())
    refuse_unless(fits and added == merged.moves, manuscript)
    return merged


def _ways(manuscript: Manuscript, first: int = 0) -> Counter[int]:
    """The ways to all positions of the games from `first` on, hashed."""
    return Counter(way for game in manuscript.games[first:] for way in ways_of(game, game.row).values())
