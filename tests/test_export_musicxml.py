"""MusicXML files: valid by the W3C's schema, and the same music when music21 opens them again.

The schema is that of MusicXML 4.0. Where accidentals and beams stand is compared with E. Gould, Behind Bars
(2011), from memory.
"""

from __future__ import annotations

import importlib.metadata
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from made_scores import SIGNS, made_duet, made_score, varied_score

from stavewright.book.pieces import AS_WRITTEN, instrument_books_of
from stavewright.book.read import open_book
from stavewright.export.harmony import KINDS
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.notes.sign_words import SIGN_WORDS, SignWord
from stavewright.language.read import read
from stavewright.music.chords import QUALITIES
from stavewright.music.event import LEVELS, SLUR, DynamicMark
from stavewright.music.pitch import Pitch
from stavewright.music.score import Score, Staff
from stavewright.music.settings.transpositions import settings_of as all_settings
from stavewright.music.sounding.timing import unfold
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS, Instrument
from stavewright.variations import variations
from stavewright.views.language_page import example_text

if TYPE_CHECKING:
    from music21.stream import Part
    from music21.stream import Score as Opened

BOOK = Path(__file__).parent.parent
ABOUT = WorkInfo("Example", "written for this test", "no source")

# The schema imports these two from the network; it names nothing of them but these attributes.
_XML = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
    targetNamespace="http://www.w3.org/XML/1998/namespace">
  <xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/>
</xs:schema>"""
_XLINK = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
    targetNamespace="http://www.w3.org/1999/xlink">
  <xs:attribute name="href" type="xs:anyURI"/><xs:attribute name="type" type="xs:NMTOKEN"/>
  <xs:attribute name="role" type="xs:token"/><xs:attribute name="title" type="xs:token"/>
  <xs:attribute name="show" type="xs:NMTOKEN"/><xs:attribute name="actuate" type="xs:NMTOKEN"/>
</xs:schema>"""


@pytest.fixture(scope="session")
def schema(tmp_path_factory: pytest.TempPathFactory) -> etree.XMLSchema:
    """The schema of MusicXML 4.0 (W3C Music Notation Community Group, 2021), as musicxml on PyPI ships it."""
    shipped = importlib.metadata.files("musicxml") or []
    (found,) = (file.locate() for file in shipped if file.name == "musicxml_4_0.xsd")
    text = Path(found).read_text(encoding="utf-8")
    assert "Version 4.0" in text
    folder = tmp_path_factory.mktemp("schema")
    (folder / "xml.xsd").write_text(_XML)
    (folder / "xlink.xsd").write_text(_XLINK)
    main = folder / "musicxml.xsd"
    main.write_text(text.replace("http://www.musicxml.org/xsd/", ""), encoding="utf-8")
    return etree.XMLSchema(etree.parse(main))


def valid(schema: etree.XMLSchema, data: bytes) -> bool:
    parser = etree.XMLParser(load_dtd=False, no_network=True)
    assert schema.validate(etree.fromstring(data, parser)), schema.error_log.last_error
    return True


def written(music: str, fields: str = "") -> Score:
    """The score of a few words of music in D major."""
    reading = read(
        "example.warmup", f"title: Example\nhome: D5 in D major\n{fields}music:\n  {music}\n".encode()
    )
    assert reading.exercise is not None, reading.faults
    return all_settings(reading.exercise, FLUTE)[0].score()


def book_scores() -> Iterator[tuple[str, Score, Instrument]]:
    """Every piece of the demo book."""
    for instrument_book in instrument_books_of(open_book(BOOK)):
        for _, pages in instrument_book.exercises:
            for page in pages:
                for placed in page.placed:
                    for part in placed.parts:
                        if part.score:
                            yield part.name, part.score, instrument_book.instrument


def opened(data: bytes) -> Opened:
    from music21 import converter

    return converter.parseData(data.decode(), format="musicxml")


_SIGNS = SIGNS | {"fermata": "Fermata", "trill": "Trill"}


def our_name(pitch: Pitch) -> str:
    return str(pitch).replace("b", "-")


