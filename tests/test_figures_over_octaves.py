"""Scales, chords and patterns over octaves: their notes, rhythm, slurs, words and faults.

Intervals are compared with music21's arithmetic (`Interval.transposePitch`), scales with music21's scale
classes and, where it has none, with its intervals.
"""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch
from music21 import scale as m21_scale
from test_language_write import exercise as read_exercise
from test_spelling import by_music21

from stavewright.language.notes.figure_words import FIGURE_WORDS
from stavewright.language.read import Reading, read
from stavewright.language.write import write
from stavewright.music.event import SLUR, Event
from stavewright.music.exercise import Exercise
from stavewright.music.figures.calls import COMMON
from stavewright.music.figures.climbs import EXTENTS
from stavewright.music.figures.ladders import CHORDS, SCALE_WORDS
from stavewright.music.pitch import Pitch
from stavewright.music.settings.transpositions import Setting, first_setting, settings_of
from stavewright.music.spell import plain
from stavewright.music.winds.instruments import INSTRUMENTS
from stavewright.views.language_page import example_text

FLUTE = INSTRUMENTS["flute"]


def reading(music: str, home: str = "D4 in D major", **fields: str) -> Reading:
    rows = {"title": "T", "home": home, **fields, "music": music}
    return read("t.warmup", "".join(f"{name}: {said}\n" for name, said in rows.items()).encode())


def exercise(music: str, home: str = "D4 in D major", **fields: str) -> Exercise:
    found = reading(music, home, **fields)
    assert found.exercise is not None, "\n".join(map(str, found.faults))
    return found.exercise


def faults(music: str, home: str = "D4 in D major", **fields: str) -> list[str]:
    return [str(fault) for fault in reading(music, home, **fields).faults]


def twelve(music: str, home: str = "D4 in D major", player: str = "flute", **fields: str) -> list[Setting]:
    found = settings_of(exercise(music, home, **fields), INSTRUMENTS[player])
    assert len(found) == 12
    return list(found)


def notes(setting: Setting) -> list[Event]:
    """The events of a setting without those that a tie continues."""
    events = [event for bar in setting.bars for event in bar.events]
    return [
        event for before, event in zip([None, *events], events, strict=False) if not (before and before.tie)
    ]


def line(setting: Setting) -> list[Pitch]:
    return [event.pitch for event in notes(setting) if event.pitch]


def names(setting: Setting) -> str:
    return " ".join(map(str, line(setting)))


# -- chords and scales against music21 --------------------------------------------------------------------

CHORD_INTERVALS = {
    # Each third of the chord above the one before, as its name says (any theory primer).
    "augmented": ("M3", "M3"),
    "diminished": ("m3", "m3"),
    "dominant-seventh": ("M3", "m3", "m3"),
    "major-seventh": ("M3", "m3", "M3"),
    "minor-seventh": ("m3", "M3", "m3"),
    "half-diminished": ("m3", "m3", "M3"),
    "diminished-seventh": ("m3", "m3", "m3"),
}


def as_ours(pitch: m21_pitch.Pitch) -> Pitch:
    return Pitch.parse(pitch.nameWithOctave.replace("-", "b"))


@pytest.mark.parametrize("chord", CHORDS)
@pytest.mark.parametrize("doubles", ["keep", ""])
def test_chords_are_stacks_of_thirds_in_every_key(chord: str, doubles: str) -> None:
    """Letter by letter; without `doubles: keep`, a double accidental has its plain name."""
    fields = {"doubles": doubles} if doubles else {}
    for setting in twelve(f"broken-chord( e {chord} up )", **fields):
        root = by_music21(setting.start)
        pitches = [root]
        for third in CHORD_INTERVALS[chord]:
            pitches.append(m21_interval.Interval(third).transposePitch(pitches[-1]))
        pitches.append(root.transpose("P8"))
        expected = [as_ours(pitch) for pitch in pitches]
        assert line(setting) == [plain(pitch, 2 if doubles else 1) for pitch in expected], setting.name


MODES = {
    "major": m21_scale.MajorScale,
    "dorian": m21_scale.DorianScale,
    "phrygian": m21_scale.PhrygianScale,
    "lydian": m21_scale.LydianScale,
    "mixolydian": m21_scale.MixolydianScale,
    "minor": m21_scale.MinorScale,
    "locrian": m21_scale.LocrianScale,
    "harmonic-minor": m21_scale.HarmonicMinorScale,
}


