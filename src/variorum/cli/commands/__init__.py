"""One file for each command. `COMMANDS` is their order in the help: as an author meets them.

A name of two words is a command of a group, which `GROUPS` explains: `voices add` is in `voices_add.py`.
"""

from typing import Final

__all__ = ["COMMANDS", "GROUPS"]

COMMANDS: Final = (
    "desk",
    "new",
    "edition",
    "name",
    "sift",
    "build",
    "position",
    "map",
    "apparatus",
    "consult",
    "scout",
    "playout",
    "playouts export",
    "orders",
    "plans",
    "hinges",
    "tempo",
    "contrast",
    "nearby",
    "structures",
    "check",
    "digest suggest",
    "digest reach",
    "drift",
    "publish",
    "diagram",
    "manuscript add",
    "manuscript comment",
    "manuscript sign",
    "manuscript promote",
    "manuscript demote",
    "manuscript delete",
    "manuscript move",
    "manuscript merge",
    "manuscript split",
    "manuscript tidy",
    "manuscript undo",
    "manuscript redo",
    "rejects",
    "doubles",
    "verdicts export",
    "verdicts import",
    "voices list",
    "voices add",
    "voices test",
    "voices remove",
    "schema",
)

GROUPS: Final = {
    "manuscript": "Change the manuscript: only what is asked for, nothing else in the file; every change can be undone.",
    "playouts": "Give playouts to others, as PGN.",
    "digest": "Choose what the short text should contain, and tell what it answers.",
    "verdicts": "Give verdicts to others, and take in theirs, as standard EPD.",
    "voices": "Say whom to ask besides the resident: UCI programs on your machine.",
}
