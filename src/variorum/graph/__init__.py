"""The position graph, values backed up, confluences, flow; what practice says."""

from variorum.graph.flow import Mix, Orders, Traffic, lay_traffic
from variorum.graph.graph import NO_NODE, TEXT_KIND, Arrival, Channel, Counts, Graph, Why
from variorum.graph.grow import GAMES_PER_POSITION, Cutoff, GameBatch, TextLine, grow_graph
from variorum.graph.inputs import edition_graph, game_batches, map_edition, text_lines
from variorum.graph.practice import (
    FEWEST_GAMES,
    PracticeScore,
    practice_interval,
    practice_score,
    rating_adjusted,
)
from variorum.graph.report import (
    Confluence,
    HeavyLine,
    MapOrder,
    MapReport,
    MapValue,
    PlaceOnMap,
    map_report,
)
from variorum.graph.values import Basis, Certainty, NodeValue, VoiceValues, back_up_values, median_value

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
    "TextLine",
    "Traffic",
    "VoiceValues",
    "Why",
    "back_up_values",
    "edition_graph",
    "game_batches",
    "grow_graph",
    "lay_traffic",
    "map_edition",
    "map_report",
    "median_value",
    "practice_interval",
    "practice_score",
    "rating_adjusted",
    "text_lines",
]