@pytest.mark.parametrize("name", MODES)
@pytest.mark.parametrize("octaves", ["one octave", "two octaves"])
def test_scales_of_seven_steps_have_music21_s_letters(name: str, octaves: str) -> None:
    for setting in twelve(f"scale( e {name} {octaves} up )", doubles="keep", travel="twelve keys"):
        low, *_, high = found = [by_music21(pitch) for pitch in line(setting)]
        expected = MODES[name](low.name).getPitches(low, high)
        assert [pitch.nameWithOctave for pitch in found] == [pitch.nameWithOctave for pitch in expected]


def test_melodic_minor_rises_raised_and_falls_natural() -> None:
    for setting in twelve("scale( e melodic-minor two octaves )", "A4 in A minor"):
        found = [by_music21(pitch) for pitch in line(setting)]
        low, high = found[0], found[14]
        scale = m21_scale.MelodicMinorScale(low.name)
        rising = scale.getPitches(low, high, direction=m21_scale.Direction.ASCENDING)
        falling = m21_scale.MinorScale(low.name).getPitches(low, high)
        assert [pitch.nameWithOctave for pitch in found[:15]] == [pitch.nameWithOctave for pitch in rising]
        assert [pitch.nameWithOctave for pitch in reversed(found[14:])] == [
            pitch.nameWithOctave for pitch in falling
        ]


PENTATONIC = {
    "major-pentatonic": ("P1", "M2", "M3", "P5", "M6", "P8"),
    "minor-pentatonic": ("P1", "m3", "P4", "P5", "m7", "P8"),
}


@pytest.mark.parametrize("name", PENTATONIC)
def test_pentatonic_scales_are_spelled_by_their_intervals(name: str) -> None:
    for setting in twelve(f"scale( q {name} up )"):
        low = by_music21(setting.start)
        expected = [m21_interval.Interval(each).transposePitch(low) for each in PENTATONIC[name]]
        assert line(setting) == [as_ours(pitch) for pitch in expected]


SYMMETRIC = {
    "whole-tone": m21_scale.WholeToneScale,
    "octatonic": lambda tonic: m21_scale.OctatonicScale(tonic, "M2"),
    "octatonic-semitone-first": lambda tonic: m21_scale.OctatonicScale(tonic, "m2"),
}


@pytest.mark.parametrize("name", SYMMETRIC)
def test_scales_without_a_mode_sound_like_music21_s_and_are_easy_to_read(name: str) -> None:
    """No double accidental, and none against the direction beyond what the key has."""
    for setting in twelve(f"scale( e {name} )"):
        found = line(setting)
        top = max(range(len(found)), key=lambda place: found[place].midi)
        low = by_music21(found[0])
        sounds = {pitch.ps for pitch in SYMMETRIC[name](low.name).getPitches(low, low.transpose("P8"))}
        assert {pitch.midi for pitch in found[: top + 1]} == sounds == {pitch.midi for pitch in found[top:]}
        assert all(abs(pitch.alter) < 2 for pitch in found)
        for place, pitch in enumerate(found):
            change = pitch.alter - setting.key.alteration(pitch.letter)
            assert pitch.name not in ("E#", "B#", "Cb", "Fb") or change == 0
            if change and pitch.alter:
                assert (change > 0) == (place <= top), f"{setting.name}: {pitch}"


# -- more octaves, and how the rhythm closes ---------------------------------------------------------------


def test_a_scale_over_two_octaves_turns_at_the_top_and_ends_with_its_bar() -> None:
    (bars,) = (form.bars for form in exercise("scale( e two octaves )").forms)
    assert [bar.length for bar in bars] == [Fraction(1)] * 4
    events = [event for bar in bars for event in bar.events]
    assert [str(event.pitch) for event in events][12:17] == ["B5", "C#6", "D6", "C#6", "B5"]
    assert (str(events[-1].pitch), events[-1].value.length) == ("D4", Fraction(1, 2))
    assert [place for place, event in enumerate(events) if "breath" in event.marks] == [14, 28]
    assert [place for place, event in enumerate(events) if SLUR in event.opens] == [0, 15]


