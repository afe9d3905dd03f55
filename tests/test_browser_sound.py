"""The sound of a page, used as a player would and measured: frequencies, intervals of time, levels, the mark.

What is measured is rendered off line by the page's own scripts, in a page opened from a folder without a
server. Times are those of the audio clock, so that no test waits for a second to pass.
"""

from __future__ import annotations

import base64
import json
import math
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import write_book
from numpy.typing import NDArray

from builder.cli import main
from builder.language.read import read
from builder.music.instruments import FLUTE
from builder.music.score import Score
from builder.music.settings import settings
from builder.music.timing import clock
from builder.music.tuning import JUST as TABLE
from builder.publish.sound import play_through, play_through_json

sync_api = pytest.importorskip("playwright.sync_api")
Browser, Page = sync_api.Browser, sync_api.Page

RATE = 48_000
Samples = NDArray[np.float64]

SLOPE = """\
title: Slope
rights: written for this test, public domain
home: D5 in D major
meter: 3/4
pickup: quarter
tempo: quarter = 200 to 240
drone: D4
travel: semitones down from D5 to D5
variations: slurred
music:
  q D5 p tie | |: slur( louder( q D5 E5 F#5 ) ) | h A5 f q rest :| h. D5 mf fermata | h A4 ,
"""
PLAIN = """\
title: Plain
rights: written for this test, public domain
home: G4 in G major
tempo: quarter = 60 to 72
travel: semitones down from G4 to G4
music:
  w G4 | h A4 B4
"""


def folder(where: Path, instrument: str) -> Path:
    """The site of a small book for an instrument."""
    book = write_book(where / "book", {"slope": SLOPE, "plain": PLAIN})
    config = book / "mkdocs.yml"
    text = config.read_text(encoding="utf-8")
    config.write_text(text.replace("[flute]", f"[{instrument}]").replace("      tops: {flute: A6}\n", ""))
    assert main(["build", "--book", str(book), "--out", str(where / "site")]) == 0
    return where / "site"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return folder(tmp_path_factory.mktemp("flute"), "flute")


def open_page(browser: Browser, address: Path, before: str = "", **options: Any) -> Page:
    """A page opened from the folder; `before` runs before its own scripts. `errors` keeps its errors."""
    page = browser.new_page(**options)
    page.errors = []
    page.on("pageerror", lambda error: page.errors.append(str(error)))
    page.on("console", lambda said: page.errors.append(said.text) if said.type == "error" else None)
    if before:
        page.add_init_script(before)
    page.goto(address.as_uri())
    return page


@pytest.fixture
def page(chromium: Browser, site: Path) -> Iterator[Page]:
    """The exercise's page, with what it may move kept still."""
    page = open_page(chromium, site / "exercises/slope/d/index.html", reduced_motion="reduce")
    yield page
    assert page.errors == []
    page.close()


@pytest.fixture(scope="module")
def bench(chromium: Browser, site: Path) -> Iterator[Page]:
    """A page that only renders."""
    page = open_page(chromium, site / "exercises/slope/d/index.html")
    yield page
    assert page.errors == []
    page.close()


def render(page: Page, body: str, seconds: float, given: Any = None) -> Samples:
    """What a script makes of an audio context, rendered off line; it has `sound`, `context` and `given`."""
    text = page.evaluate(
        """async ([body, seconds, rate, given]) => {
            const context = new OfflineAudioContext(1, Math.ceil(seconds * rate), rate);
            new Function("sound", "context", "given", body)(window.stavewrightSound, context, given);
            const bytes = new Uint8Array((await context.startRendering()).getChannelData(0).buffer);
            let text = "";
            for (let at = 0; at < bytes.length; at += 32768)
                text += String.fromCharCode(...bytes.subarray(at, at + 32768));
            return btoa(text);
        }""",
        [body, seconds, RATE, given],
    )
    return np.frombuffer(base64.b64decode(text), dtype="<f4").astype(np.float64)


