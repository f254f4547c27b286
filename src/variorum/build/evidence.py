"""The evidence of an edition as pages cite it: verdicts by siglum, games, move orders."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import TYPE_CHECKING

from variorum.base import InputError
from variorum.board import Bands, Line, Move, Position, Score, Side, Verdict
from variorum.build.audits import sides_of
from variorum.build.hinging import hinge_voices, kept_hinges
from variorum.build.plans import counted_plans, plan_readings
from variorum.claims.decide import Estimate
from variorum.claims.exhibits import CitedGame, OrderRow
from variorum.claims.facts import HingeReading, Order, OrderCost, PlanReading, Reading, grouped
from variorum.edition import Edition, Place, resolve_place
from variorum.graph.practice import practice_score
from variorum.insight.changes import near_placements
from variorum.insight.contrast_report import Colours, contrast_report
from variorum.insight.order_telling import orders_report
from variorum.insight.orders import Audit, AuditGround, audit, audit_ground, heaviest_orders
from variorum.insight.plans_report import BodyPlans
from variorum.publish.apparatus import Entry, Rival, Siglum
from variorum.publish.phrases import phrases_of
from variorum.publish.private import names_in
from variorum.publish.wording import wording_of
from variorum.voices.noise import noise_of
from variorum.voices.scale import expected_of
from variorum.voices.sigla import GAMES_SIGLUM

if TYPE_CHECKING:
    from variorum.build.opened import OpenEdition

__all__ = ["EditionEvidence", "EditionPlaces"]

_RESULTS = ("*", "1-0", "0-1", "1/2-1/2")


class EditionPlaces:
    """The places that the texts of an edition name; a private name is not told on."""

    def __init__(self, edition: Edition) -> None:
        self._edition = edition

    def place(self, text: str) -> Place:
        """The place that a text says.

        Raises:
            InputError: It says none.
        """
        place = resolve_place(self._edition, text)
        if place.name is None or not names_in(place.name, self._edition.settings):
            return place
        return Place(text="", position=place.position, line=place.line)


class EditionEvidence(EditionPlaces):
    """What facts and apparatus are looked up in. Verdicts below the edition's minimum effort are not cited.

    What takes long is looked up once: two sentences and a block on one place ask for the same.
    """

    def __init__(self, opened: OpenEdition) -> None:
        super().__init__(opened.edition)
        self._opened = opened
        self._verdicts = opened.verdicts
        self._store = opened.store
        self._sigla = opened.sigla
        self._words = wording_of(opened.edition.settings.language)
        self.bands: Bands = opened.edition.settings.bands
        self._audits: dict[tuple[int, Side], Audit] = {}
        self._said: dict[Position, tuple[Reading, ...]] = {}
        self._plans: dict[tuple[Position, str], tuple[BodyPlans, ...]] = {}

    @property
    def sigla(self) -> tuple[Siglum, ...]:
        """The key to the sigla: voices, then the games."""
        voices = (Siglum(mark, self._described(voice)) for voice, mark in self._sigla.items())
        games = (
            ()
            if self._store is None or not self._store.count
            else (Siglum(GAMES_SIGLUM, self._words.games_of_sources),)
        )
        return (*voices, *games)

    def _described(self, voice: str) -> str:
        """A voice with its versions and from least to greatest effort, of the verdicts that are cited."""
        least = self._edition.settings.budget.minimum_effort
        said = [one for one in self._verdicts.all() if one.voice == voice and one.allowed >= least]
        words = self._words
        name = words.a_voice if names_in(voice, self._edition.settings) else voice
        if not said:
            return name
        first, *others = sorted({one.version for one in said if one.version}) or [""]
        versions = words.both.format(one=first, other=", ".join(others)) if others else first
        thousands = {round(one.nodes, -3) for one in said}  # a search stops a node or two behind its limit
        efforts = sorted({min(thousands), max(thousands)})
        low, high = grouped(efforts[0]), grouped(efforts[-1])
        nodes = low if low == high else words.from_to.format(low=low, high=high)
        return f"{f'{name} {versions}'.strip()}, {nodes} {words.nodes}"

    def say(self, text: str) -> str:
        """A phrase of the program's in the language of the edition."""
        phrases = phrases_of(self._words.language)
        return text if phrases is None else phrases.say(text)

    def score(self, place: Place, voice: str | None = None) -> Reading | None:
        """What the voice with this siglum says, or the first voice; results of games are given only where asked for."""
        readings = self._readings(place.position)
        if voice is None:
            return next((reading for reading in readings if reading.siglum != GAMES_SIGLUM), None)
        return next((reading for reading in readings if reading.siglum == voice), None)

    def count(self, place: Place) -> int:
        """Games that reached the place by any order, doubles once."""
        return 0 if self._store is None else self._store.statistics(place.position, examples=0).tally.games

    def orders(self, place: Place) -> tuple[Order, ...]:
        """The orders by which games came, the most travelled first."""
        if self._store is None:
            return ()
        found = self._store.orders(place.position, limit=1_000)
        return tuple(Order(order.line, order.tally.games) for order in found.orders)

    def order_cost(
        self, place: Place, order: Line | None, side: Side | None = None, voice: str | None = None
    ) -> OrderCost | None:
        """What an order to the place costs a side, by one voice."""
        node = self._ground.traffic.graph.node_of(place.position)
        if node is None or order is None:
            return None
        audited = self._audit(node, side or sides_of(self._edition)[0])
        stations = audited.stations_along(order)
        risks = next(
            (risks for name, risks in audited.sides[0].risks.items() if voice in (None, self._sigla[name])),
            None,
        )
        if stations is None or risks is None:
            return None
        shared = audited.passage.shared
        return OrderCost(
            risk=risks.along(stations).as_known,
            price=risks.price(at for at in stations if at not in shared).as_known,
            guaranteed=risks.guaranteed(stations[0]).as_known,
        )

    def _audit(self, node: int, side: Side) -> Audit:
        if (node, side) not in self._audits:
            self._audits[node, side] = audit(self._ground, node, (side,))
        return self._audits[node, side]

    def order_rows(self, place: Place, most: int, side: str) -> tuple[OrderRow, ...]:
        """The heaviest orders as `variorum orders` lists them, by the first voice that judges the place.

        Raises:
            InputError: No order on the graph leads there.
        """
        node = self._ground.traffic.graph.node_of(place.position)
        if node is None:
            raise InputError("no line of the edition leads to it", remedy="write it into manuscript.pgn")
        audited = self._audit(node, Side(side) if side else sides_of(self._edition)[0])
        ways, _ = heaviest_orders(audited, most)
        report = orders_report(self._edition.title, audited, limit=most)
        rows = []
        for way, order, for_side in zip(ways, report.orders, report.sides[0].orders, strict=True):
            root = audited.tell.root_line(int(audited.passage.nodes[way.stations[0]]))
            risk = for_side.risks[0] if for_side.risks else None
            rows.append(
                OrderRow(
                    line=Line(root.start, (*root.moves, *audited.line_of(way).moves)),
                    share=order.share,
                    risk=None if risk is None else (risk.risk.at_least, risk.risk.at_most),
                    price=None if risk is None else (risk.price.at_least, risk.price.at_most),
                )
            )
        return tuple(rows)

    def cited(self, white: str, black: str) -> tuple[CitedGame, ...]:
        """The games of the store that these two may have played."""
        if self._store is None:
            return ()
        return tuple(
            CitedGame(
                white=game.white,
                black=game.black,
                event=game.event,
                site=game.site,
                date=game.date,
                result=_RESULTS[game.result],
                line=game.line,
                source=game.provenance.source,
                number=game.provenance.game_number,
            )
            for game in self._store.games_between(white, black)
        )

    def plans(self, place: Place, body: str) -> tuple[BodyPlans, ...]:
        """As `variorum plans` counts them; without scores.

        Raises:
            InputError: There is no such body of games, or there are no games.
        """
        key = place.position, body
        if key not in self._plans:
            self._plans[key] = counted_plans(self._opened, place, body)
        return self._plans[key]

    def plan(self, place: Place, plan: str, side: Side | None, body: str) -> tuple[PlanReading, ...]:
        """How often a plan is shown, by body of games that go through the place.

        Raises:
            InputError: There is no such body of games.
        """
        return () if self._store is None else plan_readings(self._store, place, plan, side, body)

    def contrast(self, here: Place, there: Place, colours: Colours) -> tuple[str, ...]:
        """As `variorum contrast` says it."""
        return contrast_report(here, there, self._verdicts, self._sigla, self.bands, colours).sentences

    @cached_property
    def _ground(self) -> AuditGround:
        """The edition's traffic with what voices said of it; made when the first order is asked for."""
        edition = self._edition
        least = edition.settings.budget.minimum_effort
        return audit_ground(
            self._opened.traffic,
            [one for one in self._opened.said if one.allowed >= least],
            roots=edition.roots,
            names=edition.names,
            sigla=self._sigla,
            bands=edition.settings.bands,
        )

    def hinges(self, place: Place, move: str, voice: str | None = None) -> tuple[HingeReading, ...]:
        """The hinges that kept verdicts show, by the deepest study of a voice."""
        (played,) = Line.parse(move, start=place.position).moves[:1] or (None,)
        if played is None:
            raise InputError(f"'{move}' is no move", remedy='write move="Nxd5"')
        near = frozenset(near_placements(self._ground.traffic.graph, place.position))
        for name in hinge_voices(self._edition):
            if voice in (None, self._sigla.get(name)):
                found = kept_hinges(self._edition, place.position, played, name, near)
                if found:
                    return tuple(
                        HingeReading(placement=one.placement, strength=one.strength, value=one.value)
                        for one in found
                    )
        return ()

    def entry(self, place: Place) -> Entry:
        """Every voice on the place, games last, and the rivals of the move that leads to it."""
        readings = self._readings(place.position)
        return Entry(readings, self._rivals(place.line))

    def _readings(self, position: Position) -> tuple[Reading, ...]:
        if position not in self._said:
            self._said[position] = tuple(self._look_up(position))
        return self._said[position]

    def _look_up(self, position: Position) -> Iterator[Reading]:
        for voice, verdict in self._deep(position).items():
            yield self._reading(voice, verdict, verdict.lines[0].score)
        # Most positions of a manuscript are met by no game, which is told without looking at any.
        if self._store is None or not self._store.reaches(position.key):
            return
        tally = self._store.statistics(position, examples=0).tally
        score = practice_score(tally, self._edition.settings.thresholds.few_games)
        if tally.games and score is not None:
            half = (score.high - score.low) / 2
            yield Reading(siglum=GAMES_SIGLUM, expected=score.mean, noise=half, games=tally.games)
        elif tally.games:
            yield Reading(siglum=GAMES_SIGLUM, games=tally.games)

    def _reading(self, voice: str, verdict: Verdict, score: Score) -> Reading:
        expected = expected_of(verdict, score)
        noise = (
            None
            if score.mate is not None
            else Estimate(expected, noise_of(verdict.nodes, expected)).half_width
        )
        return Reading(siglum=self._sigla[voice], expected=expected, noise=noise, score=score)

    def _deep(self, position: Position) -> dict[str, Verdict]:
        least = self._edition.settings.budget.minimum_effort
        return {voice: one for voice, one in self._verdicts.on(position).items() if one.allowed >= least}

    def _rivals(self, line: Line | None) -> tuple[Rival, ...]:
        """Other moves that verdicts on the position before give, two at most."""
        if line is None or not line.moves:
            return ()
        before, played = line.positions()[-2], line.moves[-1]
        rivals: dict[str, list[Reading]] = {}
        for voice, verdict in self._deep(before).items():
            for one in verdict.lines:
                if one.moves[0] != played.uci:
                    reading = self._reading(voice, verdict, one.score)
                    rivals.setdefault(before.san(Move(one.moves[0])), []).append(reading)
        return tuple(Rival(san, tuple(said)) for san, said in list(rivals.items())[:2])
