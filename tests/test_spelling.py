"""Figures in every key, leading notes, keys asked for by name, and music without a key.

Intervals and scales are music21's. What a leading note is, and which names a copyist gives the pairs of an
opened octave, is common practice, no source.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction
from pathlib import Path

import pytest
from conftest import write_book
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch
from music21 import scale as m21_scale

from stavewright.book.pieces import instrument_book_of
from stavewright.book.read import open_book
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.music.description import describe_score
from stavewright.music.event import SLUR, Value
from stavewright.music.exercise import Exercise
from stavewright.music.figures import FIGURES
from stavewright.music.keys import Key, spellings
from stavewright.music.pitch import Interval, Pitch
from stavewright.music.settings.transpositions import Setting, settings_of
from stavewright.music.spell import spelled_pair
from stavewright.music.winds.instruments import FLUTE
from stavewright.views.page_views import key_sign

WIDTHS = ("m2", "M2", "m3", "M3", "P4", "A4", "P5", "m6", "M6", "m7", "M7", "P8")
TWELVE = "twelve keys, semitones up"


def exercise(music: str, home: str = "D4 in D major", **fields: str) -> Exercise:
    """An exercise from a few words of text."""
    rows = {"title": "T", "home": home, "travel": TWELVE, **fields, "music": music}
    reading = read("t.warmup", "".join(f"{name}: {value}\n" for name, value in rows.items()).encode())
    assert reading.exercise is not None, reading.faults
    return reading.exercise


def found(music: str, home: str = "D4 in D major", **fields: str) -> dict[str, Setting]:
    """Its settings by their key's tonic."""
    return {setting.key.tonic: setting for setting in settings_of(exercise(music, home, **fields), FLUTE)}


def pitches(setting: Setting) -> list[Pitch]:
    """A setting's pitches in order."""
    return [event.pitch for bar in setting.bars for event in bar.events if event.pitch]


def names(setting: Setting) -> str:
    """Their names without octaves."""
    return " ".join(pitch.name for pitch in pitches(setting))


def by_music21(pitch: Pitch) -> m21_pitch.Pitch:
    """A pitch of the project's as music21's."""
    return m21_pitch.Pitch(str(pitch).replace("b", "-"))


# -- figures ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("figure", "middle"), [("opened-octave", 0), ("closed-octave", -1)])
@pytest.mark.parametrize("mode", ["major", "minor"])
def test_an_opened_octave_is_a_spelled_interval_pair_by_pair(figure: str, middle: int, mode: str) -> None:
    for tonic, setting in found(f"{figure}( h )", f"D4 in D {mode}").items():
        line = [by_music21(pitch) for pitch in pitches(setting)]
        pairs = line[1:] if middle == 0 else line[:-1]
        expected = WIDTHS if middle == 0 else tuple(reversed(WIDTHS))
        intervals = [m21_interval.Interval(*pairs[n : n + 2]).directedName for n in range(0, 24, 2)]
        assert tuple(intervals) == expected, tonic
        assert all(abs(pitch.alter) <= 1 for pitch in line), tonic
        # The middle is called as in the semitone beside it, and the octave as the page is.
        assert line[middle] == (line[1] if middle == 0 else line[-3]), tonic
        octave = line[-2:] if middle == 0 else line[:2]
        assert {pitch.name.replace("-", " flat").replace("#", " sharp") for pitch in octave} == {tonic}


@pytest.mark.parametrize(
    ("tonic", "expected"),
    [
        ("D", "G# G#A GA GBb F#A# F#B FB FC EC EC# D#C# EbD DD"),
        ("F", "B BC BbC BbDb AC# AD AbD AbEb GEb GE F#E GbF FF"),
        ("B flat", "E EF EbF EbGb DF# DG DbG DbAb CAb CA BA CbBb BbBb"),
        ("F sharp", "B# B#C# BC# BD BbD A#D# AD# AE G#E G#E# GF GF# F#F#"),
        ("A flat", "D DEb DbEb DbFb CE CF CbF CbGb BbGb BbG AG AG# AbAb"),
    ],
)
def test_how_an_opened_octave_is_named(tonic: str, expected: str) -> None:
    assert names(found("opened-octave( h )")[tonic]).replace(" ", "") == expected.replace(" ", "")


