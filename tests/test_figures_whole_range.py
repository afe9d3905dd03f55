"""Figures over an instrument's whole range, in every key, and in files for other programs.

Scales are compared with music21's scale classes; instruments' ranges are those of
`music/winds/instruments.py`.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from music21 import scale as m21_scale
from test_export_midi import opened
from test_export_musicxml import compare
from test_figures_over_octaves import FLUTE, exercise, line, twelve
from test_spelling import by_music21

from stavewright.export.midi import midi
from stavewright.music.event import SLUR, Value
from stavewright.music.figures import FIGURES
from stavewright.music.keys import Key
from stavewright.music.pitch import Interval, Pitch
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.spell import chromatic, plain
from stavewright.music.winds.instruments import INSTRUMENTS

PLAYERS = [
    "flute",
    "bassoon",
    *(
        pytest.param(player, marks=pytest.mark.exhaustive)
        for player in ("clarinet-b-flat", "trumpet", "horn", "tuba", "alto-saxophone", "oboe")
    ),
]
RANGED = (
    "scale( e whole range )",
    "scale( e harmonic-minor whole range )",
    "scale( s melodic-minor whole range )",
    "broken-chord( e dominant-seventh whole range )",
    "broken-thirds( e up-and-down whole range )",
    "pattern( s 1 2 3 1 whole range )",
    "chromatic-run( s whole range )",
    "scale( q minor-pentatonic whole range in the parallel minor )",
)


@pytest.mark.parametrize("player", PLAYERS)
@pytest.mark.parametrize("music", RANGED)
def test_the_whole_range_is_each_instrument_s_own(player: str, music: str) -> None:
    """From the lowest first note that it has to the top, to the bottom, and back, in full bars."""
    compass = INSTRUMENTS[player].compass
    for setting in twelve(music, player=player):
        found = line(setting)
        low, high = min(pitch.midi for pitch in found), max(pitch.midi for pitch in found)
        assert compass.easy_low.midi <= low and high <= compass.easy_high.midi, setting.name
        assert setting.fits and setting.shift == 0 and not setting.remarks
        assert found[0] == found[-1] == setting.start
        # No first note is lower: the octave below it is out of the range.
        assert found[0].midi - 12 < compass.easy_low.midi
        assert low - compass.easy_low.midi < 5 and compass.easy_high.midi - high < 5
        assert {bar.length for bar in setting.bars} == {Fraction(1)}
        top = [place for place, pitch in enumerate(found) if pitch.midi == high][-1]
        bottom = [place for place, pitch in enumerate(found) if pitch.midi == low][-1]
        assert top < bottom


def test_a_scale_over_the_whole_range_goes_by_steps_and_meets_every_note_of_the_key() -> None:
    for setting in twelve("scale( e whole range )"):
        found = line(setting)
        steps = [second.step - first.step for first, second in itertools.pairwise(found)]
        assert set(map(abs, steps)) == {1}
        turns = sum(one != other for one, other in itertools.pairwise(steps))
        assert turns == (1 if min(found, key=lambda pitch: pitch.midi) == found[0] else 2)
        compass = FLUTE.compass
        scale = m21_scale.MajorScale(by_music21(setting.start).name)
        between = scale.getPitches(by_music21(compass.easy_low), by_music21(compass.easy_high))
        assert {pitch.midi for pitch in found} == {int(pitch.ps) for pitch in between}


def test_the_ability_and_the_transposition_decide_the_range() -> None:
    beginner = FLUTE.at_level("beginning")
    (first, *_) = settings_of(exercise("scale( e whole range )"), beginner)
    assert (str(min(line(first), key=lambda p: p.midi)), str(max(line(first), key=lambda p: p.midi))) == (
        "D4",
        "D6",
    )
    clarinet = INSTRUMENTS["clarinet-b-flat"]
    sounding = settings_of(exercise("scale( e whole range )"), replace(clarinet, concert=True))
    assert sounding[0].key.name == "E major" and str(sounding[0].start) == "E3"


def test_what_stands_around_a_figure_over_the_whole_range_stays() -> None:
    music = 'w D4 | optional( louder( tenuto( scale( e whole range ) ) ) ) fermata above "x" , || w D4 p'
    for setting in twelve(music, meter="4/4"):
        events = [event for bar in setting.bars for event in bar.events]
        first, *inner, last = events[1:-1]
        assert [span.kind for span in first.opens] == ["optional", "slur"]
        assert [shade.mark for shade in first.dynamic_marks] == ["<"]
        assert [span.kind for span in last.closes][-1] == "optional"
        assert [shade.mark for shade in last.dynamic_marks] == ["!"] and last.above == "x"
        assert {"fermata", "breath", "tenuto"} == set(last.marks)
        assert all("tenuto" in event.marks for event in inner) and not events[-1].marks
        assert (
            setting.bars[-2].end == "||"
            and events[0].pitch.name == events[-1].pitch.name == setting.start.name
        )


def test_other_notes_alone_choose_the_octave() -> None:
    alone = twelve("w D5 | w C#5")
    with_range = twelve("w D5 | scale( e whole range ) | w C#5")
    for one, other in zip(alone, with_range, strict=True):
        assert (one.name, one.shift, one.remarks) == (other.name, other.shift, other.remarks)
        assert (line(one)[0], line(one)[-1]) == (line(other)[0], line(other)[-1])


def test_two_figures_over_the_whole_range_and_repeats() -> None:
    for setting in twelve("|: scale( e whole range ) :| scale( s whole range up ) | scale( e up )"):
        assert [bar.end for bar in setting.bars if bar.end != "|"] == [":|", "|."]
        assert setting.bars[0].opens_repeat and sum(bar.opens_repeat for bar in setting.bars) == 1
        assert {bar.length for bar in setting.bars} == {Fraction(1)}
        assert next(str(pitch)[:-1] for pitch in line(setting)[-8:]) == setting.start.name


def test_free_time_has_no_bars_to_fill() -> None:
    for setting in twelve("long D4 scale( e whole range ) D4", meter="free"):
        ((first, *figure, last),) = [bar.events for bar in setting.bars]
        assert first.value.held and last.value.held and figure[-1].length == Fraction(1, 4)
        assert figure[0].pitch == figure[-1].pitch and figure[0].pitch.name == setting.start.name


@pytest.mark.parametrize("player", ["flute", "clarinet-b-flat", "trombone"])
def test_the_whole_range_in_musicxml_and_midi(player: str) -> None:
    """music21 reads the same notes back; the MIDI file has each note that is not tied to the one before."""
    instrument = INSTRUMENTS[player]
    music = "scale( e whole range slurred in 2 ) | broken-chord( q. dominant-seventh whole range )"
    for setting in settings_of(exercise(music), instrument)[:3]:
        compare(setting.score(), instrument)
        sounds = [pitch.midi + instrument.sounds for pitch in line(setting)]
        track = opened(midi(setting.score(), "T", instrument)).tracks[1]
        assert [each.note for each in track if each.type == "note_on" and each.velocity] == sounds


RANGE_WORDS = ("scale", "broken-chord", "broken-thirds", "broken-octaves", "pattern", "chromatic-run")


@examples(60)
@given(
    st.sampled_from(RANGE_WORDS),
    st.integers(0, 11),
    st.sampled_from(("up-and-down", "up", "down")),
    st.sampled_from(("", "melodic-minor", "whole-tone", "minor-pentatonic")),
    st.integers(40, 70),
    st.integers(0, 45),
)
def test_any_range_holds_its_figure(
    name: str, semitones: int, way: str, scale: str, low: int, width: int
) -> None:
    """However narrow the range is; a range without room for it has none."""
    home = Pitch.parse("C4").up(Interval(semitones * 7 // 12, semitones))
    words = [way, "whole range", *(["1", "2", "3", "1"] if name == "pattern" else [])]
    if scale and name not in ("chromatic-run", "broken-chord"):
        words.append(scale)
    within = FIGURES[name].within
    assert within is not None
    bottom, top = (plain(chromatic(midi, Key(0, 0), rising=True)) for midi in (low, low + width))
    events = within(home, Key(0, 0), Value(Fraction(1, 8)), tuple(words), bottom, top)
    found = [event.pitch for event in events if event.pitch]
    assert found or width < 24
    if found:
        assert all(low <= pitch.midi <= low + width for pitch in found)
        assert sum(event.opens.count(SLUR) for event in events) == sum(
            event.closes.count(SLUR) for event in events
        )
        assert way != "up-and-down" or found[0].midi == found[-1].midi
