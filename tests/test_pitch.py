"""Pitches and intervals against the MIDI 1.0 numbering, ISO 16, music21, and the laws they must keep."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch

from stavewright.music.pitch import A4_HERTZ, LETTERS, Interval, Pitch

pitches = st.builds(Pitch, st.integers(0, 6), st.integers(-2, 2), st.integers(0, 8))
in_print = st.builds(Pitch, st.integers(0, 6), st.integers(-1, 1), st.integers(1, 7))
intervals = st.builds(Interval.between, in_print, in_print)


def reference(pitch: Pitch) -> m21_pitch.Pitch:
    """The same written pitch in music21."""
    return m21_pitch.Pitch(step=LETTERS[pitch.letter], accidental=pitch.alter or None, octave=pitch.octave)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        # Note numbers as the MIDI 1.0 Detailed Specification gives them (middle C is 60), with scientific
        # pitch notation's name for middle C, C4.
        ("C-1", 0),
        ("C4", 60),
        ("A4", 69),
        ("G9", 127),
        ("B3", 59),
        ("B#3", 60),
        ("Cb4", 59),
        ("F#5", 78),
        ("Gb5", 78),
        ("F##5", 79),
        ("Fx5", 79),
        ("Bbb3", 57),
        ("F♯5", 78),
        ("B♭3", 58),
        ("Fn5", 77),
    ],
)
def test_midi_numbers(text: str, number: int) -> None:
    assert Pitch.parse(text).midi == number


@pytest.mark.parametrize(
    ("text", "hertz"),
    [
        # A4 = 440 Hz is ISO 16:1975; the octaves double, and the tempered semitone is the twelfth root of 2.
        ("A4", 440.0),
        ("A3", 220.0),
        ("A5", 880.0),
        ("C4", 440.0 * 2 ** (-9 / 12)),
        ("A#4", 440.0 * 2 ** (1 / 12)),
    ],
)
def test_frequencies(text: str, hertz: float) -> None:
    assert A4_HERTZ == 440.0
    assert math.isclose(Pitch.parse(text).hertz(), hertz, rel_tol=1e-12)


def test_another_tuning_moves_every_note() -> None:
    assert math.isclose(Pitch.parse("A4").hertz(442), 442)
    assert math.isclose(Pitch.parse("E5").hertz(415), 415 * 2 ** (7 / 12))


@given(pitches)
def test_numbers_and_frequencies_as_music21_has_them(pitch: Pitch) -> None:
    other = reference(pitch)
    assert pitch.midi == other.ps
    assert math.isclose(pitch.hertz(), other.frequency)
    assert LETTERS[pitch.letter] == other.step


@given(pitches)
def test_a_pitch_read_from_its_own_name_is_itself(pitch: Pitch) -> None:
    assert Pitch.parse(str(pitch)) == pitch


@pytest.mark.parametrize(
    "text", ["", "H4", "c4", "C", "C#", "C###4", "C 4", "C44", "4C", "C4 ", "C#b4", "\n"]
)
def test_what_is_no_pitch_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a pitch"):
        Pitch.parse(text)


@pytest.mark.parametrize(
    ("text", "spoken"),
    [("C4", "C4"), ("F#5", "F sharp 5"), ("Bb3", "B flat 3"), ("F##5", "F double sharp 5")],
)
def test_spoken_names(text: str, spoken: str) -> None:
    assert Pitch.parse(text).spoken == spoken


@given(pitches, st.integers(-3, 3))
def test_octaves_keep_the_name(pitch: Pitch, count: int) -> None:
    moved = pitch.octaves(count)
    assert (moved.name, moved.midi) == (pitch.name, pitch.midi + 12 * count)


# -- intervals ------------------------------------------------------------------------------------------

EVERY_NAME = [
    f"{quality}{number}"
    for number in range(1, 16)
    for quality in (
        ("dd", "d", "P", "A", "AA") if number % 7 in (1, 4, 5) else ("dd", "d", "m", "M", "A", "AA")
    )
    if not (number == 1 and "d" in quality)  # a unison cannot be made smaller
]
SIGNED = [sign + name for name in EVERY_NAME for sign in "+-" if sign + name != "-P1"]


def test_a_perfect_unison_has_no_direction() -> None:
    assert Interval.parse("P1") == Interval.parse("+P1") == Interval.parse("-P1") == Interval(0, 0)


@pytest.mark.parametrize("signed", SIGNED)
def test_every_interval_name_means_what_music21_says(signed: str) -> None:
    sign, name = signed[0], signed[1:]
    ours = Interval.parse(sign + name)
    theirs = m21_interval.Interval(name if sign == "+" else f"-{name}")
    assert ours.semitones == theirs.semitones
    assert Pitch.parse("D4").up(ours).step == theirs.transposePitch(m21_pitch.Pitch("D4")).diatonicNoteNum - 1
    assert ours.name == name


@pytest.mark.parametrize(
    "name", ["P3", "m5", "M4", "P2", "M8", "m1", "P0", "X5", "P", "5", "P100", "++M3", ""]
)
def test_what_is_no_interval_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match=r"interval|exist"):
        Interval.parse(name)


@given(in_print, in_print)
def test_the_interval_between_two_pitches_as_music21_names_it(low: Pitch, high: Pitch) -> None:
    ours = Interval.between(low, high)
    theirs = m21_interval.Interval(reference(low), reference(high))
    name = theirs.name
    if ours.steps == 0 and ours.semitones < 0:
        # From C to C flat: music21 says a diminished unison; here it is an augmented one, taken downward,
        # because no unison is smaller than the perfect one (common practice, no source).
        name = name.replace("d", "A")
    assert (ours.name, ours.semitones) == (name, theirs.semitones)
    assert low.up(ours) == high


@given(in_print, intervals)
def test_moving_a_pitch_as_music21_moves_it(pitch: Pitch, interval: Interval) -> None:
    moved = pitch.up(interval)
    # The same interval from C4, so that music21 never sees our arithmetic, only two names.
    end = Pitch.parse("C4").up(interval)
    assume(max(abs(moved.alter), abs(end.alter)) <= 3)  # music21 writes no more than four
    step = m21_interval.Interval(reference(Pitch.parse("C4")), reference(end))
    assert (
        reference(moved).nameWithOctave
        == step.transposePitch(reference(pitch), maxAccidental=None).nameWithOctave
    )


@given(pitches, intervals)
def test_up_then_down_is_where_it_began(pitch: Pitch, interval: Interval) -> None:
    assert pitch.up(interval).up(-interval) == pitch


@given(pitches, intervals, intervals)
def test_one_interval_then_another_is_their_sum(pitch: Pitch, first: Interval, second: Interval) -> None:
    assert pitch.up(first).up(second) == pitch.up(first + second)


@given(pitches, intervals, intervals)
def test_the_order_of_two_intervals_does_not_matter(pitch: Pitch, first: Interval, second: Interval) -> None:
    assert pitch.up(first).up(second) == pitch.up(second).up(first)


@given(in_print, intervals)
def test_the_name_of_an_interval_reads_back_as_the_interval(pitch: Pitch, interval: Interval) -> None:
    name = interval.name
    assume(len(name.rstrip("0123456789")) <= 2)  # the language has no word for more than doubly altered
    downward = interval.steps < 0 or (interval.steps == 0 and interval.semitones < 0)
    assert Interval.parse(("-" if downward else "+") + name) == interval


@given(in_print, st.integers(-2, 2))
def test_respelling_keeps_the_sound(pitch: Pitch, shift: int) -> None:
    other = pitch.respelled(shift)
    assert other.midi == pitch.midi
    assert other.step == pitch.step + shift
