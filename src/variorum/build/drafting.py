"""A draft of the short text in the digest's own language: facts as live references, sentences left to the author.

What is written here is what evidence says. Where there is none, a note to the author says so (an HTML comment, which no
publication prints), and nothing stands in its place.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

import msgspec

from variorum.base import InputError
from variorum.board import Line, Move, Side
from variorum.build.audits import sides_of
from variorum.build.evidence import EditionEvidence
from variorum.build.opened import OpenEdition
from variorum.build.selecting import ChosenDiagram, ChosenLine, Selector
from variorum.claims.facts import FACT_KINDS, NoEvidenceError
from variorum.graph import Certainty, VoiceValues
from variorum.insight.plans_report import SMALL, BodyPlans
from variorum.voices.noise import printed_noise

__all__ = ["draft"]

_ORDERS = 3
_BEST_PLAY = 8
"""Half-moves of best play that a skeleton gives."""
_MISTAKES = 3
_PLANS = 5
_SHARE = 0.001
"""From this share of the traffic on a move that nobody wrote counts as one that is played; common practice, no source."""


class Mistake(msgspec.Struct, frozen=True):
    """A move that concedes: the node before it, the move, the node after it, and what it concedes, in points."""

    node: int
    move: Move
    child: int
    concedes: float


def draft(
    opened: OpenEdition,
    evidence: EditionEvidence,
    selector: Selector,
    lines: Sequence[ChosenLine],
    diagrams: Sequence[ChosenDiagram],
    reach: str,
) -> tuple[str, tuple[str, ...]]:
    """The Markdown, and what it could not say for want of evidence.

    Args:
        opened: The edition.
        evidence: In which facts are looked up.
        selector: How places are said.
        lines: What was chosen.
        diagrams: What was chosen.
        reach: A sentence on the reach, for the author.
    """
    writer = _Writer(opened, evidence, selector)
    writer.write(lines, diagrams, reach)
    return "\n\n".join(writer.blocks) + "\n", tuple(writer.thin)


class _Writer:
    def __init__(self, opened: OpenEdition, evidence: EditionEvidence, selector: Selector) -> None:
        self.opened, self.evidence, self.selector = opened, evidence, selector
        self.side = sides_of(opened.edition)[0]
        self.blocks: list[str] = []
        self.thin: list[str] = []

    def write(self, lines: Sequence[ChosenLine], diagrams: Sequence[ChosenDiagram], reach: str) -> None:
        self.blocks.append(f"# {self.opened.edition.title}")
        self.note(
            "A draft from the evidence. Every figure is looked up anew when the text is built; the sentences are yours. "
            f"{reach}"
        )
        self.roads()
        order = list(self.selector.names)
        named = sorted((one for one in diagrams if one.named), key=lambda one: order.index(one.place))
        mistakes = self.mistakes_by_place([one.place for one in named])
        for one in named:
            self.section(one, mistakes.get(one.place, []))
        meetings = [one for one in diagrams if not one.named]
        if meetings:
            self.blocks.append("## Where orders meet")
        for one in meetings:
            self.diagram(one)
        self.to_know(lines)

    def note(self, text: str) -> None:
        """A note to the author; no publication prints it."""
        self.blocks.append(f"<!-- {text} -->")

    def lacks(self, what: str) -> None:
        """Evidence is missing: the author is told, and the report too."""
        self.thin.append(what)
        self.note(f"{what[0].upper()}{what[1:]}.")

    def fact(self, kind: str, at: str, **more: str) -> str | None:
        """A fact as a span with its present value, `None` where it cannot be looked up."""
        attributes = {"kind": kind, "at": at, **more}
        try:
            found = FACT_KINDS[kind].query(self.evidence, self.evidence.place(at), attributes)
        except (InputError, NoEvidenceError):
            return None
        said = " ".join(_attribute(name, value) for name, value in more.items())
        return f'[{found.text}]{{.fact kind={kind} at="{at}"{f" {said}" if said else ""}}}'

    # The roads

    def roads(self) -> None:
        self.blocks.append("## The roads")
        entries = []
        for root in self.opened.edition.roots:
            name = root.name or ""
            if name not in self.selector.known or root.line is None or not root.line.moves:
                continue
            played = self.fact("count", name)
            score = self.fact("score", name, show="full")
            told = [
                f"{played} games" if played and not played.startswith("[0]") else "",
                f"White has {score}" if score else "",
            ]
            end = ": " + ", ".join(filter(None, told)) if any(told) else ""
            entries.append(f'- [{root.line.san()}]{{.line of="{name}"}}{end}')
        if entries:
            self.blocks.append("\n".join(entries))

    # A tabiya

    def section(self, chosen: ChosenDiagram, mistakes: Sequence[Mistake]) -> None:
        at = chosen.place
        self.blocks.append(f"## {at}")
        self.diagram(chosen)
        self.note("What is this position, and why does it matter? In a sentence or two.")
        self.wants(at)
        self.orders(at)
        self.test(at)
        self.wrong(at, mistakes)

    def diagram(self, chosen: ChosenDiagram) -> None:
        at = chosen.place
        self.blocks.append(f":::diagram {at}\n:::")
        count, orders = self.fact("count", at), self.fact("count", at, of="orders")
        score = self.fact("score", at, show="full")
        told = []
        if count is not None and orders is not None and not count.startswith("[0]"):
            games = "game" if count.startswith("[1]") else "games"
            by = "order" if orders.startswith("[1]") else "orders"
            told.append(f"{count} {games} came here, by {orders} {by} of moves.")
        else:
            self.lacks(f"no game of the sources came to {at}")
        if score is not None:
            told.append(f"White has {score}.")
        if told:
            self.blocks.append(" ".join(told))
        if score is None:
            self.lacks(f"no voice has judged {at} with enough effort")

    def wants(self, at: str) -> None:
        """The plans that games show, of playouts where there are some, else of practice, side by side."""
        self.blocks.append("### What each side wants")
        body, of = self.plans(at, "playouts"), "playouts"
        if body is None:
            self.lacks(f"there are no playouts from {at} yet (variorum playout plays some)")
            body, of = self.plans(at, "practice"), "practice"
        if body is None:
            self.lacks(f"no games of practice show what is wanted at {at}")
            return
        if body.clusters < SMALL:
            games = "one game" if body.clusters == 1 else f"{body.clusters} different games"
            self.lacks(f"the plans from {at} rest on {games}, a small number")
        sides = {plan.side for plan in body.plans}
        for side in (Side.WHITE, Side.BLACK):
            if side in sides:
                self.blocks.append(f":::plans {at}\nof: {of}\nside: {side.value}\nmost: {_PLANS}\n:::")

    def plans(self, at: str, of: str) -> BodyPlans | None:
        """What the games of a body show, `None` where they show nothing."""
        try:
            bodies = self.evidence.plans(self.evidence.place(at), of)
        except InputError:
            return None
        return next((body for body in bodies if any(plan.side is not None for plan in body.plans)), None)

    def orders(self, at: str) -> None:
        entries = []
        for nth, order in enumerate(self.evidence.orders(self.evidence.place(at))[:_ORDERS], 1):
            line = self.fact("order", at, nth=str(nth))
            risk = self.fact("risk", at, order=order.line.san())
            if line is None:
                break
            played = "once" if order.games == 1 else f"{order.games:,} times"
            costs = f": {self.side.value.capitalize()} risks {risk} points" if risk else ""
            entries.append(f"- {line}{costs} <!-- played {played} -->")
        if len(entries) > 1 or (entries and "risks" in entries[0]):
            self.blocks.append("### The orders")
            self.blocks.append("\n".join(entries))
            if not any("risks" in entry for entry in entries):
                self.lacks(
                    f"what the orders to {at} allow is not judged yet (variorum orders tells what is missing)"
                )

    # Best play

    def test(self, at: str) -> None:
        play = self.best_play(at)
        if not play.moves:
            self.lacks(f"no voice has judged {at}, so neither the critical test nor an answer is known")
            return
        first = Line(play.start, play.moves[:1])
        rest = Line(first.end, play.moves[1:])
        behind = self.after(at, first)
        goes_on = f"{self.line(rest, behind)} is the best play after it." if rest.moves else ""
        best = f"{self.line(first, at)} is best, by the verdicts so far{self.leaves(at, behind)}."
        if first.start.turn is self.side:
            self.blocks.append("### What to play")
            self.blocks.append(best)
            if goes_on:
                self.blocks.append("### The critical test")
                self.blocks.append(goes_on)
            return
        self.blocks.append("### The critical test")
        self.blocks.append(best)
        self.blocks.append("### What to play")
        if goes_on:
            self.blocks.append(goes_on)
        else:
            self.lacks(f"no voice says how play goes on after {first.san()}")

    def leaves(self, at: str, behind: str) -> str:
        """What White has behind a best move, where that decides the value of the place: else two figures stand for one thing."""
        path = self.path(at)
        score = self.fact("score", behind, show="full") if len(path) > 1 else None
        return f", and leaves White {score}" if score else ""

    def line(self, line: Line, of: str) -> str:
        return f'[{line.san()}]{{.line of="{of}"}}'

    def after(self, at: str, line: Line) -> str:
        """The place to which moves lead from another."""
        place = self.evidence.place(at)
        way = place.line or Line(place.position)
        return self.selector.said(Line(way.start, (*way.moves, *line.moves)))

    def path(self, at: str) -> list[int]:
        """The nodes of best play from a place to the leaf that decides its value, none where it has no value."""
        node = self.opened.graph.node_of(self.evidence.place(at).position)
        if node is None or self.selector.voice is None:
            return []
        _, values = self.selector.voice
        known = values.at(self.opened.graph, node).certainty is not Certainty.UNKNOWN
        return self.selector.best_play(node, values) if known else []

    def best_play(self, at: str) -> Line:
        """From a place: through the graph to the leaf that decides its value, then as the voice's verdict there goes on."""
        line = Line(self.evidence.place(at).position)
        path = self.path(at)
        for child in path[1:]:
            line = line.play(self.selector.move_to(line.end, child))
        voice = self.selector.voice
        verdict = self.opened.verdicts.on(line.end).get(voice[0]) if path and voice else None
        if verdict is not None and verdict.lines:
            for uci in verdict.lines[0].moves:
                line = line.play(Move(uci))
        return Line(line.start, line.moves[:_BEST_PLAY])

    # Mistakes

    def wrong(self, at: str, mistakes: Sequence[Mistake]) -> None:
        self.blocks.append("### Where it goes wrong")
        entries = list(islice(filter(None, map(self.mistake, mistakes)), _MISTAKES))
        if entries:
            self.blocks.append("\n".join(entries))
        else:
            self.lacks(
                f"after {at} no move that is played or written concedes more than chance, as far as it was judged"
            )

    def mistake(self, found: Mistake) -> str | None:
        at = self.selector.said(self.opened.tell.way(found.node))
        move = Line(self.evidence.place(at).position, (found.move,))
        behind = self.after(at, move)
        before, after = (
            self.evidence.score(self.evidence.place(at)),
            self.evidence.score(self.evidence.place(behind)),
        )
        if before is None or after is None or before.expected is None or after.expected is None:
            return None
        # What is printed must say what is meant: the verdicts themselves, and not only the values that they decide.
        noise = math.hypot(before.noise or 0.0, after.noise or 0.0)
        conceded = before.expected - after.expected
        if move.start.turn is Side.BLACK:
            conceded = -conceded
        if conceded < max(noise, self.opened.edition.settings.thresholds.poor):
            return None
        reply = self.best_play(behind)
        answer = f": {self.line(Line(reply.start, reply.moves[:6]), behind)}" if reply.moves else ""
        return (
            f"- After {self.line(move, at)} White has {self.fact('score', behind)} instead of "
            f"{self.fact('score', at)}{answer}."
        )

    def mistakes_by_place(self, names: Iterable[str]) -> dict[str, list[Mistake]]:
        """Moves that are played or written and concede more than chance, heaviest first, by the last of the places before them."""
        if self.selector.voice is None:
            return {}
        nodes = {self.opened.graph.node_of(self.selector.names[name].position): name for name in names}
        found: dict[str, list[Mistake]] = {}
        for mistake in sorted(self.mistakes(self.selector.voice[1]), key=self.weight, reverse=True):
            way = self.opened.tell.way(mistake.node)
            passed = [nodes.get(self.opened.graph.node_of(one)) for one in way.positions()]
            name = next((one for one in reversed(passed) if one is not None), None)
            if name is not None:
                found.setdefault(name, []).append(mistake)
        return found

    def weight(self, mistake: Mistake) -> tuple[float, float, int]:
        return (
            float(self.opened.traffic.nodes[mistake.node]) * mistake.concedes,
            mistake.concedes,
            -mistake.node,
        )

    def mistakes(self, values: VoiceValues) -> Iterator[Mistake]:
        graph = self.opened.graph
        known = values.certainty == Certainty.VALUE
        poor = self.opened.edition.settings.thresholds.poor
        walked = set(graph.edge_counts.places.tolist())
        for edge in sorted(walked):
            node, child = int(graph.sources[edge]), int(graph.targets[edge])
            if not (known[node] and known[child]):
                continue
            before, after = float(values.scores[node]), float(values.scores[child])
            concedes = before - after if graph.white[node] else after - before
            noise = (2**0.5) * printed_noise(values.at(graph, child).nodes, after)
            if concedes < max(poor, noise) or not self.is_met(edge):
                continue
            yield Mistake(node, graph.move(edge), child, concedes)

    def is_met(self, edge: int) -> bool:
        """Whether a move is written, or played by a share of the traffic that counts."""
        graph = self.opened.graph
        kinds = {graph.channels[channel].kind for channel, _ in graph.edge_counts.at(edge)}
        return "text" in kinds or float(self.opened.traffic.edges[edge]) >= _SHARE

    # Lines

    def to_know(self, lines: Sequence[ChosenLine]) -> None:
        """The chosen lines in the order of the author's places, each with what it comes to and how play goes on."""
        self.blocks.append("## Lines to know")
        order = list(self.selector.known)
        entries = [
            self.entry(one)
            for one in sorted(lines, key=lambda one: order.index(one.of) if one.of in order else len(order))
            if one.moves
        ]
        if entries:
            self.blocks.append("\n".join(entries))
        else:
            self.lacks("there is no line yet: neither manuscript nor games go on from the roots")

    def entry(self, one: ChosenLine) -> str:
        score = self.fact("score", one.end)
        play = self.best_play(one.end)
        has = f" White has {score}" if score else ""
        goes_on = f"{',' if has else ''} best is {self.line(play, one.end)}" if play.moves else ""
        why = f"decides the value of {one.decides}" if one.decides else f"adds {one.adds:.1f} % to the reach"
        end = f":{has}{goes_on}" if has or goes_on else ""
        return f'- [{one.moves}]{{.line of="{one.of}"}}{end} <!-- {why} -->'


def _attribute(name: str, value: str) -> str:
    return f"{name}={value}" if value.isalnum() else f'{name}="{value}"'