def our_notes(line: Staff) -> list[dict[str, Any]]:
    """What must be found again, from the score's values."""
    found: list[dict[str, Any]] = []
    now = Fraction(0)
    tied: Pitch | None = None
    for event in line.events():
        continues = event.pitch is not None and tied == event.pitch
        for grace in event.graces if event.pitch else ():
            found.append({"name": our_name(grace), "at": now * 4, "length": 0})
        found.append(
            {
                "name": our_name(event.pitch) if event.pitch else "rest",
                "at": now * 4,
                "length": event.length * 4,
                "tie": {(0, 0): None, (0, 1): "start", (1, 0): "stop", (1, 1): "continue"}[
                    continues, event.tie
                ],
                "signs": {_SIGNS[mark] for mark in event.marks},
                "syllable": event.syllable or None,
                "value": (event.value.base, event.value.dots),
                "scale": event.value.scale,
            }
        )
        tied = event.pitch if event.tie else None
        now += event.length
    return found


def their_notes(part: Part) -> list[dict[str, Any]]:
    """The same, from what music21 made of the file."""
    found: list[dict[str, Any]] = []
    for sound in part.recurse().notesAndRests:
        name = "rest" if sound.isRest else sound.nameWithOctave
        at = Fraction(sound.getOffsetInHierarchy(part))
        if sound.duration.isGrace:
            found.append({"name": name, "at": at, "length": 0})
            continue
        signs = {type(sign).__name__ for sign in (*sound.articulations, *sound.expressions)}
        tuplets = sound.duration.tuplets
        found.append(
            {
                "name": name,
                "at": at,
                "length": Fraction(sound.quarterLength),
                "tie": sound.tie.type if sound.tie else None,
                "signs": signs,
                "syllable": sound.lyric,
                "value": (Fraction(_quarters(sound.duration.type)) / 4, sound.duration.dots),
                "scale": Fraction(tuplets[0].tupletMultiplier()) if tuplets else Fraction(1),
            }
        )
    return found


def _quarters(name: str) -> float:
    from music21.duration import convertTypeToQuarterLength

    return convertTypeToQuarterLength(name)


def our_slurs(line: Staff) -> int:
    """How many slurs are drawn: one that begins and ends on one note is not."""
    return sum(SLUR in event.opens and SLUR not in event.closes for event in line.events())


def compare(score: Score, instrument: Instrument) -> None:
    """The file of a score, opened again, note by note and sign by sign."""
    found = opened(musicxml(score, ABOUT, instrument))
    assert len(found.parts) == len(score.lines)
    for line, part in zip(score.lines, found.parts, strict=True):
        assert their_notes(part) == our_notes(line)
        assert len(part.recurse().getElementsByClass("Slur")) == our_slurs(line)
        (key,) = part.recurse().getElementsByClass("KeySignature")
        assert key.sharps == score.key.fifths
        first = part.recurse().getElementsByClass("TimeSignature")[0]
        assert first.ratioString == str(line.bars[0].meter or score.meter)
        levels = [
            (Fraction(sign.getOffsetInHierarchy(part)), sign.value)
            for sign in part.recurse().getElementsByClass("Dynamic")
        ]
        assert levels == our_levels(line)
        played = [
            sound for sound in part.expandRepeats().recurse().notesAndRests if not sound.duration.isGrace
        ]
        heard = ["rest" if sound.isRest else sound.nameWithOctave for sound in played]
        assert heard == [
            our_name(i.event.pitch) if i.event.pitch else "rest" for i in unfold(replace(line, ladder=None))
        ]
    sounding = found.toSoundingPitch()
    for line, part in zip(score.lines, sounding.parts, strict=True):
        midi = [note.pitch.midi for note in part.recurse().notes if not note.duration.isGrace]
        assert midi == [event.pitch.midi + instrument.sounds for event in line.notes() if event.pitch]


def our_levels(line: Staff) -> list[tuple[Fraction, str]]:
    found = []
    now = Fraction(0)
    for event in line.events():
        found += [
            ((now + shade.at * event.length) * 4, shade.mark)
            for shade in event.dynamic_marks
            if shade.mark in LEVELS
        ]
        now += event.length
    return found


@examples(60)
@given(st.integers(0, 10**9), st.sampled_from(sorted(INSTRUMENTS)))
def test_made_scores_come_back_note_by_note(schema: etree.XMLSchema, seed: int, slug: str) -> None:
    score = made_score(Random(seed))
    assert valid(schema, musicxml(score, ABOUT, INSTRUMENTS[slug]))
    compare(score, INSTRUMENTS[slug])


