"""Harmonics: read, transposed, in ink, in files, in sound and in the range.

The overtones of D are those of any text book: octave, twelfth, double octave, and so on; no source.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mido import MidiFile
from small_scores import refused, score_of, varied

from stavewright.engrave.notation import notation
from stavewright.export.midi import midi
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.music.description import describe_score
from stavewright.music.exercise import Exercise
from stavewright.music.pitch import Pitch
from stavewright.music.score import pitch_range
from stavewright.music.settings.harmonics import overtones, partial_of
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import apply


def exercise(music: str, home: str = "D5 in D major") -> Exercise:
    found = read("e.warmup", f"title: T\nhome: {home}\nmusic: {music}\n".encode())
    assert found.exercise is not None, found.faults
    return found.exercise


def faults(music: str) -> list[str]:
    found = read("e.warmup", f"title: T\nhome: D5 in D major\nmusic: {music}\n".encode())
    return [str(fault).removeprefix("e.warmup:") for fault in found.faults]


def test_the_overtones_of_a_fundamental() -> None:
    low = Pitch.parse("D4")
    assert " ".join(map(str, overtones(low))) == "D5 A5 D6 F#6 A6 C7 D7"
    assert [partial_of(each, low) for each in overtones(low)] == [2, 3, 4, 5, 6, 7, 8]
    assert partial_of(low, low) == partial_of(Pitch.parse("E5"), low) == 0


def test_both_forms_are_read_and_written_back() -> None:
    given_text = exercise("h D5 harmonic( D4 ) B5 harmonic")
    first, second = given_text.forms[0].bars[0].events
    assert (str(first.pitch), str(first.fundamental), first.marks) == ("D5", "D4", ())
    assert (second.fundamental, second.marks) == (None, ("harmonic",))
    assert "h D5 harmonic( D4 ) B5 harmonic |" in write(given_text)


def test_an_interval_may_name_the_fundamental() -> None:
    (event,) = exercise("w A5 harmonic( -P8 )").forms[0].bars[0].events
    assert str(event.fundamental) == "D4"


@pytest.mark.parametrize(
    ("music", "said"),
    [
        (
            "w E5 harmonic( D4 )",
            "3:13: E5 is no overtone of D4; its overtones from the second to the eighth partial are "
            "D5, A5, D6, F#6, A6, C7, D7",
        ),
        (
            "w D5 harmonic( D4 A4 )",
            "3:13: `harmonic( )` takes one pitch, the fundamental that is fingered; write "
            "`h D5 harmonic( D4 ) A5 harmonic( D4 )`",
        ),
        ("h D5 rest harmonic( D4 )", "3:18: a rest cannot be a harmonic; put it after its note"),
        (
            "harmonic( D4 ) w D5",
            "3:8: 'harmonic' comes before the first note; put it after its note",
        ),
    ],
)
def test_what_is_no_harmonic_is_told(music: str, said: str) -> None:
    assert faults(music) == [said]


@pytest.mark.parametrize("sounding", ["D5", "A5", "D6", "F#6", "A6", "C7"])
def test_it_goes_through_the_keys_with_its_fundamental(sounding: str) -> None:
    made = settings_of(exercise(f"w {sounding} harmonic( D4 )"), FLUTE)
    wanted = partial_of(Pitch.parse(sounding), Pitch.parse("D4"))
    assert len(made) == 12
    for setting in made:
        (event,) = setting.bars[0].events
        assert event.pitch is not None and event.fundamental is not None
        assert partial_of(event.pitch, event.fundamental) == wanted, setting.name
        assert abs(event.fundamental.alter) < 2


def test_a_fundamental_has_no_double_accidental() -> None:
    made = settings_of(exercise("h F#5 E5 | w A#5 harmonic( A#4 )"), FLUTE)
    fundamentals = [setting.bars[1].events[0].fundamental for setting in made]
    assert all(pitch is not None and abs(pitch.alter) < 2 for pitch in fundamentals)


def test_the_fingering_must_be_in_the_range() -> None:
    bars = exercise("w D5 harmonic( D4 )").forms[0].bars
    assert tuple(map(str, pitch_range(bars))) == ("D4", "D5")
    low = settings_of(exercise("w B4 harmonic( B3 )"), FLUTE)
    assert all(pitch_range(setting.bars)[0].midi >= 60 for setting in low if setting.fits)


def test_a_diamond_stands_below_the_sounding_note() -> None:
    text = " ".join(notation(score_of("h D5 harmonic( D4 ) B5 harmonic")).split())
    assert r"< \tweak style #'harmonic-mixed d' \tweak details.played ##f \tweak font-size #-4 d'' >2" in text
    assert r"b''2 - \flageolet" in text


def test_the_diamond_has_its_own_accidental() -> None:
    text = notation(score_of("h Bb5 harmonic( Bb4 ) q B4 C5"))
    # The engraver cancels what stands on the line; courtesy is ours.
    assert "bf'\n" in text and "b'4" in text


def test_its_words_name_the_fingering() -> None:
    assert "D5 whole over fingered D4" in describe_score(score_of("w D5 harmonic( D4 )"))


def test_the_sounding_note_sounds() -> None:
    file = MidiFile(file=BytesIO(midi(score_of("w A5 harmonic( D4 )"), "T", FLUTE)))
    assert {message.note for message in file if message.type == "note_on"} == {81}


def test_musicxml_has_the_sounding_note_and_a_silent_fingering() -> None:
    score = score_of("h A5 harmonic( D4 ) B5 harmonic")
    first, second, third = ET.fromstring(musicxml(score, WorkInfo("T"), FLUTE)).iter("note")
    kinds = [[each.tag for each in note.iter("harmonic") for each in each] for note in (first, second, third)]
    assert kinds == [["natural", "sounding-pitch"], ["natural", "base-pitch"], ["natural"]]
    assert [each.tag for each in second][:3] == ["cue", "chord", "pitch"]
    assert second.findtext("notehead") == "diamond" and second.findtext("pitch/step") == "D"


def test_variations_keep_it_and_a_voice_sings_the_note() -> None:
    (event, _) = varied("h D5 harmonic( D4 ) A5 harmonic( D4 )", "slurred")
    assert str(event.fundamental) == "D4"
    assert [str(each.fundamental) for each in varied("w D5 harmonic( D4 )", "detached")] == ["D4"]
    moved = varied("w D5 harmonic( D4 )", "upper octave first")
    assert [str(each.fundamental) for each in moved] == ["D5", "D4"]
    voices = apply(score_of("w D5 harmonic( D4 )"), ("singing alto",)).lines
    assert [line.bars[0].events[0].fundamental is None for line in voices] == [False, True]
    assert "lower octave" in refused("w D5 harmonic( D4 )", "lower octave first")


@given(st.integers(48, 84), st.integers(2, 8))
def test_every_overtone_is_one(midi_note: int, partial: int) -> None:
    low = Pitch(midi_note % 7, 0, midi_note // 12)
    found = overtones(low)[partial - 2]
    assert partial_of(found, low) == partial and abs(found.alter) < 2
