"""Variorum: chess opening theory as plain text that its author owns, tied to evidence."""

from variorum._core import build_info

__all__ = ["__version__"]

__version__: str = build_info()[0]
"""Version of the installed package, as in `Cargo.toml`."""
