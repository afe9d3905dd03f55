"""Duets: a second part written out, in canon or held, in every key and way of playing, and part by part."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from music21 import interval as m21_interval
from music21 import key as m21_key
from music21 import pitch as m21_pitch
from small_scores import pitches, score_of, slurs

from stavewright.book.durations import breath_words
from stavewright.book.pieces import instrument_book_of
from stavewright.daily.choices import measured_pages
from stavewright.engrave import breaks
from stavewright.engrave.notation import notation
from stavewright.engrave.piece import Layout
from stavewright.language.format import formatted
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.music.description import describe_score
from stavewright.music.exercise import Canon, Exercise, Pedal
from stavewright.music.keys import Key
from stavewright.music.pitch import Pitch
from stavewright.music.score import Bar, Score, Staff
from stavewright.music.settings.second_part import moved_within, part_alone
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.sounding.tempos import tempo_change
from stavewright.music.sounding.timing import clock, long_breath
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS
from stavewright.variations import Unsuitable, apply
from stavewright.variations.passes import played_twice
from stavewright.views.incipits import span_of
from stavewright.views.language_page import WITH_OTHERS, score_with_others

FIRST = "h D5 mf q E5 F#5 | h. G5 q G#5 , | w A5 fermata ,"
SECOND = "q D4 E4 F#4 G4 | e E4 F#4 G4 A4 h B4 , | h C#4 D4 ,"
TUNE = "h D5 q E5 F#5 | h G5 A5 , | q F#5 E5 h D5"


def text_of(music: str = FIRST, **fields: str) -> str:
    rows = {"title": "T", "home": "D5 in D major", "travel": "twelve keys", **fields, "music": music}
    return "".join(f"{name.replace('_', ' ')}: {value}\n" for name, value in rows.items())


def duet(music: str = FIRST, **fields: str) -> Exercise:
    fields = fields or {"music_second": SECOND}
    reading = read("t.warmup", text_of(music, **fields).encode())
    assert reading.exercise is not None, reading.faults
    return reading.exercise


def fault(music: str = FIRST, **fields: str) -> str:
    (found, *_) = read("t.warmup", text_of(music, **fields).encode()).faults
    return str(found).removeprefix("t.warmup:")


def score(exercise: Exercise, number: int = 0, instrument: str = "flute") -> Score:
    return settings_of(exercise, INSTRUMENTS[instrument])[number].score()


def second(found: Score) -> Staff:
    assert found.second is not None
    return found.second


def names(bars: tuple[Bar, ...]) -> str:
    """The bars as a musician would say them: `D4 E4 | -`, a rest as a hyphen."""
    return " | ".join(" ".join(pitches(list(bar.events))) for bar in bars)


# -- the language ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        (
            {"music_second": "w D4 | w D4"},
            "4:26: the second part has 2 bars, and the first has 3 bars; add 1 bar,",
        ),
        (
            {"music_second": f"{SECOND} | w D4"},
            "the second part has 4 bars, and the first has 3 bars; take away 1 bar",
        ),
        (
            {"music_second": "w D4 | h. D4 | w D4"},
            "4:25: bar 2 of the second part has 3 beats, and that of the first has 4 beats; add 1 beat",
        ),
        (
            {"music_second": "w D4 || w D4 | w D4"},
            "bar 1 of the second part has a bar line that the first part has not; write it in `music`",
        ),
        (
            {"music_second": "w D4 | meter( 3/4 ) h. D4 q D4 | w D4"},
            "bar 2 of the second part has a meter that the first part has not",
        ),
        (
            {"music_second": "w D4 | tempo( q = 60 ) w D4 | w D4"},
            "bar 2 of the second part has a tempo that the first part has not",
        ),
        ({"music_second": SECOND, "second": "pedal on D4"}, "'second' is there beside 'music second'"),
        ({"music_second_rising": SECOND}, "'music second rising' is there without 'music rising'"),
        (
            {"second": "canon at the eleventh above after 1 bar"},
            "4:22: a canon has no interval 'eleventh'; the",
        ),
        (
            {"second": "canon at the fifth after 1 bar"},
            "4:22: the fifth is above or below; write `fifth above`",
        ),
        (
            {"second": "canon at the octave below after 3 bars"},
            "would begin after 3 bars, and the music has 3;",
        ),
        ({"second": "canon at the octave below after 0 bars"}, "4:41: the second part begins with the first"),
        ({"second": "canon in the octave"}, "4:15: 'in' does not fit here; write it like `second: canon at"),
        ({"second": "pedal on H4"}, "'H4' does not fit here"),
        ({"duet": SECOND}, "unknown field 'duet'; write the second part in `music second`"),
    ],
)
def test_what_does_not_fit_is_said_with_its_place(fields: dict[str, str], said: str) -> None:
    # `music` comes last here, after the second part.
    assert said in fault(**fields)


@pytest.mark.parametrize(
    ("music", "fields", "said"),
    [
        ("|: w D5 | w E5 :|", {}, "a canon cannot follow through repeats"),
        ("w D5 | meter( 3/4 ) h. E5 | h. D5", {}, "a canon cannot follow through bars of different lengths"),
        ("w D5 | optional( w E5 ) | w D5", {}, "a canon cannot follow if bars may be left out"),
        (
            "long D5 | long E5 | long D5",
            {"meter": "free"},
            "free time has no beats that two parts could share",
        ),
        ("w D5 | w E5", {"home": "D5 without key"}, "without a key there are no steps to follow in"),
    ],
)
def test_a_canon_that_cannot_be_made_says_why(music: str, fields: dict[str, str], said: str) -> None:
    assert said in fault(music, second="canon at the third below after 1 bar", **fields)


@pytest.mark.parametrize("name", ["second: pedal on D4", "chords: D | D", "music second: w D4 | w D4"])
def test_a_figure_over_the_whole_range_has_no_company(name: str) -> None:
    text = f"title: T\nhome: D5 in D major\n{name}\nmusic: scale( e whole range )\n"
    (found,) = read("t.warmup", text.encode()).faults
    assert "goes bar by bar, and a figure over the whole range has other bars in each key" in str(found)


def test_a_form_without_its_second_part_is_named() -> None:
    text = (
        text_of().replace("music:", "music rising:")
        + f"music falling: {FIRST}\nmusic second rising: {SECOND}\n"
    )
    (found,) = read("t.warmup", text.encode()).faults
    assert "'music falling' has no second part; add the field `music second falling`" in str(found)


def test_the_second_part_takes_the_bar_lines_of_the_first() -> None:
    exercise = duet("|: w D5 || tempo( q = 90 ) w E5 :|", music_second="w D4 | w E4")
    bars = second(score(exercise)).bars
    assert [(bar.end, bar.opens_repeat, bar.tempo) for bar in bars] == [
        ("||", True, None),
        (":|", False, None),
    ]


RULES = st.one_of(
    st.builds(Canon, st.integers(-7, 7), st.integers(1, 2)),
    st.builds(Pedal, st.sampled_from([Pitch.parse("D4"), Pitch.parse("Bb4")]), st.booleans()),
)


@examples(40)
@given(RULES)
def test_a_rule_comes_back_as_it_was_written(rule: Canon | Pedal) -> None:
    exercise = duet(TUNE, second="pedal on C4")
    said = write(
        Exercise(**{name: getattr(exercise, name) for name in Exercise.__slots__} | {"second": rule})
    )
    again = read("t.warmup", said.encode()).exercise
    assert again is not None
    assert again.second == rule
    assert write(again) == said


BARS = st.lists(
    st.sampled_from(["w D4", "h E4 F#4", "q D4 rest h. E4", "triplet( q D4 E4 F#4 ) h A4"]),
    min_size=3,
    max_size=3,
)


@examples(25)
@given(BARS.map(lambda bars: " | ".join(bars).replace("q D4 rest h. E4", "q D4 rest h E4")))
def test_a_written_part_comes_back(music: str) -> None:
    exercise = duet(music_second=music)
    said = write(exercise)
    again = read("t.warmup", said.encode()).exercise
    assert again is not None
    assert names(second(score(again)).bars) == names(second(score(exercise)).bars)
    assert write(again) == said
    assert isinstance(formatted("t.warmup", text_of(music_second=music).encode()), str)


@pytest.mark.parametrize("name", [name for name in WITH_OTHERS if name != "chords"])
def test_each_duet_of_the_language_page_has_two_parts(name: str) -> None:
    text, means = WITH_OTHERS[name]
    found = score_with_others(text)
    assert [bar.length for bar in found.line.bars] == [bar.length for bar in second(found).bars]
    assert name in text
    assert means.endswith(".")


# -- every key -------------------------------------------------------------------------------------------


def m21(pitch: Pitch) -> m21_pitch.Pitch:
    return m21_pitch.Pitch(str(pitch).replace("b", "-"))


def by_sound(pitch: Pitch) -> int:
    return pitch.midi


@pytest.mark.parametrize("instrument", ["flute", "clarinet-b-flat", "alto-saxophone"])
@pytest.mark.parametrize("field", ["music_second", "second"])
def test_both_parts_are_transposed_as_one(field: str, instrument: str) -> None:
    exercise = duet(TUNE, **{field: "w D4 | h B3 C#4 | w D4" if field == "music_second" else "pedal on A4"})
    found = settings_of(exercise, INSTRUMENTS[instrument])
    home = found[0].score()
    assert len({setting.key.page for setting in found}) == 12
    for setting in found:
        there = setting.score()
        moved = m21_interval.Interval(
            *(m21(next(each.line.notes()).pitch or Pitch.parse("C4")) for each in (home, there))
        )
        for old, new in zip(home.lines, there.lines, strict=True):
            wanted = [moved.transposePitch(m21(note.pitch)) for note in old.notes() if note.pitch]
            assert [m21(note.pitch).nameWithOctave for note in new.notes() if note.pitch] == [
                each.nameWithOctave for each in wanted
            ]
        every = sorted(
            (note.pitch for line in there.lines for note in line.notes() if note.pitch), key=by_sound
        )
        assert setting.fits == there.compass.holds(every[0], every[-1])


@pytest.mark.parametrize(
    ("field", "said", "chords"),
    [
        ("music_second", "w D4 | h B4 C#5 | w D4", "D | G | A7"),
        ("second", "canon at the octave below after 1 bar", "D | G | A7 | D"),
        ("second", "pedal on A4", "D | G | A7"),
    ],
)
def test_a_book_in_concert_pitch_sounds_as_the_text_says(field: str, said: str, chords: str) -> None:
    exercise = duet(TUNE, chords=chords, **{field: said})
    concert = replace(INSTRUMENTS["clarinet-b-flat"], concert=True)
    flute, clarinet = (settings_of(exercise, each)[0] for each in (FLUTE, concert))
    assert clarinet.concert == flute.key
    for heard, written in zip(flute.score().lines, clarinet.score().lines, strict=True):
        sounding = [note.pitch.midi + concert.sounds for note in written.notes() if note.pitch]
        apart = {
            sound - note.pitch.midi for sound, note in zip(sounding, heard.notes(), strict=True) if note.pitch
        }
        assert apart == {12 * clarinet.shift - 12 * flute.shift}
    assert [mark.chord and mark.chord.sounding(concert.sounds) for mark in clarinet.chords] == [
        mark.chord and mark.chord.sounding() for mark in flute.chords
    ]


def test_an_octave_that_the_second_part_needs_moves_both() -> None:
    low = duet(TUNE, music_second="w A3 | w A3 | w A3")
    found = settings_of(low, FLUTE)[0]
    assert (found.shift, names(found.bars)[:2], names(found.second)[:2]) == (1, "D6", "A4")
    assert "an octave higher than the exercise asks" in found.remarks[0]


def test_a_part_beyond_the_range_is_named() -> None:
    exercise = duet("w C7", music_second="w A3")
    found = settings_of(exercise, FLUTE)
    assert not any(setting.fits for setting in found)
    assert "it would go from A3 to C7" in found[0].remarks[-1]


# -- canon and pedal -------------------------------------------------------------------------------------


@pytest.mark.parametrize("steps", range(-7, 8))
@pytest.mark.parametrize("tonic", ["D", "e-", "f#", "B-"])
def test_a_canon_moves_by_steps_of_the_scale(tonic: str, steps: int) -> None:
    theirs = m21_key.Key(tonic)
    ours = Key("CDEFGAB".index(theirs.tonic.step), int(theirs.tonic.alter), theirs.mode)
    scale = theirs.getScale().getPitches("C2", "C7")
    for place in range(8, 20):
        start = scale[place]
        moved = moved_within(
            Pitch("CDEFGAB".index(start.step), int(start.alter), start.octave or 0), ours, steps
        )
        assert m21(moved).nameWithOctave == scale[place + steps].nameWithOctave


def test_a_raised_note_is_answered_by_a_raised_note() -> None:
    assert str(moved_within(Pitch.parse("G#4"), Key(5, 0, "minor"), 4)) == "D#5"


def test_both_parts_of_a_canon_are_played_to_the_end() -> None:
    found = score(duet(TUNE, second="canon at the octave below after 2 bars"))
    assert names(found.line.bars) == "D5 E5 F#5 | G5 A5 | F#5 E5 D5 | - | -"
    assert names(second(found).bars) == "- | - | D4 E4 F#4 | G4 A4 | F#4 E4 D4"
    assert [bar.end for bar in found.line.bars] == ["|", "|", "|", "|", "|."]
    assert found.length == 5


def test_a_canon_with_a_pick_up_fills_its_bars_with_rests_of_their_beats() -> None:
    found = score(
        duet("q D5 | h. E5 | h D5", meter="3/4", pickup="q", second="canon at the unison after 1 bar")
    )
    assert names(found.line.bars) == "D5 | E5 | D5 - | - -"
    assert names(second(found).bars) == "- | - - D5 | E5 | D5"
    lengths = [[event.length for event in bar.events] for bar in second(found).bars]
    assert lengths[:2] == [[Fraction(1, 4)], [Fraction(1, 4)] * 3]
    assert [bar.length for bar in found.line.bars] == [bar.length for bar in second(found).bars]


def test_a_pedal_is_begun_anew_and_a_tied_one_breathes_with_the_first() -> None:
    struck = second(score(duet(TUNE, second="pedal on D4")))
    assert [event.tie for event in struck.events()] == [False, False, False]
    tied = second(score(duet(TUNE, second="pedal on D4, tied")))
    assert [(event.tie, "breath" in event.marks) for event in tied.events()] == [
        (True, False),
        (False, True),
        (False, False),
    ]
    assert names(tied.bars) == "D4 | D4 | D4"


# -- ways of playing -------------------------------------------------------------------------------------


def test_how_notes_are_played_holds_for_both_parts() -> None:
    varied = apply(score(duet()), ("slurred", "level p"))
    assert slurs(list(varied.line.events())) == "(abcde)f"
    assert slurs(list(second(varied).events())) == "(abcdefghi)(jk)"
    for line in (varied.line, second(varied)):
        assert [mark.mark for event in line.events() for mark in event.dynamic_marks] == ["p"]


@pytest.mark.parametrize(
    "wish", ["upper octave first", "dotted", "doubled", "tonguing double", "eight levels"]
)
def test_what_changes_notes_is_left_out(wish: str) -> None:
    with pytest.raises(Unsuitable, match="it changes the notes, and the second part goes with those"):
        apply(score(duet("h D5 q E5 F#5 | w D5", music_second="w D4 | w D4")), (wish,))


def test_a_voice_has_no_place_beside_a_second_part() -> None:
    with pytest.raises(Unsuitable, match="it adds a staff"):
        apply(score(duet()), ("singing alto held",))


def test_a_second_part_that_cannot_be_varied_stays() -> None:
    found = score(duet("w D5 | w D5", music_second="q D4 E4 F#4 E4 | q D4 E4 F#4 E4"))
    varied = apply(found, ("vibrato late",))
    assert any(event.vibrato for event in varied.line.events())
    assert second(varied) == second(found)


def test_two_times_are_two_for_both_parts() -> None:
    twice = played_twice(score(duet()), ("level p",), ("level f",))
    for line in (twice.line, second(twice)):
        assert (line.bars[0].opens_repeat, line.bars[-1].end) == (True, ":|")
        assert {mark.mark for event in line.events() for mark in event.dynamic_marks if mark.time} == {
            "p",
            "f",
        }


def test_no_slur_stands_over_one_tied_note() -> None:
    found = apply(score_of("w D5 tie | w D5"), ("slurred",))
    assert slurs(list(found.line.events())) == "ab"


def test_an_accidental_in_force_is_shown_again_where_a_line_ends_within_a_bar() -> None:
    # The last two bars are too long for a line on this paper; the first part's notes are twice as long.
    found = score(
        duet(
            "w D5 | q D5 E5 F#5 G5",
            music_second="w D4 | q G#4 G#4 G#4 G#4",
            tempo="quarter = 60",
        )
    )
    narrow = Layout(50, 20)
    ends = [end for end in breaks.lines(found, narrow.room).ends if end.mid_bar]
    said = notation(found, narrow)
    below = said[said.index("Staff1") :]
    assert below.count("gs'!") == len(ends) > 0


# -- time and sound --------------------------------------------------------------------------------------


def test_every_part_waits_for_a_fermata() -> None:
    plain = score(duet("w D5 | w D5", tempo="quarter = 60", music_second="w D4 | q D4 E4 h D4"))
    held = score(duet("w D5 | w D5", tempo="quarter = 60", music_second="w D4 | q D4 E4 fermata h D4"))
    assert clock(held).length == clock(plain).length + Fraction(1, 2)
    # Not twice, where both have one.
    both = score(duet("w D5 | w D5 fermata", tempo="quarter = 60", music_second="w D4 | w D4 fermata"))
    assert clock(both).length == clock(plain).length + 2


def test_a_breath_of_the_second_part_that_is_too_long_is_named_so() -> None:
    found = long_breath(score(duet("w D5 , | w D5 ,", tempo="quarter = 60", music_second="w D4 | w D4")), 6)
    assert found is not None
    assert breath_words(found).startswith(
        "In the second part, from bar 1 on, there are 8 seconds without a breath"
    )


def test_words_for_those_who_hear_the_page_name_both_parts() -> None:
    said = describe_score(score(duet("w D5", music_second="w D4")))
    assert said == "D major, 4/4; first part, bar 1: D5 whole; second part, bar 1: D4 whole."


def test_the_range_of_an_exercise_is_that_of_both_parts() -> None:
    exercise = duet("w D5", music_second="h B4 F#5", travel="semitones down from D5 to D5")
    (page,) = instrument_book_of((exercise,), FLUTE).exercises[0][1]
    found = span_of((page,))
    assert found is not None
    assert (str(found.low), str(found.high)) == ("B4", "F#5")
    (measured, *_) = measured_pages([page])
    assert (str(measured.lowest), str(measured.highest)) == ("B4", "F#5")


# -- one part --------------------------------------------------------------------------------------------


def test_a_part_alone_brings_the_tempos_of_the_first() -> None:
    found = score(duet("w D5 | tempo( q = 90 ) w D5", drone="D4", music_second="w D4 | w E4"))
    alone = part_alone(found, 2)
    assert [bool(bar.tempo) for bar in alone.line.bars] == [False, True]
    assert [line.label for line in alone.lines] == ["", "drone"]
    assert alone.second is None
    assert part_alone(found, 1).line == found.line


def test_a_part_alone_says_where_the_tempo_changes() -> None:
    music = "w D5 | q D5 ritardando( quarter = 40 E5 F#5 G5 | q A5 ) h. B5 | w D5"
    found = score(duet(music, music_second="w D4 | h D4 E4 | w F#4 | w D4"))
    line = part_alone(found, 2).line
    changed = [[(bool(tempo_change(each)), bool(each.closes)) for each in bar.events] for bar in line.bars]
    plain = (False, False)
    assert changed == [[plain], [(True, False), plain], [(False, True)], [plain]]
    assert "tempoChange" in notation(part_alone(found, 2))
    # In the duet they stand above the first part alone.
    assert notation(found).count("tempoChange") == 1
