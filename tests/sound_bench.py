"""What the tests of sound share: a small book, and the page's own scripts rendered off line and measured.

Times are those of the audio clock, so that no test waits for a second to pass.
"""

from __future__ import annotations

import base64
import json
import math
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import write_book
from made_site import built_once
from numpy.typing import NDArray

from stavewright.language.read import read
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE
from stavewright.views.playback import play_through, play_through_json

sync_api = pytest.importorskip("playwright.sync_api")
Browser, Page = sync_api.Browser, sync_api.Page

RATE = 48_000
Samples = NDArray[np.float64]
SCRIPTS = Path(__file__).parent.parent / "site_src/assets/sound"

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


@cache
def site(instrument: str = "flute") -> Path:
    """The site of the small book for an instrument, built once a run."""

    def write(folder: Path) -> Path:
        book = write_book(folder, {"slope": SLOPE, "plain": PLAIN})
        config = book / "mkdocs.yml"
        text = config.read_text(encoding="utf-8").replace("      tops: {flute: A6}\n", "")
        config.write_text(text.replace("[flute]", f"[{instrument}]"), encoding="utf-8")
        return book

    return built_once(f"sound-{instrument}", write)


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


def rendering(browser: Browser) -> Iterator[Page]:
    """An empty page with the sound's scripts, for `render`."""
    page = browser.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    for name in ("tuning", "voices", "timing", "levels", "play"):
        page.add_script_tag(path=SCRIPTS / f"{name}.js")
    yield page
    assert errors == []
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
    score = settings_of(exercise, FLUTE)[0].score()
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
