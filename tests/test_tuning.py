"""Tuning over a drone: against Ellis's figures, a reckoning of its own, and music21."""

from __future__ import annotations

from fractions import Fraction
from math import log2
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch

from stavewright.book.read import open_book
from stavewright.language.read import read
from stavewright.music.exercise import Exercise
from stavewright.music.pitch import LETTERS, Interval, Pitch
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.settings.tuning import JUST, STRONG, WEAK, ConsonanceShare, offered, over_drone, tuned
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS
from stavewright.variations import Unsuitable, apply
from stavewright.views.tuning_table import offer_words, tuning_view

# Cents of just intervals. A. J. Ellis's table of intervals not exceeding an octave, in his translation of
# Helmholtz, "On the Sensations of Tone", second English edition (1885), appendix XX, section D: from memory.
# The four of them that musicians use most were looked up in the report of Ellis's lecture in Nature, 26 March
# 1885: "702 a perfect Fifth, 498 a perfect Fourth, 386 and 316 perfect major and minor Thirds".
ELLIS = {
    "P1": (Fraction(1, 1), 0),
    "A1": (Fraction(25, 24), 71),
    "m2": (Fraction(16, 15), 112),
    "M2": (Fraction(9, 8), 204),
    "A2": (Fraction(75, 64), 275),
    "m3": (Fraction(6, 5), 316),
    "M3": (Fraction(5, 4), 386),
    "d4": (Fraction(32, 25), 427),
    "P4": (Fraction(4, 3), 498),
    "A4": (Fraction(45, 32), 590),
    "d5": (Fraction(64, 45), 610),
    "P5": (Fraction(3, 2), 702),
    "A5": (Fraction(25, 16), 773),
    "m6": (Fraction(8, 5), 814),
    "M6": (Fraction(5, 3), 884),
    "d7": (Fraction(128, 75), 925),
    "A6": (Fraction(225, 128), 977),
    "m7": (Fraction(9, 5), 1018),
    "M7": (Fraction(15, 8), 1088),
}

C3, A3 = Pitch.parse("C3"), Pitch.parse("A3")

PITCHES = st.builds(Pitch, st.integers(0, 6), st.integers(-1, 1), st.integers(1, 7))


def above(drone: Pitch, name: str) -> Pitch:
    return drone.up(Interval.parse(name))


def test_the_table_has_every_interval_that_ellis_lists_here() -> None:
    assert set(JUST) == set(ELLIS)
    assert {name: ratio for name, (ratio, _) in ELLIS.items()} == JUST


@pytest.mark.parametrize("name", ELLIS)
def test_cents_are_those_of_ellis(name: str) -> None:
    found = tuned(C3, above(C3, name))
    assert round(found.cents + 100 * found.interval.semitones) == ELLIS[name][1]