@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "5/8", "7/8 = 2+2+3", "2/2", "12/8"])
@pytest.mark.parametrize(
    "music", ["scale( e two octaves )", "scale( q. dorian )", "pattern( s 1 2 3 1 )", "opened-octave( q )"]
)
def test_any_figure_fills_the_bars_of_any_meter(music: str, meter: str) -> None:
    """A note that goes over a bar line is tied to itself, and nothing else is."""
    (form,) = exercise(music, meter=meter).forms
    assert len({bar.length for bar in form.bars}) == 1
    events = [event for bar in form.bars for event in bar.events]
    for event, following in itertools.pairwise(events):
        assert not event.tie or event.pitch == following.pitch
    assert not events[-1].tie
    (made,) = form.made
    assert (made.first, made.count) == (0, len(events))


def test_tied_notes_are_spelled_as_one_in_every_key() -> None:
    for setting in twelve("scale( q. two octaves )", meter="3/4"):
        events = [event for bar in setting.bars for event in bar.events]
        for event, following in itertools.pairwise(events):
            assert not event.tie or event.pitch == following.pitch
        assert len(line(setting)) == 29


def test_a_figure_in_a_pick_up_or_before_a_rest_is_not_filled() -> None:
    (form,) = exercise("broken-chord( e up ) | w D4 | h D4", pickup="half").forms
    assert [bar.length for bar in form.bars] == [Fraction(1, 2), Fraction(1), Fraction(1, 2)]
    (form,) = exercise("scale( e ) q rest", meter="3/4").forms
    assert [event.length for event in form.bars[-1].events][-2:] == [Fraction(1, 4), Fraction(1, 4)]


def test_a_figure_over_the_whole_range_fills_its_bars_after_a_pick_up() -> None:
    music = "h D4 | scale( e minor-pentatonic whole range ) | w D4"
    (form,) = exercise(music, pickup="half").forms
    assert [bar.length for bar in form.bars] == [Fraction(1, 2), *[Fraction(1)] * 3]
    for setting in twelve(music, pickup="half"):
        assert {bar.length for bar in setting.bars[1:]} == {Fraction(1)}


def test_groups_around_a_figure_hold_all_of_it() -> None:
    (form,) = exercise("optional( tenuto( grace( C#4 ) scale( e up ) ) ) | w D4").forms
    events = [event for bar in form.bars for event in bar.events]
    assert [span.kind for span in events[0].opens] == ["optional", "slur"]
    assert [span.kind for span in events[7].closes] == ["slur", "optional"]
    assert events[0].graces and not events[8].graces and not events[8].opens
    assert all("tenuto" in event.marks for event in events[:8]) and not events[8].marks


# -- thirds to octaves, and patterns ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "steps"),
    [("thirds", 2), ("fourths", 3), ("fifths", 4), ("sixths", 5), ("sevenths", 6), ("octaves", 7)],
)
def test_broken_intervals_go_by_the_steps_of_the_key(name: str, steps: int) -> None:
    for setting in twelve(f"broken-{name}( e up-and-down two octaves )"):
        found, key = line(setting), setting.key
        pairs = list(zip(found[:-1:2], found[1:-1:2], strict=True))
        assert len(pairs) == 28
        for number, (first, second) in enumerate(pairs):
            assert second.step - first.step == (steps if number < 14 else -steps)
        firsts = [first.step for first, _ in pairs]
        assert firsts == [*range(firsts[0], firsts[0] + 14), *range(firsts[0] + 14, firsts[0], -1)]
        assert all(pitch.alter == key.alteration(pitch.letter) for pitch in found)
        assert found[-1] == found[0]


def test_a_pattern_is_carried_up_and_comes_down_upside_down() -> None:
    found = twelve("pattern( s 1 2 3 1 )")[0]
    assert names(found).split()[:8] == ["D4", "E4", "F#4", "D4", "E4", "F#4", "G4", "E4"]
    assert names(found).split()[28:36] == ["D5", "C#5", "B4", "D5", "C#5", "B4", "A4", "C#5"]
    assert names(found).split()[-5:] == ["E4", "D4", "C#4", "E4", "D4"]
    assert names(twelve("pattern( e 3 1 up major-pentatonic )")[0]).endswith("D5 A4 E5 B4 D5")


def test_a_cell_that_arrives_on_the_last_note_does_not_begin_it_again() -> None:
    assert names(twelve("pattern( e 1 2 down )")[0]).split()[-4:] == ["F#4", "E4", "E4", "D4"]


# -- other keys, slurs and breaths ------------------------------------------------------------------------


