"""The order audit on a small graph whose every figure can be checked by hand."""

from __future__ import annotations

import pytest

from variorum.base import UsageError
from variorum.board import Line, Position, Score, Side, Verdict, VerdictLine
from variorum.edition import Place
from variorum.graph import Graph, TextLine, grow_graph, lay_traffic
from variorum.insight.order_telling import orders_report
from variorum.insight.orders import Audit, Condition, audit, audit_ground
from variorum.insight.orders_report import ForSide, OrdersReport

START = Position.start()
ROOT = "1.d4 d5 2.c4 e6"
KNIGHT_FIRST = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3"
OTHER_KNIGHT_FIRST = "1.d4 d5 2.c4 e6 3.Nf3 Nf6 4.Nc3"
TEXTS = (
    f"{KNIGHT_FIRST} Be7",
    OTHER_KNIGHT_FIRST,
    "1.d4 d5 2.c4 e6 3.Nc3 Bb4 4.a3",
    "1.d4 d5 2.c4 e6 3.Nf3 dxc4",
    "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Bg5",
)


def verdict(line: str, voice: str, *scored: tuple[str, int], nodes: int = 100_000) -> Verdict:
    position = Line.parse(line).end
    lines = tuple(VerdictLine((position.parse(san).uci,), Score.of_cp(cp)) for san, cp in scored)
    return Verdict(key=position.key, epd=position.epd, voice=voice, version="1", lines=lines, nodes=nodes)


TARGET = verdict(KNIGHT_FIRST, "X", ("Be7", 40))
# At both positions where Black is to move: what he may play besides takes nothing.
WATCHED = (
    verdict("1.d4 d5 2.c4 e6 3.Nc3", "X", ("Nf6", 40)),
    verdict("1.d4 d5 2.c4 e6 3.Nf3", "X", ("Nf6", 40)),
)
AFTER_BB4 = verdict("1.d4 d5 2.c4 e6 3.Nc3 Bb4", "X", ("a3", 60))
AFTER_DXC4 = verdict("1.d4 d5 2.c4 e6 3.Nf3 dxc4", "X", ("e3", 10))


def points(first: int, second: int) -> float:
    return Score.of_cp(first).expected() - Score.of_cp(second).expected()


def audited(*verdicts: Verdict, side: Side = Side.WHITE) -> Audit:
    root = Line.parse(ROOT)
    graph: Graph = grow_graph(
        [root.end],
        texts=[TextLine(START, Line.parse(text).packed()) for text in TEXTS],
        verdicts=[Position.from_fen(one.epd) for one in verdicts],
    )
    node = graph.node_of(Line.parse(KNIGHT_FIRST).end)
    assert node is not None
    place = Place(text=ROOT, position=root.end, line=root, name="root")
    voices = {one.voice: one.voice for one in verdicts}
    ground = audit_ground(lay_traffic(graph), verdicts, roots=[place], names={}, sigla=voices)
    return audit(ground, node, [side])


def report(
    *verdicts: Verdict, side: Side = Side.WHITE, **conditions: list[str]
) -> tuple[OrdersReport, ForSide]:
    asked = {name: [Condition(text) for text in texts] for name, texts in conditions.items()}
    found = orders_report("T", audited(*verdicts, side=side), **asked)  # type: ignore[arg-type]
    return found, found.sides[0]


def test_risk_and_price_of_both_orders() -> None:
    found, white = report(TARGET, AFTER_BB4, AFTER_DXC4)
    assert [order.moves for order in found.orders] == ["3.Nf3 Nf6 4.Nc3", "3.Nc3 Nf6 4.Nf3"]
    assert [(turn.side, turn.move, turn.instead) for turn in found.orders[1].turns] == [
        ("white", "3.Nc3", ("Nf3",))
    ]
    risky, safe = (order.risks[0] for order in white.orders)
    assert (safe.risk.at_least, safe.risk.at_most, safe.worst) == (0.0, 0.0, None)
    assert (safe.price.at_least, safe.price.at_most) == (0.0, 0.0)
    assert risky.risk.at_least == risky.risk.at_most == pytest.approx(points(40, 10))
    assert risky.price.at_most == pytest.approx(points(40, 10))
    assert risky.worst is not None
    worst = next(one for one in white.deviations if one.number == risky.worst)
    assert (worst.after, worst.move, worst.manuscript, worst.orders) == (
        "3.Nf3",
        "3...dxc4",
        "mentioned",
        (1,),
    )
    mistake = next(one for one in white.deviations if one.move == "3...Bb4")
    assert mistake.manuscript == "answered"
    assert mistake.values[0].takes is not None
    assert mistake.values[0].takes.at_least == pytest.approx(points(40, 60))


