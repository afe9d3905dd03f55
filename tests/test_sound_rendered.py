"""The drone, the pulse and the way out, rendered by the page's own scripts and measured."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from sound_bench import RATE, Browser, Page, cents, decibels, onsets, partials, render, rendering

from stavewright.music.settings.tuning import JUST as TABLE


@pytest.fixture(scope="module")
def bench(chromium: Browser) -> Iterator[Page]:
    yield from rendering(chromium)


# -- the drone ----------------------------------------------------------------------------------------------

DRONE = "sound.drone(context, sound.output(context), given, 0)"


@pytest.mark.parametrize("midi", [36, 50, 62, 69, 81])
@pytest.mark.parametrize("a4", [415, 440, 442.5, 466])
def test_the_drone_sounds_its_note_within_a_cent(bench: Page, midi: int, a4: float) -> None:
    hertz = bench.evaluate("([m, a4]) => stavewrightSound.hertz(m, {a4, just: false, tonic: 2})", [midi, a4])
    wanted = a4 * 2 ** ((midi - 69) / 12)  # ISO 16 and MIDI 1.0: note 69 is A4
    sounding = render(bench, DRONE, 3, hertz)[RATE:]
    assert abs(cents(partials(sounding)[0], wanted)) < 1


def test_the_drones_partials_are_whole_multiples(bench: Page) -> None:
    found = sorted(partials(render(bench, DRONE, 4, 146.83)[RATE:], 5))
    for hertz in found:
        number = round(hertz / 146.83)
        assert abs(cents(hertz, number * 146.83)) < 1
    assert len({round(hertz / 146.83) for hertz in found}) == 5


def test_the_drone_does_not_beat_by_itself(bench: Page) -> None:
    sounding = render(bench, DRONE, 6, 196.0)[RATE:]
    pieces = sounding[: len(sounding) // 4800 * 4800].reshape(-1, 4800)
    power = np.sqrt((pieces**2).mean(axis=1))
    assert power.std() / power.mean() < 0.02


def test_the_drone_begins_and_stops_softly(bench: Page) -> None:
    body = "const drone = sound.drone(context, context.destination, 220, 0); drone.stop(2);"
    samples = render(bench, body, 3)
    full = np.max(np.abs(samples[RATE : 2 * RATE]))
    assert np.max(np.abs(samples[: RATE // 50])) < 0.01 * full
    assert np.max(np.abs(samples[: RATE // 10])) < 0.2 * full
    assert 0.9 * full < np.max(np.abs(samples[int(0.6 * RATE) : RATE]))
    falling = samples[2 * RATE :]
    assert np.max(np.abs(falling[int(0.3 * RATE) :])) < 0.3 * full
    assert np.max(np.abs(falling[int(0.41 * RATE) :])) < 1e-6
    # No step between two samples that the wave itself would not make.
    assert np.max(np.abs(np.diff(falling))) <= 1.05 * np.max(np.abs(np.diff(samples[RATE : 2 * RATE])))


def test_a_drone_stopped_while_it_begins_still_stops_softly(bench: Page) -> None:
    body = "sound.drone(context, context.destination, 220, 0).stop(0.3);"
    samples = render(bench, body, 1)
    assert np.max(np.abs(samples[int(0.71 * RATE) :])) < 1e-6
    assert np.max(np.abs(samples[int(0.6 * RATE) :])) < 0.3


@pytest.mark.parametrize("ratios", [[1, 3 / 2], [1, 2], [1, 3 / 2, 2]])
def test_a_drones_fifth_and_octave_are_pure_and_no_louder(bench: Page, ratios: list[float]) -> None:
    body = "sound.drone(context, context.destination, 146.83, 0, given)"
    alone, chord = (render(bench, body, 5, given)[RATE:] for given in ([1], ratios))
    assert decibels(chord) <= decibels(alone) + 0.01
    # All of its partials are whole multiples of half the lowest note: nothing beats.
    for hertz in partials(chord, 6):
        multiple = hertz / (146.83 / 2)
        assert abs(cents(multiple, round(multiple))) < 1
    for ratio in ratios:
        turns = np.exp(-2j * np.pi * 146.83 * ratio * np.arange(len(chord)) / RATE)
        assert np.abs(chord @ turns) / len(chord) > 0.05


def test_notes_are_named_with_the_octave_of_their_letter(bench: Page) -> None:
    # Scientific pitch names: middle C is C4, MIDI note 60, and B sharp 3 and C flat 4 lie beside it.
    names = {("C", 60): "C4", ("B sharp", 60): "B sharp 3", ("C flat", 59): "C flat 4", ("B", 59): "B3"}
    names[("D sharp, E flat", 51)] = "D sharp/E flat 3"
    for (name, midi), wanted in names.items():
        assert bench.evaluate("([n, m]) => stavewrightSound.noteName(n, m)", [name, midi]) == wanted


JUST = {  # Ratios of the five-limit scale as given by Helmholtz (tr. Ellis, 1885) and any primer; from memory
    2: Fraction(9, 8),
    3: Fraction(6, 5),
    4: Fraction(5, 4),
    5: Fraction(4, 3),
    7: Fraction(3, 2),
    8: Fraction(8, 5),
    9: Fraction(5, 3),
    11: Fraction(15, 8),
    12: Fraction(2),
}


def test_just_ratios_are_those_of_the_interval_table(bench: Page) -> None:
    names = ("P1", "m2", "M2", "m3", "M3", "P4", "A4", "P5", "m6", "M6", "m7", "M7")
    assert bench.evaluate("stavewrightSound.JUST") == pytest.approx([float(TABLE[name]) for name in names])


@pytest.mark.parametrize("above", JUST)
def test_just_intervals_from_the_keynote(bench: Page, above: int) -> None:
    tonic = 440 * 2 ** ((57 - 69) / 12)
    ask = "([m, just]) => stavewrightSound.hertz(m, {a4: 440, just, tonic: 9})"
    just, tempered = bench.evaluate(ask, [57 + above, True]), bench.evaluate(ask, [57 + above, False])
    sounding = render(bench, DRONE, 3, just)[RATE:]
    assert abs(cents(partials(sounding)[0], tonic * float(JUST[above]))) < 0.1
    assert cents(tempered, tonic) == pytest.approx(100 * above)


def test_a_just_third_is_fourteen_cents_narrow_and_beats_with_nothing(bench: Page) -> None:
    # Ellis gives 386.3 cents for the just major third; 5/4 by reckoning is 386.314.
    both = """const out = sound.output(context), level = new GainNode(context, {gain: 0.05});
        level.connect(out);
        for (const midi of [57, 61])
            sound.drone(context, level, sound.hertz(midi, {a4: 440, just: given, tonic: 9}), 0);"""
    # The fifth partial of the lower note and the fourth of the upper: one, or two that beat.
    spectrum = {}
    for just in (True, False):
        samples = render(bench, both, 6, just)[RATE:]
        near = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
        hertz = np.fft.rfftfreq(len(samples), 1 / RATE)
        band = near[(hertz > 1080) & (hertz < 1130)]
        spectrum[just] = int(
            np.sum((band[1:-1] > band[:-2]) & (band[1:-1] > band[2:]) & (band[1:-1] > band.max() / 4))
        )
    assert spectrum == {True: 1, False: 2}


# -- the pulse ----------------------------------------------------------------------------------------------

PULSE = """const level = new GainNode(context, {gain: 0.1});
    level.connect(sound.output(context));
    const player = sound.pulse(context, level, 0.1, () => given);
    while (player.next < given.until) player.advance();"""


def wishes(**changes: Any) -> dict[str, Any]:
    return {
        "tempo": 60,
        "beats": 4,
        "parts": 1,
        "countIn": 0,
        "ladder": None,
        "slower": 1,
        "until": 8,
    } | changes


@pytest.mark.parametrize("tempo", [40, 54, 97, 132, 208])
def test_beats_are_even_within_a_millisecond(bench: Page, tempo: int) -> None:
    times = onsets(render(bench, PULSE, 8, wishes(tempo=tempo)))
    assert len(times) == math.ceil(7.9 / (60 / tempo))
    assert np.max(np.abs(np.diff(times) - 60 / tempo)) < 0.001


@pytest.mark.parametrize("parts", [2, 3, 4])
def test_beats_are_divided_evenly(bench: Page, parts: int) -> None:
    samples = render(bench, PULSE, 8, wishes(parts=parts))
    times = onsets(samples)
    assert np.max(np.abs(np.diff(times) - 1 / parts)) < 0.001
    peaks = [np.max(np.abs(samples[int(t * RATE) : int((t + 0.05) * RATE)])) for t in times]
    assert max(peaks[1:parts]) < 0.7 * peaks[0]


def test_the_first_beat_of_a_bar_stands_out(bench: Page) -> None:
    samples = render(bench, PULSE, 9, wishes(tempo=120, beats=3, until=9))
    times = onsets(samples)
    tones = [partials(samples[int(t * RATE) : int((t + 0.04) * RATE)])[0] for t in times]
    firsts, others = tones[::3], [tone for place, tone in enumerate(tones) if place % 3]
    assert min(firsts) > 1.2 * max(others)


def test_bars_may_all_be_alike(bench: Page) -> None:
    samples = render(bench, PULSE, 4, wishes(beats=0, until=4))
    tones = [partials(samples[int(t * RATE) : int((t + 0.04) * RATE)])[0] for t in onsets(samples)]
    assert max(tones) - min(tones) < 5


def test_the_bars_counted_in_sound_otherwise_and_come_before_the_first(bench: Page) -> None:
    heard = bench.evaluate(
        """(given) => {
            const context = new OfflineAudioContext(1, 48000, 48000), said = [];
            const out = context.destination, say = (news) => said.push(news);
            const player = stavewrightSound.pulse(context, out, 0.1, () => given, say);
            while (player.next < 12) player.advance();
            return said;
        }""",
        wishes(countIn=2, beats=3),
    )
    assert [item["counting"] for item in heard[:7]] == [True] * 6 + [False]
    assert [item["beat"] for item in heard[:9]] == [1, 2, 3, 1, 2, 3, 1, 2, 3]
    assert [item["bar"] for item in heard[6:12]] == [1, 1, 1, 2, 2, 2]


def test_the_ladder_raises_the_tempo_by_steps_up_to_its_top(bench: Page) -> None:
    ladder = {"by": 20, "every": 2, "top": 150}
    samples = render(bench, PULSE, 14, wishes(tempo=120, beats=2, ladder=ladder, until=14))
    steps = np.diff(onsets(samples))
    expected = [60 / tempo for tempo in [120] * 4 + [140] * 4 + [150] * len(steps)]
    assert np.max(np.abs(steps - expected[: len(steps)])) < 0.001


def test_the_ladder_never_lowers_a_tempo(bench: Page) -> None:
    ask = "([tempo, bars]) => stavewrightSound.raised(tempo, {by: 2, every: 4, top: 66}, bars)"
    assert bench.evaluate(ask, [72, 100]) == 72
    assert [bench.evaluate(ask, [60, bars]) for bars in (0, 3, 4, 8, 12, 400)] == [60, 60, 62, 64, 66, 66]


# -- levels -------------------------------------------------------------------------------------------------


def test_levels_are_three_decibels_apart_and_nothing_at_nought(bench: Page) -> None:
    gains = [bench.evaluate("(n) => stavewrightSound.level(n)", n) for n in range(11)]
    assert gains[0] == 0
    steps = [20 * math.log10(high / low) for low, high in pairwise(gains[1:])]
    assert steps == pytest.approx([3] * 9)
    assert 20 * math.log10(gains[10]) == pytest.approx(-9)


def test_nothing_passes_the_ceiling(bench: Page) -> None:
    body = """const level = new GainNode(context, {gain: given});
        level.connect(sound.output(context));
        for (const hertz of [110, 147, 196, 880]) sound.drone(context, level, hertz, 0);
        for (let beat = 0; beat < 4; beat += 1) sound.click(context, level, "bar", beat / 2);"""
    assert max(decibels(render(bench, body, 2, gain)) for gain in (0.3, 1, 10)) <= 20 * math.log10(0.7) + 0.01


def test_the_limiter_leaves_modest_sound_alone(bench: Page) -> None:
    body = """const level = new GainNode(context, {gain: 0.1});
        level.connect(given ? sound.output(context) : context.destination);
        sound.drone(context, level, 220, 0);"""
    plain, limited = render(bench, body, 3, False)[RATE:], render(bench, body, 3, True)[RATE:]
    assert decibels(limited) == pytest.approx(decibels(plain), abs=0.1)
