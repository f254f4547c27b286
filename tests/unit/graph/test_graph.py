from __future__ import annotations

import numpy as np
import pytest
from invented_graph import told

from variorum.base import StoreError, UsageError
from variorum.board import Line, Position, Score, Verdict, VerdictLine
from variorum.graph import (
    Basis,
    Certainty,
    Channel,
    Cutoff,
    GameBatch,
    Graph,
    Mix,
    TextLine,
    Why,
    back_up_values,
    grow_graph,
    lay_traffic,
    median_value,
)

START = Position.start()
PANOV = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3"
SEMI_TARRASCH_KIN = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nf3 e6 6.Nc3"


def batch(*games: tuple[str, int], kind: str = "practice") -> GameBatch:
    lines = [Line.parse(text).packed() for text, _ in games]
    return GameBatch(
        Channel(kind),
        np.cumsum([0, *map(len, lines)]).astype(np.uint64),
        np.concatenate(lines).astype(np.uint16),
        np.zeros(len(games), np.uint16),
        np.array([result for _, result in games], np.uint8),
    )


def texts(*lines: str) -> list[TextLine]:
    return [TextLine(START, Line.parse(line).packed()) for line in lines]


def node(graph: Graph, line: str) -> int:
    found = graph.node_of(Line.parse(line).end)
    assert found is not None
    return found


def verdict(line: str, voice: str, nodes: int, *scored: tuple[str, int]) -> Verdict:
    position = Line.parse(line).end
    lines = tuple(VerdictLine((position.parse(san).uci,), Score.of_cp(cp)) for san, cp in scored)
    return Verdict(key=position.key, epd=position.epd, voice=voice, version="1", lines=lines, nodes=nodes)


def test_orders_merge_and_are_told_apart() -> None:
    graph = grow_graph(
        [START], texts=texts(PANOV), games=lambda: [batch((SEMI_TARRASCH_KIN, 1))], game_count=1
    )
    merged = node(graph, PANOV)
    assert merged in graph.confluences()
    assert len(graph.parents(merged)) == 2
    orders = lay_traffic(graph).orders_to(merged, 10)
    assert orders.since == node(graph, "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6")
    assert orders.count == 2
    moves = [[graph.move(edge).uci for edge in order] for order in orders.orders]
    assert moves == [["g1f3", "e7e6", "b1c3"], ["b1c3", "e7e6", "g1f3"]], (
        "the order that was played comes first"
    )
    assert Why(int(graph.why[graph.roots[0]])) == Why.ROOT | Why.TEXT | Why.GAMES


def test_shares_follow_the_mix() -> None:
    practice = batch(*[("1.e4 c6", 1)] * 3, ("1.d4 d5", 3))
    engines = batch(("1.c4 e5", 0), kind="engine")
    graph = grow_graph([START], games=lambda: [practice, engines], game_count=5)
    traffic = lay_traffic(graph, Mix(practice=0.8, engines=0.2))
    passed = {move: float(traffic.nodes[node(graph, move)]) for move in ("1.e4", "1.d4", "1.c4", "1.e4 c6")}
    assert passed == pytest.approx({"1.e4": 0.6, "1.d4": 0.2, "1.c4": 0.2, "1.e4 c6": 0.6})
    assert lay_traffic(graph, Mix(practice=1, engines=0)).nodes[node(graph, "1.c4")] == 0


def test_what_the_traffic_is_made_of_is_said_as_it_is() -> None:
    practice, engines = batch(("1.e4 c6", 1)), batch(("1.c4 e5", 0), kind="engine")
    both = grow_graph([START], games=lambda: [practice, engines], game_count=2)
    assert lay_traffic(both).words == "practice 75 %, engine games 25 %; where no game goes on, the text"
    one = grow_graph([START], games=lambda: [practice], game_count=1)
    assert lay_traffic(one).words == "practice 100 %; where no game goes on, the text"
    assert lay_traffic(grow_graph([START], texts=texts("1.e4"))).words == "the texts alone"


def test_the_text_goes_on_where_games_do_not() -> None:
    graph = grow_graph(
        [START],
        texts=texts("1.e4 c6 2.d4", "1.e4 c6 2.Nc3", "1.d4"),
        games=lambda: [batch(("1.e4 c6", 1))],
        game_count=1,
    )
    traffic = lay_traffic(graph)
    assert traffic.nodes[node(graph, "1.e4 c6 2.d4")] == pytest.approx(0.5)
    assert traffic.nodes[node(graph, "1.d4")] == 0, "games go on from the start, and none with 1.d4"


def test_a_game_that_ends_or_leaves_the_graph_takes_its_traffic_with_it() -> None:
    games = batch(("1.e4 c6", 1), ("1.e4 c6", 1), ("1.e4 e6", 1), ("1.e4", 2))
    graph = grow_graph([START], games=lambda: [games], cutoff=Cutoff(min_games=2))
    traffic = lay_traffic(graph)
    assert traffic.nodes[node(graph, "1.e4")] == 1
    assert traffic.nodes[node(graph, "1.e4 c6")] == pytest.approx(0.5)
    assert graph.node_of(Line.parse("1.e4 e6").end) is None
    assert [graph.off_counts.at(node(graph, "1.e4"))] == [[(0, (0, 1, 0, 0))]]


