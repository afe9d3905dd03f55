"""A score as it is heard: what the page's scripts are told to sound, and which note head sounds when."""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from made_scores import made_score

from stavewright.engrave.drawings.svg import Drawing, Note
from stavewright.engrave.notation import notation
from stavewright.engrave.piece import Engraved, Piece
from stavewright.engrave.processes.scheduler import engrave_list
from stavewright.language.read import read
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import Setting
from stavewright.music.settings.transpositions import settings_of as travelled
from stavewright.music.sounding.timing import FASTEST, SLOWEST, clock
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS
from stavewright.variations import apply
from stavewright.views.playback import (
    ACCENTED,
    JOINED,
    SILENCE,
    STEP,
    PlayThrough,
    Tone,
    ground_json,
    heads,
    key_ground_json,
    play_through,
    play_through_json,
)

W, H, Q, E = (Fraction(1, 2**power) for power in range(4))


def setting(music: str, more: str = "", home: str = "D5 in D major", instrument: str = "flute") -> Setting:
    text = f"title: Test\nhome: {home}\n{more}music:\n  {music}\n"
    exercise = read("test.warmup", text.encode()).exercise
    assert exercise is not None, text
    return travelled(exercise, INSTRUMENTS[instrument])[0]


def heard(music: str, more: str = "") -> PlayThrough:
    return play_through(setting(music, more).score(), FLUTE)


def row(tone: Tone) -> tuple[Fraction, Fraction, int, Fraction]:
    return tone.start, tone.length, tone.head, tone.sounds


def test_notes_and_rests() -> None:
    piece = heard("q D5 rest h F#5 | w A5")
    assert [(tone.start, tone.length, tone.midi, tone.head) for tone in piece.tones] == [
        (0, Q, 74, 0),  # D5 is MIDI 74: MIDI 1.0
        (H, H, 78, 1),
        (W, W, 81, 2),
    ]
    assert piece.end == 2


def test_tied_notes_are_begun_once_and_each_head_is_marked() -> None:
    piece = heard("w D5 tie | h D5 tie q D5 E5")
    assert [row(tone) for tone in piece.tones] == [
        (0, W, 0, W + H + Q),
        (W, H, 1, 0),
        (W + H, Q, 2, 0),
        (W + H + Q, Q, 3, Q),
    ]


def test_repeats_and_endings_sound_the_same_heads_again() -> None:
    piece = heard("|: w D5 | first-time( w E5 :| ) second-time( w F#5 | ) w G5")
    assert [tone.head for tone in piece.tones] == [0, 1, 0, 2, 3]
    assert [tone.midi for tone in piece.tones] == [74, 76, 74, 78, 79]
    assert [bar.start for bar in piece.bars] == [0, 1, 2, 3, 4]


def test_a_tie_at_the_end_of_a_repeat_leads_on_only_the_second_time() -> None:
    piece = heard("|: h D5 E5 tie :| w E5")
    assert [row(tone) for tone in piece.tones] == [
        (0, H, 0, H),
        (H, H, 1, H),
        (W, H, 0, H),
        (W + H, H, 1, H + W),
        (2 * W, W, 2, 0),
    ]


def test_slurs_join_and_the_tongue_parts() -> None:
    piece = heard("slur( q D5 E5 F#5 ) G5 | slur( tenuto( h D5 E5 ) )")
    assert [bool(tone.touch & JOINED) for tone in piece.tones] == [True, True, False, False, False, False]


def test_marks_shorten() -> None:
    piece = heard("q D5 staccato E5 portato F#5 tenuto G5 | h D5 , E5 | w D5 ,")
    # The breath takes a quarter of its note, and never more than a sixteenth.
    expected = [E, Q * 3 / 4, Q, Q, H - E / 2, H, W - E / 2]
    assert [tone.sounds for tone in piece.tones] == expected


def test_accents_are_told() -> None:
    piece = heard("h D5 accent E5 | w D5 marcato tie | w D5")
    assert [bool(tone.touch & ACCENTED) for tone in piece.tones] == [True, False, True, False]


def test_grace_notes_come_before_the_beat_and_take_their_time_from_the_note_before() -> None:
    piece = heard("h D5 grace( E5 F#5 ) h G5")
    t = Fraction(1, 32)
    assert [(*row(tone), tone.midi) for tone in piece.tones] == [
        (0, H, 0, H - 2 * t, 74),
        (H - 2 * t, t, 1, t, 76),
        (H - t, t, 2, t, 78),
        (H, H, 3, H, 79),
    ]


def test_a_pickup_stands_at_the_end_of_its_bar() -> None:
    piece = heard("q D5 | h. E5 | h F#5", "meter: 3/4\npickup: quarter\n")
    bars = [(bar.start, bar.length, bar.offset, bar.unit) for bar in piece.bars]
    assert bars == [(0, Q, H, Q), (Q, 3 * Q, 0, Q), (W, H, 0, Q)]