def test_the_best_order_is_the_one_that_risks_least() -> None:
    _, white = report(TARGET, AFTER_BB4, AFTER_DXC4, *WATCHED)
    (best,) = white.best
    assert (best.root, best.moves) == ("root", "3.Nc3 Nf6 4.Nf3")
    assert (best.guaranteed.at_least, best.guaranteed.at_most) == (0.0, 0.0)
    assert [(one.after, one.move, one.instead) for one in best.choices] == [("", "3.Nc3", ("Nf3",))]


def test_nothing_is_promised_where_a_move_that_nobody_named_may_take_more() -> None:
    _, white = report(TARGET, AFTER_BB4, AFTER_DXC4)
    assert white.best[0].guaranteed.at_most is None
    assert [order.risks[0].unwatched for order in white.orders] == [1, 1]
    worse = verdict("1.d4 d5 2.c4 e6 3.Nc3", "X", ("Nf6", 30))
    _, white = report(TARGET, AFTER_BB4, AFTER_DXC4, worse, WATCHED[1])
    assert white.best[0].guaranteed.at_most == pytest.approx(points(40, 30)), (
        "no move is better than his best"
    )


def test_for_black_the_deviations_are_whites() -> None:
    _, black = report(TARGET, verdict("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Bg5", "X", ("Be7", 70)), side=Side.BLACK)
    assert [one.move for one in black.deviations] == ["4.Bg5"]
    risk = black.orders[1].risks[0]
    assert risk.risk.at_least == pytest.approx(points(70, 40))
    assert black.orders[0].risks[0].price.at_least == 0.0


def test_what_is_not_judged_is_left_open() -> None:
    _, white = report(TARGET, AFTER_BB4)
    second, first = (order.risks[0] for order in white.orders)
    assert (first.risk.at_most, first.unknown) == (0.0, 0)
    assert (second.risk.at_least, second.risk.at_most, second.unknown) == (0.0, None, 1)
    assert second.price.at_most is None
    _, white = report(TARGET, AFTER_BB4, *WATCHED)
    assert white.best[0].moves == "3.Nc3 Nf6 4.Nf3", "what is known is preferred to what may be anything"


def test_without_a_value_of_the_target_there_is_no_risk() -> None:
    found, white = report(AFTER_BB4)
    assert found.values == ()
    assert all(order.risks == () for order in white.orders)
    assert white.best == ()
    assert next(one.position for one in audited(AFTER_BB4).missing("X", 0)) == Line.parse(KNIGHT_FIRST).end


def test_a_bound_gives_a_span() -> None:
    bound = verdict("1.d4 d5 2.c4 e6 3.Nf3 dxc4 4.e3", "X", ("Nf6", 10))
    _, white = report(TARGET, AFTER_BB4, bound)
    risk = white.orders[0].risks[0].risk
    assert (risk.at_least, risk.at_most) == (0.0, pytest.approx(points(40, 10)))
    taken = next(one for one in white.deviations if one.move == "3...dxc4").values[0]
    assert taken.certainty == "at least"


def test_a_line_of_a_verdict_shows_a_deviation_that_nobody_knew() -> None:
    lines = verdict("1.d4 d5 2.c4 e6 3.Nc3", "X", ("c5", -20), ("Nf6", 40))
    _, white = report(TARGET, AFTER_BB4, AFTER_DXC4, lines, WATCHED[1])
    found = next(one for one in white.deviations if one.move == "3...c5")
    assert found.games == {}
    assert found.manuscript == "no"
    assert white.orders[1].risks[0].risk.at_least == pytest.approx(points(40, -20))
    assert white.best[0].moves == "3.Nf3 Nf6 4.Nc3", "now the other knight first is the safer one"


