"""Performs a line of notes: what sounds, when, how long and how loud.

The page's sound, the MIDI file and the daily sets read a performance and compute none of this again. Its
rules are common practice, no source:

1. Repeats are played, as `timing.unfold` puts the notes in order. Notes tied together sound as one.
2. A staccato note sounds for half of its value and a portato for three quarters. A breath takes a sixteenth
   of a whole note from the end of its note, at most a quarter of it, and no more where a dot has taken that.
   Every other note lasts until the next.
3. Grace notes come before the beat, a thirty-second note each. They take their time from what sounds before
   them, at most half of it; at the very beginning they take it from their own note.
4. A trill and other ornaments are played out, as `ornaments` says.
5. A tongue ram sounds a major seventh below its note, as on a flute, for half of it. A key click sounds for a
   sixteenth at most. A bend leaves the pitch in the second half of its note.
6. Loudness is as `dynamics` says. Air tones, whistle tones and key clicks are faint.

Times are in whole notes from the beginning, repeats counted. Pitches are as written.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from ..event import SLUR, Event, is_wave
from ..keys import Key
from ..pitch import Interval, Pitch
from ..score import Score, Staff
from ..signs import BENDS, FAINT, GLISSANDO, KEY_CLICK, TONGUE_RAM, technique_of
from .dynamics import DynamicCurve, dynamic_curve
from .ornaments import QUICK, strokes
from .timing import UnfoldedEvent, unfold

SHORTER = {"staccato": Fraction(1, 2), "portato": Fraction(3, 4)}
"""How much of its value a note with each mark sounds for."""

BREATH = Fraction(1, 16)
"""What a breath takes from the note before it, in whole notes, and at most a quarter of that note."""

CLICK = Fraction(1, 16)
"""How long a key click sounds at most, in whole notes."""

_RAM = Interval.parse("-M7")
"""From the fingered note to that of a tongue ram: the tongue stops a tube that was open. From memory of
R. Dick, "The Other Flute" (1975)."""


@dataclass(frozen=True, slots=True)
class PerformedNote:
    """A note as it sounds, from `start` until `end`.

    `heads` are the events it is written in: more than one where ties join them. `grace` is its number among
    the grace notes of its event, from 0, or None where it is no grace note; `stroke` likewise its number in
    an ornament. `from_slur` tells whether a slur leads to it, `to_slur` whether one leads on to the next
    note. `bend` is how many semitones its pitch moves from its middle to its end. A `faint` one is softer
    than the level says.
    """

    start: Fraction
    end: Fraction
    pitch: Pitch
    heads: tuple[UnfoldedEvent, ...]
    grace: int | None = None
    stroke: int | None = None
    from_slur: bool = False
    to_slur: bool = False
    bend: int = 0
    faint: bool = False

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
    """The performance of a line in a key; without `ornaments` each note is plain, without grace notes."""
    items = unfold(line)
    notes: list[PerformedNote] = []
    mains = list(_main_notes(items))
    for main, after in zip(mains, [*mains[1:], None], strict=True):
        if not ornaments:
            notes.append(main)
            continue
        if main.event.graces:
            main = _add_graces(notes, main)
        notes += _played(main, key, after)
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


def _played(main: PerformedNote, key: Key, after: PerformedNote | None) -> list[PerformedNote]:
    """A note as its signs ask for it: in the strokes of an ornament, by another technique, or as it is."""
    last = main.heads[-1].event
    technique = technique_of(main.event)
    if technique == TONGUE_RAM:
        half = main.start + (main.end - main.start) / 2
        return [replace(main, pitch=main.pitch.up(_RAM), end=half, to_slur=False)]
    if technique == KEY_CLICK:
        return [replace(main, end=min(main.end, main.start + CLICK), to_slur=False, faint=True)]
    bend = next((BENDS[mark] for mark in last.marks if mark in BENDS), 0)
    main = replace(main, bend=bend, faint=technique in FAINT)
    # A glissando stands on the last of the notes that a tie joins.
    event = main.event.marked(GLISSANDO) if GLISSANDO in last.marks else main.event
    found = strokes(event, main.start, main.end, key, after.pitch if after else None)
    if not found:
        return [main]
    return [
        replace(
            main,
            start=stroke.start,
            end=stroke.end,
            pitch=stroke.pitch,
            stroke=number,
            from_slur=main.from_slur if number == 0 else not stroke.tongued,
            to_slur=main.to_slur if number + 1 == len(found) else not stroke.tongued,
            bend=bend if number + 1 == len(found) else 0,
            faint=main.faint or stroke.faint,
        )
        for number, stroke in enumerate(found)
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
    return f"{score.tempo!r} {score.breath} {score.sounds} {score.line.ladder}"
