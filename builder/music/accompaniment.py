"""When chords sound: from their names on, begun anew in each bar, as a pianist would play them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from .chords import Chord, ChordMark
from .score import Score
from .timing import heard_bars, unfold


@dataclass(frozen=True, slots=True)
class SoundingChord:
    """A chord from `start` until `end`, in whole notes from the beginning, repeats counted."""

    start: Fraction
    end: Fraction
    chord: Chord


def sounding_chords(score: Score) -> tuple[SoundingChord, ...]:
    """The chords of a score in the order they are heard; none where it has no names."""
    return tuple(_sounding(score)) if score.chords else ()


def _sounding(score: Score) -> Iterator[SoundingChord]:
    bars = [list(_in_bar(score, number)) for number in range(len(score.line.bars))]
    for bar in heard_bars(score.line, unfold(score.line)):
        begins = bar.start - bar.offset
        for begin, end, chord in bars[bar.number]:
            first, last = max(begins + begin, bar.start), min(begins + end, bar.end)
            if chord and first < last:
                yield SoundingChord(first, last, chord)


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
