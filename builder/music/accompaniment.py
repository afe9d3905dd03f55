"""When chords sound: from their names on, begun anew in each bar, as a pianist would play them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from .chords import Chord, ChordMark
from .pitch import Pitch
from .score import Score
from .sounding.timing import heard_bars, unfold


@dataclass(frozen=True, slots=True)
class SoundingChord:
    """A chord from `start` until `end`, in whole notes from the beginning, repeats counted.

    `printed` are its notes on the staff of block chords, where there is one.
    """

    start: Fraction
    end: Fraction
    chord: Chord
    printed: tuple[Pitch, ...] = ()

    def sounding(self, semitones: int = 0) -> tuple[int, ...]:
        """The MIDI numbers of its notes, lowest first: those on a staff, or if it has none, the chord's own.

        `semitones` is how far above the page it sounds.
        """
        if not self.printed:
            return self.chord.sounding(semitones)
        return tuple(pitch.midi + semitones for pitch in self.printed)


def sounding_chords(score: Score) -> tuple[SoundingChord, ...]:
    """The chords of a score in the order they are heard; none where it has no names."""
    return tuple(_sounding(score)) if score.chords else ()


def _sounding(score: Score) -> Iterator[SoundingChord]:
    bars = [list(_in_bar(score, number)) for number in range(len(score.line.bars))]
    notes = _printed(score)
    for bar in heard_bars(score.line, unfold(score.line)):
        begins = bar.start - bar.offset
        for begin, end, chord in bars[bar.number]:
            first, last = max(begins + begin, bar.start), min(begins + end, bar.end)
            if chord and first < last:
                yield SoundingChord(first, last, chord, notes.get((bar.number, begin), ()))


def _printed(score: Score) -> dict[tuple[int, Fraction], tuple[Pitch, ...]]:
    """The notes of block chords by their bar and their place in it; empty without a staff of them."""
    found: dict[tuple[int, Fraction], tuple[Pitch, ...]] = {}
    staff = next((line for line in score.lines if line.chords), None)
    for number, bar in enumerate(staff.bars if staff else ()):
        now = Fraction(0)
        for event in bar.events:
            found[number, now] = event.pitches
            now += event.length
    return found


def _in_bar(score: Score, number: int) -> Iterator[tuple[Fraction, Fraction, Chord | None]]:
    """What sounds in a bar of the page, from when until when; what sounded before goes on."""
    here = [mark for mark in score.chords if mark.bar == number]
    before = [mark for mark in score.chords if mark.bar < number]
    if before and (not here or here[0].at):
        here.insert(0, ChordMark(number, Fraction(0), before[-1].chord))
    if not here:
        return
    ends = [*(mark.at for mark in here[1:]), score.line.bars[number].length]
    for mark, end in zip(here, ends, strict=True):
        yield mark.at, end, mark.chord
