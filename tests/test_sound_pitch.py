"""The pitch of a sound, and what is said of it, by the page's own functions on made sounds.

Just ratios are those of A. J. Ellis (see stavewright/music/tuning.py); equal temperament is that of ISO 16.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pytest
from conftest import sweep
from sound_bench import RATE, SCRIPTS, Browser, Page, Samples, cents, render, rendering

from stavewright.music.settings.tuning import _BY_SOUND, JUST

SINE = (1.0,)
FLUTE = (1.0, 0.3, 0.1, 0.03)
WEAK_FUNDAMENTAL = (0.2, 1.0, 0.5, 0.2)
ODD = (1.0, 0.05, 0.7, 0.05, 0.4)
RICH = (0.5, 0.8, 1.0, 0.9, 0.7, 0.5, 0.4, 0.3, 0.2, 0.1)


@pytest.fixture(scope="module")
def bench(chromium: Browser) -> Iterator[Page]:
    for page in rendering(chromium):
        for name in ("pitch_of_sound", "intervals", "recording", "own_pitch"):
            page.add_script_tag(path=SCRIPTS / f"{name}.js")
        yield page


def tone(
    hertz: float,
    partials: Sequence[float] = FLUTE,
    seconds: float = 4096 / RATE,
    rate: int = RATE,
    vibrato: float = 0,
    begin: float = 0,
) -> Samples:
    """A tone; `vibrato` is how many cents it swings to either side, six times a second."""
    time = begin + np.arange(math.ceil(seconds * rate)) / rate
    moving = hertz * 2 ** (vibrato * np.sin(2 * np.pi * 6 * time) / 1200)
    phase = 1 + 2 * np.pi * np.cumsum(moving) / rate
    audible = [(number, part) for number, part in enumerate(partials, 1) if number * hertz < rate / 2]
    made = sum(part * np.sin(number * phase + number) for number, part in audible)
    return np.asarray(0.2 * made, dtype=np.float64)


def noise(seconds: float, level: float) -> Samples:
    return np.random.default_rng(5).normal(0, level, math.ceil(seconds * RATE))


def pitches(bench: Page, sounds: Sequence[Samples], rate: int = RATE) -> list[float | None]:
    """The pitch of each sound in hertz, or None."""
    given = [np.round(sound, 6).tolist() for sound in sounds]
    found: list[float | None] = bench.evaluate(
        """([sounds, rate]) => sounds.map((sound) =>
            (stavewrightSound.pitchOf(Float32Array.from(sound), rate) || { hertz: null }).hertz)""",
        [given, rate],
    )
    return found


@sweep("partials", [SINE, FLUTE, WEAK_FUNDAMENTAL, ODD, RICH], every_day=2)
@sweep("rate", [44_100, 48_000], every_day=1)
def test_a_steady_tone_is_found_within_two_cents(bench: Page, partials: Sequence[float], rate: int) -> None:
    wanted = [65.0, 82.4, *np.geomspace(100, 2100, 24)]
    sounds = [tone(hertz, partials, 4096 / rate, rate) + noise(4096 / rate, 0.002)[:4096] for hertz in wanted]
    sounds = [sound[:4096] for sound in sounds]
    for hertz, found in zip(wanted, pitches(bench, sounds, rate), strict=True):
        assert found is not None, hertz
        assert abs(cents(found, hertz)) < (2 if hertz >= 100 else 4), (hertz, found)


def test_a_vibrato_is_followed_and_its_middle_found(bench: Page) -> None:
    for partials in (FLUTE, RICH):
        begins = [place / 10 for place in range(11)]
        found = pitches(bench, [tone(440, partials, vibrato=20, begin=begin) for begin in begins])
        assert None not in found
        places = [cents(hertz, 440) for hertz in found if hertz]
        assert max(map(abs, places)) < 21
        assert max(places) - min(places) > 15
        readings = [{"at": begin, "hertz": hertz} for begin, hertz in zip(begins, found, strict=True)]
        mean = bench.evaluate("(given) => stavewrightSound.meanPitch(given, 1)", readings)
        assert abs(cents(mean, 440)) < 4


def test_nothing_is_said_of_silence_noise_or_a_tone_too_soft(bench: Page) -> None:
    window = 4096 / RATE
    hiss = noise(window, 0.1)
    breath = np.convolve(noise(window, 0.3), np.ones(24) / 24, "same")
    soft = tone(440) * 10 ** (-45 / 20)
    assert pitches(bench, [np.zeros(4096), np.full(4096, 0.2), hiss, breath, soft]) == [None] * 5


# -- what it is near to --------------------------------------------------------------------------------------


@pytest.mark.parametrize("octave", [-1, 0, 2])
def test_the_nearest_just_interval_above_the_drone(bench: Page, octave: int) -> None:
    for semitones, name in enumerate(_BY_SOUND):
        for off in (-20.0, 0.0, 7.0):
            hertz = 146.83 * float(JUST[name]) * 2 ** (octave + off / 1200)
            found = bench.evaluate("(hertz) => stavewrightSound.nearestInterval(hertz, 146.83, true)", hertz)
            assert found["semitones"] == 12 * octave + semitones
            assert found["cents"] == pytest.approx(off, abs=1e-6)


def test_the_nearest_tempered_interval_and_note(bench: Page) -> None:
    hertz = 415 * 2 ** ((74 - 69) / 12 + 31 / 1200)
    assert bench.evaluate("(hertz) => stavewrightSound.nearestNote(hertz, 415)", hertz) == {
        "midi": 74,
        "cents": pytest.approx(31),
    }
    found = bench.evaluate("(hertz) => stavewrightSound.nearestInterval(hertz, 415, false)", hertz)
    assert found == {"semitones": 5, "cents": pytest.approx(31)}


def readings(places: Sequence[float], hertz: float = 220.0) -> list[dict[str, float]]:
    """Ten readings a second, in cents from a pitch."""
    return [{"at": at / 10, "hertz": hertz * 2 ** (place / 1200)} for at, place in enumerate(places)]


def test_the_mean_begins_anew_with_each_tone(bench: Page) -> None:
    ask = "([given, now]) => stavewrightSound.meanPitch(given, now)"
    assert bench.evaluate(ask, [readings([5] * 3), 0.2]) is None
    new = readings([0] * 6 + [200] * 5)
    assert cents(bench.evaluate(ask, [new, 1.0]), 220) == pytest.approx(200)
    assert bench.evaluate(ask, [readings([0] * 9), 1.6]) is None


def test_the_drone_in_the_microphone_is_told_from_a_player(bench: Page) -> None:
    """A drone is still to a fraction of a cent; a player in unison with it is not."""
    ask = "([given, now]) => stavewrightSound.hearsDrone(given, now, [220])"
    still = readings([0.1, 0.0, 0.05] * 4)
    assert bench.evaluate(ask, [still, 1.1])
    assert not bench.evaluate(ask, [readings([2, 0.5, -1.5, 0, 1, -2] * 2), 1.1])
    assert not bench.evaluate(ask, [readings([9] * 12), 1.1])
    # The page's own drone with its fifth: the microphone hears the octave below.
    sounding = render(bench, "sound.drone(context, context.destination, 220, 0, [1, 3 / 2])", 3)
    heard = pitches(bench, [sounding[begin : begin + 4096] for begin in range(RATE, 2 * RATE, RATE // 10)])
    assert None not in heard
    given = [{"at": at / 10, "hertz": hertz} for at, hertz in enumerate(heard)]
    assert bench.evaluate(ask, [given, 0.9])


# -- what a screen reader hears ------------------------------------------------------------------------------


def test_a_screen_reader_hears_of_a_tone_once_and_of_a_change_now_and_then(bench: Page) -> None:
    said = bench.evaluate(
        """() => {
            const reader = stavewrightSound.pitchReader(), said = [];
            for (let tick = 0; tick < 200; tick += 1) {
                const now = tick / 10, name = now < 10 ? "A" : "B";
                const found = { name, cents: now < 5 ? Math.sin(tick) : now < 10 ? 12 : 3, words: "" };
                const words = reader.hear({ ...found, words: `${name} ${Math.round(found.cents)}` }, now);
                if (words) said.push([now, words]);
            }
            return said;
        }"""
    )
    assert [words.split()[0] for _, words in said] == ["A", "A", "B"]
    assert [at for at, _ in said] == [1.0, 5.0, 11.0]
    assert said[1:] == [[5.0, "A 12"], [11.0, "B 3"]]


# -- the recording -------------------------------------------------------------------------------------------


def first_tone(bench: Page, samples: Samples) -> Any:
    return bench.evaluate(
        f"(given) => stavewrightSound.firstTone(Float32Array.from(given), {RATE})",
        np.round(samples, 5).tolist(),
    )


def test_the_first_tone_of_a_recording_is_found_after_breath_and_a_knock(bench: Page) -> None:
    before = noise(0.7, 0.004)
    before[5000:5200] += 0.3
    recorded = np.concatenate([before, tone(523.25, seconds=0.5)])
    assert first_tone(bench, recorded) == pytest.approx(0.7, abs=0.03)
    assert first_tone(bench, noise(0.6, 0.05)) is None
    assert first_tone(bench, np.zeros(RATE)) is None


def test_music_that_was_played_along_with_begins_where_the_player_heard_it(bench: Page) -> None:
    place = "stavewrightSound.placeOfMusic({ begin: 12, start: 10, output: 0.03, input: 0.02 })"
    assert bench.evaluate(place) == pytest.approx(2.05)
    # It sounded already when the recording began.
    place = "stavewrightSound.placeOfMusic({ begin: 8, start: 10, output: 0, input: 0 })"
    assert bench.evaluate(place) == pytest.approx(-2)
