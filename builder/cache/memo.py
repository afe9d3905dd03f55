"""A cache of derived results: each is stored under a hash of all its inputs."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any

from .store import PieceCache, key_of


@cache
def program_code() -> str:
    """A hash of the whole program's code: a changed rule makes anew whatever it may decide."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parents[1].rglob("*")):
        if path.suffix in {".py", ".lark", ".ly"}:
            digest.update(path.read_bytes())
    return digest.hexdigest()


def kept(store: PieceCache, parts: Iterable[str], make: Callable[[], Any]) -> Any:
    """What `make` gives, as JSON has it; `parts` are everything that decides it."""
    key = key_of(parts)
    data = store.get(key)
    if data is not None:
        try:
            return json.loads(data)
        except ValueError:
            pass
    said = json.dumps(make(), separators=(",", ":")).encode()
    store.put(key, said)
    # As it comes back from the store, so that a first build and a second give the same.
    return json.loads(said)


def kept_bytes(store: PieceCache, parts: Iterable[str], make: Callable[[], bytes]) -> bytes:
    """What `make` gives; `parts` are everything that decides it."""
    key = key_of(parts)
    data = store.get(key)
    if data is None:
        data = make()
        store.put(key, data)
    return data
