"""Techniques, ornaments, holds and slides: read, in ink, in sound, in files, under variations.

What they mean is common practice, no source, where builder/music/signs.py and ornaments.py name none.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction as F
from io import BytesIO

import pytest
from mido import MidiFile
from small_scores import refused, score_of, varied

from stavewright.engrave.notation import notation
from stavewright.export.midi import midi
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.read import read
from stavewright.music.event import divided
from stavewright.music.pitch import Pitch
from stavewright.music.signs import TECHNIQUES
from stavewright.music.sounding.ornaments import lower_note
from stavewright.music.sounding.performance import perform
from stavewright.music.sounding.timing import clock
from stavewright.music.winds.instruments import FLUTE
from stavewright.views.playback import FAINT, play_through


def faults(music: str) -> list[str]:
    found = read("e.warmup", f"title: T\nhome: D5 in D major\nmusic: {music}\n".encode())
    return [str(fault).removeprefix("e.warmup:") for fault in found.faults]


def sounds(music: str) -> list[tuple[F, str]]:
    """When each note begins that sounds, and its pitch."""
    score = score_of(music)
    return [(note.start, str(note.pitch)) for note in perform(score.line, score.key).notes]


def in_xml(music: str, path: str) -> list[ET.Element]:
    return list(ET.fromstring(musicxml(score_of(music), WorkInfo("T"), FLUTE)).iterfind(f".//{path}"))


# -- what excludes what ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("music", "said"),
    [
        ("h D5 rest mordent", "3:13: a rest cannot have 'mordent'; put it after its note"),
        (
            "w D5 flutter air-tone",
            "3:10: a note has one technique, and this one has flutter, air-tone; keep one of them",
        ),
        (
            "w D5 trill turn",
            "3:10: a note has one ornament, and this one has trill, turn; keep one of them",
        ),
        (
            "w D5 fermata long-fermata",
            "3:10: a note has one fermata, and this one has fermata, long-fermata; keep one of them",
        ),
        (
            "h D5 bend-up bend-down E5",
            "3:10: a note has one slide, and this one has bend-up, bend-down; keep one of them",
        ),
        (
            "w D5 harmonic( D4 ) key-click",
            "3:10: a harmonic over its fingering has a diamond, and 'key-click' asks for another head; "
            "take one of them out",
        ),
        (
            "h D5 E5 glissando",
            "3:13: a glissando from the last note goes nowhere; put `glissando` after the note that slides, "
            "and before the one that it slides to",
        ),
        (
            "h D5 glissando rest",
            "3:10: a glissando leads to a rest; put `glissando` after the note that slides, and before the "
            "one that it slides to",
        ),
        (
            "h D5 glissando D5",
            "3:10: a glissando leads from D5 to D5; put `glissando` after the note that slides, and before "
            "the one that it slides to",
        ),
        ("mordent( w D5 )", "3:8: 'mordent' comes before the first note; put it after its note"),
    ],
)
def test_what_makes_no_sense_is_told(music: str, said: str) -> None:
    assert faults(music) == [said]


# -- ink ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("music", "drawn"),
    [
        ("w D5 flutter", "d''1 :32"),
        ("q D5 flutter rest h E5", "d''4 :32"),
        ("e D5 flutter rest q E5 h E5", "d''8 :64"),
        ("w D5 air-tone", r"\tweak style #'cross d''1"),
        ("w D5 tongue-ram", r"\tweak style #'triangle d''1"),
        ("w D5 mordent", r"\mordent"),
        ("w D5 inverted-mordent", r"\prall"),
        ("w D5 turn", r"\turn"),
        ("w D5 short-fermata", r"\shortfermata"),
        ("w D5 long-fermata", r"\longfermata"),
        ("w D5 timbral-trill", r"\timbralTrill"),
        ("h D5 glissando E5", r"d''2 \glissando"),
        ("w D5 bend-down", r"\bendAfter #-3"),
    ],
)
def test_what_is_drawn(music: str, drawn: str) -> None:
    assert drawn in " ".join(notation(score_of(music)).split())


@pytest.mark.parametrize(
    ("music", "sign"),
    [
        ("h E5 trill( natural ) , D5", r"\trillWith"),
        ("h E5 bend-up , D5", r"\bendAfter"),
        ("optional( w E5 | w D5 , ) | w D5", r"\stopTextSpan"),
        ("ritardando( quarter = 40 w E5 | w D5 , ) | w D5", r"\stopTrillSpan"),
    ],
)
def test_a_sign_stays_with_its_note_before_a_breath(music: str, sign: str) -> None:
    text = notation(score_of(music))
    assert 0 < text.index(sign) < text.index(r"\breatheAt")


def test_a_technique_is_named_once_and_its_end_where_nobody_sees_it() -> None:
    words = {
        name: [each.text for each in in_xml(f"q D5 {name} E5 {name} F#5 G5", "words")] for name in TECHNIQUES
    }
    assert words == {
        "flutter": ["flz."],
        "air-tone": ["air"],
        "whistle-tone": ["w. t.", "ord."],
        "tongue-ram": ["T. R."],
        "key-click": ["key click"],
    }
    again = [each.text for each in in_xml("flutter( q D5 ) rest flutter( E5 ) air-tone( F#5 )", "words")]
    assert again == ["flz.", "air"]


# -- sound ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        ("w D5 mordent", [(0, "D5"), (F(1, 32), "C#5"), (F(1, 16), "D5")]),
        ("w D5 inverted-mordent", [(0, "D5"), (F(1, 32), "E5"), (F(1, 16), "D5")]),
        ("w D5 turn", [(0, "E5"), (F(1, 32), "D5"), (F(1, 16), "C#5"), (F(3, 32), "D5")]),
        (
            "h D5 glissando F#5",
            [(0, "D5"), (F(1, 4), "D#5"), (F(1, 3), "E5"), (F(5, 12), "E#5"), (F(1, 2), "F#5")],
        ),
        ("h F#5 glissando E5", [(0, "F#5"), (F(1, 4), "F5"), (F(1, 2), "E5")]),
        ("h D5 tie D5 glissando | w E5", [(0, "D5"), (F(1, 2), "D#5"), (1, "E5")]),
        ("w D5 tongue-ram", [(0, "Eb4")]),
        ("w D5 key-click", [(0, "D5")]),
    ],
)
def test_what_sounds_when(music: str, expected: list[tuple[F, str]]) -> None:
    found = sounds(music)
    assert [start for start, _ in found] == [start for start, _ in expected]
    assert [Pitch.parse(name).midi for _, name in found] == [Pitch.parse(name).midi for _, name in expected]


def test_a_flutter_is_tongued_and_a_timbral_trill_is_slurred() -> None:
    score = score_of("h D5 flutter E5 timbral-trill")
    notes = perform(score.line, score.key).notes
    fluttered, trilled = notes[:32], notes[32:]
    assert {str(note.pitch) for note in fluttered} == {"D5"} and not any(note.to_slur for note in fluttered)
    assert {str(note.pitch) for note in trilled} == {"E5"} and len(trilled) == 15
    assert [note.faint for note in trilled] == [number % 2 == 1 for number in range(15)]
    assert all(note.to_slur for note in trilled[:-1])
    assert notes[0].start == 0 and notes[-1].end == 1


def test_the_lower_note_is_the_key_s_own() -> None:
    key = score_of("w D5").key
    assert [str(lower_note(Pitch.parse(name), key)) for name in ("D5", "E5", "G5", "Gb5")] == [
        "C#5",
        "D5",
        "F#5",
        "F5",
    ]


def test_short_notes_have_short_ornaments() -> None:
    assert sounds("s D5 turn rest e E5 q F#5 h G5")[:4] == [
        (0, "E5"),
        (F(1, 96), "D5"),
        (F(1, 48), "C#5"),
        (F(1, 32), "D5"),
    ]


@pytest.mark.parametrize(
    ("sign", "factor"), [("short-fermata", F(5, 4)), ("fermata", F(3, 2)), ("long-fermata", F(2))]
)
def test_each_fermata_holds_its_own_time(sign: str, factor: F) -> None:
    score = score_of(f"h D5 E5 {sign}", tempo="quarter = 60")
    assert clock(score).length == 2 + 2 * factor
    file = MidiFile(file=BytesIO(midi(score, "T", FLUTE)))
    assert file.length == pytest.approx(float(2 + 2 * factor), abs=0.001)
    assert [float(speed.factor) for speed in play_through(score, FLUTE).speeds] == [1, float(factor)]


def test_a_bend_turns_the_wheel_and_comes_back() -> None:
    file = MidiFile(file=BytesIO(midi(score_of("h D5 bend-down E5"), "T", FLUTE)))
    wheel = [message.pitch for message in file.tracks[1] if message.type == "pitchwheel"]
    assert wheel[0] == 0 and wheel[-1] == 0
    assert -4096 < wheel[-2] < -3500 and wheel[:-1] == sorted(wheel[:-1], reverse=True)
    tones = play_through(score_of("h D5 bend-up E5"), FLUTE).tones
    assert [tone.bend for tone in tones] == [1, 0]


def test_faint_techniques_are_softer() -> None:
    file = MidiFile(
        file=BytesIO(midi(score_of("q D5 mf E5 air-tone F#5 whistle-tone G5 key-click"), "T", FLUTE))
    )
    assert [message.velocity for message in file if message.type == "note_on" and message.velocity] == [
        80,
        64,
        64,
        64,
    ]
    tones = play_through(score_of("h D5 E5 air-tone"), FLUTE).tones
    assert [bool(tone.touch & FAINT) for tone in tones] == [False, True]


# -- files ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("music", "path", "text"),
    [
        ("w D5 flutter", "ornaments/tremolo[@type='unmeasured']", "0"),
        ("w D5 air-tone", "notehead", "x"),
        ("w D5 key-click", "notehead", "x"),
        ("w D5 tongue-ram", "notehead", "triangle"),
        ("w D5 mordent", "ornaments/mordent", None),
        ("w D5 inverted-mordent", "ornaments/inverted-mordent", None),
        ("w D5 turn", "ornaments/turn", None),
        ("w D5 timbral-trill", "ornaments/other-ornament", "timbral trill"),
        ("w D5 short-fermata", "notations/fermata", "angled"),
        ("w D5 fermata", "notations/fermata", None),
        ("w D5 long-fermata", "notations/fermata", "square"),
        ("w D5 bend-up", "articulations/doit", None),
        ("w D5 bend-down", "articulations/falloff", None),
    ],
)
def test_what_stands_in_musicxml(music: str, path: str, text: str | None) -> None:
    assert [each.text for each in in_xml(music, path)] == [text]


def test_a_glissando_in_musicxml_ends_on_the_next_note() -> None:
    notes = in_xml("h D5 glissando E5 glissando | w F#5", "note")
    kinds = [[each.get("type") for each in note.iter("glissando")] for note in notes]
    assert kinds == [["start"], ["stop", "start"], ["stop"]]


# -- variations -----------------------------------------------------------------------------------------


def test_variations_keep_signs_or_say_why_they_cannot() -> None:
    assert [event.marks for event in varied("h D5 flutter E5 mordent", "slurred")] == [
        ("flutter",),
        ("mordent",),
    ]
    for wish in ("slurred", "slurred in 2", "soft-tongued"):
        assert refused("h D5 tongue-ram E5", wish) == "a tongue ram begins anew, and no slur leads to it"
    assert "for another technique, flutter" in refused("h D5 E5 flutter", "tonguing double")
    detached = varied("q D5 flutter E5 long-fermata h F#5", "detached")
    assert [event.marks for event in detached] == [
        ("flutter", "staccato"),
        ("long-fermata",),
        ("portato",),
    ]


def test_signs_at_the_end_of_a_note_stay_there_when_it_is_divided() -> None:
    (event, _) = score_of("h D5 turn bend-up E5").line.bars[0].events
    first, last = divided(event, (F(1, 4), F(1, 4)))
    assert (first.marks, last.marks) == (("turn",), ("bend-up",))


# -- duets ----------------------------------------------------------------------------------------------


def test_the_second_part_of_a_canon_has_signs_that_make_sense_there() -> None:
    music = "h D5 harmonic( D4 ) A5 | ritardando( quarter = 40 q D5 flutter E5 F#5 E5 ) | w D5 fermata"
    plain = score_of(music, tempo="quarter = 60", second="canon at the third above after 1 bar")
    assert plain.second is not None
    answer = next(event for event in plain.second.events() if event.pitch)
    # Both move by the same steps, and the octave stays one.
    assert (str(answer.pitch), str(answer.fundamental)) == ("F#5", "F#4")
    assert not any(span.tempo for event in plain.second.events() for span in event.opens)
    assert notation(plain).count("tempoChange") == 1
    file = MidiFile(file=BytesIO(midi(plain, "T", FLUTE)))
    assert file.length == pytest.approx(float(clock(plain).length), abs=0.001)


def test_a_fundamental_that_fits_no_more_leaves_a_circle() -> None:
    plain = score_of("h F#6 harmonic( D4 ) D5 | w D5", second="canon at the second below after 1 bar")
    assert plain.second is not None
    answer = next(event for event in plain.second.events() if event.pitch)
    assert (str(answer.pitch), answer.fundamental, answer.marks) == ("E6", None, ("harmonic",))


def test_a_second_part_has_no_tempo_of_its_own() -> None:
    text = (
        "title: T\nhome: D5 in D major\ntempo: quarter = 60\nmusic: w D5 | w E5\n"
        "music second: w D4 | ritardando( quarter = 40 w D4 )\n"
    )
    (fault,) = read("e.warmup", text.encode()).faults
    assert fault.what == "bar 2 of the second part has a tempo that the first part has not"
