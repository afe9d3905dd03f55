"""`stavewright cache`: what is kept between builds, and how to be rid of it."""

from __future__ import annotations

import sys

from ..cache.store import MARK, CacheStore, bound
from ..plurals import count_of
from ..visible import visible
from .saying import say, say_json


def cache(clear: bool, as_json: bool = False) -> int:
    """Say where the cache is and what it holds, or clear it; 1 where it cannot be cleared.

    As JSON: `folder`, and `pieces`, `bytes` and `most_bytes`, or after clearing `forgotten` (pieces).
    """
    kept = CacheStore()
    try:
        bound()
    except ValueError as error:
        say(error, file=sys.stderr)
        return 2
    if clear:
        if kept.size()[0] and not kept.is_marked():
            say(
                f"{visible(kept.place)}: cannot be cleared: the file {MARK}, which marks a cache, is "
                "missing; builds write it",
                file=sys.stderr,
            )
            return 1
        try:
            count = kept.clear()
        except OSError as error:
            say(f"{visible(kept.place)}: cannot be cleared: {error.strerror}", file=sys.stderr)
            return 1
        if as_json:
            say_json({"folder": str(kept.place), "forgotten": count})
        else:
            say(f"{visible(kept.place)}: {count_of(count, 'piece')} forgotten.")
        return 0
    count, size = kept.size()
    if as_json:
        told = {"folder": str(kept.place), "pieces": count, "bytes": size, "most_bytes": kept.bound}
        say_json(told)
        return 0
    share = f"{size / 1e6:.1f} of at most {kept.bound / 1e6:.0f} MB"
    say(f"{visible(kept.place)}: {count_of(count, 'piece')}, {share}.")
    return 0