@pytest.mark.exhaustive
@examples(20)
@given(st.integers(0, 10**9), st.sampled_from(["flute", "clarinet-b-flat", "horn"]))
def test_duets_come_back_note_by_note(schema: etree.XMLSchema, seed: int, slug: str) -> None:
    score = made_duet(Random(seed))
    data = musicxml(score, ABOUT, INSTRUMENTS[slug])
    assert valid(schema, data)
    compare(score, INSTRUMENTS[slug])
    named = [part.partName for part in opened(data).parts]
    (group,) = opened(data).getElementsByClass("StaffGroup")
    assert (group.symbol, group.barTogether, len(group)) == ("bracket", True, 2)
    assert named[:2] == [f"{INSTRUMENTS[slug].name} 1", f"{INSTRUMENTS[slug].name} 2"]


@pytest.mark.parametrize("quality", QUALITIES)
def test_chords_come_back_under_their_names(schema: etree.XMLSchema, quality: str) -> None:
    chords = f"Eb{quality} . . F#{quality}/A | N.C. | D{quality}"
    score = written("h D5 q E5 F#5 | w D5 | w D5", f"chords: {chords}\n")
    data = musicxml(score, ABOUT, INSTRUMENTS["clarinet-b-flat"])
    assert valid(schema, data)
    (part,) = opened(data).parts
    found = list(part.recurse().getElementsByClass("ChordSymbol"))
    assert [note.nameWithOctave for note in part.recurse().getElementsByClass("Note")] == [
        our_name(event.pitch) for event in score.line.notes() if event.pitch
    ]
    kinds = {"m7b5": "half-diminished-seventh", "dim7": "diminished-seventh", "7": "dominant-seventh"}
    assert [(each.measureNumber, each.offset) for each in found] == [(1, 0), (1, 3), (2, 0), (3, 0)]
    assert [each.root().name for each in (found[0], found[1], found[3])] == ["E-", "F#", "D"]
    assert [each.bass().name for each in found[:2]] == ["E-", "A"]
    assert found[0].chordKind == kinds.get(quality, KINDS[quality])
    assert found[2].chordKind == "none"


@pytest.mark.parametrize("name", sorted(variations()))
def test_every_variation_comes_back_note_by_note(schema: etree.XMLSchema, name: str) -> None:
    score = varied_score(name)
    assert valid(schema, musicxml(score, ABOUT, FLUTE))
    compare(score, FLUTE)


def test_a_trill_with_an_accidental_is_valid(schema: etree.XMLSchema) -> None:
    music = (
        "q D5 trill( flat ) staccato E5 trill( natural ) F#5 trill( sharp ) fermata Db5 trill( double-flat )"
    )
    exercise = read("e.warmup", f"title: T\nhome: D5 in D major\nmusic: {music}\n".encode()).exercise
    assert exercise is not None
    for setting in all_settings(exercise, FLUTE):
        data = musicxml(setting.score(), ABOUT, FLUTE)
        assert valid(schema, data) and data.count(b"<accidental-mark") == 4


@pytest.mark.parametrize("word", SIGN_WORDS, ids=lambda word: word.name)
def test_a_player_s_signs_are_valid(word: SignWord, schema: etree.XMLSchema) -> None:
    exercise = read("e.warmup", example_text(word.example).encode()).exercise
    assert exercise is not None
    for setting in all_settings(exercise, FLUTE):
        assert valid(schema, musicxml(setting.score(), ABOUT, FLUTE))


@pytest.mark.exhaustive
def test_the_demo_book_comes_back_note_by_note() -> None:
    """Every setting as written, and every variation in one setting of each exercise."""
    seen = set()
    count = 0
    for name, score, instrument in book_scores():
        exercise, *_, variation = name.split(", ")
        if score.meter.is_free or any(event.fundamental for event in score.line.events()):
            # tests/test_free_time.py and tests/test_signs.py read these.
            continue
        if variation == AS_WRITTEN or (exercise, variation) not in seen:
            seen.add((exercise, variation))
            compare(score, instrument)
            count += 1
    assert count > 100


@pytest.mark.exhaustive
def test_the_demo_book_is_valid(schema: etree.XMLSchema) -> None:
    for name, score, instrument in book_scores():
        assert valid(schema, musicxml(score, WorkInfo(name), instrument))


def texts(score: Score, path: str) -> list[str]:
    """The texts at a path of the file of a score."""
    return [element.text or "" for element in root(score).iterfind(path)]


def root(score: Score, about: WorkInfo = ABOUT, instrument: Instrument = FLUTE) -> etree._Element:
    return etree.fromstring(musicxml(score, about, instrument))


