"""Writes chord names as MusicXML's `harmony`."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction

from ..music.chords import NO_CHORD, Chord, ChordMark
from ..music.pitch import LETTERS, Pitch
from .elements import child

KINDS = {
    "": "major",
    "m": "minor",
    "7": "dominant",
    "m7": "minor-seventh",
    "maj7": "major-seventh",
    "dim": "diminished",
    "dim7": "diminished-seventh",
    "m7b5": "half-diminished",
    "aug": "augmented",
    "sus4": "suspended-fourth",
    "7sus4": "suspended-fourth",
    "sus2": "suspended-second",
    "6": "major-sixth",
    "m6": "minor-sixth",
}
"""What MusicXML calls each quality of a chord; `7sus4` has a seventh added."""


def harmony(measure: ET.Element, mark: ChordMark, offset: Fraction) -> None:
    """Write a chord's name `offset` divisions after where the measure has come to."""
    element = child(measure, "harmony")
    if mark.chord is None:
        child(child(element, "root"), "root-step", "C").set("text", "")
        child(element, "kind", "none", text=NO_CHORD)
    else:
        _chord(element, mark.chord)
    if offset:
        child(element, "offset", str(offset))


def _chord(element: ET.Element, chord: Chord) -> None:
    _note(element, "root", chord.root)
    child(element, "kind", KINDS[chord.quality], text=chord.quality)
    if chord.bass:
        _note(element, "bass", chord.bass)
    if chord.quality == "7sus4":
        degree = child(element, "degree", print_object="no")
        child(degree, "degree-value", "7")
        child(degree, "degree-alter", "0")
        child(degree, "degree-type", "add")


def _note(element: ET.Element, name: str, pitch: Pitch) -> None:
    note = child(element, name)
    child(note, f"{name}-step", LETTERS[pitch.letter])
    if pitch.alter:
        child(note, f"{name}-alter", str(pitch.alter))
