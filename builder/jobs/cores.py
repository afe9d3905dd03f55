"""How many cores this process may use."""

from __future__ import annotations

import os
import sys


def cores() -> int:
    """The number of cores, at least 1."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
