"""Sources: files of games in, what reaches the roots into the store."""

from variorum.sources.lists import (
    DoublesReport,
    RejectsReport,
    date_text,
    list_doubles,
    list_rejects,
)
from variorum.sources.playouts import sift_playouts
from variorum.sources.report import SourceReport
from variorum.sources.sift import SiftOptions, SiftReport, fault_of, faults_of, forget_missing, sift

__all__ = [
    "DoublesReport",
    "RejectsReport",
    "SiftOptions",
    "SiftReport",
    "SourceReport",
    "date_text",
    "fault_of",
    "faults_of",
    "forget_missing",
    "list_doubles",
    "list_rejects",
    "sift",
    "sift_playouts",
]
