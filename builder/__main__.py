"""`python -m stavewright`: the same as `stavewright`."""

import sys

if __name__ == "__main__":
    if not sys.flags.safe_path:
        # Python put the working folder first on its path. Put last, it cannot take the place of a module of
        # Python's own or of an installed one.
        sys.path.append(sys.path.pop(0))
    from .cli import command

    sys.exit(command())
