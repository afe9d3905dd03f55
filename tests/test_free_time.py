"""Free time: what its words mean, how long it lasts, and how it is written, drawn, exported and heard.

Where accidentals stand is compared with E. Gould, Behind Bars (2011),
on music without bar lines, from memory.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from fractions import Fraction
from functools import partial
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from ink_faults import ink_faults
from ink_reader import read_ink
from lxml import etree
from mido import MidiFile
from small_scores import events, refused, score_of, varied
from test_export_musicxml import ABOUT, opened, schema, valid
from test_ink_oracle import PHONE, engravings

from stavewright.book.durations import BookTimes, breath_words
from stavewright.book.pieces import Rendition
from stavewright.daily.measure import moments
from stavewright.engrave.breaks import lines
from stavewright.engrave.piece import STAND
from stavewright.export.midi import midi
from stavewright.export.musicxml import musicxml
from stavewright.language.field_words import FIELDS
from stavewright.language.read import read
from stavewright.music.accidentals import accidentals
from stavewright.music.description import describe_score
from stavewright.music.event import LONG
from stavewright.music.keys import Key
from stavewright.music.score import FREE, Score
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.sounding.timing import FASTEST, SLOWEST, length, long_breath, timing
from stavewright.music.winds.instruments import FLUTE
from stavewright.prints.edition_layouts import columns, fitting_columns, model_layout, step_layout
from stavewright.variations import apply
from stavewright.views.page_views import tempo_words
from stavewright.views.playback import ground_json, play_through, play_through_json

if TYPE_CHECKING:
    from stavewright.music.exercise import Exercise

__all__ = ["schema"]

TUNE = "long D5 mf D#5 E5 | slur( F#5 E5 ) D#5 D#5 p"
MIXED = "slur( q D5 E5 F#5 long G5 ) | e A5 G5 F#5 E5 h D5 , D5 fermata"


def free(music: str, **fields: str) -> Score:
    return score_of(music, **{"meter": "free", **fields})


def faults(music: str, **fields: str) -> list[str]:
    rows = {"title": "T", "home": "D5 in D major", **fields, "music": music}
    found = read("t.warmup", "".join(f"{name}: {value}\n" for name, value in rows.items()).encode())
    return [f"{fault.line}:{fault.column}: {fault.what}" for fault in found.faults]


def exercise(music: str, **fields: str) -> Exercise:
    rows = {"title": "T", "home": "D5 in D major", "meter": "free", **fields, "music": music}
    found = read("t.warmup", "".join(f"{name}: {value}\n" for name, value in rows.items()).encode())
    assert found.exercise is not None, found.faults
    return found.exercise


# -- words ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("said", ["free", "free time", "senza misura", "none"])
def test_each_word_of_the_trade_means_free_time(said: str) -> None:
    score = score_of("long D5 C#5", meter=said)
    assert score.meter == FREE
    assert {event.value for event in events(score)} == {LONG}


def test_a_breath_follows_a_long_note_unless_something_leads_on() -> None:
    found = events(free("long D5 slur( E5 F#5 ) G5 tie G5 h rest long D5 | q C#5 long D5"))
    assert ["breath" in event.marks for event in found] == [
        *(True, False, True, False, False, False),
        *(True, False, True),
    ]


def test_bars_of_any_length_stand_as_they_are_written() -> None:
    assert [bar.length for bar in free("q D5 | h. D5 E5 || e D5", tempo="q = 60").line.bars] == [
        Fraction(1, 4),
        Fraction(3, 2),
        Fraction(1, 8),
    ]


@pytest.mark.parametrize(
    ("music", "fields", "said"),
    [
        ("long D5", {}, "3:8: 'long' is a note held as long as the breath, and this is in 4/4"),
        ("scale( long )", {}, "3:15: 'long' is a note held as long as the breath, and this is in 4/4"),
        (
            "long D5",
            {"meter": "free", "pickup": "q"},
            "4:8: free time has no full bars, so it has no pick-up",
        ),
        ("long D5", {"meter": "free = 2+2"}, "3:13: '=' does not fit here"),
        ("long D5", {"meter": "free", "tempo": "q = 60"}, "4:7: 'tempo' is there, and nothing is counted"),
        (
            "w D5",
            {"meter": "free", "breath": "8"},
            "4:8: 'breath' is there, and no note is held as long as the breath",
        ),
        ("long D5", {"meter": "free", "breath": "12 to 8"}, "4:9: 12 to 8 seconds is not a breath"),
        ("long D5", {"meter": "free", "breath": "5 to 90 seconds"}, "4:9: 5 to 90 seconds is not a breath"),
        (
            "long D5 | meter( 3/4 ) D5",
            {"meter": "free"},
            "4:18: an exercise is in free time as a whole, or in meters as a whole",
        ),
        (
            "w D5 | meter( free ) w D5",
            {},
            "3:15: an exercise is in free time as a whole, or in meters as a whole",
        ),
        ("long D5 rest", {"meter": "free"}, "4:16: a rest cannot be long"),
        ("scale( long )", {"meter": "free"}, "4:8: `scale( )` cannot be of long notes"),
        ("long triplet( D5 E5 D5 )", {"meter": "free"}, "4:22: a note of a tuplet cannot be long"),
        ("long. D5", {"meter": "free"}, "4:8: 'long.' is not a pitch, value or word"),
    ],
)
def test_what_contradicts_free_time_is_a_fault(music: str, fields: dict[str, str], said: str) -> None:
    assert said in faults(music, **fields)


# -- time -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("music", "fastest", "slowest"),
    [
        ("long D5", 8, 12),
        ("long D5 E5 F#5", 24, 36),
        ("slur( long D5 E5 F#5 ) D5", 16, 24),
        ("long D5 tie D5", 8, 12),
        ("long D5 fermata", 8, 12),
        # A quarter before it in its breath, and a half with a fermata after it, at a quarter a second.
        ("slur( q D5 long E5 ) | h D5 fermata", 12, 16),
        ("|: long D5 :|", 16, 24),
    ],
)
def test_how_long_free_time_lasts(music: str, fastest: int, slowest: int) -> None:
    """Counted by hand: a breath of 8 to 12 seconds, shared by the notes that a slur or a tie joins."""
    tempo = {"tempo": "q = 60"} if "q" in music else {}
    found = length(free(music, **tempo))
    assert (found.shortest, found.longest) == (fastest, slowest)


def test_the_author_says_how_long_a_breath_lasts() -> None:
    score = free("long D5 E5", breath="5 to 9 seconds")
    assert (timing(score, FASTEST).seconds, timing(score, SLOWEST).breath) == (10, 9)
    assert free("long D5", breath="10").breath == (10, 10)


def test_a_breath_that_is_too_long_says_so_without_a_tempo() -> None:
    assert long_breath(free("long D5")) is None
    found = long_breath(free("long D5", breath="10 to 20"))
    assert found is not None
    assert breath_words(found) == (
        "In free time there are 20 seconds without a breath, more than 16; hold the notes less long, "
        "or take a breath on the way."
    )
    assert BookTimes(16).limit == 16


def test_daily_sets_count_a_breath() -> None:
    assert [moment.seconds for moment in moments(free("long D5 slur( E5 D5 )"))] == [12, 6, 6]


def test_no_metronome_figure_where_nothing_is_counted() -> None:
    assert tempo_words(exercise(TUNE)) == "free time, held as long as the breath, about 8 to 12 seconds"
    assert tempo_words(exercise(MIXED, tempo="q = 60")) == (
        "quarter = 60, free time, long notes held as long as the breath, about 8 to 12 seconds"
    )
    assert tempo_words(exercise("q D5", tempo="q = 60")) == "quarter = 60, free time"


def test_the_page_sounds_as_long_as_it_says() -> None:
    """The page's clock, by its own rows: a tempo for each speed, as fast as the first within its range."""
    piece = json.loads(play_through_json(play_through(free(TUNE), FLUTE)))
    assert piece["free"] == 1
    assert "free" not in json.loads(play_through_json(play_through(score_of("w D5"), FLUTE)))
    for end, seconds in ((1, 72), (2, 48)):
        ends = [*(row[0] for row in piece["speeds"][1:]), piece["end"]]
        lasts = sum(
            (until - start) / piece["tempos"][tempo][0] * 60 / piece["tempos"][tempo][end] * factor
            for (start, tempo, factor), until in zip(piece["speeds"], ends, strict=True)
        )
        assert lasts == pytest.approx(seconds)
    ground = json.loads(ground_json(settings_of(exercise(TUNE), FLUTE)[0]))
    assert ground["units"] == 0


