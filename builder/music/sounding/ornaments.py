"""Plays ornaments out: the short notes in which one written note sounds.

The rules are common practice, no source:

1. A trill alternates in thirty-second notes with its upper note: the one that its accidental names, else the
   next note of the key. It begins on the written note and ends on it. A timbral trill alternates likewise
   between two fingerings of one pitch, the second of them fainter.
2. A mordent is the note, its lower neighbour and the note again; an inverted mordent has the upper neighbour:
   the one that its accidental names, else that of the key. A turn is the upper neighbour, the note, the lower
   neighbour and the note. All but the last are thirty-second notes, and together at most half of the note.
3. Flutter-tonguing is the note in sixty-fourth notes, each tongued.
4. A glissando fills the second half of its note with every semitone on the way to the next note, as it does
   on an instrument with keys.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ..event import Event
from ..keys import Key
from ..pitch import Pitch
from ..signs import FLUTTER, GLISSANDO, INVERTED_MORDENT, MORDENT, TIMBRAL_TRILL, TRILL, TURN
from ..spell import chromatic

QUICK = Fraction(1, 32)
"""A stroke of a trill, in whole notes."""

FLUTTERED = Fraction(1, 64)
"""A stroke of flutter-tonguing, in whole notes."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One of the short notes in which a note sounds, from `start` until `end` in whole notes."""

    start: Fraction
    end: Fraction
    pitch: Pitch
    faint: bool = False
    tongued: bool = False


def upper_note(pitch: Pitch, key: Key) -> Pitch:
    """The upper note of a trill: the next note of the key that is at least a semitone above a pitch."""
    octave, letter = divmod(pitch.step + 1, 7)
    upper = Pitch(letter, key.alteration(letter), octave)
    return replace(upper, alter=upper.alter + max(0, pitch.midi + 1 - upper.midi))


def lower_note(pitch: Pitch, key: Key) -> Pitch:
    """The lower note of a mordent: the next note of the key that is at least a semitone below a pitch."""
    octave, letter = divmod(pitch.step - 1, 7)
    lower = Pitch(letter, key.alteration(letter), octave)
    return replace(lower, alter=lower.alter - max(0, lower.midi - pitch.midi + 1))


def strokes(
    event: Event, start: Fraction, end: Fraction, key: Key, following: Pitch | None
) -> Sequence[Stroke]:
    """The notes in which an event sounds between two times; none where it is played as one note.

    `following` is the pitch of the next note, if there is one.
    """
    pitch = event.pitch
    assert pitch is not None
    upper, lower = event.trilled or upper_note(pitch, key), event.lowered or lower_note(pitch, key)
    if TRILL in event.marks:
        return _alternating(start, end, pitch, upper)
    if TIMBRAL_TRILL in event.marks:
        found = _alternating(start, end, pitch, pitch)
        return [replace(stroke, faint=number % 2 == 1) for number, stroke in enumerate(found)]
    if MORDENT in event.marks:
        return _before(start, end, pitch, [pitch, lower])
    if INVERTED_MORDENT in event.marks:
        return _before(start, end, pitch, [pitch, upper])
    if TURN in event.marks:
        return _before(start, end, pitch, [upper, pitch, lower])
    if FLUTTER in event.marks:
        count = max(1, int((end - start) / FLUTTERED))
        return _row(start, end, [pitch] * count, (end - start) / count, tongued=True) if count > 1 else []
    if GLISSANDO in event.marks and following is not None:
        return _glissando(start, end, pitch, following, key)
    return []


def _alternating(start: Fraction, end: Fraction, pitch: Pitch, other: Pitch) -> Sequence[Stroke]:
    """An odd number of strokes; none if there is no time for three."""
    count = int((end - start) / QUICK)
    count -= 1 - count % 2
    if count < 3:
        return []
    return _row(start, end, [other if number % 2 else pitch for number in range(count)], QUICK)


def _before(start: Fraction, end: Fraction, pitch: Pitch, quick: list[Pitch]) -> Sequence[Stroke]:
    """Quick notes, then the note itself."""
    return _row(start, end, [*quick, pitch], min(QUICK, (end - start) / 2 / len(quick)))


def _glissando(start: Fraction, end: Fraction, pitch: Pitch, goal: Pitch, key: Key) -> Sequence[Stroke]:
    way = 1 if goal.midi > pitch.midi else -1
    between = [chromatic(midi, key, way > 0) for midi in range(pitch.midi + way, goal.midi, way)]
    if not between:
        return []
    middle = (start + end) / 2
    return [Stroke(start, middle, pitch), *_row(middle, end, between, (end - middle) / len(between))]


def _row(
    start: Fraction, end: Fraction, pitches: list[Pitch], each: Fraction, tongued: bool = False
) -> list[Stroke]:
    """Pitches of one length one after the other; the last lasts until the end."""
    last = len(pitches) - 1
    return [
        Stroke(
            start + each * number,
            end if number == last else start + each * (number + 1),
            pitch,
            tongued=tongued,
        )
        for number, pitch in enumerate(pitches)
    ]
