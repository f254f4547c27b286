"""One file for each command. `COMMANDS` is their order in the help: as an author meets them."""

from typing import Final

__all__ = ["COMMANDS"]

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
    "schema",
)