@pytest.mark.parametrize("name", [*ELLIS, "P8", "M10", "P12", "P15", "m17", "M24"])
def test_cents_and_beats_by_a_reckoning_of_their_own(name: str) -> None:
    # Frequencies from the twelfth root of two, ratios by exact fractions: nothing of the project's but the
    # interval's name is used here.
    theirs = m21_interval.Interval(name)
    simple, octaves = theirs.generic.simpleUndirected, theirs.generic.undirected
    simple_name = m21_interval.Interval(f"{name.rstrip('0123456789')}{simple}").name
    ratio = ELLIS[simple_name][0] * 2 ** ((octaves - simple) // 7)
    semitones = int(theirs.semitones)
    found = tuned(A3, above(A3, name))
    assert found.ratio == ratio
    assert found.cents == pytest.approx(1200 * log2(ratio) - 100 * semitones, abs=1e-9)
    for a4 in (415, 440, 466):
        drone = a4 / 2
        note = drone * (2 ** (1 / 12)) ** semitones
        assert found.beats(a4) == pytest.approx(
            abs(ratio.denominator * note - ratio.numerator * drone), rel=1e-9, abs=1e-9
        )


# Beats a second of tempered intervals at A4 = 440, as tuners' tables print them (from memory).
@pytest.mark.parametrize(
    ("drone", "note", "beats"),
    [
        ("A3", "E4", 0.74),
        ("F3", "C4", 0.59),
        ("F3", "A3", 6.93),
        ("A3", "C#4", 8.73),
        ("A3", "D4", 0.99),
        ("F3", "D4", 7.92),
        ("A3", "A4", 0.00),
    ],
)
def test_beats_are_those_of_tuners_tables(drone: str, note: str, beats: float) -> None:
    assert tuned(Pitch.parse(drone), Pitch.parse(note)).beats() == pytest.approx(beats, abs=0.006)


@pytest.mark.parametrize(
    ("note", "name", "locks", "ratio"),
    [
        ("C3", "unison", "strong", "1"),
        ("D3", "major second", "", "9/8"),
        ("D#3", "augmented second", "", "75/64"),
        ("Eb3", "minor third", "weak", "6/5"),
        ("F3", "fourth", "strong", "4/3"),
        ("F#3", "augmented fourth", "", "45/32"),
        ("G3", "fifth", "strong", "3/2"),
        ("A3", "major sixth", "weak", "5/3"),
        ("C4", "octave", "strong", "2"),
        ("E4", "major tenth", "weak", "5/2"),
        ("G4", "twelfth", "strong", "3"),
        ("C5", "double octave", "strong", "4"),
        ("G5", "twelfth and an octave", "strong", "6"),
        ("E6", "major tenth and 2 octaves", "weak", "10"),
        ("G2", "fourth below", "strong", "3/4"),
        ("A2", "minor third below", "weak", "5/6"),
        ("F2", "fifth below", "strong", "2/3"),
        ("C2", "octave below", "strong", "1/2"),
        ("Fb3", "diminished fourth", "", "32/25"),
        ("Cb3", "augmented unison below", "", "15/16"),
    ],
)
def test_intervals_by_name(note: str, name: str, locks: str, ratio: str) -> None:
    found = tuned(C3, Pitch.parse(note))
    assert (found.name, found.locks, found.ratio) == (name, locks, Fraction(ratio))


@given(PITCHES, PITCHES)
def test_intervals_are_those_of_music21(drone: Pitch, note: Pitch) -> None:
    def theirs(pitch: Pitch) -> m21_pitch.Pitch:
        sign = {-1: "-", 0: "", 1: "#"}[pitch.alter]
        return m21_pitch.Pitch(f"{LETTERS[pitch.letter]}{sign}{pitch.octave}")

    interval = m21_interval.Interval(theirs(drone), theirs(note))
    found = tuned(drone, note)
    if interval.generic.undirected < 9 and interval.generic.directed > 0 and abs(interval.semitones) > 0:
        perfect = interval.specifier.niceName == "Perfect"
        words = interval.niceName.replace("Perfect ", "") if perfect else interval.niceName
        if words.split()[0] not in ("Doubly-Diminished", "Doubly-Augmented") and interval.semitones > 0:
            assert found.name == words.lower()
    simple = interval.semiSimpleName
    if interval.generic.directed > 0:
        strong = simple in ("P1", "P4", "P5", "P8")
        weak = simple in ("m3", "M3", "m6", "M6")
        assert found.locks == ("strong" if strong else "weak" if weak else "")


@given(PITCHES, PITCHES)
def test_a_just_note_is_never_far_from_the_tempered_one(drone: Pitch, note: Pitch) -> None:
    found = tuned(drone, note)
    assert abs(found.cents) < 31
    # The just note is as many cents from the tempered one as their frequencies say.
    tempered = note.hertz() / drone.hertz()
    assert 1200 * log2(float(found.ratio) / tempered) == pytest.approx(found.cents, abs=1e-6)


@given(PITCHES, PITCHES, st.integers(-2, 2))
def test_octaves_change_neither_the_cents_nor_whether_it_locks(
    drone: Pitch, note: Pitch, octaves: int
) -> None:
    near, far = tuned(drone, note), tuned(drone, note.octaves(octaves))
    assert far.locks == near.locks
    assert far.cents == pytest.approx(near.cents, abs=1e-9)
    assert far.ratio == near.ratio * Fraction(2) ** octaves


@given(PITCHES, PITCHES)
def test_a_just_note_does_not_beat(drone: Pitch, note: Pitch) -> None:
    found = tuned(drone, note)
    just = drone.hertz() * found.ratio
    partials = found.ratio.denominator * just - found.ratio.numerator * drone.hertz()
    assert float(partials) == pytest.approx(0, abs=1e-6)
    shift = 2 ** (found.cents / 1200)
    assert found.beats() == pytest.approx(
        abs(found.ratio.numerator * drone.hertz() * (1 / shift - 1)), rel=1e-6
    )


def test_strong_and_weak_are_apart_and_in_the_table() -> None:
    assert not set(STRONG) & set(WEAK)
    assert set(STRONG) | set(WEAK) <= set(JUST)


def exercise(music: str, more: str = "drone: G3\n") -> Exercise:
    text = "title: Test\nhome: G4 in G major\nmeter: 4/4\ntravel: twelve keys, semitones up\n"
    text += f"{more}music:\n  {music}\n"
    reading = read("test.warmup", text.encode())
    assert reading.exercise is not None, [str(fault) for fault in reading.faults]
    return reading.exercise


def test_an_offer_weighs_by_time_and_leaves_rests_out() -> None:
    found = offered(exercise("h G4 q B4 A4 | q D5 rest h rest"))
    assert found == ConsonanceShare(Fraction(3, 4), Fraction(1, 4), Fraction(1, 4))
    assert (found.share, found.strong_share) == (Fraction(4, 5), Fraction(3, 5))
    assert offered(exercise("w G4", more="")) is None


def test_an_offer_without_a_note_is_nothing() -> None:
    assert ConsonanceShare(Fraction(0), Fraction(0), Fraction(0)).share == 0


def test_the_demo_book_s_melody_by_hand() -> None:
    # New Britain over its keynote, counted by hand in quarters: 17.5 on G, 15 on D, 9.5 on B, 3 on E, 3 on A.
    melody = next(each for each in open_book(Path(__file__).parent.parent).exercises if each.drone)
    found = offered(melody)
    assert found is not None
    assert (found.strong * 4, found.weak * 4, found.free * 4) == (32.5, 12.5, 3)
    assert offer_words(melody) == "94 % of its time on intervals that lock, 68 % firmly"


@pytest.mark.parametrize("slug", INSTRUMENTS)
def test_over_a_drone_in_every_key_the_intervals_are_the_author_s(slug: str) -> None:
    # D sharp minor is written without the double sharp that its leading note would need.
    each = exercise("q G4 Bb4 F#4 D5 | h Eb4 G4", more="drone: G3\n")
    home = {pitch.midi - 55: found.name for pitch, found in over_drone(settings_of(each, FLUTE)[0])}
    assert home == {12: "octave", 15: "minor tenth", 11: "major seventh", 19: "twelfth", 8: "minor sixth"}
    for setting in settings_of(each, INSTRUMENTS[slug]):
        rows = over_drone(setting)
        assert sorted(found.name for _, found in rows) == sorted(home.values())
        for pitch, found in rows:
            assert found.note.midi == pitch.midi + setting.instrument.sounds
            assert setting.sounding_drone is not None
            assert found.drone.midi == setting.sounding_drone.midi
        assert [pitch.midi for pitch, _ in rows] == sorted(pitch.midi for pitch, _ in rows)


def test_the_table_of_a_page() -> None:
    each = exercise("h G4 B4 | q A4 F#4 h G4")
    setting = settings_of(each, INSTRUMENTS["clarinet-b-flat"])[0]
    view = tuning_view(setting, 442)
    assert view is not None
    assert (view.drone, view.sounds, view.a4) == ("G3", "F3", "442")
    rows = [(r.note, r.sounds, r.interval, r.locks, r.ratio, r.cents, r.beats) for r in view.rows]
    # F3 is 175.41 hertz at A4 = 442, and the tenth beats by 2 x 441.92 - 5 x 175.41 (worked out by hand).
    assert rows == [
        ("B4", "A4", "major tenth", "softly", "5:2", "14 lower", "7.0"),
        ("A4", "G4", "major ninth", "", "9:4", "4 higher", "3.6"),
        ("G4", "F4", "octave", "firmly", "2:1", "the same", "0.0"),
        ("F♯4", "E4", "major seventh", "", "15:8", "12 lower", ""),
    ]


def test_what_sounds_as_written_needs_no_second_name_and_no_drone_no_table() -> None:
    view = tuning_view(settings_of(exercise("w G4"), FLUTE)[0], 440.0)
    assert view is not None and view.sounds == "" and view.rows[0].sounds == ""
    assert tuning_view(settings_of(exercise("w G4", more=""), FLUTE)[0], 440.0) is None


def test_figures_under_the_notes_that_lock() -> None:
    each = exercise("q D4 G4 B4 A4 | h C5 tie C5 | q E5 D5 G5 F#5")
    figures = [
        event.syllable for event in apply(settings_of(each, FLUTE)[0].score(), ("figured",)).line.events()
    ]
    # Over G, worked out by hand: fifth (D), octave, third, nothing (A), fourth once for both tied notes,
    # sixth, fifth, octave, nothing (F sharp).
    assert figures == ["5", "8", "3", "", "4", "", "6", "5", "8", ""]


def test_without_a_drone_there_are_no_figures() -> None:
    with pytest.raises(Unsuitable, match="no drone"):
        apply(settings_of(exercise("w G4", more=""), FLUTE)[0].score(), ("figured",))
