"""Errors, diagnostics, progress, user settings: what every floor above may use."""

from variorum.base.diagnostics import Diagnostic, Severity
from variorum.base.errors import (
    Defect,
    InputError,
    Interrupted,
    StoreBusyError,
    StoreError,
    StoreVersionError,
    UsageError,
    VariorumError,
    VoiceError,
)
from variorum.base.failures import TRACE_VARIABLE, in_words
from variorum.base.progress import Progress, Silent, Task, time_left

__all__ = [
    "TRACE_VARIABLE",
    "Defect",
    "Diagnostic",
    "InputError",
    "Interrupted",
    "Progress",
    "Severity",
    "Silent",
    "StoreBusyError",
    "StoreError",
    "StoreVersionError",
    "Task",
    "UsageError",
    "VariorumError",
    "VoiceError",
    "in_words",
    "time_left",
]
