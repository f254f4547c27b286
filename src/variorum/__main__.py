"""The program `variorum`; `python -m variorum` is the same."""

import sys

__all__ = ["run"]


def run() -> int:
    """Load the command line and run one command; Ctrl-C while it is being loaded gives words too, no traceback."""
    try:
        from variorum.cli import main

        return main()
    except KeyboardInterrupt:
        sys.stderr.write("variorum: stopped before anything was begun\n")
        return 130


if __name__ == "__main__":
    sys.exit(run())
