"""Variations in another octave."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from ..music.event import LEVELS, SLUR, Event, Value, divided
from ..music.score import Bar, Score, each_pitch, pitch_range
from ..music.sounding.tempos import changes_tempo
from ..translation.said import phrase, term
from .phrases import change_phrases, check_goes_on, without
from .registry import Unsuitable, variation


def _check_range(score: Score, bars: tuple[Bar, ...], what: str) -> None:
    """Raise Unsuitable if bars leave the compass, or go beyond the preferred range further than the score."""
    low, high = pitch_range(bars)
    plain_low, plain_high = pitch_range(score.line.bars)
    compass = score.compass
    for bound in (compass.high, max(compass.easy_high, plain_high, key=lambda pitch: pitch.midi)):
        if high.midi > bound.midi:
            raise Unsuitable(
                phrase(
                    "{what} would reach {note}, above {most}", what=what, note=high.spoken, most=bound.spoken
                )
            )
    for bound in (compass.low, min(compass.easy_low, plain_low, key=lambda pitch: pitch.midi)):
        if low.midi < bound.midi:
            raise Unsuitable(
                phrase(
                    "{what} would go down to {note}, below {least}",
                    what=what,
                    note=low.spoken,
                    least=bound.spoken,
                )
            )


def _octave_first(score: Score, octaves: int) -> Score:
    check_goes_on(score)
    bars = score.line.bars
    moved = each_pitch(bars, lambda pitch: pitch.octaves(octaves))
    _check_range(score, moved, term("the upper octave") if octaves > 0 else term("the lower octave"))
    moved = (*moved[:-1], replace(moved[-1], end="||" if moved[-1].end == "|." else moved[-1].end))
    # The second time returns to the first meter and tempo, if either has changed.
    first = replace(
        bars[0],
        meter=score.meter if any(bar.meter for bar in bars) else None,
        tempo=score.tempo if changes_tempo(score) else None,
    )
    return score.with_bars((*moved, first, *bars[1:]))


@variation(
    "upper octave first",
    "First an octave higher, then as written, with the same ease and the same vowel.",
    shapes="octaves",
    grade=3,
)
def upper_octave_first(score: Score, words: str) -> Score:
    """The music an octave up, a double bar, and the music as it is written."""
    return _octave_first(score, 1)


@variation(
    "lower octave first",
    "First an octave lower, then as written, with the same ring in the sound.",
    shapes="octaves",
    grade=3,
)
def lower_octave_first(score: Score, words: str) -> Score:
    """The music an octave down, a double bar, and the music as it is written."""
    return _octave_first(score, -1)


@variation(
    "falling octave first",
    "The upper octave of the first note before it, slurred down: the lower note keeps the ring of the upper.",
    shapes="octaves",
    grade=3,
)
def falling_octave_first(score: Score, words: str) -> Score:
    """The first note's upper octave before the first bar, as long as the note, in a pick-up or its own bar.

    In free time it stands in the first phrase, and two notes held as long as the breath share one breath.
    Together with a pick-up of the music it fills one bar at most.
    """
    check_goes_on(score)
    bars = score.line.bars
    head = bars[0].events[0]
    if head.pitch is None:
        raise Unsuitable(term("it begins with a rest"))
    free = score.meter.is_free
    length = head.value.written if free else min(head.value.written, score.meter.length - score.pickup)
    upper = replace(
        head,
        pitch=head.pitch.octaves(1),
        value=head.value if head.value.held else Value(length),
        tie=False,
        opens=(SLUR,),
        closes=(),
        marks=(),
        fundamental=None,
        fingering="",
        chart="",
        dynamic_marks=tuple(shade for shade in head.dynamic_marks if shade.at == 0 and shade.mark in LEVELS),
        vibrato=(),
        graces=(),
        syllable="",
    )
    parts = (upper,) if head.value.held else divided(upper, (length,))
    kept = tuple(shade for shade in head.dynamic_marks if shade not in upper.dynamic_marks)
    # If a slur begins on the first note, it now begins on its octave; else a slur joins the two.
    lower = replace(without(head, SLUR), dynamic_marks=kept, above="", below="", clef="")
    if SLUR not in head.opens or SLUR in head.closes:
        lower = replace(lower, closes=(*lower.closes, SLUR))
    first = replace(bars[0], events=(lower, *bars[0].events[1:]))
    if score.pickup or free:
        changed = (replace(first, events=(*parts, *first.events)), *bars[1:])
    else:
        lead = Bar(parts, opens_repeat=first.opens_repeat, meter=first.meter, tempo=first.tempo)
        changed = (lead, replace(first, opens_repeat=False, meter=None, tempo=None), *bars[1:])
    _check_range(score, changed, "the first note's upper octave")
    if free:
        return score.with_bars(changed)
    pickup = score.pickup + length
    return replace(score, pickup=pickup if pickup < score.meter.length else Fraction(0)).with_bars(changed)


@variation(
    "register jump",
    "Every second note an octave higher: prepare the air before the leap, and keep the jaw relaxed.",
    grade=4,
)
def register_jump(score: Score, words: str) -> Score:
    """In each phrase every second note, with its ties, an octave up."""

    def change(number: int, notes: list[Event]) -> list[Event]:
        result, raised = [], False
        for index, note in enumerate(notes):
            result.append(note.each_pitch(lambda pitch: pitch.octaves(1)) if raised else note)
            if not note.tie and index + 1 < len(notes):
                raised = not raised
        return result

    jumped = change_phrases(score, change)
    _check_range(score, jumped.line.bars, "a note")
    if jumped == score:
        raise Unsuitable(term("no phrase of it has two notes"))
    return jumped