def test_a_second_pickup_stands_at_the_end_of_its_bar() -> None:
    score = setting("q D4 | h. E4 | h. F#4", "meter: 3/4\npickup: quarter\n").score()
    piece = play_through(apply(score, ("upper octave first",)), FLUTE)
    assert [bar.offset for bar in piece.bars] == [H, 0, 0, H, 0, 0]


def test_the_pulse_follows_the_meter_where_the_tempo_does_not_fill_a_bar() -> None:
    piece = heard(
        "h. D5 | meter( 6/8 ) q. E5 F#5 | meter( 4/4 ) w D5", "meter: 3/4\ntempo: half = 40 to 50\n"
    )
    assert [bar.unit for bar in piece.bars] == [Q, E, H]


def test_dynamics() -> None:
    piece = heard("h D5 p louder( E5 ) | w F#5 f | softer( h D5 E5 ) | w D5")
    assert [(level.at, level.decibels, level.gradual) for level in piece.levels] == [
        (0, -2 * STEP, False),
        (H, -2 * STEP, False),
        (W, STEP, True),  # the hairpin leads to the f printed at its end
        (2 * W, STEP, False),
        (3 * W, STEP - 2 * STEP, True),  # and without a level, two steps
    ]


def test_a_hairpin_that_ends_on_a_level_of_the_other_way_is_followed_by_a_step() -> None:
    piece = heard("louder( w D5 mf ) | w D5 p")
    assert [(level.at, level.decibels, level.gradual) for level in piece.levels] == [
        (0, 0, False),
        (W, 2 * STEP, True),
        (W, -2 * STEP, False),
    ]


def test_without_dynamics_the_level_stays() -> None:
    assert heard("w D5 | w E5").levels == ()


def test_vibrato_has_its_spans() -> None:
    assert heard("w D5 | late-vibrato( w D5 ) | vibrato( h D5 E5 )").vibrato == (
        (W + H, 2 * W),
        (2 * W, 3 * W),
    )


@pytest.mark.parametrize("slug", list(INSTRUMENTS))
def test_the_sound_is_the_instruments_own(slug: str) -> None:
    made = setting("h D5 E5", home="D5 in D major", instrument=slug)
    written = [event.pitch for event in made.score().line.notes()]
    tones = play_through(made.score(), made.instrument).tones
    assert [tone.midi for tone in tones] == [made.instrument.sounding(p).midi for p in written if p]


def test_a_clarinet_in_b_flat_sounds_a_tone_lower() -> None:
    # Rimsky-Korsakov, Principles of Orchestration (1913), among others; from memory.
    made = setting("w C5", home="C5 in C major", instrument="clarinet-b-flat")
    assert play_through(made.score(), made.instrument).tones[0].midi == made.bars[0].events[0].pitch.midi - 2
    ground = json.loads(ground_json(made))
    assert (ground["tonic"], ground["sounds"]) == (0, -2)


def test_the_ground_of_an_exercise() -> None:
    made = setting("h. D5", "meter: 3/4\ntempo: quarter = 60 to 72\ndrone: D4\n")
    ground = json.loads(ground_json(made))
    assert ground["drone"] == 62 and ground["droneName"] == "D4"
    assert ground["tonic"] == 2 and ground["tonicName"] == "D"
    assert (ground["beat"], ground["low"], ground["high"]) == ("quarter", 60, 72)
    assert (ground["units"], ground["slower"]) == (3, 1)


def test_a_piece_tells_its_written_drone() -> None:
    made = setting("h. D5", "meter: 3/4\ndrone: D4\nvariations: figured, singing alto\n")
    clarinet = setting("h. D5", "meter: 3/4\ndrone: D4\n", instrument="clarinet-b-flat")
    for played in (made, clarinet):
        assert played.drone is not None
        for wishes in ((), ("figured",), ("singing alto",)):
            rows = json.loads(
                play_through_json(play_through(apply(played.score(), wishes), played.instrument))
            )
            assert rows["drone"] == [played.drone.midi, played.drone.spoken]
    assert json.loads(play_through_json(heard("w D5")))["drone"] is None


def test_the_ground_of_a_key() -> None:
    ground = json.loads(key_ground_json(setting("w D5", home="D5 in D minor")))
    assert ground == {"a4": 440, "sounds": 0, "tonic": 2, "tonicName": "D"}


def test_just_intonation_goes_by_the_spelling() -> None:
    # Cents of 5/4, 6/5, 75/64 and 3/2 from temperament, after Ellis's tables (1885), from memory: the just
    # major third has 386.31 cents, the minor third 315.64, the augmented second 274.58, the fifth 701.96.
    piece = heard("q F#5 F5 E#5 A5")
    assert [tone.cents for tone in piece.tones] == pytest.approx([-13.69, 15.64, -25.42, 1.96], abs=0.01)
    assert heard("q D4 D5 D6 rest").tones[0].cents == 0


