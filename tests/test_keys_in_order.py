"""The keys that an author names, and travel by any interval.

Tonics are compared with music21's intervals (`Interval.transposePitch`).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from music21 import pitch as m21_pitch
from test_language_write import exercise as without_places

from stavewright.language.format import formatted
from stavewright.language.read import read
from stavewright.language.words import EQUAL_STEPS, KEY_STEPS
from stavewright.language.write import write
from stavewright.music.keys import Key, rank
from stavewright.music.settings.transpositions import Setting, settings_of
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS


def text(line: str, home: str = "D5 in D major", music: str = "music: w D5") -> str:
    return f"title: T\nhome: {home}\n{line}\n{music}\n"


def found(line: str, home: str = "D5 in D major", music: str = "music: w D5") -> list[Setting]:
    reading = read("t.warmup", text(line, home, music).encode())
    assert reading.exercise is not None, "\n".join(map(str, reading.faults))
    return list(settings_of(reading.exercise, FLUTE))


def tonics(line: str, **more: str) -> list[str]:
    return [setting.key.tonic for setting in found(line, **more)]


def faults(line: str) -> list[str]:
    return [str(fault) for fault in read("t.warmup", text(line).encode()).faults]


def test_keys_come_in_the_author_s_order_and_spelling() -> None:
    expected = ["C", "F", "B flat", "E flat", "G flat"]
    assert tonics("keys: C, F, B flat, E flat, G flat") == expected
    assert tonics("keys: C F Bb E-flat G♭") == expected
    assert tonics("keys: F sharp, D flat") == ["F sharp", "D flat"]
    assert tonics("keys: C# Cb") == ["C sharp", "C flat"]
    assert tonics("keys: A, G#", home="A4 in A minor") == ["A", "G sharp"]
    assert tonics("keys: A, Ab", home="A4 in A minor") == ["A", "A flat"]
    assert [setting.key.name for setting in found("keys: F, D", home="D4 without key")] == ["on F", "on D"]


def test_each_key_lies_near_the_home_pitch() -> None:
    starts = [str(setting.start) for setting in found("keys: C, G, A flat, A")]
    assert starts == ["C5", "G5", "Ab5", "A4"]


def test_forms_for_both_directions_go_through_the_keys() -> None:
    music = "music falling: w D5\nmusic rising: w E5"
    names = [(setting.key.tonic, setting.direction) for setting in found("keys: F, C", music=music)]
    assert names == [("F", "falling"), ("C", "falling"), ("F", "rising"), ("C", "rising")]


def test_in_concert_pitch_the_keys_are_those_that_sound() -> None:
    reading = read("t.warmup", text("keys: E flat, A").encode())
    assert reading.exercise is not None
    player = replace(INSTRUMENTS["clarinet-b-flat"], concert=True)
    made = settings_of(reading.exercise, player)
    assert [(each.called.tonic, each.key.tonic) for each in made] == [("E flat", "F"), ("A", "B")]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("keys: D# F", "3:7: D sharp major has 9 accidentals; write E flat"),
        ("keys: F, X", "3:10: 'keys' cannot have 'X'; write the notes that the keys are named after"),
        ("keys: F, c", "3:10: 'keys' cannot have 'c'; did you mean 'C'?"),
        ("keys: F, b flat", "did you mean 'B flat'?"),
        ("keys: F#, Gb", "3:11: 'Gb' stands there already, as F sharp; take one of them out"),
        ("keys: F\ntravel: twelve keys", "3:1: 'keys' and 'travel' both say how it goes through the keys"),
        ("keys:", "3:6: 'keys' says nothing; write `keys: C, F, B flat, E flat`"),
        ("travel: twelve keys, whole up", "did you mean 'whole tones'?"),
    ],
)
def test_faults(line: str, said: str) -> None:
    assert any(said in fault for fault in faults(line)), faults(line)
    assert len(faults(line)) == 1


INTERVALS = {
    "semitones": "m2",
    "whole tones": "M2",
    "minor thirds": "m3",
    "major thirds": "M3",
    "fourths": "P4",
    "tritones": "d5",
    "fifths": "P5",
}


@pytest.mark.parametrize("step", KEY_STEPS)
@pytest.mark.parametrize("way", ["up", "down"])
def test_every_interval_meets_all_twelve_keys(step: str, way: str) -> None:
    """By the interval, until it leads back; then a semitone further in the same direction."""
    names = [setting.key.pitch_class for setting in found(f"travel: twelve keys, {step} {way}")]
    assert sorted(names) == list(range(12))
    sign = "" if way == "up" else "-"
    low, met = m21_pitch.Pitch("D5"), []
    while len(met) < 12:
        tonic = low
        while tonic.pitchClass not in met:
            met.append(tonic.pitchClass)
            tonic = tonic.transpose(f"{sign}{INTERVALS[step]}")
        low = low.transpose(1 if way == "up" else -1)
    assert names == met


def test_every_interval_from_pitch_to_pitch() -> None:
    for step, semitones in KEY_STEPS.items():
        starts = [setting.start.midi for setting in found(f"travel: {step} down from D6 to D4")]
        assert starts == list(range(86, 61, -semitones))
    for equal, step in EQUAL_STEPS.items():
        assert found(f"travel: {equal} up through the range") == found(f"travel: {step} up through the range")


spelled = [
    Key(letter, alter) for letter in range(7) for alter in (-1, 0, 1) if abs(rank(Key(letter, alter))) <= 7
]


@examples(20)
@given(st.lists(st.sampled_from(spelled), min_size=1, max_size=12, unique_by=lambda key: key.pitch_class))
def test_any_keys_come_back(keys: list[Key]) -> None:
    """Read, written, read again and formatted they are the same."""
    source = text(f"keys: {', '.join(key.tonic for key in keys)}")
    first = without_places(source)
    assert first.travel.keys == tuple(keys)
    assert without_places(write(first)) == first
    assert isinstance(formatted("example.warmup", source.encode()), str)
    assert [setting.key for setting in settings_of(first, FLUTE)] == keys


@examples(15)
@given(st.sampled_from(tuple(KEY_STEPS)), st.sampled_from(("up", "down")), st.booleans())
def test_any_travel_comes_back(step: str, way: str, through: bool) -> None:
    said = f"{step} {way} through the range" if through else f"twelve keys, {step} {way}"
    first = without_places(text(f"travel: {said}"))
    assert f"travel: {said}\n" in write(first)
    assert without_places(write(first)) == first
