"""Performs a line of notes: what sounds, when, how long and how loud.

The page's sound, the MIDI file and the daily sets read a performance and compute none of this again. Its
rules are common practice, no source:

1. Repeats are played, as `timing.unfold` puts the notes in order. Notes tied together sound as one.
2. A staccato note sounds for half of its value and a portato for three quarters. A breath takes a sixteenth
   of a whole note from the end of its note, at most a quarter of it, and no more where a dot has taken that.
   Every other note lasts until the next.
3. Grace notes come before the beat, a thirty-second note each. They take their time from what sounds before
   them, at most half of it; at the very beginning they take it from their own note.
4. A trill alternates in thirty-second notes with its upper note: the one that its accidental names, else the
   next note of the key. It begins on the written note and ends on it.
5. Loudness is as `dynamics` says.

Times are in whole notes from the beginning, repeats counted. Pitches are as written.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from .dynamics import DynamicCurve, dynamic_curve
from .keys import Key
from .pitch import Pitch
from .score import SLUR, Event, Score, Staff, is_wave
from .timing import UnfoldedEvent, unfold

SHORTER = {"staccato": Fraction(1, 2), "portato": Fraction(3, 4)}
"""How much of its value a note with each mark sounds for."""

BREATH = Fraction(1, 16)
"""What a breath takes from the note before it, in whole notes, and at most a quarter of that note."""

QUICK = Fraction(1, 32)
"""A grace note, and a stroke of a trill, in whole notes."""


@dataclass(frozen=True, slots=True)
class PerformedNote:
    """A note as it sounds, from `start` until `end`.

    `heads` are the events it is written in: more than one where ties join them. `grace` is its number among
    the grace notes of its event, from 0, or None where it is no grace note; `stroke` likewise its number in a
    trill. `from_slur` tells whether a slur leads to it, `to_slur` whether one leads on to the next note.
    """

    start: Fraction
    end: Fraction
    pitch: Pitch
    heads: tuple[UnfoldedEvent, ...]
    grace: int | None = None
    stroke: int | None = None
    from_slur: bool = False
    to_slur: bool = False

    @property
    def event(self) -> Event:
        """The event that begins it."""
        return self.heads[0].event

    @property
    def accent(self) -> str:
        """`accent` or `marcato` where it is stressed at its beginning, else empty."""
        if self.grace is not None or self.stroke:
            return ""
        return next((mark for mark in ("marcato", "accent") if mark in self.event.marks), "")


@dataclass(frozen=True, slots=True)
class Performance:
    """A line as it sounds: its notes in order of time, its loudness, and the spans that have vibrato."""

    notes: tuple[PerformedNote, ...]
    dynamics: DynamicCurve
    vibrato: tuple[tuple[Fraction, Fraction], ...]
    heard: tuple[UnfoldedEvent, ...]

    @property
    def end(self) -> Fraction:
        """The end of the music."""
        return self.heard[-1].end if self.heard else Fraction(0)


def perform(line: Staff, key: Key, ornaments: bool = True) -> Performance:
    """The performance of a line in a key; without `ornaments` grace notes and trills are left out."""
    items = unfold(line)
    notes: list[PerformedNote] = []
    for main in _main_notes(items):
        if not ornaments:
            notes.append(main)
            continue
        if main.event.graces:
            main = _add_graces(notes, main)
        notes += _trill(main, key) if "trill" in main.event.marks else [main]
    return Performance(tuple(notes), dynamic_curve(items), tuple(_vibrato(items)), items)


def held_until(performance: Performance, end: Fraction) -> Performance:
    """The performance with its last note held longer: a drone's below a ladder that the player repeats."""
    *others, last = performance.notes
    return replace(performance, notes=(*others, replace(last, end=end)))


def _main_notes(items: tuple[UnfoldedEvent, ...]) -> Iterator[PerformedNote]:
    """Each note that is begun, ties joined, without its ornaments."""
    heads: list[UnfoldedEvent] = []
    slurs = 0
    from_slur = False
    for item, after in zip(items, [*items[1:], None], strict=True):
        event = item.event
        before = slurs
        slurs += event.opens.count(SLUR) - event.closes.count(SLUR)
        if event.pitch is None:
            continue
        if not heads:
            from_slur = before > 0
        heads.append(item)
        # At the end of a repeat a tie may lead nowhere: what is heard next is not what is printed next.
        if event.tie and after and after.event.pitch == event.pitch:
            continue
        end = item.end - _silence(event)
        begun_anew = {"tenuto", "breath", *SHORTER} & set(event.marks)
        yield PerformedNote(
            heads[0].start,
            end,
            event.pitch,
            tuple(heads),
            from_slur=from_slur,
            to_slur=slurs > 0 and not begun_anew,
        )
        heads = []


def _silence(event: Event) -> Fraction:
    """How much of a note's value is silent at its end."""
    parts = [(1 - SHORTER[mark]) * event.length for mark in event.marks if mark in SHORTER]
    if "breath" in event.marks:
        parts.append(min(BREATH, event.length / 4))
    return max(parts, default=Fraction(0))


def _add_graces(notes: list[PerformedNote], main: PerformedNote) -> PerformedNote:
    """Add the grace notes before a note; return the note, which begins later if nothing sounds before it."""
    graces = main.event.graces
    room = main.start - (notes[-1].start if notes else 0)
    each = min(QUICK, (room or main.end - main.start) / 2 / len(graces))
    start = main.start
    if room:
        start -= each * len(graces)
        if notes:
            notes[-1] = replace(notes[-1], end=min(notes[-1].end, start))
    else:
        main = replace(main, start=start + each * len(graces))
    notes += [
        PerformedNote(
            start + each * number,
            start + each * (number + 1),
            pitch,
            main.heads[:1],
            grace=number,
            from_slur=number > 0,
            to_slur=True,
        )
        for number, pitch in enumerate(graces)
    ]
    return main


def upper_note(pitch: Pitch, key: Key) -> Pitch:
    """The upper note of a trill: the next note of the key that is at least a semitone above a pitch."""
    octave, letter = divmod(pitch.step + 1, 7)
    upper = Pitch(letter, key.alteration(letter), octave)
    return replace(upper, alter=upper.alter + max(0, pitch.midi + 1 - upper.midi))


def _trill(main: PerformedNote, key: Key) -> list[PerformedNote]:
    """The strokes of a trill, an odd number; only the note itself if there is no time for three."""
    strokes = int((main.end - main.start) / QUICK)
    strokes -= 1 - strokes % 2
    if strokes < 3:
        return [main]
    upper = main.event.trilled or upper_note(main.pitch, key)
    return [
        replace(
            main,
            start=main.start + QUICK * stroke,
            end=main.start + QUICK * (stroke + 1) if stroke + 1 < strokes else main.end,
            pitch=upper if stroke % 2 else main.pitch,
            stroke=stroke,
            from_slur=stroke > 0 or main.from_slur,
            to_slur=stroke + 1 < strokes or main.to_slur,
        )
        for stroke in range(strokes)
    ]


def _vibrato(items: tuple[UnfoldedEvent, ...]) -> Iterator[tuple[Fraction, Fraction]]:
    begun: Fraction | None = None
    for item in items:
        for at, mark in item.vibrato:
            if is_wave(mark) and begun is None:
                begun = at
            elif not is_wave(mark) and begun is not None:
                yield begun, at
                begun = None
    if begun is not None:
        yield begun, items[-1].end


def performance_fingerprint(score: Score) -> str:
    """What decides how a score sounds but cannot be seen in its engraving."""
    return f"{score.tempo} {score.breath} {score.sounds} {score.line.ladder}"