def test_the_ground_counts_the_meters_beats_where_the_tempo_does_not_fill_a_bar() -> None:
    made = setting("h. D5", "meter: 3/4\ntempo: half = 40 to 50\n")
    ground = json.loads(ground_json(made))
    assert (ground["units"], ground["slower"]) == (3, 0.5)


def seconds(rows: dict[str, list[list[float]]], tick: float, pace: float) -> float:
    """The time of a tick, reckoned from the JSON alone."""
    at, total = 0.0, 0.0
    starts = [speed[0] for speed in rows["speeds"]] + [float("inf")]
    for (start, number, factor), end in zip(rows["speeds"], starts[1:], strict=True):
        beat, low, high = rows["tempos"][int(number)]
        total += (min(tick, end) - start) * 60 / ((low + (high - low) * pace) * beat) * factor
        at = end
        if at >= tick:
            break
    return total


@examples(75)
@given(st.integers(0, 10**9))
def test_made_scores(seed: int) -> None:
    score = made_score(Random(seed))
    piece = play_through(score, FLUTE)
    rows = json.loads(play_through_json(piece))
    whole = rows["whole"]

    # Exact in ticks.
    assert [Fraction(start, whole) for start, *_ in rows["tones"]] == [tone.start for tone in piece.tones]
    assert [Fraction(long[4], whole) for long in rows["tones"]] == [tone.sounds for tone in piece.tones]
    # The same time as the page's own.
    for pace in (SLOWEST, FASTEST):
        assert seconds(rows, rows["end"], float(pace)) == pytest.approx(float(clock(score, pace).length))
    # No tone lasts into the next one, and no mark is missing.
    begun = [tone for tone in piece.tones if tone.sounds]
    assert all(before.start + before.sounds <= after.start for before, after in pairwise(begun))
    count = sum(len(event.pitches) for event in score.line.events())
    assert {tone.head for tone in piece.tones} == set(range(count))
    # Bars follow each other to the end.
    assert all(before.start + before.length == after.start for before, after in pairwise(piece.bars))
    assert piece.bars[-1].start + piece.bars[-1].length == piece.end
    # Slopes are begun before they are ended, and levels stay within what is printed, or fade to nothing.
    assert not (piece.levels and piece.levels[0].gradual)
    assert all(not (before.gradual and after.gradual) for before, after in pairwise(piece.levels))
    assert all(level.decibels == SILENCE or abs(level.decibels) <= 4 * STEP for level in piece.levels)


@pytest.mark.slow
def test_the_heads_numbers_are_the_drawings_own() -> None:
    scores: dict[str, Score] = {
        "plain": setting("q D5 rest h F#5 | w A5 tie | w A5").score(),
        "grace notes": setting("h D5 grace( E5 F#5 ) h G5 | w A5").score(),
        "a repeat": setting("|: w D5 | first-time( w E5 :| ) second-time( w F#5 )").score(),
        "a drone below": setting("h D5 E5", "drone: D4\n").score(),
    }
    results = engrave_list([Piece(name, notation(score)) for name, score in scores.items()])
    for score, ink in zip(scores.values(), results, strict=True):
        assert isinstance(ink, Engraved), ink
        places = ink.drawing.notes
        tones = play_through(score, FLUTE).tones
        assert {tone.head for tone in tones} == set(range(len(places)))
        # Higher notes stand higher: heads and tones speak of the same notes.
        for one, other in pairwise(sorted(tones, key=lambda tone: tone.head)):
            if places[one.head].system == places[other.head].system and one.midi != other.midi:
                assert (places[one.head].y > places[other.head].y) == (one.midi < other.midi)
        assert heads(ink.drawing) == ""


def test_heads_that_a_drawing_does_not_number_are_listed() -> None:
    notes = (Note(10.25, 20, 0, Fraction(0)), Note(30, 17.5, 0, Fraction(1)))
    assert heads(Drawing(50, 40, '<use data-n="0"/>', {}, notes)) == "10.25,20 30,17.5"


def test_the_second_part_of_a_duet_sounds_with_the_first() -> None:
    piece = heard("q D5 E5 h F#5 | w D5 p", "second: canon at the octave below after 1 bar\n")
    assert piece.second is not None
    assert [(tone.start, tone.midi) for tone in piece.second.tones] == [
        (tone.start + 1, tone.midi - 12) for tone in piece.tones
    ]
    assert [level.at for level in piece.second.levels] == [level.at + 1 for level in piece.levels]
    rows = json.loads(play_through_json(piece))
    assert [row[2] for row in rows["second"]["tones"]] == [62, 64, 66, 62]
    assert "second" not in json.loads(play_through_json(heard("w D5")))


def test_the_page_waits_for_the_second_part_s_fermata() -> None:
    piece = heard("w D5 | w D5", "music second: w D4 | h D4 q E4 fermata D4\n")
    assert [(speed.start, speed.factor) for speed in piece.speeds] == [
        (0, 1),
        (Fraction(3, 2), Fraction(3, 2)),
        (Fraction(7, 4), 1),
    ]