# -- variations -------------------------------------------------------------------------------------------


def test_variations_work_within_each_breath() -> None:
    swelled = varied("long D5 E5 F#5", "swell up", meter="free")
    assert [[mark.mark for mark in event.dynamic_marks] for event in swelled] == [["p", "<", "!", "f"]] * 3
    late = varied("long D5 E5", "vibrato late", meter="free")
    assert all(event.vibrato for event in late)
    twice = apply(free(TUNE), ("upper octave first",))
    assert timing(twice).seconds == 2 * timing(free(TUNE)).seconds
    assert twice.line.bars[1].end == "||"
    assert timing(apply(free("long D5 E5"), ("falling octave first",))).seconds == 24


@pytest.mark.parametrize(
    ("wish", "why"),
    [
        ("eight levels", "it is counted in 4/4, and this is in free time"),
        ("doubled", "free time has no meter in which it could fill bars"),
        (
            "tonguing double",
            "its last note is held as long as the breath, and the figure divides a counted note",
        ),
        ("vibrato measured 4", "it has notes held as long as the breath, which have no beat"),
        ("dotted", "no two neighbouring notes in a bar have one plain value"),
    ],
)
def test_variations_that_need_a_meter_or_a_count_say_so(wish: str, why: str) -> None:
    assert refused(TUNE, wish, meter="free") == why


