"""How loud a play-through is at each moment: the page's own scripts against the curve of the music.

One steady signal stands in for the tones, so that what is rendered is the level itself. The pieces are asked
for bar by bar while the audio clock runs, as a page asks for them.
"""

from __future__ import annotations

import base64
import json
import math
from collections.abc import Iterator
from itertools import pairwise
from random import Random
from typing import Any

import numpy as np
import pytest
from conftest import sweep
from made_scores import made_score
from sound_bench import EVERYTHING, PLAIN, RATE, Browser, Page, Samples, piece, playing, render, rendering

from stavewright.music.score import Score
from stavewright.music.sounding.performance import perform
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import apply
from stavewright.views.playback import decibels, play_through, play_through_json

LOW_RATE = 8000
"""Samples of a level a second, the fewest that every browser renders (Web Audio 1.1)."""

JUMP = 0.015
"""Seconds that a jump of level may take."""

LEVEL = """async ([given, rate]) => {
    const sound = window.stavewrightSound, tone = sound.tone;
    const context = new OfflineAudioContext(1, Math.ceil(given.seconds * rate), rate);
    let steady = null;
    sound.tone = (context, { out }, { start }) => {
        if (steady && !given.ends) return { release() {} };
        const own = steady = new ConstantSourceNode(context);
        own.connect(out);
        own.start(start);
        return { release: (when) => given.ends && own.stop(when) };
    };
    try {
        const outs = {tones: context.destination, pulse: context.createGain()};
        // Asked once before the music, and then for each bar.
        let bar = -2;
        const tempo = () => given.tempos[Math.max(0, Math.min(bar, given.tempos.length - 1))];
        const wishes = () => { bar += 1; return {...given.wishes, tempo: tempo()}; };
        const player = sound.playThrough(context, outs, given.piece, given.begin, wishes);
        const ask = () => { while (player.next < context.currentTime + given.ahead) player.advance(); };
        ask();
        for (let at = given.every; at < given.seconds; at += given.every)
            context.suspend(at).then(() => { ask(); return context.resume(); });
        const bytes = new Uint8Array((await context.startRendering()).getChannelData(0).buffer);
        let text = "";
        for (let at = 0; at < bytes.length; at += 32768)
            text += String.fromCharCode(...bytes.subarray(at, at + 32768));
        return btoa(text);
    } finally {
        sound.tone = tone;
    }
}"""


@pytest.fixture(scope="module")
def bench(chromium: Browser) -> Iterator[Page]:
    yield from rendering(chromium)


def rendered_level(bench: Page, given: dict[str, Any]) -> Samples:
    """The level of a play-through over time, as a factor."""
    text = bench.evaluate(LEVEL, [given, LOW_RATE])
    return np.frombuffer(base64.b64decode(text), dtype="<f4").astype(np.float64)


TIMES = """([rows, tempos]) => {
    const times = [0];
    rows.bars.forEach(([start, length], bar) => {
        const clock = stavewrightSound.clock(rows, tempos[Math.min(bar, tempos.length - 1)]);
        for (let tick = 1; tick <= length; tick += 1)
            times[start + tick] = times[start] + clock.seconds(start + tick) - clock.seconds(start);
    });
    return times;
}"""


def times_of(bench: Page, rows: dict[str, Any], tempos: list[float]) -> Samples:
    """The seconds of every tick of a piece from its beginning, with a tempo for each bar."""
    return np.array(bench.evaluate(TIMES, [rows, tempos]))


def wanted_level(score: Score, ticks: Samples, whole: int) -> Samples:
    """The level of the music at each place, in decibels from mf: even slopes between the curve's corners."""
    curve = perform(score.line, score.key).dynamics
    corners = [float(time * whole) for time in curve.times]
    return np.interp(ticks, corners, [decibels(step) for step in curve.steps])


def heard_level(
    bench: Page, rows: dict[str, Any], begin: float, tempos: list[float], **changes: Any
) -> tuple[Samples, Samples]:
    """The level of a play-through in decibels, and the tick that sounds, at each sample of its length.

    `tempos` has one for each bar, the last for all that follow. A piece is asked for as a page asks for it.
    """
    times = times_of(bench, rows, tempos)
    given = playing(rows, pulse=False) | {"begin": begin, "tempos": tempos, "ahead": 0.6, "every": 0.08}
    first, last = math.ceil(begin * LOW_RATE), math.floor((begin + times[-1]) * LOW_RATE)
    level = rendered_level(bench, given | {"seconds": begin + times[-1]} | changes)[first:last]
    ticks = np.interp(np.arange(first, last) / LOW_RATE - begin, times, np.arange(len(times)))
    return 20 * np.log10(np.maximum(level, 1e-6)), ticks


