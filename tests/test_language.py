"""The text language: every word and field says what it means, in a file as a user would write it.

Pitches are in scientific pitch notation, in which C4 is middle C (ASA standard, from memory). The names of
values, American and British, are common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from stavewright.language.field_words import FIELDS
from stavewright.language.notes.second_part import SECOND_OF
from stavewright.language.read import PASSES, Reading, read, slug_of
from stavewright.language.words import GROUPS, MARKS, NOTE_MARKS, SIGNS, VALUES, WORDS, Word
from stavewright.music.event import LEVELS, OPTIONAL, SLUR, DynamicMark, Event, Span, Tempo, Value, tuplet
from stavewright.music.exercise import FALLING, RISING, Exercise, KeySequence
from stavewright.music.figures import FIGURES
from stavewright.music.keys import Key
from stavewright.music.pitch import Pitch
from stavewright.music.score import Bar, Meter
from stavewright.views.language_page import example_text

QUARTER = Value(F(1, 4))


def text(music: str = "w D5", **fields: str) -> str:
    """A whole exercise around some music."""
    rows = {"title": "A test", "home": "D5 in D major", **fields, "music": music}
    return "".join(f"{name.replace('_', ' ')}: {value}\n" for name, value in rows.items())


def reading(source: str, file: str = "exercises/test.warmup") -> Reading:
    """The reading of a text."""
    return read(file, source.encode())


def exercise(source: str) -> Exercise:
    """The exercise in a text, which must have no fault."""
    found = reading(source)
    assert not found.faults, "\n".join(map(str, found.faults))
    assert found.exercise is not None
    return found.exercise


def bars(music: str, **fields: str) -> tuple[Bar, ...]:
    """The bars of some music."""
    return exercise(text(music, **fields)).forms[0].bars


def events(music: str, **fields: str) -> list[Event]:
    """The events of some music, bar lines left out."""
    return [event for bar in bars(music, **fields) for event in bar.events]


def pitches(music: str, **fields: str) -> list[str]:
    """The pitches of some music by name."""
    return [str(event.pitch) for event in events(music, **fields) if event.pitch]


# -- every word, by the example that the site shows ------------------------------------------------------


@pytest.mark.parametrize("word", WORDS, ids=lambda word: word.name)
def test_every_word_has_an_example_that_reads(word: Word) -> None:
    assert word.name.split()[0] in word.example or word.name in ("D5", "h.")
    assert exercise(example_text(word.example)).forms[0].bars
    assert word.means.endswith(".")


@pytest.mark.parametrize("name", FIGURES)
def test_every_generator_has_an_example_that_fills_its_bars(name: str) -> None:
    assert name in FIGURES[name].example
    found = bars(FIGURES[name].example)
    assert {bar.length for bar in found} == {F(1)}


@pytest.mark.parametrize("name", FIELDS)
def test_every_field_has_an_example_that_reads(name: str) -> None:
    field = FIELDS[name]
    rows = {"title": "A test", "home": "D5 in D major", "music": "w D5"}
    if name.startswith("music "):
        del rows["music"]
    if name == "meter":
        rows["music"] = "h. D5"
    if name == "breath":
        rows |= {"meter": "free", "music": "long D5"}
    if name == "grade":
        rows["variations"] = "eight levels"
    if name == "second":
        rows["music"] = "w D5 | w D5"
    if name == "chords":
        rows["music"] = "w D5 | w D5 | w D5 | w D5"
    if name in SECOND_OF.values():
        first = name.replace(" second", "")
        rows[first] = FIELDS[first].example
    if name == "pickup":
        rows["music"] = "q D5 | w D5"
    if name in PASSES:
        rows |= {each: FIELDS[each].example for each in PASSES}
    rows[name] = field.example if field.form != "list" else "\n  " + field.example.replace("\n", "\n  ")
    exercise("".join(f"{key}: {value}\n" for key, value in rows.items()))
    assert field.means.endswith(".")


def test_no_word_is_of_two_kinds() -> None:
    assert len(WORDS) == len(SIGNS) + len(MARKS) + len(GROUPS)
    assert not {*MARKS} & {*GROUPS} and not {*FIGURES} & {*GROUPS, *MARKS} and not {*VALUES} & {*MARKS}


# -- notes ----------------------------------------------------------------------------------------------


def test_pitches_as_written() -> None:
    assert pitches("q C4 F#5 Bb3 Cb5 | q E#5 F##5 Bbb4 Fn5") == [
        *("C4", "F#5", "Bb3", "Cb5"),
        *("E#5", "F##5", "Bbb4", "F5"),
    ]


def test_the_signs_of_print_serve_as_well() -> None:
    assert pitches("h F♯5 B♭4") == ["F#5", "Bb4"]


def test_intervals_from_the_home_pitch() -> None:
    assert pitches("q +P1 +M3 +A4 -P4 | w -d5") == ["D5", "F#5", "G#5", "A4", "G#4"]
    assert pitches("h +P1 +m3", home="Eb4 in Eb major") == ["Eb4", "Gb4"]


@pytest.mark.parametrize(("name", "length"), VALUES.items())
def test_note_values_by_letter_and_name(name: str, length: F) -> None:
    count = int(1 / length)
    assert [event.length for event in events(f"{name} {'D5 ' * count}")] == [length] * count


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("h.", Value(F(1, 2), 1)),
        ("q..", Value(F(1, 4), 2)),
        ("dotted quarter", Value(F(1, 4), 1)),
        ("dotted minim", Value(F(1, 2), 1)),
    ],
)
def test_dots(value: str, expected: Value) -> None:
    filler = {F(3, 4): "q D5", F(7, 16): "s D5 h D5", F(3, 8): "e D5 h D5"}[expected.length]
    assert events(f"{value} D5 {filler}")[0].value == expected


def test_a_value_holds_until_the_next() -> None:
    assert [event.length for event in events("h D5 q E5 F#5 | w D5")] == [F(1, 2), F(1, 4), F(1, 4), F(1)]


def test_rests() -> None:
    first, second = events("h D5 rest")
    assert first.pitch == Pitch.parse("D5") and second.pitch is None and second.length == F(1, 2)


def test_each_event_knows_its_place_in_the_file() -> None:
    found = events("\n  h D5 q E5 F#5\n  | w rest")
    assert [(event.place.line, event.place.column) for event in found if event.place] == [
        (4, 5),
        (4, 10),
        (4, 13),
        (5, 7),
    ]


# -- what stands after a note ---------------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name in MARKS if name != "tie"])
def test_marks_belong_to_the_note_before(name: str) -> None:
    before, after = events(f"h D5 {name} E5")
    assert (before.marks, after.marks) == ((name,), ())


@pytest.mark.parametrize("name", NOTE_MARKS)
def test_marks_around_notes_belong_to_each(name: str) -> None:
    assert [event.marks for event in events(f"q {name}( D5 E5 rest ) F#5")] == [(name,), (name,), (), ()]


def test_a_comma_is_a_breath() -> None:
    assert [event.marks for event in events("h D5 , E5")] == [("breath",), ()]


def test_ties_within_and_over_the_bar_line() -> None:
    assert [event.tie for event in events("h D5 E5 tie | w E5")] == [False, True, False]


@pytest.mark.parametrize("level", LEVELS)
def test_levels_stand_at_the_beginning_of_their_note(level: str) -> None:
    first, second = events(f"h D5 {level} E5")
    assert (first.dynamic_marks, second.dynamic_marks) == ((DynamicMark(F(0), level),), ())


def test_words_and_syllables() -> None:
    first, second, third = events('h D5 above "still" below "inner  ear" q E5 say "doo" F#5')
    assert (first.above, first.below) == ("still", "inner ear")
    assert (second.syllable, third.syllable) == ("doo", "")


# -- groups ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("span", [SLUR, OPTIONAL])
def test_spans_open_on_the_first_and_close_on_the_last(span: Span) -> None:
    found = events(f"h D5 {span.kind}( q E5 F#5 | h G5 ) A5")
    assert [event.opens for event in found] == [(), (span,), (), (), ()]
    assert [(span in event.opens, span in event.closes) for event in found] == [
        (False, False),
        (True, False),
        (False, False),
        (False, True),
        (False, False),
    ]


@pytest.mark.parametrize(("name", "sign"), [("louder", "<"), ("softer", ">")])
def test_hairpins_go_to_the_end_of_their_last_note(name: str, sign: str) -> None:
    first, second, third = events(f"q {name}( D5 p E5 ) h D5 f")
    assert {shade.mark: shade.at for shade in first.dynamic_marks} == {"p": F(0), sign: F(0)}
    assert second.dynamic_marks == (DynamicMark(F(1), "!"),)
    assert third.dynamic_marks == (DynamicMark(F(0), "f"),)


@pytest.mark.parametrize(
    ("music", "ratio", "many", "scale"),
    [
        ("triplet( q D5 E5 F#5 ) h D5", (3, 2), 3, F(2, 3)),
        ("tuplet( 5:4 e D5 E5 F#5 E5 D5 ) h E5", (5, 4), 5, F(4, 5)),
        ("tuplet( 2:3 q D5 E5 )", (2, 3), 2, F(3, 2)),
    ],
)
def test_tuplets(music: str, ratio: tuple[int, int], many: int, scale: F) -> None:
    meter = "3/4" if ratio == (2, 3) else "4/4"
    found = events(music, meter=meter)
    inside = found[:many]
    assert {event.value.scale for event in inside} == {scale}
    assert inside[0].opens == (tuplet(*ratio),) and inside[-1].closes == (tuplet(*ratio),)
    assert {event.value.scale for event in found[many:]} <= {F(1)}


def test_grace_notes_take_no_time() -> None:
    first, second = events("grace( C#5 ) h D5 grace( E5 +M3 ) G5")
    assert [[str(p) for p in event.graces] for event in (first, second)] == [["C#5"], ["E5", "F#5"]]
    assert first.length + second.length == F(1)


@pytest.mark.parametrize(
    ("name", "signs"),
    [
        ("vibrato", {F(0): "~", F(1): "!"}),
        ("late-vibrato", {F(0): "-", F(1, 2): "~<", F(1): "!"}),
        ("fading-vibrato", {F(0): "~>", F(1, 2): "-", F(1): "!"}),
    ],
)
def test_where_vibrato_begins_and_ends(name: str, signs: dict[F, str]) -> None:
    (note,) = events(f"{name}( w D5 )")
    assert {shade.at: shade.mark for shade in note.vibrato} == signs


def test_vibrato_over_several_notes_is_one_wave() -> None:
    found = events("late-vibrato( q D5 E5 F#5 G5 )")
    assert [event.vibrato for event in found] == [
        (DynamicMark(F(0), "-"),),
        (),
        (DynamicMark(F(0), "~<"),),
        (DynamicMark(F(1), "!"),),
    ]


def test_bar_lines_and_repeats() -> None:
    found = bars("w D5 || w E5 | |: w F#5 | w E5 :| w D5")
    assert [bar.end for bar in found] == ["||", "|", "|", ":|", "|."]
    assert [bar.opens_repeat for bar in found] == [False, False, True, False, False]


def test_first_and_second_endings() -> None:
    found = bars("|: w D5 | first-time( w E5 :| ) second-time( w D5 )")
    assert [(bar.ending, bar.end) for bar in found] == [(0, "|"), (1, ":|"), (2, "|.")]


def test_changes_of_meter_tempo_and_clef() -> None:
    first, second, third = bars("w D5 | meter( 3/4 ) h E5 clef( bass ) q C4 | tempo( half = 40 to 50 ) h. D5")
    assert (first.meter, second.meter, third.meter) == (None, Meter(3, 4), None)
    assert third.tempo == Tempo(Value(F(1, 2)), 40, 50) and first.tempo is second.tempo is None
    assert [event.clef for event in second.events] == ["", "bass"]


def test_groups_stand_one_inside_another() -> None:
    first, second, third = events("slur( louder( h D5 q E5 ) tenuto( F#5 ) )")
    assert (first.opens, third.closes) == ((SLUR,), (SLUR,))
    assert second.dynamic_marks == (DynamicMark(F(1), "!"),)
    assert third.marks == ("tenuto",)


# -- fields ---------------------------------------------------------------------------------------------


def test_plain_fields_reach_the_exercise() -> None:
    found = exercise(
        text(
            title="Slow  tide",
            kind="stepwise cell",
            purpose="To join\n  neighbours.",
            about="Begin in the middle.",
            rights="CC BY 4.0",
            source="Traditional.",
            attend="\n  - shoulders loose\n  - the pitch steady\n    as it fades",
        )
    )
    assert found.slug == "test"
    assert found.title == "Slow tide"
    assert found.kind == "stepwise cell"
    assert found.purpose == "To join neighbours."
    assert found.about == "Begin in the middle."
    assert (found.rights, found.source) == ("CC BY 4.0", "Traditional.")
    assert found.attend == ("shoulders loose", "the pitch steady as it fades")


@pytest.mark.parametrize(
    ("home", "pitch", "key"),
    [
        ("D5 in D major", "D5", Key(1, 0, "major")),
        ("F#4 in B minor", "F#4", Key(6, 0, "minor")),
        ("Bb4 in E flat lydian", "Bb4", Key(2, -1, "lydian")),
        ("G#4 in C# phrygian", "G#4", Key(0, 1, "phrygian")),
        ("Ab4 in A♭ major", "Ab4", Key(5, -1, "major")),
    ],
)
def test_home(home: str, pitch: str, key: Key) -> None:
    found = exercise(text(home=home))
    assert (str(found.home), found.key) == (pitch, key)


def test_meter_tempo_pickup_and_drone() -> None:
    found = exercise(
        text("e D5 | q. D5 E5", meter="6/8", tempo="dotted quarter = 40 to 52", pickup="e", drone="D4")
    )
    assert found.meter == Meter(6, 8)
    assert found.tempo == Tempo(Value(F(1, 4), 1), 40, 52)
    assert found.pickup == F(1, 8)
    assert found.drone == Pitch.parse("D4")


def test_what_is_assumed_where_nothing_is_said() -> None:
    found = exercise(text())
    assert (found.meter, found.tempo) == (Meter(4, 4), Tempo(QUARTER, 54, 66))
    assert found.travel == KeySequence(1, (FALLING,))
    assert (found.pickup, found.drone, found.wanted, found.prefer) == (0, None, (), "")
    assert not found.keep_doubles


@pytest.mark.parametrize(
    ("said", "travel"),
    [
        ("twelve keys", KeySequence(1, (FALLING,))),
        ("twelve keys, semitones up", KeySequence(1, (RISING,))),
        ("twelve keys, fifths up", KeySequence(7, (RISING,))),
        ("twelve keys fourths down", KeySequence(5, (FALLING,))),
        ("semitones down from D6 to D4", KeySequence(1, (FALLING,), Pitch.parse("D6"), Pitch.parse("D4"))),
        ("semitones from D4 to D6", KeySequence(1, (RISING,), Pitch.parse("D4"), Pitch.parse("D6"))),
        (
            "semitones down from D6 to D4, then up",
            KeySequence(1, (FALLING, RISING), Pitch.parse("D6"), Pitch.parse("D4")),
        ),
        ("semitones up through the range", KeySequence(1, (RISING,), whole_range=True)),
    ],
)
def test_travel(said: str, travel: KeySequence) -> None:
    assert exercise(text(travel=said)).travel == travel


def test_variations_in_order_joined_and_named() -> None:
    found = exercise(text(variations="slurred, swell up + slurred, evening = detached + swell down"))
    assert [(wish.names, wish.label) for wish in found.wanted] == [
        (("slurred",), "slurred"),
        (("swell up", "slurred"), "swell up + slurred"),
        (("detached", "swell down"), "evening"),
    ]
    assert [(wish.place.line, wish.place.column) for wish in found.wanted] == [(3, 13), (3, 22), (3, 42)]


def test_spelling_and_doubles() -> None:
    found = exercise(text(spelling="flats", doubles="keep"))
    assert (found.prefer, found.keep_doubles) == ("flats", True)


def test_a_form_for_each_way() -> None:
    found = exercise("title: T\nhome: D5 in D major\nmusic falling: w D5\nmusic rising: w E5\n")
    assert {form.direction: str(form.bars[0].events[0].pitch) for form in found.forms} == {
        FALLING: "D5",
        RISING: "E5",
    }
    assert found.form(RISING).direction == RISING


def test_remarks_empty_lines_and_windows_line_ends() -> None:
    source = "# a remark\n\ntitle: T\n# another\nhome: D5 in D major\nmusic:\n  h D5\n  # inside\n\n  E5\n"
    for ends in (source, source.replace("\n", "\r\n"), "\ufeff" + source):
        assert [event.length for event in exercise(ends).forms[0].bars[0].events] == [F(1, 2), F(1, 2)]


@pytest.mark.parametrize(("name", "slug"), [("slow-tide.warmup", "slow-tide"), ("a1.warmup", "a1")])
def test_a_file_is_named_as_its_address(name: str, slug: str) -> None:
    assert slug_of(name) == slug


def test_other_scripts_in_words() -> None:
    found = exercise(text('w D5 above "Ωδή, やわらかく"', title="Тихий прилив", purpose="Für die Stütze."))
    assert found.title == "Тихий прилив"
    assert found.forms[0].bars[0].events[0].above == "Ωδή, やわらかく"


# -- pick-ups and bar lengths ---------------------------------------------------------------------------


def test_a_last_bar_may_make_room_for_the_pickup() -> None:
    assert len(bars("q D5 | w D5 | h. D5", pickup="quarter")) == 3
    assert len(bars("q D5 | w D5 | w D5", pickup="quarter")) == 3


def test_generators_draw_their_own_bar_lines() -> None:
    assert [len(bar.events) for bar in bars("opened-octave( h )")][:3] == [1, 2, 2]
    assert {len(bar.events) for bar in bars("broken-chord( e up )", meter="2/4")} == {4}
