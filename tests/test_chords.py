"""Chord names: read and written, transposed, sounding, over the staff and in files."""

from __future__ import annotations

import json
from fractions import Fraction
from io import BytesIO

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from mido import MidiFile
from music21 import harmony as m21_harmony
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch

from stavewright.engrave import breaks
from stavewright.engrave.chord_names import chord_words
from stavewright.engrave.piece import STAND
from stavewright.export.midi import TICKS, midi
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.music.accompaniment import sounding_chords
from stavewright.music.chords import QUALITIES, Chord
from stavewright.music.description import describe_score
from stavewright.music.exercise import Exercise
from stavewright.music.pitch import Pitch
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS
from stavewright.variations import apply
from stavewright.variations.passes import played_twice
from stavewright.views.playback import CHORDS, play_through, play_through_json

TUNE = "q D5 E5 F#5 A5 | h B5 A5 , | w D5"
NAMES = "D | G A7 | D"


def text_of(chords: str = NAMES, music: str = TUNE, **fields: str) -> str:
    rows = {"title": "T", "home": "D5 in D major", "travel": "twelve keys", **fields}
    return "".join(
        f"{name}: {value}\n" for name, value in (rows | {"chords": chords, "music": music}).items()
    )


def exercise(chords: str = NAMES, music: str = TUNE, **fields: str) -> Exercise:
    reading = read("t.warmup", text_of(chords, music, **fields).encode())
    assert reading.exercise is not None, reading.faults
    return reading.exercise


def score(chords: str = NAMES, music: str = TUNE, **fields: str) -> Score:
    return settings_of(exercise(chords, music, **fields), FLUTE)[0].score()


def names(found: Score) -> list[str]:
    return [f"{mark.bar}+{mark.at} {mark.chord.name if mark.chord else '-'}" for mark in found.chords]


def heard(found: Score) -> list[tuple[Fraction, Fraction, str]]:
    return [(each.start, each.end, each.chord.name) for each in sounding_chords(found)]


# -- the language ----------------------------------------------------------------------------------------


def test_chords_share_their_bar_and_go_on() -> None:
    assert names(score("D . . A7 | | N.C. G/B")) == ["0+0 D", "0+3/4 A7", "2+0 -", "2+1/2 G/B"]
    assert names(score("D", "e. D5 s E5 e F#5 e. G5 s A5 e G5", meter="6/8")) == ["0+0 D"]
    assert names(score("D Em", "h. D5", meter="6/8")) == ["0+0 D", "0+3/8 Em"]


@pytest.mark.parametrize(
    ("chords", "said"),
    [
        ("D | X | D", "4:13: 'X' is no chord; write one such as C, Cm, C7,"),
        ("D | Cmaj13 | D", "'Cmaj13' is no chord"),
        ("D | G | D | A", "4:22: 'chords' has 4 bars, and the music has 3 bars; take away 1 bar"),
        ("D | G", "'chords' has 2 bars, and the music has 3 bars; add 1 bar (an empty one keeps the chord)"),
        (
            "D | G A7 Bm | D",
            "4:13: 3 chords do not divide bar 2, which has 4 beats; write one for each beat,",
        ),
        ("D | G A7 Bm | D", "such as `G . A7 Bm`; `.` goes on"),
        ("D | G A7 Bm D G | D", "write one for each beat at most"),
        ("| | |", "4:8: 'chords' has no chord"),
        ("", "'chords' says nothing; write it like `chords: D |"),
    ],
)
def test_what_is_no_chord_is_said_with_its_place(chords: str, said: str) -> None:
    (found, *_) = read("t.warmup", text_of(chords).encode()).faults
    assert said in str(found)


def test_a_pick_up_may_have_a_chord() -> None:
    found = score("A7 | D | | | G", "e D5 | w E5 | w D5 | w E5 | h.. D5", pickup="e")
    assert names(found) == ["0+0 A7", "1+0 D", "4+0 G"]