def slopes(rows: dict[str, Any]) -> list[tuple[float, float, int]]:
    """Each slope of a piece: its first and last tick, and whether it rises (1) or falls (-1)."""
    return [
        (start, end, 1 if high > low else -1)
        for (start, low, _), (end, high, gradual) in pairwise(rows["levels"])
        if gradual
    ]


def assert_slopes_never_turn(level: Samples, ticks: Samples, rows: dict[str, Any]) -> None:
    """Within every slope the level goes one way: no sample turns back by more than rounding."""
    assert slopes(rows)
    for start, end, way in slopes(rows):
        inside = level[(ticks > start) & (ticks < end)]
        # The last moment may belong to a jump at the slope's end.
        steps = way * np.diff(inside[: -math.ceil(JUMP * LOW_RATE) - 1])
        assert steps.min() > -0.001
        assert steps.sum() > 1


def assert_level_of_the_music(level: Samples, ticks: Samples, score: Score, rows: dict[str, Any]) -> None:
    """The level is that of the music to a tenth of a decibel, but for the moments of its jumps."""
    wanted = wanted_level(score, ticks, rows["whole"])
    settled = np.ones(len(ticks), dtype=bool)
    for tick, _, gradual in rows["levels"]:
        if not gradual:
            at = int(np.searchsorted(ticks, tick))
            settled[max(0, at - math.ceil(JUMP * LOW_RATE) - 1) : at + 2] = False
    assert np.count_nonzero(settled) > len(ticks) / 2
    assert np.max(np.abs(level - wanted)[settled]) < 0.1


SWELLS = {
    "w G4 pp tie | louder( w G4 tie | w G4 ) | w G4 f": "",
    "louder( h G4 pp A4 | h B4 A4 ) | softer( h G4 f A4 | h B4 A4 ) | w G4 pp": "",
    "louder( w G4 pp | w A4 fermata ) | softer( h B4 f fermata A4 | w G4 ) | w G4 p": "",
    "slur( louder( q G4 p A4 B4 C5 | w D5 | w D5 ) ) | w G4 ff": "",
    "w G4 tie | w G4 ,": "from silence",
    "slur( h G4 q F#4 G4 ) | slur( h G4 F#4 | w G4 ) ,": "swell from pp to f to pp",
}
"""Music over bar lines, with the variation to swell it, if any."""
FIRST = next(iter(SWELLS))


def swell(music: str) -> tuple[Score, dict[str, Any]]:
    score, _ = piece(PLAIN.replace("w G4 | h A4 B4", music))
    if SWELLS.get(music):
        score = apply(score, (SWELLS[music],))
    return score, json.loads(play_through_json(play_through(score, FLUTE)))


@pytest.mark.parametrize("music", SWELLS)
@sweep("seed", range(8), every_day=2)
def test_a_swell_rises_without_a_fall_at_every_tempo_from_every_beginning(
    bench: Page, music: str, seed: int
) -> None:
    chance = Random(f"{seed} {music}")
    score, rows = swell(music)
    begin, tempos = chance.uniform(0.1, 3), [chance.uniform(30, 200)]
    level, ticks = heard_level(bench, rows, begin, tempos)
    assert_slopes_never_turn(level, ticks, rows)
    assert_level_of_the_music(level, ticks, score, rows)


@pytest.mark.parametrize("seed", range(8))
def test_a_swell_keeps_its_places_while_the_tempo_changes(bench: Page, seed: int) -> None:
    chance = Random(seed)
    score, rows = swell(FIRST)
    begin, tempos = chance.uniform(0.1, 3), [chance.uniform(60, 200) for _ in rows["bars"]]
    level, ticks = heard_level(bench, rows, begin, tempos)
    assert_slopes_never_turn(level, ticks, rows)
    assert_level_of_the_music(level, ticks, score, rows)


@pytest.mark.parametrize("seed", range(4))
def test_a_swell_that_is_asked_for_late_still_never_falls(bench: Page, seed: int) -> None:
    chance = Random(seed)
    _, rows = swell(FIRST)
    begin, tempos = chance.uniform(0.1, 0.5), [chance.uniform(90, 160)]
    level, ticks = heard_level(bench, rows, begin, tempos, every=0.9)
    assert_slopes_never_turn(level, ticks, rows)


