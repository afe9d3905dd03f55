"""A play-through in fewer characters, for a page that has many.

A tone mostly begins where the one before ends, on the next note head, and sounds as long as it is written; a
bar is as long as the one before. Only what differs is written. `readPlay` in site_src/assets/sound/targets.js
makes the rows again.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

_DEFAULTS: dict[str, object] = {"speeds": [[0, 0, 1]], "levels": [], "vibrato": [], "drone": None}
"""What is left out where it is just this."""


def shorten_play(text: str) -> str:
    """A play-through as JSON (`play_through_json`), as shorter JSON.

    `pitches` has each pitch once: a MIDI number, and its cents where they are not 0. A tone's row is the
    place of its pitch there, its length, touch, how long it sounds, its head's number, how much later it
    begins than the one before ends, and its bend; a bar's is its length, offset, unit, and how much later
    it begins. A row ends before values that are to be expected: touch, lateness and bend 0, sounding for
    its length, the next head. A number after a row says how many more times it stands.
    """
    rows: dict[str, Any] = _whole_numbers(json.loads(text))
    parts = [rows, *(rows[name] for name in ("second", "chords") if name in rows)]
    pitches = list(dict.fromkeys((tone[2], tone[6]) for part in parts for tone in part["tones"]))
    for part in parts:
        part["tones"] = _repeated(_tones(part["tones"], pitches))
        for name in _DEFAULTS.keys() & part.keys():
            if part[name] == _DEFAULTS[name]:
                del part[name]
    rows["bars"] = _repeated(_bars(rows["bars"]))
    rows["pitches"] = [[midi, cents] if cents else [midi] for midi, cents in pitches]
    return json.dumps(rows, separators=(",", ":"))


def _whole_numbers(value: Any) -> Any:
    """The same with 2 in place of 2.0."""
    if isinstance(value, dict):
        return {name: _whole_numbers(each) for name, each in value.items()}
    if isinstance(value, list):
        return [_whole_numbers(each) for each in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _tones(tones: Sequence[Sequence[float]], pitches: Sequence[tuple[float, float]]) -> list[list[float]]:
    places = {pitch: place for place, pitch in enumerate(pitches)}
    end: float = 0
    head: float = -1
    found = []
    for start, length, midi, number, sounds, touch, cents, *bend in tones:
        more = [touch, sounds, number, start - end, *bend]
        found.append([places[midi, cents], length, *_trimmed(more, [0, length, head + 1, 0, 0])])
        end, head = start + length, number
    return found


def _bars(bars: Sequence[Sequence[float]]) -> list[list[float]]:
    end: float = 0
    found = []
    for start, length, offset, unit in bars:
        found.append([length, offset, unit, *_trimmed([start - end], [0])])
        end = start + length
    return found


def _trimmed(row: list[float], expected: list[float]) -> list[float]:
    """A row without those of its last values that are to be expected."""
    while row and row[-1] == expected[len(row) - 1]:
        row.pop()
    return row


def _repeated(rows: Iterable[list[float]]) -> list[list[float] | int]:
    found: list[list[float] | int] = []
    before: list[float] | None = None
    for row in rows:
        if row != before:
            found.append(row)
        elif isinstance(found[-1], int):
            found[-1] += 1
        else:
            found.append(1)
        before = row
    return found
