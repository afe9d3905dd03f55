"""Reads the field `chords`: chord names, bar by bar."""

from __future__ import annotations

import re
from functools import cache
from math import ceil

from lark import Token

from ...music.chords import GOES_ON, NO_CHORD, QUALITIES, Chord, ChordRow
from ...music.pitch import Pitch
from ...music.score import Bar, Meter
from ...plurals import count_of
from ..faults import Fault, shown
from ..fields import FieldText, Source
from ..namings import ENGLISH, NAMINGS, Naming, foreign_tonic
from ..syntax import parse, place

_BAR = "|"
_EQUAL = {
    "min": "m",
    "-": "m",
    "min7": "m7",
    "-7": "m7",
    "M7": "maj7",
    "ma7": "maj7",
    "+": "aug",
    "°": "dim",
    "o": "dim",
    "°7": "dim7",
    "o7": "dim7",
    "ø": "m7b5",
    "ø7": "m7b5",
    "sus": "sus4",
}
_QUALITY = "|".join(sorted(map(re.escape, (*QUALITIES, *_EQUAL)), key=len, reverse=True))


@cache
def _pattern(naming: Naming) -> re.Pattern[str]:
    return re.compile(rf"({naming.any_root})({_QUALITY})(?:/({naming.any_root}))?")


def read_chords(
    source: Source, field: FieldText, first: tuple[Bar, ...], meter: Meter
) -> tuple[tuple[ChordRow, ...], list[Fault]]:
    """A row of chords for each bar of the first part, and what does not fit."""
    tree = parse(source, field)
    if isinstance(tree, Fault):
        return (), [tree]
    if meter.is_free:
        what = "free time has no beats on which chords could stand"
        return (), [source.fault(field.line, field.column, what, "write a meter, or take `chords` out")]
    rows: list[list[Token]] = [[]]
    for token in tree.children:
        assert isinstance(token, Token)
        if token == _BAR:
            rows.append([])
        else:
            rows[-1].append(token)
    if len(rows) > 1 and not rows[-1]:
        rows.pop()
    faults = [found for row in rows for token in row if (found := _unknown(source, field, token))]
    if not any(rows):
        faults = [source.fault(field.line, field.column, "'chords' has no chord", "add one, such as `D`")]
    if faults or not first:
        return (), faults
    if len(rows) != len(first):
        has, needs = count_of(len(rows), "bar"), count_of(len(first), "bar")
        what = f"'chords' has {has}, and the music has {needs}"
        change = count_of(abs(len(first) - len(rows)), "bar")
        mend = (
            f"add {change} (an empty one keeps the chord)"
            if len(rows) < len(first)
            else f"take away {change}"
        )
        return (), [source.fault(*field.end, what, mend)]
    for number, (row, bar) in enumerate(zip(rows, first, strict=True), start=1):
        meter = bar.meter or meter
        beats = bar.length * meter.unit
        if len(row) > 1 and (beats / len(row)).denominator != 1:
            what = f"{len(row)} chords do not divide bar {number}, which has {beats} {_units(meter)}"
            beat_by_beat = " ".join([row[0], *GOES_ON * (ceil(beats) - len(row)), *row[1:]])
            mend = f"write one for each beat, such as `{beat_by_beat}`; `{GOES_ON}` goes on"
            if len(row) > beats:
                mend = "write one for each beat at most"
            faults.append(source.fault_as_said(*place(field, row[0]), what, mend))
    return tuple(tuple(_chord(token, source.naming) for token in row) for row in rows), faults


def _units(meter: Meter) -> str:
    return "beats" if meter.unit in (2, 4) else f"notes of 1/{meter.unit}"


def _unknown(source: Source, field: FieldText, token: Token) -> Fault | None:
    naming = source.naming
    if token in (GOES_ON, NO_CHORD) or _pattern(naming).fullmatch(token):
        return None
    root, third = naming.note(0, 0), naming.note(2, 0)
    names = ", ".join(f"{root}{quality}" for quality in QUALITIES)
    mend = f"write one such as {names} or {root}/{third}; `{GOES_ON}` goes on, and `{NO_CHORD}` is silence"
    return source.fault_as_said(
        *place(field, token), f"{shown(str(token))} is no chord", _foreign(token, naming) or mend
    )


def _foreign(token: Token, naming: Naming) -> str:
    """How to mend a chord whose root is named as in another naming; empty if it is a chord of none."""
    for other in NAMINGS.values():
        if match := _pattern(other).fullmatch(token):
            return foreign_tonic(match[1], naming) or (foreign_tonic(match[3], naming) if match[3] else "")
    return ""


def _chord(token: Token, naming: Naming) -> Chord | str | None:
    if token == GOES_ON:
        return GOES_ON
    match = _pattern(naming).fullmatch(token)
    if match is None:
        return None
    root, quality, bass = (match[1], match[2], match[3])
    root, bass = naming.english_root(root), naming.english_root(bass) if bass else ""
    return Chord(
        Pitch.parse(f"{root}4"), _EQUAL.get(quality, quality), Pitch.parse(f"{bass}4") if bass else None
    )


def write_chords(rows: tuple[ChordRow, ...], naming: Naming = ENGLISH) -> str:
    """The field's text: what `read_chords` reads back."""
    words = [word for row in rows for word in (*(_said(chord, naming) for chord in row), _BAR)]
    # After an empty bar the last bar line says that it is there.
    return " ".join(words if rows and not rows[-1] else words[:-1])


def _said(chord: Chord | str | None, naming: Naming) -> str:
    if chord is None:
        return NO_CHORD
    if isinstance(chord, str):
        return chord
    bass = f"/{naming.note(chord.bass.letter, chord.bass.alter)}" if chord.bass else ""
    return f"{naming.note(chord.root.letter, chord.root.alter)}{chord.quality}{bass}"
