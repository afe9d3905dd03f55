"""`python -m builder`: the same as `stavewright`."""

import sys

from builder.cli import command

if __name__ == "__main__":
    sys.exit(command())
