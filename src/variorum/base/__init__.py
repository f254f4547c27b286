"""Errors, diagnostics, progress, user settings: what every floor above may use."""

from variorum.base.diagnostics import Diagnostic, Severity
from variorum.base.errors import (
    InputError,
    Interrupted,
    StoreBusyError,
    StoreError,
    StoreVersionError,
    UsageError,
    VariorumError,
    VoiceError,
)
from variorum.base.progress import Progress, Silent, Task, time_left

__all__ = [
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
    "time_left",
]
