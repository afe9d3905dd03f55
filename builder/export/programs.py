"""Chooses an instrument's sound from the General MIDI set.

The numbers are those of General MIDI level 1 (MIDI Manufacturers Association, 1991), counted from 1, from
memory and checked against music21. If the set lacks an instrument, it gets the sound of a related one:
the flute's for the alto flute, the clarinet's for the bass clarinet, the tuba's for the euphonium.
"""

from __future__ import annotations

from ..music.printed_words import KEYBOARD, SECOND_STAFF, VOICE
from ..music.score import Score, Staff
from ..music.winds.instruments import Instrument

_PROGRAMS: dict[str, int] = {
    "piccolo": 73,
    "flute": 74,
    "oboe": 69,
    "english-horn": 70,
    "clarinet": 72,
    "bassoon": 71,
    "soprano-saxophone": 65,
    "alto-saxophone": 66,
    "tenor-saxophone": 67,
    "baritone-saxophone": 68,
    "saxophone": 66,
    "recorder": 75,
    "horn": 61,
    "trumpet": 57,
    "cornet": 57,
    "trombone": 58,
    "euphonium": 59,
    "tuba": 59,
}

_DRONE = 20
"""The church organ."""

PIANO = 1
"""The grand piano, for chords."""

_VOICE = 54
"""The voice, for a staff to sing."""


def program(instrument: Instrument) -> int:
    """An instrument's program, from 1, by the longest known name in its slug; else the flute's.

    `clarinet-b-flat` is a clarinet, and so is a studio's own `old-clarinet`.
    """
    held = [name for name in _PROGRAMS if name in instrument.slug]
    return _PROGRAMS[max(held, key=len)] if held else _PROGRAMS["flute"]


def staff_program(line: Staff, instrument: Instrument) -> int:
    """The program, from 1, of a staff below the player's."""
    if line.chords:
        return PIANO
    if line.part:
        return program(instrument)
    return _DRONE if line.label == "drone" else _VOICE


def staff_name(score: Score, line: Staff, instrument: Instrument) -> str:
    """The name of a staff; the parts of a duet are `Flute 1` and `Flute 2`."""
    if line.chords:
        return score.words.of(KEYBOARD)
    if score.second and score.second.chords and line.part:
        return instrument.name
    if line is score.line or line.part:
        return f"{instrument.name} {line.part}" if line.part else instrument.name
    word = {"sing": VOICE, "": SECOND_STAFF}.get(line.label, line.label)
    said = score.words.of(word)
    return said[:1].upper() + said[1:]
