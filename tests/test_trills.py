"""A trill's upper note: as the author names it, in every key, in ink, in files and in the range.

That the sign names the upper note's own pitch, and stands over the trill's, is common practice; no source.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest
from mido import MidiFile

from stavewright.cli import main
from stavewright.engrave.notation import notation
from stavewright.export.midi import midi
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.music.description import describe_score
from stavewright.music.event import Event
from stavewright.music.exercise import Exercise
from stavewright.music.score import pitch_range
from stavewright.music.settings.transpositions import Setting, settings_of
from stavewright.music.sounding.performance import perform
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import apply

WriteBook = Callable[[dict[str, str | bytes]], Path]

HEAD = "title: T\n"


def faults(music: str, home: str = "D5 in D major") -> list[str]:
    found = read("e.warmup", f"{HEAD}home: {home}\nmusic: {music}\n".encode())
    return [str(fault).removeprefix("e.warmup:") for fault in found.faults]


def exercise(music: str, home: str = "D5 in D major", **fields: str) -> Exercise:
    rows = "".join(f"{name}: {value}\n" for name, value in fields.items())
    found = read("e.warmup", f"{HEAD}home: {home}\n{rows}music: {music}\n".encode())
    assert found.exercise is not None, found.faults
    return found.exercise


def in_keys(music: str, home: str = "D5 in D major", **fields: str) -> dict[str, tuple[Setting, Event]]:
    """The first event of some music in every key."""
    made = settings_of(exercise(music, home, **fields), FLUTE)
    return {setting.key.name: (setting, setting.bars[0].events[0]) for setting in made}


@pytest.mark.parametrize(
    ("music", "home", "main", "upper"),
    [
        ("w E5 trill( natural )", "D5 in D major", "E5", "F5"),
        ("w E5 trill(sharp)", "C5 in C major", "E5", "F#5"),
        ("w D5 trill( flat )", "D5 in D major", "D5", "Eb5"),
        ("w B4 trill( natural )", "C5 in C major", "B4", "C5"),
        ("w G#4 trill( sharp )", "A4 in A minor", "G#4", "A#4"),
        ("w E#5 trill( double-sharp )", "F#5 in F# major", "E#5", "F##5"),
        ("w Db5 trill( double-flat )", "D5 in D minor", "Db5", "Ebb5"),
    ],
)
def test_the_upper_note_that_is_named(music: str, home: str, main: str, upper: str) -> None:
    (event,) = exercise(music, home).forms[0].bars[0].events
    assert (str(event.pitch), str(event.trilled), event.marks) == (main, upper, ("trill",))


def test_a_trill_without_a_word_is_as_it_was() -> None:
    (event,) = exercise("w E5 trill").forms[0].bars[0].events
    assert (event.trilled, event.marks) == (None, ("trill",))


NO_NOTES = "`trill( )` takes the accidental of the trill's upper note, and no notes"
AFTER = "put it after its note"


@pytest.mark.parametrize(
    ("music", "said"),
    [
        ("h E5 trill( F5 ) E5", f"3:13: {NO_NOTES}; write `E5 trill( natural )`"),
        (
            "h E5 trill( D5 E5 )",
            f"3:13: {NO_NOTES}; write `w D5 trill`, or name one of flat, natural, sharp, double-flat, "
            "double-sharp, as in `w D5 trill( flat )`",
        ),
        (
            "h E5 trill( flat ) E5",
            "3:13: Fb5 is not a semitone or a tone above E5; "
            "name the accidental of the trill's upper note, or none",
        ),
        ("h D5 rest trill( flat )", f"3:18: a rest cannot have a trill; {AFTER}"),
        ("trill( flat ) w D5", f"3:8: 'trill' comes before the first note; {AFTER}"),
        ("fermata( w D5 )", "3:8: 'fermata' is for one note; write it after its note: `w D5 fermata`"),
        ("w D5 breath( )", "3:13: 'breath' is for one note; write it after its note: `h D5 breath E5`"),
        ("tie( h D5 D5 )", "3:8: 'tie' is for one note; write it after its note: `h D5 q E5 tie E5`"),
    ],
)
def test_a_mark_of_one_note_is_no_group(music: str, said: str) -> None:
    assert faults(music) == [said]


def test_the_upper_note_goes_with_the_key_as_a_pitch() -> None:
    """E with F natural in D major is a semitone; so it is in every key, whatever its sign is there."""
    found = in_keys("w E5 trill( natural )")
    assert len(found) == 12
    for setting, event in found.values():
        assert event.pitch is not None and event.trilled is not None
        assert event.trilled.midi - event.pitch.midi == 1
        assert event.trilled.step - event.pitch.step == 1
        assert abs(event.trilled.alter) <= 2, setting.name
    named = {name: f"{event.pitch} {event.trilled}" for name, (_, event) in found.items()}
    assert named["D major"] == "E5 F5"
    assert named["C major"] == "D5 Eb5"
    assert named["A flat major"] == "Bb4 Cb5"
    assert named["B major"] == "C#5 D5"


@pytest.mark.parametrize("more", [{}, {"doubles": "keep"}])
@pytest.mark.parametrize(
    ("music", "tones"),
    [("w A#5 trill( natural )", 1), ("w C5 trill( natural )", 2), ("w D#5 trill( sharp )", 2)],
)
def test_a_respelled_note_keeps_its_trill(music: str, tones: int, more: dict[str, str]) -> None:
    for setting, event in in_keys(music, **more).values():
        assert event.pitch is not None and event.trilled is not None
        assert event.trilled.midi - event.pitch.midi == tones, setting.name
        assert event.trilled.step - event.pitch.step == 1
        assert max(abs(event.pitch.alter), abs(event.trilled.alter)) <= 2


def test_it_is_written_back_as_it_was_read() -> None:
    given = exercise("h E5 trill( natural ) F#5 trill")
    assert "E5 trill( natural ) F#5 trill |" in write(given)


def test_its_sign_is_engraved_over_the_trill() -> None:
    (setting, _) = in_keys("w E5 trill( natural )")["A flat major"]
    assert r"\trillWith \markup \flat" in notation(setting.score())
    (plain, _) = in_keys("w E5 trill")["A flat major"]
    assert r"\trill" in notation(plain.score()) and "trillWith" not in notation(plain.score())
    assert "trill with C flat 5" in describe_score(setting.score())


def test_its_sign_stands_in_musicxml() -> None:
    (setting, _) = in_keys("w E5 trill( natural )")["B major"]
    (ornaments,) = ET.fromstring(musicxml(setting.score(), WorkInfo("T"), FLUTE)).iter("ornaments")
    assert [(each.tag, each.text) for each in ornaments] == [
        ("trill-mark", None),
        ("accidental-mark", "natural"),
    ]


@pytest.mark.parametrize(("music", "sounds"), [("w E5 trill", {76, 78}), ("w E5 trill( natural )", {76, 77})])
def test_it_sounds_as_it_says(music: str, sounds: set[int]) -> None:
    (setting, _) = in_keys(music)["D major"]
    file = MidiFile(file=BytesIO(midi(setting.score(), "T", FLUTE)))
    assert {message.note for message in file if message.type == "note_on"} == sounds


def test_where_a_variation_takes_its_marks_the_trill_goes_too() -> None:
    (setting, _) = in_keys("w E5 trill( natural )")["D major"]
    for wish in ("tonguing double in sixteenths", "singing alto"):
        score = apply(setting.score(), (wish,))
        assert all(
            "trill" in event.marks or event.trilled is None for line in score.lines for event in line.events()
        )


# -- what counts in the range ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("music", "low", "high"),
    [
        ("grace( B3 ) w C4", "B3", "C4"),
        ("grace( D5 E5 ) w C4", "C4", "E5"),
        ("w C4 trill( flat )", "C4", "Db4"),
        ("w C4 trill", "C4", "C4"),
    ],
)
def test_grace_notes_and_trills_count_in_the_span(music: str, low: str, high: str) -> None:
    found = pitch_range(exercise(music, "C4 in C major").forms[0].bars)
    assert tuple(map(str, found)) == (low, high)


@pytest.mark.parametrize("music", ["grace( {0} ) w C5 | w {1}", "w C5 | w {1} | grace( {0} ) w C5"])
def test_a_grace_note_below_the_lowest_note_is_not_written(music: str) -> None:
    """On a flute, whose lowest note is C4, it stands an octave higher as a main note would, or not at all."""
    as_grace = settings_of(exercise(music.format("B3", "D4"), "C4 in C major"), FLUTE)
    as_note = settings_of(exercise("w C5 | w D4 | h B3 C5", "C4 in C major"), FLUTE)
    assert [setting.shift for setting in as_grace] == [setting.shift for setting in as_note]
    for setting in as_grace:
        assert setting.fits and pitch_range(setting.bars)[0].midi >= FLUTE.compass.low.midi


def test_a_grace_note_too_far_for_any_octave_is_told() -> None:
    made = settings_of(exercise("grace( C3 ) w D7", "D5 in D major"), FLUTE)
    assert not any(setting.fits for setting in made)
    assert made[0].remarks[-1].startswith("Cannot be played here: it would go from C4 to D8")


def test_a_trill_above_the_highest_note_is_told() -> None:
    (first, *_) = settings_of(exercise("h C4 D7 trill( flat )", "D5 in D major"), FLUTE)
    assert not first.fits and first.remarks[-1].startswith(
        "Cannot be played here: it would go from C4 to E flat 7"
    )


def test_a_voice_sings_no_grace_notes() -> None:
    (first, *_) = settings_of(exercise("grace( D4 ) w D6 | w E6"), FLUTE)
    sung = apply(first.score(), ("singing soprano",)).lines[1]
    assert all(not event.graces for event in sung.events())


@pytest.mark.parametrize(
    ("music", "status"),
    [("w D4", 0), ("grace( C#4 ) w D4", 2), ("grace( E4 ) w D4", 0), ("w D4 | w D6 trill( flat )", 2)],
)
def test_a_level_holds_for_grace_notes_and_trills(
    music: str, status: int, book: WriteBook, capsys: pytest.CaptureFixture[str]
) -> None:
    """A beginner on the flute has D4 to D6."""
    fields = "title: T\nhome: D4 in D major\ntravel: semitones down from D4 to D4\n"
    folder = book({"one": f"{fields}music: {music}\n"})
    asked = ["daily", "--minutes", "3", "--days", "1", "--level", "beginning", "--book", str(folder)]
    assert main(asked) == status
    assert ("For an intermediate player there is 1 piece." in capsys.readouterr().err) == (status == 2)


# -- mordents and turns -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("music", "upper", "lower"),
    [
        ("w D5 mordent( sharp )", None, "C#5"),
        ("w D5 inverted-mordent( flat )", "Eb5", None),
        ("w D5 turn( flat )", "Eb5", None),
        ("w D5 turn( flat sharp below )", "Eb5", "C#5"),
        ("w G5 turn( sharp below )", None, "F#5"),
    ],
)
def test_the_other_notes_of_an_ornament_are_named_and_go_with_the_key(
    music: str, upper: str | None, lower: str | None
) -> None:
    found = in_keys(music)
    _, event = found["D major"]
    assert (event.trilled and str(event.trilled), event.lowered and str(event.lowered)) == (upper, lower)
    for _, there in found.values():
        for one, other in ((event.trilled, there.trilled), (event.lowered, there.lowered)):
            assert (one is None) == (other is None)
            if one and other and event.pitch and there.pitch:
                assert one.midi - event.pitch.midi == other.midi - there.pitch.midi
                assert one.step - event.pitch.step == other.step - there.pitch.step
    said = music.removeprefix("w ")
    assert said in write(exercise(music))


def test_the_accidentals_of_an_ornament_are_heard_drawn_and_filed() -> None:
    score = in_keys("w D5 turn( flat natural below )")["D major"][0].score()
    heard = [str(note.pitch) for note in perform(score.line, score.key).notes]
    assert heard == ["Eb5", "D5", "C5", "D5"]
    ink = notation(score)
    assert r"\ornamentWith" in ink and r"\teeny \flat" in ink and r"\teeny \natural" in ink
    assert "with E flat 5 with C5" in describe_score(score)
    (ornaments,) = ET.fromstring(musicxml(score, WorkInfo("T"), FLUTE)).iter("ornaments")
    assert [(each.tag, each.text, each.get("placement")) for each in ornaments] == [
        ("turn", None, None),
        ("accidental-mark", "flat", "above"),
        ("accidental-mark", "natural", "below"),
    ]


@pytest.mark.parametrize(
    ("music", "said"),
    [
        ("w D5 mordent( double-flat )", "Cbb5 is not a semitone or a tone below D5"),
        ("w D5 mordent( sharp above )", "takes the accidental of the mordent's lower note, and no notes"),
        ("w D5 turn( flat flat )", "the turn's upper note and lower note, and no notes"),
    ],
)
def test_ornaments_whose_notes_cannot_be_say_so(music: str, said: str) -> None:
    (fault,) = faults(music)
    assert said in fault
