"""Block chords on a staff, for a keyboard or a second player: close together, each led smoothly to the next.

Every chord is written with its own notes, spelled from its root, all within an octave (close position).
Which of them is the lowest, and in which octave, is chosen for the whole row of chords at once, so that the
notes move as little as possible. The first stands in root position where that costs little. A chord with a
bass has it as its lowest note. Common practice of keyboard harmony, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from ..chords import QUALITIES, Chord, ChordMark
from ..event import Event, values_for
from ..pitch import Interval, Pitch
from ..score import Bar, Staff
from ..spell import plain
from .second_part import joined

_STEPS = {"sus4": (0, 3, 4), "7sus4": (0, 3, 4, 6), "sus2": (0, 1, 4), "6": (0, 2, 4, 5), "m6": (0, 2, 4, 5)}
"""The letters of a chord's notes above the root, where they are not thirds upon each other."""

_THIRDS = (0, 2, 4, 6)


@dataclass(frozen=True, slots=True)
class Reach:
    """The lowest and the highest note of chords in a clef, and within them what sounds and reads best."""

    low: Pitch
    high: Pitch
    best_low: Pitch
    best_high: Pitch


def _reach(low: str, high: str, best_low: str, best_high: str) -> Reach:
    return Reach(*map(Pitch.parse, (low, high, best_low, best_high)))


REACHES = {"bass": _reach("G2", "G4", "C3", "E4"), "treble": _reach("F3", "F5", "B3", "D5")}
"""By clef, in written pitches: two octaves, so that any chord fits with any of its notes below."""

_BEYOND = 2
"""What a semitone beyond the best part costs, in semitones of movement."""

_INVERTED = 6
"""What it costs, in semitones of movement, to begin with another note than the root or the bass below."""

Voicing = tuple[Pitch, ...]
"""The notes of a chord, lowest first."""


def chord_notes(chord: Chord) -> tuple[Pitch, ...]:
    """A chord's own notes from the root up, spelled from it, whose octaves say nothing.

    A note that would need three accidentals has the plain name of its sound.
    """
    steps = _STEPS.get(chord.quality, _THIRDS)
    intervals = zip(steps, QUALITIES[chord.quality], strict=False)
    return tuple(plain(chord.root.up(Interval(*each)), 2) for each in intervals)


@lru_cache(maxsize=1024)
def voicings(chords: tuple[Chord | None, ...], clef: str) -> tuple[Voicing, ...]:
    """The notes of each chord in a row, in a clef of REACHES; none for silence."""
    reach = REACHES[clef]
    sounding = [chord for chord in chords if chord]
    best: list[list[tuple[int, int]]] = []
    choices = [list(_positions(chord, reach)) for chord in sounding]
    for place, (chord, found) in enumerate(zip(sounding, choices, strict=True)):
        row = []
        for voicing in found:
            own = _BEYOND * _beyond(voicing, reach)
            if place:
                before = [
                    best[-1][at][0] + _movement(each, voicing) for at, each in enumerate(choices[place - 1])
                ]
                cheapest = min(range(len(before)), key=before.__getitem__)
                row.append((before[cheapest] + own, cheapest))
            else:
                inverted = voicing[0].pitch_class != (chord.bass or chord.root).pitch_class
                row.append((own + _INVERTED * inverted, 0))
        best.append(row)
    chosen: list[Voicing] = []
    at = min(range(len(best[-1])), key=lambda each: best[-1][each][0]) if best else 0
    for place in range(len(sounding) - 1, -1, -1):
        chosen.append(choices[place][at])
        at = best[place][at][1]
    found_voicings = iter(reversed(chosen))
    return tuple(next(found_voicings) if chord else () for chord in chords)


def _positions(chord: Chord, reach: Reach) -> Iterator[Voicing]:
    """A chord in close position with each of its notes below, or with its bass, in each octave that fits."""
    notes = chord_notes(chord)
    lowest: Sequence[Pitch] = notes
    if chord.bass:
        own = [note for note in notes if note.pitch_class == chord.bass.pitch_class]
        lowest = own or [chord.bass]
        notes = notes if own else (chord.bass, *notes)
    for first in lowest:
        above = sorted(notes, key=lambda note: (note.pitch_class - first.pitch_class) % 12)
        for octave in range(1, 7):
            low = first.octaves(octave - first.octave)
            voicing = tuple(_above(note, low) for note in above)
            if reach.low.midi <= low.midi and voicing[-1].midi <= reach.high.midi:
                yield voicing


def _above(note: Pitch, low: Pitch) -> Pitch:
    """A note in the octave from another one up."""
    return note.octaves((low.midi + (note.pitch_class - low.pitch_class) % 12 - note.midi) // 12)


def _movement(before: Voicing, after: Voicing) -> int:
    """How far the notes of two chords are from each other: each from the nearest of the other chord."""
    return sum(
        min(abs(note.midi - other.midi) for other in there)
        for here, there in ((before, after), (after, before))
        for note in here
    )


def _beyond(voicing: Voicing, reach: Reach) -> int:
    below = reach.best_low.midi - voicing[0].midi
    above = voicing[-1].midi - reach.best_high.midi
    return max(0, below) + max(0, above)


def chord_staff(bars: tuple[Bar, ...], marks: tuple[ChordMark, ...], clef: str) -> Staff:
    """The staff of block chords under a first part's bars: each from its name on, begun anew in each bar."""
    found = dict(zip(marks, voicings(tuple(mark.chord for mark in marks), clef), strict=True))
    rows = []
    now: Voicing = ()
    for number, bar in enumerate(bars):
        here = [(mark.at, found[mark]) for mark in marks if mark.bar == number]
        if not here or here[0][0]:
            here.insert(0, (Fraction(0), now))
        ends = [*(at for at, _ in here[1:]), bar.length]
        events = [
            event for (at, notes), end in zip(here, ends, strict=True) for event in _struck(notes, end - at)
        ]
        rows.append(Bar(tuple(events)))
        now = here[-1][1]
    return Staff(joined(bars, tuple(rows)), clef=clef, part=2, chords=True)


def _struck(notes: Voicing, length: Fraction) -> Iterator[Event]:
    """A chord, or a rest without notes, in as few tied values as can be written."""
    values = values_for(length)
    for number, value in enumerate(values, start=1):
        if notes:
            yield Event(notes[-1], value, tie=number < len(values), under=notes[:-1])
        else:
            yield Event(None, value)