def test_free_time_has_no_chords() -> None:
    (found,) = read("t.warmup", text_of("D", "long D5", meter="free").encode()).faults
    assert "free time has no beats on which chords could stand" in str(found)


def test_equal_signs_are_written_in_one_way() -> None:
    assert "chords: Dmaj7 | Gm A#dim7 | Dm7b5\n" in write(exercise("DM7 | G- A#o7 | Dø"))


NOTES = st.sampled_from([f"{letter}{sign}" for letter in "CDEFGAB" for sign in ("", "#", "b")])
CHORD = st.builds(lambda root, quality: f"{root}{quality}", NOTES, st.sampled_from(sorted(QUALITIES)))
SLASHED = st.builds(lambda chord, bass: f"{chord}/{bass}", CHORD, NOTES)
WORD = st.one_of(CHORD, SLASHED, st.just("."), st.just("N.C."))
ROW = st.one_of(st.just(""), *(st.lists(WORD, min_size=n, max_size=n).map(" ".join) for n in (1, 2, 4)))


@examples(40)
@given(st.lists(ROW, min_size=3, max_size=3).map(" | ".join).filter(lambda said: said.strip(" |")))
def test_chords_come_back_as_they_were_written(said: str) -> None:
    first = exercise(f"{said} |")
    again = read("t.warmup", write(first).encode()).exercise
    assert again is not None
    assert again.chords == first.chords


# -- notes and keys --------------------------------------------------------------------------------------


@pytest.mark.parametrize("quality", QUALITIES)
@pytest.mark.parametrize("bass", ["", "B-"])
def test_what_sounds_is_what_the_name_says(quality: str, bass: str) -> None:
    figure = {"aug": "+", "dim": "dim", "dim7": "o7", "m7b5": "ø7", "sus4": "sus", "sus2": "sus2"}.get(
        quality, quality
    )
    # music21's figure of a seventh with a suspended fourth is another; its notes are those of C7 with F.
    theirs = m21_harmony.ChordSymbol(f"E{figure}") if quality != "7sus4" else None
    wanted = {each.pitchClass for each in theirs.pitches} if theirs else {4, 9, 11, 2}
    chord = Chord(Pitch.parse("E4"), quality, Pitch.parse("Bb4") if bass else None)
    low, *others = chord.sounding()
    assert {note % 12 for note in others} == wanted
    assert low % 12 == (m21_pitch.Pitch(bass).pitchClass if bass else 4)
    assert 40 <= low < 52
    assert all(55 <= note < 67 for note in others)
    assert [note % 12 for note in chord.sounding(-2)] != [note % 12 for note in chord.sounding()]


@pytest.mark.parametrize("instrument", ["flute", "clarinet-b-flat"])
def test_names_are_transposed_with_the_key(instrument: str) -> None:
    found = settings_of(exercise("D | F#m7 Bb/D | A7"), INSTRUMENTS[instrument])
    assert len(found) == 12
    for setting in found:
        home, there = (m21_pitch.Pitch(str(each.start).replace("b", "-")) for each in (found[0], setting))
        moved = m21_interval.Interval(home, there)
        for old, new in zip(found[0].chords, setting.chords, strict=True):
            assert old.chord is not None
            assert new.chord is not None
            assert old.chord.quality == new.chord.quality
            for one, other in ((old.chord.root, new.chord.root), (old.chord.bass, new.chord.bass)):
                if one is None or other is None:
                    assert one is other
                    continue
                wanted = moved.transposePitch(m21_pitch.Pitch(one.name.replace("b", "-")))
                assert wanted.pitchClass == other.pitch_class
                if abs(wanted.alter) < 2:
                    assert wanted.name == other.name.replace("b", "-")


# -- sound -----------------------------------------------------------------------------------------------