def test_repeats_and_endings() -> None:
    found = root(written("w D5 | |: w D5 | first-time( w E5 :| ) second-time( w D5 )"))
    rows = [
        (
            measure.get("number"),
            line.get("location"),
            sorted(sorted(child.items()) for child in line if child.items()),
        )
        for measure in found.iter("measure")
        for line in measure.iter("barline")
    ]
    assert rows == [
        ("2", "left", [[("direction", "forward")]]),
        ("3", "left", [[("number", "1"), ("type", "start")]]),
        ("3", "right", [[("direction", "backward")], [("number", "1"), ("type", "stop")]]),
        ("4", "left", [[("number", "2"), ("type", "start")]]),
        ("4", "right", [[("number", "2"), ("type", "discontinue")]]),
    ]


def test_a_swell_within_a_note_keeps_its_place() -> None:
    score = written("w D5 | h D5 E5", "")
    (note, *_), *_ = (bar.events for bar in score.line.bars)
    swelled = note.with_dynamic_marks(DynamicMark(Fraction(0), "o<"), DynamicMark(Fraction(3, 4), ">o"))
    bars = score.line.bars
    found = root(score.with_bars((replace(bars[0], events=(swelled,)), *bars[1:])))
    rows = [
        (dict(wedge.items()), direction.findtext("offset"))
        for direction in found.iter("direction")
        for wedge in direction.iter("wedge")
    ]
    divisions = int(found.findtext(".//divisions") or 0)
    assert rows == [
        ({"type": "crescendo", "niente": "yes"}, None),
        ({"type": "stop"}, str(3 * divisions)),
        ({"type": "diminuendo"}, str(3 * divisions)),
        ({"type": "stop", "niente": "yes"}, None),
    ]


def test_accidentals_stand_where_a_copyist_writes_them() -> None:
    """D major: against the signature, once a bar, cancelled in the bar, and not again after a tie."""
    score = written("q F#5 Fn5 F5 F#5 | q F#5 h. G#5 tie | h G#5 G#5")
    found = root(score)
    rows = [[note.findtext("accidental") for note in bar.iter("note")] for bar in found.iter("measure")]
    assert rows == [[None, "natural", None, "sharp"], [None, "sharp"], [None, "sharp"]]


def test_beams_join_the_notes_of_a_beat() -> None:
    score = written("e D5 E5 q F#5 e. D5 s E5 e rest E5 | w D5")
    rows = [[beam.text for beam in note.iter("beam")] for note in root(score).iter("note")]
    assert rows == [["begin"], ["end"], [], ["begin"], ["end", "backward hook"], [], [], []]


def test_a_compound_meter_beams_in_threes() -> None:
    score = written("e D5 E5 F#5 E5 D5 E5", "meter: 6/8\n")
    rows = [beam.text for beam in root(score).iter("beam")]
    assert rows == ["begin", "continue", "end", "begin", "continue", "end"]


@pytest.mark.parametrize(
    ("slug", "wanted"),
    [
        ("flute", None),
        ("piccolo", ("0", "0", "1")),
        ("clarinet-b-flat", ("-1", "-2", None)),
        ("clarinet-a", ("-2", "-3", None)),
        ("bass-clarinet", ("-1", "-2", "-1")),
        ("horn", ("-4", "-7", None)),
        ("alto-saxophone", ("-5", "-9", None)),
        ("baritone-saxophone", ("-5", "-9", "-1")),
    ],
)
def test_transposing_instruments_say_how_they_sound(slug: str, wanted: tuple[str | None, ...] | None) -> None:
    """Letters, semitones and octaves; common practice, no source."""
    found = root(written("w D5"), instrument=INSTRUMENTS[slug]).find(".//transpose")
    if wanted is None:
        assert found is None
    else:
        assert found is not None
        assert tuple(found.findtext(tag) for tag in ("diatonic", "chromatic", "octave-change")) == wanted


def test_what_the_file_says_of_itself_is_plain_text(schema: etree.XMLSchema) -> None:
    hostile = '</work-title><!ENTITY x "y"> & \x00 "#(exit)"'
    data = musicxml(written('w D5 above "<b>&amp;</b>"'), WorkInfo(hostile, hostile, hostile), FLUTE)
    assert valid(schema, data)
    found = etree.fromstring(data)
    assert found.findtext("work/work-title") == hostile.replace("\x00", " ")
    assert found.findtext("identification/rights") == hostile.replace("\x00", " ")
    assert "<b>&amp;</b>" in texts(written('w D5 above "<b>&amp;</b>"'), ".//words")


def test_the_same_score_gives_the_same_bytes() -> None:
    score = made_score(Random(7))
    assert musicxml(score, ABOUT, FLUTE) == musicxml(score, ABOUT, FLUTE)
