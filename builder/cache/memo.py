"""What is worked out once and kept, as long as nothing that decides it has changed.

There is one way to name what is kept: `memo_key`, from the result's name and everything that decides it, as
text. The program's own code is always part of a key, so that no changed rule can leave a stale result. Ink
is the exception: its key (`engrave.piece.Piece.key`) has only the code that makes ink, for that takes long.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any

from .store import CacheStore, key_of


@cache
def program_code() -> str:
    """A hash of the whole program's code, the catalogs of its words among it."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parents[1].rglob("*")):
        if path.suffix in {".py", ".lark", ".ly", ".po"}:
            digest.update(path.read_bytes())
    return digest.hexdigest()


def memo_key(name: str, parts: Iterable[str]) -> str:
    """The key of a result; `parts` are everything that decides it but the program's code."""
    return key_of((name, program_code(), *parts))


def memo_json(store: CacheStore, name: str, parts: Iterable[str], make: Callable[[], Any]) -> Any:
    """What `make` gives, as JSON has it: from the store, or made and kept there."""
    key = memo_key(name, parts)
    data = store.get(key)
    if data is not None:
        try:
            return json.loads(data)
        except ValueError:
            pass
    made = json.dumps(make(), separators=(",", ":")).encode()
    store.put(key, made)
    # As it comes back from the store, so that a first build and a second give the same.
    return json.loads(made)


def memo_bytes(store: CacheStore, name: str, parts: Iterable[str], make: Callable[[], bytes]) -> bytes:
    """What `make` gives: from the store, or made and kept there."""
    key = memo_key(name, parts)
    data = store.get(key)
    if data is None:
        data = make()
        store.put(key, data)
    return data