def test_the_relative_and_the_parallel_minor() -> None:
    for setting in twelve("scale( e up ) | scale( e up in the relative minor )", doubles="keep"):
        major, minor = line(setting)[:8], line(setting)[8:]
        assert m21_interval.Interval(by_music21(minor[0]), by_music21(major[0])).name == "m3"
        assert all(pitch.alter == setting.key.alteration(pitch.letter) for pitch in minor)
    for setting in twelve("broken-chord( e ) | broken-chord( e in the parallel minor )"):
        assert line(setting)[0] == line(setting)[8 - 1]
    for setting in twelve("scale( e up in the relative major )", "A4 in A minor"):
        low = by_music21(line(setting)[0])
        expected = m21_scale.MajorScale(low.name).getPitches(low, low.transpose("P8"))
        assert [by_music21(pitch) for pitch in line(setting)] == expected


def test_a_figure_in_another_key_keeps_its_letters() -> None:
    """F double sharp in G sharp minor up and down, B double flat in D flat minor."""
    music = "scale( e in the relative minor harmonic-minor ) | scale( e in the parallel minor whole range )"
    of = {setting.key.tonic: names(setting).split() for setting in twelve(music)}
    assert [name[:-1] for name in of["B"][:15] if name[0] == "F"] == ["F##", "F##"]
    assert not any(name[:-1] == "A" for name in of["D flat"][15:])
    for setting in twelve(music):
        low = by_music21(line(setting)[0])
        rising = m21_scale.HarmonicMinorScale(low.name).getPitches(low, low.transpose("P8"))
        assert [by_music21(pitch) for pitch in line(setting)[:8]] == rising


def signs(music: str, **fields: str) -> str:
    """Each note of an exercise as `.`, with its slurs and breaths."""
    events = [event for bar in exercise(music, **fields).forms[0].bars for event in bar.events]
    return "".join(
        "(" * event.opens.count(SLUR) + "." + ")" * event.closes.count(SLUR) + "," * ("breath" in event.marks)
        for event in events
    )


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        ("scale( e up slurred in 2 )", "(..)(..)(..)(..),"),
        ("scale( e up slurred in 3 and 1 )", "(...).(...).,"),
        ("scale( e up no slurs )", "........,"),
        ("scale( e up no breaths )", "(........)"),
        ("scale( e up no slurs no breaths )", "........"),
        ("scale( q two octaves up breath every 2 bars )", "(........),(.......),"),
        ("scale( q up breath every bar )", "(....),(....),"),
        ("scale( q up slurred in 3 )", "(...).(...).,"),
        ("broken-thirds( e up breath every bar no slurs )", "........,.......,"),
    ],
)
def test_slurs_and_breaths_of_the_author_s_own(music: str, expected: str) -> None:
    assert signs(music) == expected


def test_slurs_of_the_author_s_own_over_the_whole_range() -> None:
    for setting in twelve("scale( e whole range slurred in 2 breath every 2 bars )"):
        for number, bar in enumerate(setting.bars[:-1], start=1):
            assert ("breath" in bar.events[-1].marks) == (number % 2 == 0)
            assert [SLUR in event.opens for event in bar.events] == [True, False] * 4


# -- faults -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("music", "said"),
    [
        ("scale( e two )", "3:17: `scale( )`: 'two' says nothing to it"),
        ("scale( e two )", "did you mean 'two octaves'?"),
        ("scale( e whole )", "3:8: `scale( )` takes a note value and words"),
        ("scale( e domninant )", "3:17: `scale( )`: 'domninant'"),
        ("broken-chord( e dominant-sevnth )", "did you mean 'dominant-seventh'?"),
        ("scale( e two octaves whole range )", "'two octaves' and 'whole range' cannot both be"),
        ("neighbours( q two octaves )", "'two octaves' says nothing to it"),
        ("h D4 scale( e whole range )", "3:13: `scale( )` over the whole range has bars of its own"),
        ("triplet( scale( e ) )", "`scale( )` cannot stand in a tuplet"),
        ("late-vibrato( scale( e whole range ) )", "`late-vibrato( )` changes in the middle of its notes"),
        ("scale( e no slurs slurred in 2 )", "'no slurs' and 'slurred in 2' cannot both be"),
        ("scale( e in the relative major )", "a minor key has a relative major, and this is in D major"),
        ("scale( e slured in 2 )", "did you mean 'slurred in 2'?"),
        ("pattern( e 1 )", "a pattern has 2 to 16 degrees, not 1"),
        ("pattern( e 1 99 )", "99 is no degree from 1 to 15"),
        ("pattern( e 1 1 )", "the degrees of a pattern differ"),
        ("scale( e 3 )", "'3' says nothing to it"),
        ("whole range", "unknown word 'whole range'; write it in a figure, as in `scale( e whole range )`"),
        ("q D4 3 E4", "'3' is not a pitch, value or word"),
        ("broken-forths( e )", "did you mean 'broken-fourths'?"),
    ],
)
def test_faults_say_what_and_how_to_mend_it(music: str, said: str) -> None:
    found = faults(music)
    assert len(found) == 1 and said in found[0], found


