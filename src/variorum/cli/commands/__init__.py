"""One file for each command. `COMMANDS` is their order in the help: as an author meets them.

A name of two words is a command of a group, which `GROUPS` explains: `voices add` is in `voices_add.py`.
"""

from typing import Final

__all__ = ["COMMANDS", "GROUPS"]

COMMANDS: Final = (
    "new",
    "edition",
    "name",
    "sift",
    "position",
    "map",
    "check",
    "publish",
    "rejects",
    "doubles",
    "voices list",
    "voices add",
    "voices test",
    "voices remove",
    "schema",
)

GROUPS: Final = {"voices": "Say whom to ask besides the resident: UCI programs on your machine."}