def test_a_pair_is_named_by_its_steps_in_the_key() -> None:
    # In G flat the third step lowered is doubly flat, in G it is B flat.
    pair = spelled_pair(66, Interval.parse("m3"), Key(4, -1))
    assert [pitch.name for pitch in pair] == ["F#", "A"]
    pair = spelled_pair(67, Interval.parse("m3"), Key(4, 0))
    assert [pitch.name for pitch in pair] == ["G", "Bb"]
    assert [pitch.name for pitch in spelled_pair(66, Interval.parse("A4"), Key(1, -1))] == ["Gb", "C"]


FIGURE_CALLS = {
    "scale": ("e", "e harmonic-minor", "e melodic-minor", "e major", "e lydian down"),
    "broken-chord": ("e", "q major", "q minor"),
    "broken-thirds": ("e", "e harmonic-minor down"),
    "neighbours": ("e", "e chromatic"),
    "chromatic-run": ("e", "e down"),
    "widening": ("e", "e down", "e diatonic"),
    "harmonics": ("e eight",),
    "opened-octave": ("e",),
    "closed-octave": ("e",),
    "pattern": ("e 1 2 3 1 up", "e 1 3 down minor-pentatonic"),
}


@pytest.mark.exhaustive
def test_every_figure_sounds_the_same_in_every_key() -> None:
    for name in FIGURES:
        for words in FIGURE_CALLS.get(name, ("e",)):
            for home in ("D4 in D major", "A4 in A minor", "D#4 in B major", "E4 in C dorian"):
                whole = exercise("w D4", home)
                value, *more = words.split()
                base = Value(Fraction(1, {"e": 8, "q": 4}[value]))
                events = FIGURES[name].make(whole.home, whole.key, base, tuple(more))
                call = f"{name}( {words} )"
                # A bar as long as the figure, so that it fits whatever its length.
                meter = f"{sum(event.length for event in events) * 8}/8"
                for setting in settings_of(exercise(call, home, meter=meter), FLUTE):
                    line = [pitch.midi - 12 * setting.shift for pitch in pitches(setting)]
                    moved = setting.start.midi - 12 * setting.shift - whole.home.midi
                    assert [midi - moved for midi in line] == [e.pitch.midi for e in events if e.pitch], call


@pytest.mark.parametrize(
    ("words", "scale"),
    [("harmonic-minor up", m21_scale.HarmonicMinorScale), ("major up", m21_scale.MajorScale)],
)
def test_scales_have_music21_s_letters_in_every_key(words: str, scale: type) -> None:
    home = "A4 in A minor" if "minor" in words else "A4 in A major"
    for setting in settings_of(exercise(f"scale( e {words} )", home), FLUTE):
        low, *_, high = line = [by_music21(pitch) for pitch in pitches(setting)]
        expected = [pitch.nameWithOctave for pitch in scale(low.name).getPitches(low, high)]
        assert [pitch.nameWithOctave for pitch in line] == expected


def test_a_figure_keeps_what_its_author_put_around_it() -> None:
    setting = found("w G4 | louder( opened-octave( h ) ) | w D4 p fermata ,")["E flat"]
    first, *made, last = [event for bar in setting.bars for event in bar.events]
    assert [shade.mark for event in made for shade in event.dynamic_marks] == ["<", "!"]
    assert (first.pitch, last.marks) == (Pitch.parse("Ab4"), ("fermata", "breath"))
    assert made[3].pitch == Pitch.parse("Ab4") and made[3].opens == (SLUR,)


# -- leading notes ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("music", "home", "tonic", "expected"),
    [
        # The raised seventh of minor, and the raised sixth before it; a tie of seven flats is not needed.
        ("q A4 G#4 A4 C5", "A4 in A minor", "G sharp", "G# F## G# B"),
        ("q E4 F#4 G#4 A4", "A4 in A minor", "G sharp", "D# E# F## G#"),
        ("h C5 G#4", "A4 in A minor", "G sharp", "B F##"),
        # The leading note of another step, as a lower neighbour and at the beginning.
        ("q E5 D#5 E5 A4", "A4 in A minor", "G sharp", "D# C## D# G#"),
        ("h D#5 E5", "A4 in A minor", "G sharp", "C## D#"),
        ("q E5 E#5 F#5 E5", "D5 in D major", "B", "C# D D# C#"),
        ("q F#5 E#5 F#5 D5", "D5 in D major", "B", "D# C## D# B"),
        # No leading note: passed by semitones, left by leap, and double flats.
        ("q D5 D#5 E5 F5", "A4 in A minor", "G sharp", "C# D D# E"),
        ("q E5 D#5 B4 E5", "A4 in A minor", "G sharp", "D# D A# D#"),
        ("q D5 Eb5 D5 Bb4", "D5 in D major", "D flat", "Db D Db A"),
    ],
)
def test_leading_notes_keep_their_letter(music: str, home: str, tonic: str, expected: str) -> None:
    assert names(found(music, home)[tonic]) == expected
    kept = names(found(music, home, doubles="keep")[tonic])
    assert ("##" in kept or "bb" in kept) and "##" not in names(found(music, home)["A"])


