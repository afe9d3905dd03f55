"""A cache of derived results: each is stored under a hash of all its inputs."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from builder.engrave.cache import PieceCache, key_of
from builder.music.exercise import Exercise
from builder.music.score import Score


@cache
def code_of(*rooms: str) -> str:
    """A hash of the code of some packages, so that a changed rule makes anew what it decides."""
    digest = hashlib.sha256()
    for room in rooms:
        for file in sorted(files(room).iterdir(), key=lambda each: each.name):
            if file.name.endswith(".py"):
                digest.update(file.read_bytes())
    return digest.hexdigest()


def heard_as(score: Score) -> str:
    """What decides how music sounds and is not seen in its ink."""
    return f"{score.tempo} {score.sounds} {score.line.ladder}"


@lru_cache(maxsize=4096)
def said_of(exercise: Exercise) -> str:
    """All of an exercise in characters."""
    return repr(exercise)


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
