"""Reads the field `keys`: the keys of an exercise in its author's order."""

from __future__ import annotations

import re
from collections.abc import Iterator

from ..music.keys import Key, rank, spellings, tonic_of
from ..music.pitch import Pitch
from .faults import Fault, shown
from .fields import FieldText, Source
from .stretches import Words, whole

_TONIC = re.compile(r"([A-G])(?:([#b♯♭])|[ -](sharp|flat))?")
_ITEM = re.compile(r"[A-Ga-g][ -](?:sharp|flat)(?![^\s,])|[^\s,]+")
_MEND = "write the notes that the keys are named after, such as `C, F, B flat, E flat`"


def read_keys(source: Source, field: FieldText, home: Key) -> tuple[tuple[Key, ...], list[Fault]]:
    """The keys that a field names, in the mode of the home key, and its faults."""
    keys: list[Key] = []
    faults: list[Fault] = []
    for item in _items(whole(field)):
        key, problem = _read(item.said, home.mode)
        if key and not problem and (same := [each for each in keys if each.pitch_class == key.pitch_class]):
            problem = f"{shown(item.said)} stands there already, as {same[0].tonic}", "take one of them out"
        if problem:
            faults.append(source.fault(*item.place, *problem))
        elif key:
            keys.append(key)
    return tuple(keys), faults


def _items(field: Words) -> Iterator[Words]:
    for match in _ITEM.finditer(field.field.text, field.start, field.end):
        yield Words(field.field, *match.span())


def _read(said: str, mode: str) -> tuple[Key | None, tuple[str, str] | None]:
    """The key of a name, or what is wrong with it and how to mend it."""
    match = _TONIC.fullmatch(said)
    if match is None:
        capital = said[:1].upper() + said[1:]
        mend = f"did you mean {shown(capital)}?" if _TONIC.fullmatch(capital) else _MEND
        return None, (f"'keys' cannot have {shown(said)}", mend)
    sign = match[2] or {"sharp": "#", "flat": "b", None: ""}[match[3]]
    key = tonic_of(Pitch.parse(f"{match[1]}{sign}4"), mode)
    if abs(rank(key)) <= 7:
        return key, None
    better = spellings(key.pitch_class, mode)[0].tonic
    return key, (f"{key.name} has {abs(rank(key))} accidentals", f"write {better}")