def test_chords_are_begun_anew_in_each_bar_and_repeated() -> None:
    found = score("D . . G | |", "|: w D5 | w E5 :|")
    once = [(0, Fraction(3, 4), "D"), (Fraction(3, 4), 1, "G"), (1, 2, "G")]
    assert heard(found) == [*once, *((start + 2, end + 2, name) for start, end, name in once)]
    assert heard(score("| N.C. D | N.C.")) == [(Fraction(3, 2), 2, "D")]


def test_a_ladder_hears_its_chords_again() -> None:
    found = apply(score("D | G", "q D5 E5 h F#5 | h B5 G5"), ("tonguing double ladder 60 to 72 by 12",))
    half = Fraction(1, 2)
    # The figure divides the last note, a half.
    assert heard(found) == [(0, 1, "D"), (1, 1 + half, "G"), (1 + half, 2, "G"), (2, 2 + half, "G")]


def test_chords_are_a_soft_piano_in_midi() -> None:
    clarinet = INSTRUMENTS["clarinet-b-flat"]
    file = MidiFile(file=BytesIO(midi(score(), "T", clarinet)))
    track = file.tracks[-1]
    assert track.name == "Chords"
    notes = [message for message in track if message.type == "note_on" and message.velocity]
    # D, G and A7 as they sound: C, F and G7.
    assert {note.note % 12 for note in notes[:4]} == {0, 4, 7}
    assert {note.velocity for note in notes} == {32}
    assert [message.program for message in track if message.type == "program_change"] == [0]
    assert sum(message.time for message in track) == 3 * 4 * TICKS
    assert len(MidiFile(file=BytesIO(midi(score("D | | ", "w D5 | w D5"), "T", FLUTE))).tracks) == 3


def test_the_page_is_told_of_the_chords() -> None:
    piece = play_through(score(), FLUTE)
    assert piece.chords is not None
    assert {tone.start for tone in piece.chords.tones} == {0, 1, Fraction(3, 2), 2}
    rows = json.loads(play_through_json(piece))["chords"]
    assert rows["levels"] == [[0, CHORDS, 0]]
    assert len(rows["tones"]) == 4 + 4 + 5 + 4


# -- on the page -----------------------------------------------------------------------------------------


def test_names_stand_where_their_chords_begin() -> None:
    assert chord_words(score("D | Gm7b5 . . A#sus4 | N.C.")) == [
        r'\markup \concat { "D" } 1*1/1',
        r'\markup \concat { "G" "m7" \hspace #0.1 \fontsize #-3 \raise #0.3 \flat "5" } 1*3/4',
        r'\markup \concat { "A" \hspace #0.1 \raise #0.75 \fontsize #-3 \sharp \hspace #0.1 "sus4" } 1*1/4',
        r'\markup "N.C." 1*1/1',
    ]
    assert chord_words(score("| | D"))[:2] == [r"\skip 1*1/1", r"\skip 1*1/1"]


def test_names_have_room_on_their_lines() -> None:
    music = " | ".join(["q D5 E5 F#5 G5"] * 8)
    plain = score("D", music.split(" | ")[0])
    assert breaks.lines(plain, STAND.room).ends == ()
    few, many = (score(" | ".join([bar] * 8), music) for bar in ("D", "Dmaj7/F# Em7b5/Bb A7sus4/E Dmaj7/A"))
    assert len(breaks.lines(many, STAND.room).ends) > len(breaks.lines(few, STAND.room).ends)


def test_ways_that_keep_the_notes_of_each_bar_keep_the_names() -> None:
    plain = score()
    for wish in ("slurred", "dotted", "level p", "singing alto held"):
        assert apply(plain, (wish,)).chords == plain.chords
    low = score(home="D4 in D major", music="q D4 E4 F#4 A4 | h B4 A4 , | w D4")
    for wish in ("upper octave first", "doubled"):
        assert apply(low, (wish,)).chords == ()
    assert played_twice(plain, ("level p",), ("level f",)).chords == plain.chords


def test_words_for_those_who_hear_the_page_name_the_chords() -> None:
    assert describe_score(score("D", "w D5")).endswith("bar 1: D5 whole; chords, bar 1: D.")