def test_voices_are_counted_each_alone() -> None:
    other = [verdict(KNIGHT_FIRST, "Y", ("Be7", 0)), verdict("1.d4 d5 2.c4 e6 3.Nf3 dxc4", "Y", ("e3", -80))]
    _, white = report(TARGET, AFTER_BB4, AFTER_DXC4, *other)
    by_voice = {one.voice: one for one in white.orders[0].risks}
    assert by_voice["X"].risk.at_least == pytest.approx(points(40, 10))
    assert by_voice["Y"].risk.at_least == pytest.approx(points(0, -80))


def test_a_deviation_that_every_order_allows_counts_in_the_risk_and_not_in_the_price() -> None:
    """A third line makes the first move common: 3.Nc3 Nf6 4.Nf3 Be7 reached with the bishop sooner or later."""
    target = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 Be7 5.Bg5"
    root = Line.parse(ROOT)
    texts = (
        target,
        "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Bg5 Be7 5.Nf3",
        "1.d4 d5 2.c4 e6 3.Nc3 c5",
        "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Bg5 dxc4",
    )
    verdicts = [
        verdict(target, "X", ("O-O", 40)),
        verdict("1.d4 d5 2.c4 e6 3.Nc3 c5", "X", ("cxd5", 0)),
        verdict("1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Bg5 dxc4", "X", ("e4", 20)),
    ]
    graph = grow_graph(
        [root.end],
        texts=[TextLine(START, Line.parse(text).packed()) for text in texts],
        verdicts=[Position.from_fen(one.epd) for one in verdicts],
    )
    node = graph.node_of(Line.parse(target).end)
    assert node is not None
    place = Place(text=ROOT, position=root.end, line=root, name="root")
    ground = audit_ground(lay_traffic(graph), verdicts, roots=[place], names={}, sigla={"X": "X"})
    found = audit(ground, node, [Side.WHITE])
    white = orders_report("T", found).sides[0]
    risks = [order.risks[0] for order in white.orders]
    assert [one.risk.at_least for one in risks] == pytest.approx([points(40, 0)] * 2)
    assert sorted(one.price.at_least for one in risks) == pytest.approx([0.0, points(40, 20)])
    assert next(one for one in white.deviations if one.move == "3...c5").in_every_order


def test_conditions() -> None:
    found, white = report(TARGET, AFTER_DXC4, avoid=["3...dxc4"])
    assert [order.moves for order in found.orders] == ["3.Nc3 Nf6 4.Nf3"]
    assert (found.order_count, found.met, white.avoidable) == (2, 1, True)
    found, _ = report(TARGET, keep=["Bg5"])
    assert [order.moves for order in found.orders] == ["3.Nc3 Nf6 4.Nf3"]
    assert report(TARGET, keep=["Bg5"])[1].orders[0].keeps == ("Bg5",)
    with pytest.raises(UsageError, match="nothing that is known"):
        report(TARGET, avoid=["Qh4"])
    with pytest.raises(UsageError, match="no option"):
        report(TARGET, keep=["7.Bg5"])


def test_what_is_missing_is_asked_in_the_order_of_traffic() -> None:
    wanted = audited(TARGET, AFTER_BB4).missing("X", 50_000)
    lines = {
        line: Line.parse(line).end
        for line in ("1.d4 d5 2.c4 e6 3.Nc3", "1.d4 d5 2.c4 e6 3.Nf3", "1.d4 d5 2.c4 e6 3.Nf3 dxc4")
    }
    asked = {one.position: one.multipv for one in wanted}
    assert asked == {
        lines["1.d4 d5 2.c4 e6 3.Nc3"]: 3,
        lines["1.d4 d5 2.c4 e6 3.Nf3"]: 3,
        lines["1.d4 d5 2.c4 e6 3.Nf3 dxc4"]: 1,
    }
    assert len(audited(TARGET, AFTER_BB4).missing("X", 1_000_000)) > len(wanted), "deeper: all of it again"
