"""What the tests of one's own playing share: pages in a browser with a false microphone.

The browser is asked for a microphone that plays a file, and for consent without a question (Chromium's
switches). Where the microphone must hear the page itself, the page's way out is led into it.
"""

from __future__ import annotations

import functools
import threading
import wave
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from conftest import launch_chromium
from sound_bench import RATE, Browser, Page, site
from test_browser_policy import POLICY
from test_browser_site import Host, Quiet

A_HIGH = 440 * 2 ** (12 / 1200)
FILE = "--use-file-for-fake-audio-capture"
CONSENT = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream")

WATCH = """
window.asked = [];
window.tracks = [];
window.sent = [];
if (navigator.mediaDevices) {
    const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
    navigator.mediaDevices.getUserMedia = async (wish) => {
        window.asked.push(wish);
        const stream = await (window.microphone ? window.microphone() : ask(wish));
        window.tracks.push(...stream.getTracks());
        return stream;
    };
}
for (const [of, name] of [[window, "fetch"], [navigator, "sendBeacon"], [XMLHttpRequest.prototype, "send"]]) {
    const does = of[name];
    of[name] = function (...given) { window.sent.push(String(given[0])); return does.apply(this, given); };
}
"""
"""Keeps each wish for a microphone, its tracks, and whatever a script sends."""

LOOP = """
addEventListener("DOMContentLoaded", () => {
    const sound = stavewrightSound, output = sound.output, playThrough = sound.playThrough;
    window.begun = [];
    window.heard = [];
    sound.output = (context) => {
        const input = output(context), into = context.createMediaStreamDestination();
        input.connect(into);
        window.microphone = async () => into.stream;
        return input;
    };
    sound.playThrough = (context, outs, piece, begin, wishes, ...more) => {
        const { tempo, countIn } = wishes();
        window.begun.push({ begin, tempo, countIn, from: (more[1] || {}).from || 0 });
        return playThrough(context, outs, piece, begin, wishes, ...more);
    };
    const start = AudioBufferSourceNode.prototype.start;
    AudioBufferSourceNode.prototype.start = function (when, ...more) {
        const first = this.buffer.duration < 0.5 ? null
            : sound.firstTone(this.buffer.getChannelData(0), this.buffer.sampleRate);
        if (this.buffer.duration >= 0.5) window.heard.push({ when, first });
        return start.call(this, when, ...more);
    };
});
"""
"""Leads what the page sounds into its microphone, and keeps when music and recordings begin."""


class Strict(Quiet):
    """A static host that lets its pages use the microphone, and hardly anything else."""

    allowed = "microphone=(self), camera=(), geolocation=()"

    def end_headers(self) -> None:
        """Add the policies."""
        self.send_header("Content-Security-Policy", POLICY)
        self.send_header("Permissions-Policy", self.allowed)
        super().end_headers()


class Closed(Strict):
    """A host that lets nobody use the microphone."""

    allowed = "microphone=()"


def hosted(kind: type[Quiet]) -> Iterator[str]:
    """The address of the exercise's page on a host."""
    host = Host(("127.0.0.1", 0), functools.partial(kind, directory=site()))
    threading.Thread(target=host.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{host.server_port}/exercises/slope/d/index.html"
    host.shutdown()
    host.server_close()


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    yield from hosted(Strict)


@pytest.fixture(scope="module")
def listening(chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A browser whose microphone hears A4, 12 cents high, after a moment of silence; over and over."""
    path = tmp_path_factory.mktemp("microphone") / "a.wav"
    time = np.arange(20 * RATE) / RATE
    tone = sum(part * np.sin(2 * np.pi * A_HIGH * k * time) for k, part in enumerate((0.15, 0.05, 0.02), 1))
    samples = np.concatenate([np.zeros(RATE // 2), np.minimum(1, time / 0.05) * tone])
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((samples * 32767).astype("<i2").tobytes())
    browser = launch_chromium(chromium.browser_type, *CONSENT, f"{FILE}={path}")
    yield browser
    browser.close()


@pytest.fixture
def opened(address: str) -> Iterator[Any]:
    """Opens the page in a browser; `before` runs before its scripts. No page may complain."""
    pages, said = [], []

    def start(browser: Browser, before: str = "", at: str = address, **options: Any) -> Page:
        page = browser.new_page(service_workers="block", **options)
        page.add_init_script(WATCH + before)
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("console", lambda line: said.append(line.text) if line.type == "error" else None)
        page.goto(at)
        pages.append(page)
        return page

    yield start
    for page in pages:
        page.close()
    assert said == []


def drawer(page: Page) -> Any:
    """The drawer, opened."""
    page.locator("details.sound:not([open]) > summary").click()
    return page.locator(".drawer")


def record(page: Page, milliseconds: float = 800) -> None:
    """Record for a while, and stop."""
    drawer(page).get_by_role("button", name="Record yourself").click()
    page.locator(".take-words").get_by_text("Recording").wait_for()
    page.wait_for_timeout(milliseconds)
    stop(page)


def stop(page: Page) -> None:
    page.locator(".take").get_by_role("button", name="Stop recording").click()
    page.locator(".take-words").get_by_text("Your recording").wait_for()


def states(page: Page) -> list[str]:
    """Whether each track of the microphone that the page was given is `live` or `ended`."""
    found: list[str] = page.evaluate("window.tracks.map((track) => track.readyState)")
    return found


def words(page: Page) -> Any:
    """What is said of the pitch."""
    return page.locator(".pitch-words")
