"""What sounds: tied notes as one, short notes shortened, grace notes and trills played out.

The rules, all common practice, no source:

1. A staccato note sounds for half of its value and a portato for three quarters; a breath mark takes a
   sixteenth from the end of its note, at most a quarter of it. Every other note lasts until the next.
2. Grace notes come before the beat, a thirty-second each, and take their time from what sounds before them,
   at most half of it; at the very beginning they take it from their own note.
3. A trill alternates in thirty-seconds with the next note of the key above, or the one that its accidental
   names; it begins on the written note and ends on it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from builder.music.keys import Key
from builder.music.pitch import Pitch
from builder.music.score import Event
from builder.music.timing import Heard

SHORTER = {"staccato": Fraction(1, 2), "portato": Fraction(3, 4)}
"""How much of its value a note with each mark sounds for."""

BREATH = Fraction(1, 16)
"""What a breath takes from the note before it, in whole notes, and at most a quarter of that note."""

STRESS = {"accent": 16, "marcato": 24}
"""How much louder a note with each mark begins, on the scale of velocities."""

_QUICK = Fraction(1, 32)


@dataclass(frozen=True, slots=True)
class Tone:
    """A sound from `start` until `end`, in whole notes with repeats counted; `midi` as written.

    `stress` is added to its velocity.
    """

    start: Fraction
    end: Fraction
    midi: int
    stress: int = 0


def tones(items: tuple[Heard, ...], key: Key) -> tuple[Tone, ...]:
    """Everything that sounds in a line, as `timing.hearing` puts it, in order of time."""
    found: list[Tone] = []
    for chain in chains(items):
        first, last = chain[0], chain[-1]
        start, end = first.start, last.end - _silence(last.event)
        if first.event.graces:
            start = _graces(found, first, start, end)
        assert first.event.pitch is not None
        main = Tone(start, end, first.event.pitch.midi, _stress(first.event))
        found += _trill(main, _above(first.event, key)) if "trill" in first.event.marks else [main]
    return tuple(found)


def chains(items: tuple[Heard, ...]) -> tuple[tuple[Heard, ...], ...]:
    """The notes in the order of hearing, those that are tied together in one chain."""
    found: list[list[Heard]] = []
    tied: Pitch | None = None
    for item in items:
        if item.event.pitch is not None:
            if tied == item.event.pitch:
                found[-1].append(item)
            else:
                found.append([item])
        tied = item.event.pitch if item.event.tie else None
    return tuple(map(tuple, found))


def _silence(event: Event) -> Fraction:
    """How much of a note's value is silent at its end."""
    parts = [(1 - SHORTER[mark]) * event.length for mark in event.marks if mark in SHORTER]
    if "breath" in event.marks:
        parts.append(min(BREATH, event.length / 4))
    return max(parts, default=Fraction(0))


def _stress(event: Event) -> int:
    return max((STRESS[mark] for mark in event.marks if mark in STRESS), default=0)


def _graces(found: list[Tone], item: Heard, start: Fraction, end: Fraction) -> Fraction:
    """Adds the grace notes before an event; returns where its own sound begins."""
    graces = item.event.graces
    room = start - (found[-1].start if found else 0)
    each = min(_QUICK, (room or end - start) / 2 / len(graces))
    if room:
        at = start - each * len(graces)
        if found:
            found[-1] = replace(found[-1], end=min(found[-1].end, at))
    else:
        at = start
        start += each * len(graces)
    found += [Tone(at + each * n, at + each * (n + 1), pitch.midi) for n, pitch in enumerate(graces)]
    return start


def _above(event: Event, key: Key) -> int:
    """The MIDI number of the upper note of an event's trill."""
    assert event.pitch is not None
    return event.trilled.midi if event.trilled else upper(event.pitch, key)


def upper(pitch: Pitch, key: Key) -> int:
    """The MIDI number of the next note of the key above a pitch, a semitone above it at least."""
    octave, letter = divmod(pitch.step + 1, 7)
    return max(Pitch(letter, key.alteration(letter), octave).midi, pitch.midi + 1)


def _trill(main: Tone, above: int) -> list[Tone]:
    strokes = int((main.end - main.start) / _QUICK)
    strokes -= 1 - strokes % 2
    found = [
        replace(
            main,
            start=main.start + _QUICK * stroke,
            end=main.start + _QUICK * (stroke + 1),
            midi=above if stroke % 2 else main.midi,
            stress=0 if stroke else main.stress,
        )
        for stroke in range(strokes)
    ]
    return [*found[:-1], replace(found[-1], end=main.end)] if found else [main]