def test_flats_spare_double_sharps_and_a_key_may_be_asked_for_by_name() -> None:
    assert {"A flat"} == {"G sharp", "A flat"} & found("h A4 G#4", "A4 in A minor", spelling="flats").keys()
    plain = found("h A4 G4", "A4 in A minor", spelling="flats")
    assert {"G sharp", "E flat"} <= plain.keys()
    named = found("h A4 G4", "A4 in A minor", spelling="A flat minor, sharps")
    assert {"A flat", "D sharp"} <= named.keys() and len(named) == 12
    assert {"C flat", "F sharp"} <= found("w D4", spelling="C flat").keys()
    for wrong in ("A flat minor", "F flat major", "flat"):
        reading = read(
            "t.warmup", f"title: T\nhome: D4 in D major\nspelling: {wrong}\nmusic: w D4\n".encode()
        )
        assert "write flats or sharps, or a key such as `A flat major`" in reading.faults[0].mend


# -- without a key ----------------------------------------------------------------------------------------

FREE = "D4 without key"


def test_music_without_a_key_is_called_by_its_note() -> None:
    whole = exercise("h D4 F#4", FREE)
    assert [setting.key.name for setting in settings_of(whole, FLUTE)][:3] == ["on D", "on E flat", "on E"]
    tonics = [spellings(number, "")[0].tonic for number in range(12)]
    assert tonics == [spellings(number, "major")[0].tonic for number in range(12)]
    assert found("w C#4", "C#4 without key").keys() >= {"C sharp"}
    assert write(whole).splitlines()[1] == "home: D4 without key"
    assert key_sign("on E flat") == "E♭"


def test_music_without_a_key_has_no_signature_and_no_odd_names() -> None:
    for tonic, setting in found("q D4 F#4 G#4 A4 | q G#4 G4 Eb4 D4", FREE).items():
        assert setting.key.fifths == 0
        line = pitches(setting)
        assert [pitch.midi - line[0].midi for pitch in line] == [0, 4, 6, 7, 6, 5, 1, 0]
        assert all(abs(pitch.alter) <= 1 for pitch in line)
        for here, there in zip(line, [*line[1:], None], strict=True):
            if here.name in ("E#", "B#", "Cb", "Fb"):
                assert there is not None, tonic
                assert (there.step - here.step, there.midi - here.midi) == (here.alter, here.alter), tonic
        root = ET.fromstring(musicxml(setting.score(), WorkInfo("T"), FLUTE))
        assert (root.findtext(".//key/fifths"), root.findtext(".//key/mode")) == ("0", "none")
        assert describe_score(setting.score()).startswith(f"on {tonic}, without a key signature, 4/4")


@pytest.mark.parametrize(
    "call", ["scale( e )", "broken-thirds( e )", "neighbours( q )", "widening( q diatonic )"]
)
def test_a_figure_that_takes_the_steps_of_a_key_says_so_where_there_is_none(call: str) -> None:
    reading = read("t.warmup", f"title: T\nhome: {FREE}\nmusic: {call}\n".encode())
    assert "the exercise has no key, so there are no steps" in reading.faults[0].what


def test_pages_of_music_without_a_key(tmp_path: Path) -> None:
    write_book(tmp_path, {"free": f"title: Free\nrights: x\nhome: {FREE}\nmusic:\n  h D4 G#4\n"})
    book = open_book(tmp_path)
    (_, pages), *_ = instrument_book_of(book.exercises, FLUTE).exercises
    assert [(page.key, page.name) for page in pages][:2] == [("d", "on D"), ("d-flat", "on D flat")]