def test_the_whole_range_does_not_go_from_pitch_to_pitch() -> None:
    (found,) = faults("scale( e whole range )", travel="semitones up through the range")
    assert found.startswith("t.warmup:3:8: 'travel' goes from pitch to pitch")
    assert "write it through keys" in found


# -- words, round trips -----------------------------------------------------------------------------------


def test_the_table_of_words_has_what_the_figures_take() -> None:
    """Each word has an entry of its own or is named in one."""
    said = " ".join(f"{word.name} {word.means}" for word in FIGURE_WORDS.values())
    for word in (*EXTENTS, *SCALE_WORDS, *CHORDS, *COMMON):
        modes = ("as-key", "ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian")
        assert word in modes or word in said, word


@pytest.mark.parametrize("word", FIGURE_WORDS.values(), ids=lambda word: word.name)
def test_every_word_of_figures_has_an_example_that_reads(word: object) -> None:
    name, example, means = word.name, word.example, word.means  # type: ignore[attr-defined]
    assert name.split()[0] in example or name in means
    assert read_exercise(example_text(example)).forms[0].bars
    assert means.endswith(".")


@st.composite
def calls(draw: st.DrawFn) -> str:
    """A figure with any words that go together."""
    name = draw(
        st.sampled_from(("scale", "broken-chord", "broken-sixths", "pattern", "chromatic-run", "neighbours"))
    )
    words = [draw(st.sampled_from(("s", "e", "q", "e.", "q.", "h")))]
    if name == "pattern":
        words += map(str, draw(st.lists(st.integers(1, 9), min_size=2, max_size=5, unique=True)))
    if name != "neighbours":
        words.append(draw(st.sampled_from(("", *EXTENTS))))
        words.append(draw(st.sampled_from(("", "up", "down", "up-and-down"))))
    if name == "broken-chord":
        words.append(draw(st.sampled_from(("", "minor", *CHORDS))))
    elif name in ("scale", "broken-sixths", "pattern"):
        words.append(draw(st.sampled_from(("", *SCALE_WORDS))))
    words.append(
        draw(st.sampled_from(("", "in the relative minor", "in the parallel minor", "in the parallel major")))
    )
    words.append(draw(st.sampled_from(("", "no slurs", "slurred in 2", "slurred in 3 and 1"))))
    words.append(draw(st.sampled_from(("", "no breaths", "breath every bar", "breath every 3 bars"))))
    around = draw(st.sampled_from(("", "", "optional(", "louder(", "tenuto(", "vibrato(")))
    after = draw(st.sampled_from(("", ",", "fermata", "p", 'above "still"')))
    figure = f"{name}( {' '.join(word for word in draw(st.permutations(words)) if word)} )"
    if name == "pattern":
        figure = f"{name}( {' '.join(word for word in words if word)} )"
    return f"{around} {figure} {')' if around else ''} {after}"


@examples(30)
@given(st.lists(calls(), min_size=1, max_size=2), st.sampled_from(("4/4", "3/4", "6/8")))
def test_any_figures_come_back(music: list[str], meter: str) -> None:
    """Read, written and read again they are the same."""
    text = f"meter: {meter}\n" + example_text(" | ".join(music))
    first = read_exercise(text)
    again = write(first_with_figures(text))
    assert read_exercise(again) == first
    assert write(first_with_figures(again)) == again
    if "whole range" in text:
        one, other = (first_setting(first_with_figures(each), FLUTE) for each in (text, again))
        assert [bar.length for bar in one.bars] == [bar.length for bar in other.bars]


def first_with_figures(text: str) -> Exercise:
    found = read("example.warmup", text.encode()).exercise
    assert found is not None
    return found
