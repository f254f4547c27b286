"""The position graph, values backed up, confluences, flow; what practice says."""

from variorum.graph.flow import Mix, Orders, Traffic, lay_traffic
from variorum.graph.graph import NO_NODE, TEXT_KIND, Arrival, Channel, Counts, Graph, Why
from variorum.graph.grow import GAMES_PER_POSITION, Cutoff, GameBatch, TextLine, grow_graph
from variorum.graph.inputs import edition_graph, game_batches, off_roots, text_lines
from variorum.graph.practice import (
    FEWEST_GAMES,
    PracticeScore,
    practice_interval,
    practice_score,
    rating_adjusted,
)
from variorum.graph.report import Confluence, HeavyLine, MapReport, PlaceOnMap, map_report
from variorum.graph.telling import MapOrder, MapValue, Teller, ValueRange
from variorum.graph.values import (
    Basis,
    Certainty,
    NodeValue,
    VoiceValues,
    back_up_values,
    deepest_verdicts,
    median_value,
    scored_moves,
)

__all__ = [
    "FEWEST_GAMES",
    "GAMES_PER_POSITION",
    "NO_NODE",
    "TEXT_KIND",
    "Arrival",
    "Basis",
    "Certainty",
    "Channel",
    "Confluence",
    "Counts",
    "Cutoff",
    "GameBatch",
    "Graph",
    "HeavyLine",
    "MapOrder",
    "MapReport",
    "MapValue",
    "Mix",
    "NodeValue",
    "Orders",
    "PlaceOnMap",
    "PracticeScore",
    "Teller",
    "TextLine",
    "Traffic",
    "ValueRange",
    "VoiceValues",
    "Why",
    "back_up_values",
    "deepest_verdicts",
    "edition_graph",
    "game_batches",
    "grow_graph",
    "lay_traffic",
    "map_report",
    "median_value",
    "off_roots",
    "practice_interval",
    "practice_score",
    "rating_adjusted",
    "scored_moves",
    "text_lines",
]
