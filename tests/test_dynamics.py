"""The dynamic curve, and that page, MIDI file and daily sets follow it alike.

Its rules are common practice, no source; MIDI files are read back by mido.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from io import BytesIO
from random import Random

import pytest
from conftest import examples
from hypothesis import assume, given
from hypothesis import strategies as st
from made_scores import made_score, varied_score
from mido import MidiFile

from stavewright.daily.measure import moments
from stavewright.export.midi import TICKS, midi
from stavewright.export.velocity import velocity
from stavewright.language.read import read
from stavewright.music.event import HAIRPIN_END, LEVELS, DynamicMark
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import settings_of as all_settings
from stavewright.music.sounding.dynamics import SILENCE, DynamicCurve, dynamic_curve
from stavewright.music.sounding.timing import clock, unfold
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import variations
from stavewright.views.playback import Level, decibels, play_through

seeds = st.integers(0, 10**9)
scores = st.one_of(
    seeds.map(lambda seed: made_score(Random(seed))),
    st.sampled_from(sorted(variations())).map(varied_score),
)
P, MF, F = (LEVELS.index(level) for level in ("p", "mf", "f"))
W = Fraction(1)


def written(music: str) -> Score:
    """The score of a few words of music in D major."""
    text = f"title: Example\nhome: D5 in D major\ntempo: quarter = 60\nmusic:\n  {music}\n"
    reading = read("example.warmup", text.encode())
    assert reading.exercise is not None, reading.faults
    return all_settings(reading.exercise, FLUTE)[0].score()


def curve_of(score: Score) -> DynamicCurve:
    return dynamic_curve(unfold(score.line))


def test_a_level_holds_and_a_hairpin_goes_evenly() -> None:
    curve = curve_of(written("h D5 p louder( E5 ) | w F#5 f"))
    assert [curve.at(W * n / 4) for n in range(5)] == [P, P, P, (P + F) / 2, F]
    assert curve.known_from == 0


def test_nothing_is_known_before_the_first_sign() -> None:
    assert curve_of(written("w D5")).known_from is None
    assert curve_of(written("w D5 | w E5 p")).known_from == W


def test_silence_at_the_ends_of_a_swell() -> None:
    score = written("w D5 mf | w E5")
    first, second = score.line.bars
    signs = [
        DynamicMark(Fraction(0), "o<"),
        DynamicMark(Fraction(1, 2), ">o"),
        DynamicMark(Fraction(1), HAIRPIN_END),
    ]
    note = first.events[0].with_dynamic_marks(*signs)
    curve = curve_of(score.with_bars((replace(first, events=(note,)), second)))
    quarters = [curve.at(W / 4 * n) for n in range(4)]
    assert quarters == [SILENCE, (SILENCE + MF) / 2, MF, (SILENCE + MF) / 2]
    assert (curve.until(W), curve.at(W)) == (SILENCE, MF)


def test_the_level_at_the_end_of_a_note_comes_before_the_next_note_s() -> None:
    """A breath that grows to f, and a next one that begins p: the first one does reach f."""
    score = written("w D5 , | w E5 p")
    first, second = score.line.bars
    signs = [
        DynamicMark(Fraction(0), "p"),
        DynamicMark(Fraction(0), "<"),
        DynamicMark(W, HAIRPIN_END),
        DynamicMark(W, "f"),
    ]
    score = score.with_bars((replace(first, events=(first.events[0].with_dynamic_marks(*signs),)), second))
    curve = curve_of(score)
    assert (curve.at(Fraction(0)), curve.until(W), curve.at(W)) == (P, F, P)
    assert [(level.at, level.decibels) for level in play_through(score, FLUTE).levels] == [
        (0, decibels(P)),
        (W, decibels(F)),
        (W, decibels(P)),
    ]


@given(seeds)
def test_a_curve_stays_on_its_scale_and_moves_forward(seed: int) -> None:
    curve = curve_of(made_score(Random(seed)))
    assert list(curve.times) == sorted(curve.times)
    assert all(SILENCE <= step < len(LEVELS) for step in curve.steps)


def page_step(levels: tuple[Level, ...], time: Fraction) -> float | None:
    """The step that a page sounds at a moment within no silence, from its rows of levels; None in silence."""
    was, now, before = 0.0, 0.0, Fraction(0)
    for level in levels:
        if level.at > time:
            if not level.gradual:
                break
            way = float((time - before) / (level.at - before))
            if -40.0 in (was, level.decibels):
                return None
            now = was + way * (level.decibels - was)
            break
        was = now = level.decibels
        before = level.at
    return None if now == -40.0 else MF + now / 2.5


def midi_steps(score: Score) -> dict[Fraction, float]:
    """The step at each moment at which a MIDI file changes it, from velocity and controller 11."""
    now, expression, found, on = 0, 127, {}, {}
    for message in MidiFile(file=BytesIO(midi(score, "Example", FLUTE)), charset="utf-8").tracks[1]:
        now += message.time
        if message.type == "control_change" and message.control == 11:
            expression = message.value
            if on:
                found[Fraction(now, 4 * TICKS)] = expression / 127 * next(iter(on.values())) / 16 - 1
        elif message.type == "note_on" and message.velocity:
            on = {message.note: message.velocity}
            found[Fraction(now, 4 * TICKS)] = expression / 127 * message.velocity / 16 - 1
        elif message.type == "note_off":
            on.pop(message.note, None)
    return found


@given(scores)
def test_page_and_midi_agree_sample_by_sample(score: Score) -> None:
    assume(not any({"accent", "marcato"} & set(event.marks) for event in score.line.events()))
    levels = play_through(score, FLUTE).levels
    curve = curve_of(score)
    compared = 0
    for time, step in midi_steps(score).items():
        expected = page_step(levels, time)
        if expected is not None and expected < len(LEVELS) - 1 and step < len(LEVELS) - 1.1:
            # Velocities and the controller are whole numbers.
            assert step == pytest.approx(expected, abs=0.12), time
            assert curve.at(time) == pytest.approx(expected, abs=1e-6)
            compared += 1
    assert compared or not levels or len(levels) < 3


@examples(40)
@given(scores)
def test_daily_sets_measure_what_the_page_sounds(score: Score) -> None:
    """Seconds at each level, against the page's levels sampled 100 times a note: within the tolerance."""
    items = unfold(score.line)
    curve = curve_of(score)
    assume(curve.known_from == 0)
    levels, time = play_through(score, FLUTE).levels, clock(score)
    sampled = dict.fromkeys(range(len(LEVELS)), 0.0)
    for item in items:
        if item.event.pitch is None:
            continue
        seconds = float(time.seconds(item.end) - time.seconds(item.start))
        for number in range(100):
            moment_of = item.start + item.event.length * (2 * number + 1) / 200
            step = page_step(levels, moment_of)
            # Silence has no step on the page's scale of decibels; the curve is compared there.
            if step is None:
                step = max(0.0, curve.at(moment_of))
            sampled[min(7, round(step))] += seconds / 100
    measured = dict.fromkeys(range(len(LEVELS)), 0.0)
    for moment in moments(score):
        for level, share in moment.levels:
            measured[level] += share
    whole = float(time.length)
    for level in measured:
        assert measured[level] == pytest.approx(sampled[level], abs=0.02 * whole)


def test_velocities_follow_steps() -> None:
    assert [velocity(step) for step in (SILENCE, 0, MF, 7)] == [0, 16, 80, 127]
