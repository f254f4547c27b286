"""The command line: commands that parse, call and print. `README.md` says how to add one."""

from variorum.cli.app import main

__all__ = ["main"]