def test_a_swell_begins_again_each_time_through(bench: Page) -> None:
    _, rows = swell("louder( w G4 pp | w A4 ) | w B4 f")
    once = times_of(bench, rows, [133.7])[-1]
    given = playing(rows, pulse=False, times=2) | {
        "begin": 0.1,
        "tempos": [133.7],
        "ahead": 0.6,
        "every": 0.08,
    }
    level = rendered_level(bench, given | {"seconds": 0.1 + 2 * once})[LOW_RATE // 10 :]
    size = len(level) // 2
    assert level[:size] == pytest.approx(level[size : 2 * size], abs=0.01)
    assert level[: size // 2].max() < 0.9 * level[size - 100]


def test_a_tone_over_a_bar_line_ends_where_the_next_begins_when_the_tempo_changes(bench: Page) -> None:
    _, rows = swell("w G4 | w A4 tie | h A4 B4")
    level, ticks = heard_level(bench, rows, 0.7, [60, 61, 183], ends=True)
    # Neither a gap nor two tones at once: the stand-in is as loud as the level, which never changes.
    assert np.max(np.abs(level[1:-1])) < 0.01
    assert ticks[-1] == pytest.approx(rows["end"], abs=1)


@sweep("seeds", [range(0, 15), range(15, 30)], every_day=1)
def test_made_scores_keep_the_level_of_the_music(bench: Page, seeds: range) -> None:
    checked = 0
    for seed in seeds:
        score = made_score(Random(seed))
        rows = json.loads(play_through_json(play_through(score, FLUTE)))
        if not slopes(rows):
            continue
        level, ticks = heard_level(bench, rows, 0.2, [Random(seed).uniform(30, 200)])
        begun = int(np.argmax(level > -100))
        assert_level_of_the_music(level[begun:], ticks[begun:], score, rows)
        checked += 1
    assert checked


# -- colour -------------------------------------------------------------------------------------------------


def spectra(samples: Samples, hertz: float) -> tuple[Samples, Samples]:
    """The first partial of each tenth of a second, and how far its six partials reach up, in partials."""
    size = RATE // 10
    pieces = samples[: len(samples) // size * size].reshape(-1, size) * np.hanning(size)
    turns = np.exp(-2j * np.pi * hertz * np.outer(np.arange(size) / RATE, np.arange(1, 7)))
    found = np.abs(pieces @ turns)
    return found[:, 0], (found @ np.arange(1, 7)) / found.sum(axis=1)


@pytest.mark.parametrize("note", ["C4", "G5"])
def test_a_swell_grows_brighter_and_its_first_partial_keeps_the_level(bench: Page, note: str) -> None:
    _, rows = swell(f"louder( w {note} ppp tie | w {note} tie | w {note} ) | w {note} fff")
    samples = render(bench, EVERYTHING, 12, playing(rows, (0, 5, 0), tempo=60, pulse=False, countIn=0))
    first, reach = spectra(samples[RATE // 4 : 11 * RATE], 440 * 2 ** ((rows["tones"][0][2] - 69) / 12))
    assert np.diff(first).min() > 0
    assert np.diff(reach[::5]).min() > 0
    # Seven steps of 2.5 decibels over twelve seconds, a little more by the filter.
    slope = np.diff(20 * np.log10(first)) * 10
    assert slope == pytest.approx(7 * 2.5 / 12, abs=0.4)


def test_no_colour_makes_a_tone_louder(bench: Page) -> None:
    body = """const colour = new ConstantSourceNode(context, {offset: given.cents});
        colour.start();
        const ways = {out: context.destination, colour, bend: null};
        const {hertz} = given, tone = {hertz, start: 0, length: 1, from: false, accented: false};
        sound.tone(context, ways, tone).release(1, false);"""
    for hertz in (150, 700, 2000):
        # Eight octaves further open, the filter lets everything through.
        bare, *others = (
            render(bench, body, 1, {"hertz": hertz, "cents": cents})
            for cents in (9600, 675, 300, 0, -300, -600, -900)
        )
        loudness = [float(np.sqrt(np.mean(samples**2))) for samples in (bare, *others)]
        assert all(softer < louder for louder, softer in pairwise(loudness))
        # The wave itself has a peak of 1. The filter delays its partials unevenly, which may raise the peak.
        assert max(np.max(np.abs(samples)) for samples in others) < 1
