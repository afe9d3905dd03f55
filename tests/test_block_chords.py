"""Block chords on a staff: their notes, how they are led, in ink, in sound, in files, and alone."""

from __future__ import annotations

from io import BytesIO
from itertools import pairwise

import pytest
from mido import MidiFile
from music21 import converter
from music21 import harmony as m21_harmony
from music21 import interval as m21_interval

from stavewright.book.pieces import instrument_book_of
from stavewright.engrave.notation import notation
from stavewright.export.midi import midi
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.music.chords import QUALITIES, Chord
from stavewright.music.exercise import BlockChords, Exercise
from stavewright.music.pitch import Pitch
from stavewright.music.score import Score
from stavewright.music.settings.block_chords import REACHES, Voicing, chord_notes, voicings
from stavewright.music.settings.second_part import part_alone
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.sounding.timing import timing
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS
from stavewright.prints.parts import FIRST, SECOND, one_part
from stavewright.variations import Unsuitable, apply
from stavewright.views.playback import play_through

TUNE = "q D5 E5 F#5 A5 | h B5 A5 , | q F#5 D5 E5 C#5 | w D5"
NAMES = "D | G A7 | D/F# . Em7 A7 | D"
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def exercise(chords: str = NAMES, music: str = TUNE, second: str = "block chords", **fields: str) -> Exercise:
    rows = {"title": "T", "home": "D5 in D major", "travel": "twelve keys", **fields}
    rows |= {"chords": chords, "second": second, "music": music}
    reading = read("t.warmup", "".join(f"{name}: {value}\n" for name, value in rows.items()).encode())
    assert reading.exercise is not None, reading.faults
    return reading.exercise


def score(chords: str = NAMES, music: str = TUNE, **fields: str) -> Score:
    return settings_of(exercise(chords, music, **fields), FLUTE)[0].score()


def chord(name: str) -> Chord:
    (found,) = exercise(name, "w D5").chords[0]
    assert isinstance(found, Chord)
    return found


def said(notes: Voicing) -> str:
    return " ".join(map(str, notes))


def on_staff(found: Score) -> list[list[str]]:
    assert found.second is not None
    return [[said(event.pitches) or "-" for event in bar.events] for bar in found.second.bars]


# -- the notes ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("root", ROOTS)
@pytest.mark.parametrize("quality", QUALITIES)
def test_a_chord_has_its_own_notes_by_their_own_names(root: str, quality: str) -> None:
    # music21 has another figure for a seventh with a suspended fourth: a seventh whose third is a fourth.
    figure = {"aug": "+", "m7b5": "ø7", "dim7": "o7", "sus4": "sus", "7sus4": "7"}.get(quality, quality)
    outside = [*m21_harmony.ChordSymbol(f"{root.replace('b', '-')}{figure}").pitches]
    if quality == "7sus4":
        outside[1] = m21_interval.Interval("P4").transposePitch(outside[0])
    named = {pitch.name.replace("-", "b") for pitch in outside}
    notes = chord_notes(Chord(Pitch.parse(f"{root}4"), quality))
    assert {note.pitch_class for note in notes} == {pitch.pitchClass for pitch in outside}
    assert {note.name for note in notes} == named


@pytest.mark.parametrize("clef", REACHES)
@pytest.mark.parametrize("quality", QUALITIES)
def test_every_chord_is_close_and_within_its_reach(clef: str, quality: str) -> None:
    reach = REACHES[clef]
    for root in ROOTS:
        for bass in ("", "/D", "/F#", "/Bb"):
            below = Pitch.parse(f"{bass[1:]}4") if bass else None
            name = Chord(Pitch.parse(f"{root}4"), quality, below)
            (voicing,) = voicings((name,), clef)
            assert reach.low.midi <= voicing[0].midi and voicing[-1].midi <= reach.high.midi
            assert all(low.midi < high.midi for low, high in pairwise(voicing))
            assert voicing[-1].midi - voicing[0].midi < 12
            if below:
                assert voicing[0].pitch_class == below.pitch_class


def test_a_row_moves_by_the_nearest_notes() -> None:
    assert on_staff(score()) == [
        ["D3 F#3 A3"],
        ["D3 G3 B3", "E3 G3 A3 C#4"],
        ["F#3 A3 D4", "E3 G3 B3 D4", "E3 G3 A3 C#4"],
        ["F#3 A3 D4"],
    ]


def movement(found: tuple[Voicing, ...]) -> int:
    """How far the notes move in all, each to the nearest of the next chord."""
    return sum(
        min(abs(note.midi - other.midi) for other in there)
        for before, after in pairwise(found)
        for here, there in ((before, after), (after, before))
        for note in here
    )


@pytest.mark.parametrize("names", ["C F G C", "Dm G7 C Am", "E A B E", "Fm Bbm C7 Fm Db Ab Eb7 Ab"])
def test_a_row_moves_less_than_in_root_position(names: str) -> None:
    row = tuple(chord(name) for name in names.split())
    led = voicings(row, "bass")
    rooted = tuple(voicings((each,), "bass")[0] for each in row)
    assert movement(led) < movement(rooted)
    assert movement(led) / (len(row) - 1) <= 12


def test_silence_and_an_empty_bar() -> None:
    found = on_staff(score("D | N.C. A7 | | D", TUNE))
    assert found == [["D3 F#3 A3"], ["-", "C#3 E3 G3 A3"], ["C#3 E3 G3 A3"], ["D3 F#3 A3"]]