# -- accidentals, ink -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        # Again after a breath and after a division.
        ("q D#5 , D#5 | D#5", "nn n"),
        # An immediate repetition goes without; after another note it is shown again.
        ("q D#5 D#5 E5 D#5", "n..n"),
        # Cancelled within its breath; a reminder after it.
        ("q D#5 D5", "nn"),
        ("q D#5 , D5", "nc"),
        ("q D#5 | D5", "n c"),
        ("long D#5 tie D#5", "n."),
        # The signature's own notes need none.
        ("q F#5 , F#5 G5 F#5", "...."),
    ],
)
def test_accidentals_hold_no_longer_than_a_breath(music: str, expected: str) -> None:
    score = free(music)
    found = accidentals(score.line, score.key, free=True)
    said = (("".join(word[:1] or "." for signs in bar for word in signs)) for bar in found)
    assert " ".join(said) == expected


@pytest.mark.parametrize("layout", [STAND, PHONE], ids=["stand", "phone"])
def test_the_ink_says_what_free_time_says(layout: object) -> None:
    """Heads, dashed lines and hairpins, in two keys, and with a drone."""
    plain = free(TUNE)
    other = settings_of(exercise(TUNE), FLUTE)[4].score()
    scores = [plain, other, apply(other, ("swell up",)), free(MIXED, tempo="q = 60", drone="D4")]
    for score, ink in zip(scores, engravings(scores, layout), strict=True):
        assert ink_faults(score, ink, layout) == []
        assert not ink.warnings


def test_a_held_note_is_long_enough_for_what_happens_on_it() -> None:
    """A swell on one note has hairpins to be seen, in the narrowest form that the book prints."""
    score = apply(free("long D5 mf"), ("swell from pp to f to pp",))
    model = model_layout(columns(2, 1.0), STAND.staff)
    (ink,) = engravings([score], model)
    (staff,) = read_ink(ink.pdf).staves
    assert [(hairpin.right - hairpin.left) / staff.space > 2.5 for hairpin in staff.hairpins] == [True, True]