def test_values_name_their_leaf_and_effort() -> None:
    graph = grow_graph([START], texts=texts("1.e4 c6 2.d4 d5 3.e5"))
    verdicts = [
        verdict("1.e4 c6 2.d4 d5 3.e5", "X", 1000, ("Bf5", 40)),
        verdict("1.e4 c6 2.d4 d5", "X", 500, ("e5", 10), ("Nc3", 30)),
        verdict("1.e4 c6 2.d4 d5", "X", 100, ("Nc3", 900)),
        verdict("1.e4 c6", "Y", 100, ("d4", -20)),
    ]
    values = back_up_values(graph, verdicts)
    assert list(values) == ["X", "Y"]
    after = values["X"].at(graph, node(graph, "1.e4 c6 2.d4 d5"))
    assert (after.certainty, after.basis, after.nodes) == (Certainty.VALUE, Basis.VERDICT, 1000)
    assert after.leaf == node(graph, "1.e4 c6 2.d4 d5 3.e5")
    assert after.via is not None
    assert after.via.uci == "e4e5"
    before = values["X"].at(graph, node(graph, "1.e4 c6 2.d4"))
    assert (before.certainty, before.score) == (Certainty.BOUND, after.score), "other moves are not known"
    assert values["X"].at(graph, node(graph, "1.e4 c6")).certainty is Certainty.UNKNOWN, (
        "a bound decides no parent"
    )
    own = values["Y"].at(graph, node(graph, "1.e4 c6"))
    assert own.leaf == node(graph, "1.e4 c6")
    assert median_value([own, before]) == (own.score, own.score, own.score)
    assert median_value([before]) is None


def test_a_mate_needs_no_verdict() -> None:
    graph = grow_graph([START], texts=texts("1.f3 e5 2.g4 Qh4"))
    values = back_up_values(graph, [verdict("1.f3 e5 2.g4", "X", 10, ("d5", 0))])["X"]
    mated = values.at(graph, node(graph, "1.f3 e5 2.g4 Qh4"))
    assert (mated.score, mated.basis, mated.nodes) == (0.0, Basis.RULES, 0)
    assert values.at(graph, node(graph, "1.f3 e5 2.g4")).leaf == node(graph, "1.f3 e5 2.g4 Qh4")


def test_the_same_input_gives_the_same_graph() -> None:
    games = [batch((PANOV, 1), (SEMI_TARRASCH_KIN, 2), ("1.d4 d5 2.c4", 3))]
    graphs = [grow_graph([START], games=lambda: games, game_count=3) for _ in range(2)]
    for name in ("keys", "packed", "offsets", "targets", "moves", "why", "roots"):
        assert np.array_equal(getattr(graphs[0], name), getattr(graphs[1], name)), name


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(UsageError, match="needs a root"):
        grow_graph([])
    with pytest.raises(UsageError, match="shares"):
        Mix(practice=0, engines=0)
    broken = batch(("1.e4 c6", 1))
    broken.moves[1] = broken.moves[0]
    with pytest.raises(StoreError, match="no legal move at half-move 2"):
        grow_graph([START], games=lambda: [broken], game_count=1)


def test_a_node_more_or_less_beside_one_limit_outranks_nobody() -> None:
    """Both were asked for 1,000 nodes: the child's value counts, though the search above it ended a node later."""
    start = Line.parse("1.e4 c6 2.d4 d5").end
    after = start.play(start.parse("exd5"))

    def said(position: Position, san: str, cp: int, nodes: int, depth: int) -> Verdict:
        line = VerdictLine((position.parse(san).uci,), Score.of_cp(cp))
        return Verdict(
            key=position.key,
            epd=position.epd,
            voice="v",
            version="1",
            lines=(line,),
            nodes=nodes,
            depth=depth,
            asked=1_000,
        )

    graph = grow_graph([start], verdicts=[after])
    (values,) = back_up_values(
        graph, [said(start, "exd5", 10, 1_001, 9), said(after, "cxd5", 40, 1_000, 8)]
    ).values()
    root = graph.node_of(start)
    assert root is not None
    value = values.at(graph, root)
    assert value.score == pytest.approx(Score.of_cp(40).expected())
    assert (value.leaf, value.nodes, value.depth) == (graph.node_of(after), 1_000, 8)


def test_nodes_and_edges_are_found_together_as_one_by_one() -> None:
    graph = told().graph
    strange = np.array([0, 1, 2**64 - 1], np.uint64)
    keys = np.concatenate([strange, graph.keys[::-1]])
    assert graph.nodes_of(keys).tolist() == [-1, -1, -1, *range(graph.nodes - 1, -1, -1)]
    chance = np.random.default_rng(3)
    sources, targets = chance.integers(0, graph.nodes, (2, 40))
    sources, targets = np.append(sources, graph.sources[:9]), np.append(targets, graph.targets[:9])
    pairs = set(zip(sources.tolist(), targets.tolist(), strict=True))
    found = [
        edge
        for node in range(graph.nodes)
        for edge in graph.edges_of(node)
        if (node, int(graph.targets[edge])) in pairs
    ]
    assert graph.edges_between(sources, targets).tolist() == found
    assert len(found) >= 9
