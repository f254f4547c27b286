"""Invented evidence for tests: places of isolated-queen's-pawn play, voices and games that nobody has."""

from __future__ import annotations

import msgspec

from variorum.base import InputError
from variorum.board import DEFAULT_BANDS, Line, Score, Side
from variorum.claims.exhibits import CitedGame, OrderRow
from variorum.claims.facts import HingeReading, Order, OrderCost, PlanReading, Reading
from variorum.edition.place import Place, parse_place
from variorum.insight.contrast_report import Colours, contrast_report
from variorum.insight.plan_kinds import PlanKind
from variorum.insight.plans_report import BodyPlans, BodyResults, PlanLine
from variorum.publish.apparatus import Entry, Rival
from variorum.voices.verdicts import Verdicts

PANOV = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O O-O 10.Re1"
SEMI_TARRASCH = (
    "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3 Nc6 7.Bd3 cxd4 8.exd4 Be7 9.O-O O-O 10.Re1"
)
BREAK = f"{PANOV} Nf6 11.a3 b6 12.Bc2 Bb7 13.Qd3 Re8"
LINES = {"iqp-main": PANOV, "before the break": BREAK}


class InventedEvidence:
    """Two engines and a body of games have spoken of the two named places, and of 14.d5."""

    bands = DEFAULT_BANDS

    def __init__(self) -> None:
        self.names: dict[str, Place] = {}
        for name, text in LINES.items():
            place = parse_place(text, {})
            self.names[name] = Place(text=name, position=place.position, line=place.line, name=name)
        thrust = parse_place(f"{BREAK} 14.d5", {})
        games = Reading(siglum="G", expected=54.3, noise=4.1, games=318)
        few = Reading(siglum="G", games=3)
        self.entries = {
            self.names["iqp-main"].position: Entry((_engine("A", 61.8, 1.1, 52), games)),
            self.names["before the break"].position: Entry((_engine("A", 74.3, 1.4, 115), few)),
            thrust.position: Entry(
                (_engine("A", 74.3, 1.4, 115), _engine("B", 69.5, 2.6, 89)),
                (
                    Rival("Bg5", (_engine("A", 58.0, 1.2, 35), few)),
                    Rival("Bh6", (_engine("A", 47.0, 1.3, -13),)),
                ),
            ),
        }

    def place(self, text: str) -> Place:
        return parse_place(text, self.names)

    def say(self, text: str) -> str:
        return text

    def entry(self, place: Place) -> Entry:
        return self.entries.get(place.position, Entry())

    def score(self, place: Place, voice: str | None = None) -> Reading | None:
        readings = self.entry(place).readings
        return next((reading for reading in readings if voice in (None, reading.siglum)), None)

    def count(self, place: Place) -> int:
        games = self.score(place, "G")
        return games.games or 0 if games else 0

    def orders(self, place: Place) -> tuple[Order, ...]:
        if place.position != self.names["iqp-main"].position:
            return ()
        return (Order(Line.parse(PANOV), 201), Order(Line.parse(SEMI_TARRASCH), 117))

    def order_cost(
        self, place: Place, order: Line | None, side: Side | None = None, voice: str | None = None
    ) -> OrderCost | None:
        if place.position != self.names["iqp-main"].position or order is None or voice == "B":
            return None
        if order == Line.parse(SEMI_TARRASCH):
            return OrderCost(risk=(4.3, 4.3), price=(3.6, 3.6), guaranteed=(4.3, None))
        if order == self.names["iqp-main"].line:
            return OrderCost(risk=(0.7, 0.7), price=(0.0, 0.0), guaranteed=(0.0, 0.7))
        return None

    def hinges(self, place: Place, move: str, voice: str | None = None) -> tuple[HingeReading, ...]:
        Line.parse(move, start=place.position)
        if place.position != self.names["iqp-main"].position or voice == "B":
            return ()
        return (
            HingeReading(placement="knight on f3", strength=-38.4, value=55.2),
            HingeReading(placement="bishop on e7", strength=-20.3, value=37.1),
        )

    def plan(self, place: Place, plan: str, side: Side | None, body: str) -> tuple[PlanReading, ...]:
        if place.position != self.names["iqp-main"].position:
            return ()
        shown = plan == "d4-d5" and side is not Side.BLACK
        return (
            PlanReading(
                body=body or "practice", games=61, count=31 if shown else None, move=15 if shown else None
            ),
        )

    def cited(self, white: str, black: str) -> tuple[CitedGame, ...]:
        game = CitedGame(
            white="Orlo, Tam",
            black="Vesk, Ina",
            event="Spring Open",
            site="Oakham",
            date=20190314,
            result="1-0",
            line=Line.parse(f"{BREAK} 14.d5 exd5 15.Nxd5"),
            source="sources/invented.pgn",
            number=7,
        )
        later = msgspec.structs.replace(game, date=20200101, result="1/2-1/2", number=8)
        return tuple(one for one in (game, later) if (white, black) == ("Orlo", "Vesk"))

    def plans(self, place: Place, body: str) -> tuple[BodyPlans, ...]:
        if body == "nobody":
            raise InputError("no games are of 'nobody'", remedy="there are games of practice")
        if place.position != self.names["iqp-main"].position:
            return ()
        plans = (
            PlanLine(kind=PlanKind.BREAK, side=Side.WHITE, plan="d4–d5", count=31, games=61, move=15, ply=11),
            PlanLine(
                kind=PlanKind.ITINERARY, side=Side.BLACK, plan="Nd5–f6", count=40, games=61, move=11, ply=3
            ),
        )
        results = BodyResults(wins=30, draws=20, losses=11, unknown=0)
        return (
            BodyPlans(
                name="practice", games=61, clusters=61, scored=61, results=results, plans=plans, sentences=()
            ),
        )

    def order_rows(self, place: Place, most: int, side: str) -> tuple[OrderRow, ...]:
        rows = (
            OrderRow(line=Line.parse(PANOV), share=63.2, risk=(0.7, 0.7), price=(0.0, 0.0)),
            OrderRow(line=Line.parse(SEMI_TARRASCH), share=36.8, risk=(4.3, None), price=None),
        )
        if place.position != self.names["iqp-main"].position:
            raise InputError("no line of the edition leads to it", remedy="write it into manuscript.pgn")
        return rows[:most]

    def contrast(self, here: Place, there: Place, colours: Colours) -> tuple[str, ...]:
        return contrast_report(here, there, Verdicts([]), {}, self.bands, colours).sentences


def _engine(siglum: str, expected: float, noise: float, cp: int) -> Reading:
    return Reading(siglum=siglum, expected=expected, noise=noise, score=Score.of_cp(cp))