def test_the_treble_clef() -> None:
    found = score(second="block chords in the treble clef")
    assert found.second is not None and found.second.clef == "treble"
    assert on_staff(found)[0] == ["D4 F#4 A4"]


@pytest.mark.parametrize("slug", ["flute", "clarinet-b-flat", "bassoon"])
def test_each_key_has_the_notes_of_its_names(slug: str) -> None:
    instrument = INSTRUMENTS[slug]
    for setting in settings_of(exercise(), instrument):
        found = setting.score()
        marks = [mark.chord for mark in found.chords if mark.chord]
        assert found.second is not None
        struck = [event for event in found.second.events() if event.pitch]
        for name, event in zip(marks, struck, strict=True):
            assert {pitch.name for pitch in event.pitches} == {note.name for note in chord_notes(name)}


# -- the language ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("rule", [BlockChords(), BlockChords("treble")])
def test_the_rule_comes_back_as_it_was_written(rule: BlockChords) -> None:
    words = "block chords" if rule.clef == "bass" else "block chords in the treble clef"
    found = exercise(second=words)
    assert found.second == rule
    again = read("t.warmup", write(found).encode()).exercise
    assert again is not None and again.second == rule and f"second: {words}\n" in write(found)


def test_block_chords_need_names() -> None:
    text = b"title: T\nhome: D5 in D major\nsecond: block chords\nmusic: w D5\n"
    (fault,) = read("t.warmup", text).faults
    assert str(fault).splitlines()[0] == (
        "t.warmup:3:8: block chords need their names; name them in the field `chords`"
    )


# -- ways of playing ------------------------------------------------------------------------------------


def test_ways_of_playing_are_the_players_alone() -> None:
    plain = score()
    for wish in ("slurred", "dotted", "level p"):
        varied = apply(plain, (wish,))
        assert varied.line != plain.line
        assert varied.second is not None and plain.second is not None
        assert varied.second == plain.second
    with pytest.raises(Unsuitable, match="the chords go with those that are written"):
        apply(score("D | A7", "h D4 E4 | w D4", home="D4 in D major"), ("upper octave first",))
    with pytest.raises(Unsuitable, match="adds a staff"):
        apply(plain, ("singing alto",))


def test_nobody_breathes_on_a_keyboard() -> None:
    found = score("D | G", "w D5 , | w E5 ,")
    assert timing(found).breath == timing(part_alone(found, 1)).breath
    assert not timing(found).in_second


# -- ink, sound and files -------------------------------------------------------------------------------


def test_the_staff_stands_below_with_chords_on_stems() -> None:
    ink = notation(score())
    assert '\\clef "bass"' in ink and "<d fs a>1" in ink and "<e g a cs'>2" in ink


def test_what_sounds_is_what_is_printed_softly_on_a_piano() -> None:
    instrument = INSTRUMENTS["clarinet-b-flat"]
    found = settings_of(exercise(), instrument)[0].score()
    file = MidiFile(file=BytesIO(midi(found, "T", instrument)))
    assert [track.name for track in file.tracks] == ["T", "Clarinet in B flat", "Chords"]
    played = [message.note for message in file.tracks[2] if message.type == "note_on"]
    assert found.second is not None
    assert played == [pitch.midi - 2 for event in found.second.events() for pitch in event.pitches]
    through = play_through(found, instrument)
    assert through.second is None and through.chords is not None
    assert [tone.midi for tone in through.chords.tones] == played


def test_musicxml_has_a_part_for_the_keyboard() -> None:
    instrument = INSTRUMENTS["clarinet-b-flat"]
    found = settings_of(exercise("D | G A7 | D . . A7 | D"), instrument)[0].score()
    parts = list(converter.parseData(musicxml(found, WorkInfo("T"), instrument)).parts)
    assert [part.partName for part in parts] == ["Clarinet in B flat", "Keyboard"]
    chords = [each for each in parts[1].flatten().notes if each.isChord]
    assert found.second is not None
    written = [sorted(pitch.midi for pitch in event.pitches) for event in found.second.events()]
    assert [sorted(pitch.midi for pitch in each.pitches) for each in chords] == written
    assert all(
        bar.barDuration.quarterLength == bar.highestTime for bar in parts[1].getElementsByClass("Measure")
    )


def test_the_chords_alone_stand_once_under_their_names() -> None:
    alone = part_alone(score(), 2)
    assert alone.line.clef == "bass" and alone.second is None
    ink = notation(alone)
    assert "ChordRow" in ink and "<d fs a>1" in ink and "d''4" not in ink


def test_alone_the_chords_are_printed_once() -> None:
    book = instrument_book_of((exercise(variations="slurred, dotted"),), FLUTE)
    alone = {part: one_part(book, part).exercises[0] for part in (FIRST, SECOND)}
    ways = {part: len(pages[0].placed[0].parts) for part, (_, pages) in alone.items()}
    assert ways == {FIRST: 3, SECOND: 1}
    named, pages = alone[SECOND]
    assert named.title == "T, second part"
    assert named.wanted == () and len(alone[FIRST][0].wanted) == 2
    only = pages[0].placed[0].parts[0].score
    assert only is not None and only.line.chords


def test_chords_without_a_staff_sound_as_before() -> None:
    rows = "title: T\nhome: D5 in D major\nchords: D\nmusic: w D5\n"
    plain = read("t.warmup", rows.encode()).exercise
    assert plain is not None
    through = play_through(settings_of(plain, FLUTE)[0].score(), FLUTE)
    assert through.chords is not None
    assert [tone.midi for tone in through.chords.tones] == [50, 57, 62, 66]