def partials(samples: Samples, count: int = 1) -> list[float]:
    """The frequencies of the strongest partials, in hertz, strongest first.

    A Gaussian window makes each peak of the logarithmic spectrum a parabola, so three points give its place.
    """
    size = len(samples)
    window = np.exp(-0.5 * ((np.arange(size) - size / 2) / (size / 8)) ** 2)
    spectrum = np.log(np.abs(np.fft.rfft(samples * window, 4 * size)) + 1e-12)
    found = []
    for _ in range(count):
        top = int(np.argmax(spectrum))
        left, middle, right = spectrum[top - 1 : top + 2]
        found.append((top + (left - right) / 2 / (left - 2 * middle + right)) * RATE / (4 * size))
        spectrum[max(0, top - 200) : top + 200] = -np.inf
    return found


def cents(one: float, other: float) -> float:
    return 1200 * math.log2(one / other)


def decibels(samples: Samples) -> float:
    """The peak, in dBFS."""
    return 20 * math.log10(np.max(np.abs(samples)) + 1e-12)


def onsets(samples: Samples, quiet: float = 0.05) -> list[float]:
    """When clicks begin, in seconds: the first sample of each at a twentieth of its own peak."""
    loud = np.flatnonzero(np.abs(samples) > 1e-4)
    starts = loud[np.concatenate(([True], np.diff(loud) > quiet * RATE))]
    found = []
    for start in starts:
        piece = np.abs(samples[start : start + RATE // 20])
        found.append((start + int(np.argmax(piece > piece.max() / 20))) / RATE)
    return found


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


EVERYTHING = """const out = sound.output(context), outs = {};
    for (const name of ["drone", "tones", "pulse"]) {
        outs[name] = new GainNode(context, {gain: sound.level(given.levels[name])});
        outs[name].connect(out);
    }
    sound.drone(context, outs.drone, 146.83, 0);
    const player = sound.playThrough(context, outs, given.piece, 0.1, () => given.wishes);
    while (player.next < given.until) player.advance();"""


def piece(text: str = SLOPE) -> tuple[Score, dict[str, Any]]:
    """The exercise's first setting, and its play-through as a page has it."""
    exercise = read("test.warmup", text.encode()).exercise
    assert exercise is not None
    score = settings(exercise, FLUTE)[0].score()
    return score, json.loads(play_through_json(play_through(score, FLUTE)))


def playing(
    rows: dict[str, Any], levels: tuple[int, int, int] = (0, 10, 0), **changes: Any
) -> dict[str, Any]:
    names = dict(zip(("drone", "tones", "pulse"), levels, strict=True))
    wish = {
        "tempo": 200,
        "pulse": True,
        "parts": 1,
        "countIn": 0,
        "times": 1,
        "ladder": None,
        "tuning": {"a4": 440, "just": False, "tonic": 2},
    }
    return {"piece": rows, "levels": names, "wishes": wish | changes, "until": 30}


def test_levels_are_modest_at_first_and_bounded_at_most(bench: Page, page: Page) -> None:
    _, rows = piece()
    chosen = page.evaluate(
        """() => ["droneLevel", "toneLevel", "pulseLevel"]
            .map((name) => Number(document.querySelector("form.sound-desk").elements[name].value))"""
    )
    first = decibels(render(bench, EVERYTHING, 6, playing(rows, tuple(chosen))))
    most = decibels(render(bench, EVERYTHING, 6, playing(rows, (10, 10, 10))))
    assert first < -9
    assert most < -3
    alone = decibels(render(bench, EVERYTHING, 6, playing(rows, (chosen[0], 0, 0)))[RATE:])
    assert -27 < alone < -21


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


# -- the play-through ---------------------------------------------------------------------------------------


def pitch_at(samples: Samples, begin: float, end: float) -> float:
    return partials(samples[int(begin * RATE) : int(end * RATE)])[0]


@pytest.mark.parametrize("just", [False, True])
def test_each_tone_is_heard_at_its_time_and_pitch(bench: Page, just: bool) -> None:
    score, rows = piece(PLAIN)
    tuning = {"a4": 442, "just": just, "tonic": 7}
    samples = render(bench, EVERYTHING, 9, playing(rows, tempo=60, pulse=False, tuning=tuning))
    for start, length, midi, *_ in rows["tones"]:
        at = float(clock(score).seconds(Fraction(start, rows["whole"]))) + 0.1
        until = float(clock(score).seconds(Fraction(start + length, rows["whole"]))) + 0.1
        keynote = 442 * 2 ** ((67 - 69) / 12)
        wanted = 442 * 2 ** ((midi - 69) / 12)
        if just:
            wanted = keynote * {67: 1, 69: 9 / 8, 71: 5 / 4}[midi]
        assert abs(cents(pitch_at(samples, at + 0.1, until - 0.1), wanted)) < 1


SECOND_WHOLE = 4.1
"""When the second whole note begins at a quarter a second, in what is rendered here."""


def least(samples: Samples, begin: float, end: float) -> float:
    """The quietest hundredth of a second of a passage, as a part of the loudest of all."""
    pieces = np.abs(samples[: len(samples) // 480 * 480].reshape(-1, 480)).max(axis=1)
    return float(pieces[round(begin * 100) : round(end * 100)].min() / pieces.max())


@pytest.mark.parametrize(
    ("music", "at_the_change", "in_the_second_half"),
    [
        ("slur( w G4 | w A4 )", (0.3, 1), (0.9, 1)),
        ("w G4 | w A4", (0, 0.05), (0.9, 1)),
        ("staccato( w G4 | w A4 )", (0, 0.05), (0, 0.01)),
    ],
)
def test_tongued_tones_part_and_slurred_ones_do_not(
    bench: Page, music: str, at_the_change: tuple[float, float], in_the_second_half: tuple[float, float]
) -> None:
    _, rows = piece(PLAIN.replace("w G4 | h A4 B4", music))
    samples = render(bench, EVERYTHING, 9, playing(rows, tempo=60, pulse=False))
    low, high = at_the_change
    assert low <= least(samples, SECOND_WHOLE - 0.06, SECOND_WHOLE + 0.04) <= high
    low, high = in_the_second_half
    assert low <= least(samples, SECOND_WHOLE - 1.5, SECOND_WHOLE - 0.1) <= high


def test_the_pulse_of_a_play_through_keeps_the_bars_and_waits_for_a_hold(bench: Page) -> None:
    score, rows = piece()
    samples = render(bench, EVERYTHING, 8, playing(rows, (0, 0, 10), tempo=200))
    time = clock(score)
    beats, now = [], Fraction(0)
    # Pick-up, two bars twice, and of the bar under the hold the first beat alone; then the last two.
    for length in [1, 3, 3, 3, 3, 3, 2]:
        beats += [now + Fraction(number, 4) for number in range(length)]
        now += Fraction(length, 4)
    beats = [beat for beat in beats if not Fraction(13, 4) < beat < Fraction(16, 4)]
    expected = [float(time.seconds(beat)) + 0.1 for beat in beats]
    found = onsets(samples)
    assert len(found) == len(expected)
    # The limiter looks six milliseconds ahead, all the time.
    shift = found[0] - expected[0]
    assert np.max(np.abs(np.array(found) - shift - expected)) < 0.001
    assert abs(shift) < 0.01


def test_dynamics_are_heard(bench: Page) -> None:
    text = PLAIN.replace("w G4 | h A4 B4", "w G4 pp | louder( w G4 ) | w G4 ff | softer( w G4 ) | w G4 p")
    _, rows = piece(text)
    samples = render(bench, EVERYTHING, 21, playing(rows, (0, 5, 0), tempo=60, pulse=False))
    middle = [
        decibels(samples[int((4 * bar + 1.5) * RATE) : int((4 * bar + 2.5) * RATE)]) for bar in range(5)
    ]
    # pp, half way up, ff, half way down, p: 2.5 decibels a level.
    assert middle[2] - middle[0] == pytest.approx(5 * 2.5, abs=0.3)
    assert middle[0] + 4 < middle[1] < middle[2] - 4
    assert middle[4] - middle[0] == pytest.approx(2.5, abs=0.3)
    assert middle[4] + 3 < middle[3] < middle[2] - 3


def test_vibrato_bends_the_pitch_where_it_is_written(bench: Page) -> None:
    _, rows = piece(PLAIN.replace("w G4 | h A4 B4", "w G4 | vibrato( w G4 ) | w G4"))
    samples = render(bench, EVERYTHING, 13, playing(rows, tempo=60, pulse=False))
    spread = []
    for bar in range(3):
        begin = 4 * bar + 1.2
        found = [pitch_at(samples, begin + step * 0.05, begin + step * 0.05 + 0.08) for step in range(30)]
        spread.append(cents(max(found), min(found)))
    assert spread[0] < 2 and spread[2] < 2
    assert 15 < spread[1] < 40


NEWS = """(given) => {
    const context = new OfflineAudioContext(1, 48000, 48000), said = [], quiet = context.createGain();
    const outs = {tones: quiet, pulse: quiet}, wishes = () => given.wishes;
    const say = (news) => said.push(news);
    const player = stavewrightSound.playThrough(context, outs, given.piece, 0.1, wishes, say);
    while (player.next < given.until) player.advance();
    return said;
}"""


def test_the_mark_is_told_every_head_at_its_time(bench: Page) -> None:
    score, rows = piece()
    news = bench.evaluate(NEWS, playing(rows))
    heads = sorted(
        ((item["at"], item["head"]) for item in news if item.get("head") is not None),
        key=lambda item: item[0],
    )
    time = clock(score)
    wanted = [
        (float(time.seconds(Fraction(start, rows["whole"]))) + 0.1, head)
        for start, _, _, head, *_ in rows["tones"]
    ]
    assert heads[0] == (0.1, 0)  # it waits on the first head
    assert [head for _, head in heads[1:]] == [head for _, head in wanted]
    assert [at for at, _ in heads[1:]] == pytest.approx([at for at, _ in wanted])
    gone = [item["at"] for item in news if "head" in item and item["head"] is None]
    assert len(gone) == 3  # the rest, twice, and the end
    assert news[-1]["over"] and news[-1]["at"] == pytest.approx(float(time.length) + 0.1)


def test_a_piece_with_a_pickup_is_counted_in_up_to_it(bench: Page) -> None:
    _, rows = piece()
    news = bench.evaluate(NEWS, playing(rows, countIn=1))
    counted = [item for item in news if item.get("counting")]
    assert [item["beat"] for item in counted] == [1, 2, 3, 1, 2]
    first = min(item["at"] for item in news if item.get("beat") and not item["counting"])
    assert first == pytest.approx(0.1 + 5 * 60 / 200)
    assert next(item["beat"] for item in news if item.get("counting") is False) == 3


def test_times_through_and_the_ladder(bench: Page) -> None:
    _, rows = piece(PLAIN)
    ladder = {"by": 12, "every": 2, "top": 72}
    news = bench.evaluate(NEWS, playing(rows, tempo=60, times=3, ladder=ladder))
    firsts = [item for item in news if item.get("bar") == 1 and item.get("beat") == 1]
    assert [item["tempo"] for item in firsts] == [60, 72, 72]
    assert [item["at"] for item in firsts] == pytest.approx([0.1, 8.1, 8.1 + 8 * 60 / 72])


# -- the page -----------------------------------------------------------------------------------------------


def status(page: Page) -> Any:
    """The line that says what sounds."""
    return page.locator(".sound-words[role=status]")


def desk(page: Page) -> Any:
    """The drawer of controls, opened."""
    page.locator("details.sound > summary").click()
    return page.locator("form.sound-desk")


def test_a_player_sounds_the_drone_and_stops_it(page: Page) -> None:
    form = desk(page)
    form.get_by_role("button", name="Sound the drone").click()
    status(page).get_by_text("Drone at 293.7 hertz").wait_for()
    form.get_by_label("Octave").fill("3")
    status(page).get_by_text("Drone at 146.8 hertz").wait_for()
    form.get_by_label("A4, in hertz").fill("415")
    status(page).get_by_text("Drone at 138.5 hertz").wait_for()
    form.get_by_label("Note").select_option("A")
    status(page).get_by_text("Drone at 207.5 hertz").wait_for()
    form.get_by_label("Intervals").select_option("just")
    # A fifth above D3, which is at 415 * 2 ** (-19 / 12) hertz: 3/2.
    status(page).get_by_text("Drone at 207.7 hertz").wait_for()
    page.get_by_role("button", name="Stop all sound").click()
    form.get_by_role("button", name="Sound the drone").wait_for()
    assert status(page).inner_text() == ""


def test_everything_can_be_done_by_keyboard(page: Page) -> None:
    page.locator("details.sound > summary").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    status(page).get_by_text("Drone").wait_for()
    names = []
    for _ in range(60):
        page.keyboard.press("Tab")
        name = page.evaluate("document.activeElement.name || document.activeElement.textContent.trim()")
        names.append(name)
        if name == "Play as written":
            break
    every = page.evaluate(
        """() => [...document.querySelector("form.sound-desk").elements]
            .filter((item) => item.name && item.tagName !== "FIELDSET").map((item) => item.name)"""
    )
    assert set(every) - {"drone"} <= set(names)
    # The stop comes last in the page; from it the keyboard goes back to what began the sound.
    page.get_by_role("button", name="Stop all sound").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.name") == "drone"


def test_every_control_has_a_name(page: Page) -> None:
    desk(page)
    bare = page.evaluate(
        """() => [...document.querySelectorAll("form.sound-desk input, form.sound-desk select")]
            .filter((control) => !control.labels.length || !control.labels[0].textContent.trim()).length"""
    )
    assert bare == 0


def test_the_pulse_is_counted_on_the_page(page: Page) -> None:
    form = desk(page)
    assert form.get_by_label("Quarters a minute").input_value() == "200"
    assert form.get_by_label("Beats in a bar").input_value() == "3"
    form.get_by_role("button", name="Start the pulse").click()
    page.locator(".sound-now").get_by_text("Counting in").wait_for()
    page.locator(".sound-now").get_by_text("bar 2").wait_for()
    form.get_by_role("button", name="Stop the pulse").click()
    assert not page.get_by_role("button", name="Stop all sound").is_visible()


MIDDLES = """() => {
    const drawings = [...document.querySelectorAll("figure.part svg.ink")];
    const svg = drawings.find((one) => one.getClientRects().length);
    const mark = svg.querySelector(".sound-mark");
    const middle = (node) => {
        const box = node.getBoundingClientRect();
        return [box.x + box.width / 2, box.y + box.height / 2];
    };
    const head = svg.querySelector(`[data-n="${mark.dataset.head}"]`);
    const sounding = head.classList.contains("sounding");
    return {head: mark.dataset.head, mark: middle(mark), note: middle(head), sounding};
}"""


def test_the_mark_goes_along_the_note_heads(page: Page) -> None:
    _, rows = piece()
    # Each place that the mark is put, as it is put there.
    page.evaluate(
        """(ask) => {
            const look = new Function("return " + ask)(), made = stavewrightSound.mark;
            window.seen = [];
            stavewrightSound.mark = (figure) => {
                const mark = made(figure);
                const move = (head) => {
                    mark.move(head);
                    window.seen.push(head === null ? null : look());
                };
                return {...mark, move};
            };
        }""",
        MIDDLES,
    )
    page.get_by_role("button", name="Play as written").click()
    page.wait_for_function("window.seen.length > 3")
    page.get_by_role("button", name="Play as written").wait_for(timeout=60_000)
    seen = page.evaluate("window.seen")
    heads = [int(item["head"]) for item in seen if item]
    assert heads == [0, *(head for _, _, _, head, *_ in rows["tones"])]
    for item in filter(None, seen):
        assert item["mark"] == pytest.approx(item["note"], abs=0.6)
        assert item["sounding"]
    assert page.locator(".sound-mark").count() == 0
    assert page.locator(".sounding").count() == 0


def test_the_mark_goes_along_the_narrow_drawing_on_a_phone(chromium: Browser, site: Path) -> None:
    page = open_page(
        chromium,
        site / "exercises/slope/d/index.html",
        viewport={"width": 390, "height": 800},
        reduced_motion="reduce",
    )
    page.get_by_role("button", name="Play as written").click()
    page.wait_for_function("document.querySelector('.sound-mark.shown')")
    found = page.evaluate(MIDDLES)
    assert found["mark"] == pytest.approx(found["note"], abs=0.6)
    assert page.errors == []
    page.close()


def test_the_mark_glides_only_where_motion_is_welcome(chromium: Browser, site: Path) -> None:
    for motion, moves in (("reduce", False), ("no-preference", True)):
        page = open_page(chromium, site / "exercises/slope/d/index.html", reduced_motion=motion)
        page.get_by_role("button", name="Play as written").click()
        page.wait_for_function("document.querySelector('.sound-mark.shown')")
        properties = page.evaluate(
            "getComputedStyle(document.querySelector('.sound-mark')).transitionProperty"
        )
        assert ("transform" in properties) is moves
        page.close()


def test_one_piece_plays_at_a_time(page: Page) -> None:
    page.get_by_role("button", name="Play as written").click()
    page.get_by_role("button", name="Stop as written").wait_for()
    page.get_by_role("button", name="Play slurred").click()
    page.get_by_role("button", name="Stop slurred").wait_for()
    assert page.get_by_role("button", name="Play as written").count() == 1
    page.get_by_role("button", name="Stop slurred").click()
    page.get_by_role("button", name="Play slurred").wait_for()


def test_over_the_drone(page: Page) -> None:
    form = desk(page)
    form.get_by_label("over the drone").check()
    page.get_by_role("button", name="Play as written").click()
    status(page).get_by_text("Playing through, drone at 293.7 hertz").wait_for()
    page.get_by_role("button", name="Stop as written").click()
    page.wait_for_function("document.querySelector('.sound-words').textContent === ''")


def test_choices_are_remembered_on_the_device(chromium: Browser, site: Path) -> None:
    context = chromium.new_context()
    address = (site / "exercises/slope/d/index.html").as_uri()
    page = context.new_page()
    page.goto(address)
    form = desk(page)
    form.get_by_label("A4, in hertz").fill("442.5")
    form.get_by_label("Quarters a minute").fill("210")
    form.get_by_label("with the pulse").check()
    page.goto((site / "exercises/plain/g/index.html").as_uri())
    form = page.locator("form.sound-desk")
    assert form.get_by_label("A4, in hertz").input_value() == "442.5"
    assert form.get_by_label("with the pulse").is_checked()
    # The tempo is this exercise's own.
    assert form.get_by_label("Quarters a minute").input_value() == "60"
    page.goto(address)
    assert page.get_by_label("Quarters a minute").input_value() == "210"
    context.close()


def test_a_number_out_of_bounds_goes_back_to_the_last_good_one(page: Page) -> None:
    form = desk(page)
    form.get_by_role("button", name="Sound the drone").click()
    a4 = form.get_by_label("A4, in hertz")
    a4.fill("9000")
    page.keyboard.press("Tab")
    assert a4.input_value() == "440"
    assert "293.7" in status(page).inner_text()


@pytest.mark.parametrize(
    "kept", ["nonsense", "[]", "null", '{"a4": "x", "droneLevel": 99, "pitch": "H"}', "1"]
)
def test_what_another_version_kept_does_no_harm(chromium: Browser, site: Path, kept: str) -> None:
    names = ("stavewright.sound", "stavewright.tempos")
    before = "".join(f"localStorage.setItem('{name}', {json.dumps(kept)});" for name in names)
    page = open_page(chromium, site / "exercises/slope/d/index.html", before)
    form = desk(page)
    assert form.get_by_label("A4, in hertz").input_value() == "440"
    assert 0 <= int(form.locator("[name=droneLevel]").input_value()) <= 10
    form.get_by_role("button", name="Sound the drone").click()
    status(page).get_by_text("Drone at").wait_for()
    assert page.errors == []
    page.close()


def test_blocked_storage_is_said_and_does_no_harm(chromium: Browser, site: Path) -> None:
    before = "Object.defineProperty(window, 'localStorage', {get() { throw new DOMException('blocked'); }})"
    page = open_page(chromium, site / "exercises/slope/d/index.html", before)
    form = desk(page)
    form.locator("[name=droneLevel]").fill("3")
    page.get_by_text("This browser keeps nothing for us").first.wait_for()
    form.get_by_role("button", name="Sound the drone").click()
    status(page).get_by_text("Drone at").wait_for()
    assert page.errors == []
    page.close()


def test_a_browser_without_sound_says_so(chromium: Browser, site: Path) -> None:
    page = open_page(
        chromium,
        site / "exercises/slope/d/index.html",
        "delete window.AudioContext; delete window.webkitAudioContext",
    )
    page.get_by_text("This browser cannot make sound for a page.").wait_for()
    assert not page.locator("form.sound-desk").count()
    assert not page.locator("[data-play-button]").first.is_visible()
    assert page.locator("figure.part .piece").first.is_visible()
    assert page.errors == []
    page.close()


def test_sound_that_is_not_allowed_is_said(chromium: Browser, site: Path) -> None:
    before = """
        AudioContext.prototype.resume = () => Promise.reject(new DOMException("no", "NotAllowedError"));
        Object.defineProperty(AudioContext.prototype, "state", {get: () => "suspended"});"""
    page = open_page(chromium, site / "exercises/slope/d/index.html", before)
    page.get_by_role("button", name="Play as written").click()
    page.get_by_role("alert").get_by_text("does not let this page make sound").wait_for()
    assert page.get_by_role("button", name="Play as written").is_visible()
    assert status(page).inner_text() == ""
    assert page.errors == []
    page.close()


def test_without_scripts_the_music_stands_alone(chromium: Browser, site: Path) -> None:
    page = open_page(chromium, site / "exercises/slope/d/index.html", java_script_enabled=False)
    assert page.locator("figure.part .piece").first.is_visible()
    assert not page.locator(".sound").is_visible()
    assert not page.locator("[data-play-button]").first.is_visible()
    page.close()


def test_the_caution_about_loud_sound_stands_with_the_controls(page: Page) -> None:
    desk(page)
    assert "harm hearing" in page.locator(".sound-caution").inner_text()
    assert page.locator(".sound-caution").is_visible()


def test_on_a_keys_page_each_exercise_plays_at_its_own_tempo(chromium: Browser, site: Path) -> None:
    before = "localStorage.setItem('stavewright.tempos', JSON.stringify({plain: 66}))"
    page = open_page(chromium, site / "keys/d/index.html", before)
    page.get_by_role("button", name="Play Slope, From D5, middle register").click()
    page.locator(".sound-now").get_by_text("quarter = 200").wait_for()
    page.locator(".sound-mark.shown").first.wait_for(state="attached")
    form = desk(page)
    assert form.get_by_label("Note").locator("option").first.inner_text() == "the keynote, D"
    page.goto((site / "keys/g/index.html").as_uri())
    page.get_by_role("button", name="Play Plain, From G4, low register").click()
    page.locator(".sound-now").get_by_text("quarter = 66").wait_for()
    assert page.errors == []
    page.close()


def test_on_the_stand_all_sound_can_be_stopped(chromium: Browser, site: Path) -> None:
    page = open_page(chromium, site / "exercises/slope/d/index.html")
    desk(page).get_by_role("button", name="Sound the drone").click()
    page.get_by_role("button", name="Put it on the stand").click()
    page.locator("dialog[open]").get_by_role("button", name="Stop all sound").click()
    page.wait_for_function("document.querySelector('.sound-words').textContent === ''")
    page.get_by_role("button", name="Close").click()
    page.locator("form.sound-desk").get_by_role("button", name="Sound the drone").wait_for()
    assert page.errors == []
    page.close()


def test_every_page_has_a_drone_and_a_pulse(chromium: Browser, site: Path) -> None:
    for address in ("index.html", "keys/d/index.html", "exercises/slope/index.html", "language/index.html"):
        page = open_page(chromium, site / address)
        form = desk(page)
        form.get_by_role("button", name="Sound the drone").click()
        status(page).get_by_text("Drone at").wait_for()
        form.get_by_role("button", name="Start the pulse").click()
        status(page).get_by_text("pulse").wait_for()
        assert page.errors == [], address
        page.close()


def test_a_transposing_instrument_reads_its_own_names_and_hears_the_sound(
    chromium: Browser, tmp_path: Path
) -> None:
    site = folder(tmp_path, "clarinet-b-flat")
    page = open_page(chromium, site / "exercises/plain/g/index.html")
    form = desk(page)
    labels = form.get_by_label("Note").locator("option").all_inner_texts()
    assert labels[0] == "the keynote, G"
    assert "G (sounds F)" in labels
    form.get_by_role("button", name="Sound the drone").click()
    # Written G, heard as F3 in the octave that the drone begins in: 440 * 2 ** ((53 - 69) / 12).
    status(page).get_by_text("Drone at 174.6 hertz").wait_for()
    tones = json.loads(page.locator("script[data-play]").first.text_content())["tones"]
    assert [row[2] % 12 for row in tones] == [5, 7, 9]  # F G A
    assert page.errors == []
    page.close()
