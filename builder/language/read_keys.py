"""Reads the field `keys`: the keys of an exercise in its author's order."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from ..music.keys import Key, rank, spellings
from .faults import Fault, shown
from .fields import FieldText, Source
from .namings import Naming, any_tonic, foreign_tonic
from .stretches import Words, whole
from .syntax import example_in


def read_keys(source: Source, field: FieldText, home: Key) -> tuple[tuple[Key, ...], list[Fault]]:
    """The keys that a field names, in the mode of the home key, and its faults."""
    keys: list[Key] = []
    faults: list[Fault] = []
    for item in _items(whole(field)):
        key, problem = _read(item.said, home.mode, source.naming)
        if key and not problem and (same := [each for each in keys if each.pitch_class == key.pitch_class]):
            as_written = source.naming.tonic(same[0])
            problem = f"{shown(item.said)} stands there already, as {as_written}", "take one of them out"
        if problem:
            faults.append(source.fault_as_said(*item.place, *problem))
        elif key:
            keys.append(key)
    return tuple(keys), faults


@cache
def _item() -> re.Pattern[str]:
    # A name of two words in another naming is one item too, so that the message can say what it is.
    return re.compile(rf"(?i:{any_tonic()})(?![^\s,])|[^\s,]+")


def _items(field: Words) -> Iterator[Words]:
    for match in _item().finditer(field.field.text, field.start, field.end):
        yield Words(field.field, *match.span())


def _read(said: str, mode: str, naming: Naming) -> tuple[Key | None, tuple[str, str] | None]:
    """The key of a name, or what is wrong with it and how to mend it."""
    note = naming.tonics.get(said)
    if note is None:
        capital = said[:1].upper() + said[1:]
        usual = (
            foreign_tonic(said, naming)
            or f"write the notes that the keys are named after, such as `{example_in(naming, 'keys')}`"
        )
        mend = f"did you mean {shown(capital)}?" if capital in naming.tonics else usual
        return None, (f"'keys' cannot have {shown(said)}", mend)
    key = Key(*note, mode)
    if abs(rank(key)) <= 7:
        return key, None
    better = naming.tonic(spellings(key.pitch_class, mode)[0])
    return key, (f"{naming.retold(key.name)} has {abs(rank(key))} accidentals", f"write {better}")