def test_a_key_that_no_narrow_column_holds_has_a_wide_one() -> None:
    """One held note cannot be parted, and six sharps take room."""
    sharps = replace(free("long D5"), key=Key(3, 1))
    plain = Rendition("piece", "as written", "", sharps)
    assert fitting_columns([plain], 3, 1.0, partial(step_layout, staff=STAND.staff)).count == 3
    more = Rendition("piece", "as written", "", free("slur( long D5 E5 F#5 )"))
    assert fitting_columns([more], 3, 1.0, partial(step_layout, staff=STAND.staff)).count == 2
    assert len(list(engravings([sharps], step_layout(columns(3, 1.0), STAND.staff)))) == 1


def test_only_the_asked_for_accidentals_are_drawn() -> None:
    """The engraver would restate nothing after a breath."""
    from stavewright.engrave.notation import notation

    said = notation(free("q D#5 , D#5 D#5 E5 D#5 | D5"))
    assert said.count("ds''!4") == 3
    assert said.count("d''!4") == 1
    assert "\\freeTime" in said
    assert "\\time" not in said


def test_lines_end_where_the_player_breathes() -> None:
    score = free(" ".join(["long", *["D5 E5 F#5"] * 8]))
    found = lines(score, STAND.room).ends
    assert len(found) > 1
    assert all(end.calm for end in found)
    counted = free("q " + "D5 E5 F#5 G5 A5 , " * 12, tempo="q = 60")
    places = [end.event for end in lines(counted, STAND.room).ends]
    assert places
    assert all("breath" in events(counted)[place].marks for place in places)


def test_a_drone_stands_below_each_long_note() -> None:
    drone = free(MIXED, tempo="q = 60", drone="D4").lines[1]
    assert [event.length for event in drone.bars[0].events] == [Fraction(3, 4), 1]
    assert [event.length for event in drone.bars[1].events] == [Fraction(3, 2)]


def test_dashes_are_as_short_on_the_screen_as_on_paper() -> None:
    """The drawing is in points, and the engraver's dashes are in staff spaces."""
    (ink,) = engravings([free("long D5 | E5")])
    (dashes,) = re.findall(r'stroke-dasharray="([\d.]+),([\d.]+)"', ink.drawing.body)
    assert 1.5 < float(dashes[0]) < 3


def test_the_music_in_words() -> None:
    assert describe_score(free("long D5 C#5")).startswith("D major, free time; bar 1: D5 long breath")


# -- files ------------------------------------------------------------------------------------------------


def test_a_file_has_no_meter_and_the_same_notes(schema: etree.XMLSchema) -> None:
    for music, fields in ((TUNE, {}), (MIXED, {"tempo": "q = 60"})):
        score = free(music, **fields)
        data = musicxml(score, ABOUT, FLUTE)
        assert valid(schema, data)
        root = etree.fromstring(data)
        assert root.find(".//time/senza-misura") is not None
        assert root.find(".//time/beats") is None
        assert [style.text for style in root.iterfind(".//bar-style")] == ["dashed", "light-heavy"]
        assert (root.find(".//metronome") is None) == (music == TUNE)
        found = list(opened(data).parts[0].recurse().notes)
        assert [note.nameWithOctave for note in found] == [str(event.pitch) for event in events(score)]
        assert [note.quarterLength for note in found] == [event.length * 4 for event in events(score)]
        said = [bool(note.pitch.accidental and note.pitch.accidental.displayStatus) for note in found]
        wanted = accidentals(score.line, score.key, free=True)
        assert said == [bool(word) for bar in wanted for (word,) in bar]


def test_midi_lasts_as_long_as_a_breath() -> None:
    """At the middle of the pace: 7.5 and 5 breaths a minute are 6.25, and 60 / 6.25 is 9.6 seconds.

    The last tone ends a sixteenth earlier, for the breath after it.
    """
    file = MidiFile(file=BytesIO(midi(free("long D5 E5"), "T", FLUTE)))
    assert file.length == pytest.approx(19.2 - 9.6 / 16, abs=0.01)
    assert not any(message.type == "time_signature" for track in file.tracks for message in track)


def test_the_default_is_what_the_language_page_says() -> None:
    assert "default: 8 to 12 seconds" in " ".join(FIELDS["breath"].means.split())
    assert free("long D5").breath == (8, 12)
