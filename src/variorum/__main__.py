"""`python -m variorum` is the command `variorum`."""

import sys

from variorum.cli import main

if __name__ == "__main__":
    sys.exit(main())
