"""One's own playing on a page: the recording and the pitch, with the browser's own false microphone.

The browser is asked for a microphone that plays a file, and for consent without a question (Chromium's
switches). Where the microphone must hear the page itself, the page's way out is led into it.
"""

from __future__ import annotations

import functools
import threading
import wave
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import launch_chromium
from sound_bench import RATE, Browser, Page, site
from test_browser_policy import POLICY
from test_browser_site import WCAG, Host, Quiet, axe

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


# -- the recording -------------------------------------------------------------------------------------------


def test_nobody_is_asked_before_a_tap(opened: Any, listening: Browser) -> None:
    page = opened(listening)
    drawer(page).get_by_role("button", name="Record yourself").wait_for()
    assert page.evaluate("window.asked") == []
    assert not page.locator(".take, .pitch").first.is_visible()
    assert not page.locator("[data-refusal]:visible").count()


def test_a_recording_is_made_heard_and_erased(opened: Any, listening: Browser) -> None:
    page = opened(listening)
    kept = page.evaluate("Object.keys(localStorage)")
    record(page)
    wish = page.evaluate("window.asked")[0]["audio"]
    assert [wish[name] for name in ("echoCancellation", "noiseSuppression", "autoGainControl")] == [False] * 3
    assert states(page) == ["ended"]
    page.get_by_role("button", name="Hear it").click()
    page.locator(".sound-words").get_by_text("Your recording").wait_for()
    page.get_by_role("button", name="Stop all sound").click()
    page.get_by_role("button", name="Hear it").click()
    page.locator(".sound-words").get_by_text("Your recording").wait_for()
    # It ends by itself.
    page.locator(".take").get_by_role("button", name="Hear it").wait_for()
    assert page.locator(".sound-words").inner_text() == ""
    page.get_by_role("button", name="Erase the recording").click()
    assert not page.locator(".take").is_visible()
    assert page.locator(".sound-words").inner_text() == "The recording is erased"
    assert page.evaluate("window.sent") == []
    assert page.evaluate("Object.keys(localStorage)") == kept
    assert page.evaluate("indexedDB.databases().then((all) => all.length)") == 0


def test_a_page_without_music_offers_none(opened: Any, listening: Browser, address: str) -> None:
    page = opened(listening, at=address.partition("exercises/")[0] + "index.html")
    record(page, 300)
    assert not page.get_by_label("with the music").is_visible()


def test_where_recording_stops_nothing_erases(opened: Any, listening: Browser) -> None:
    """A second tap on "Stop recording" does no harm."""
    page = opened(listening, viewport={"width": 390, "height": 800})
    drawer(page).get_by_role("button", name="Record yourself").click()
    page.locator(".take-words").get_by_text("Recording").wait_for()
    box = page.locator(".take").get_by_role("button", name="Stop recording").bounding_box()
    stop(page)
    middle = [box["x"] + box["width"] / 2, box["y"] + box["height"] / 2]
    under = page.evaluate("([x, y]) => document.elementFromPoint(x, y).dataset.ownKey", middle)
    assert under == "hear"


def test_a_recording_ends_at_its_limit(opened: Any, listening: Browser) -> None:
    sooner = (
        "const wait = setTimeout; window.setTimeout = (act, time) => wait(act, time === 600000 ? 700 : time);"
    )
    page = opened(listening, before=sooner)
    drawer(page).get_by_role("button", name="Record yourself").click()
    page.locator(".take-words").get_by_text("Your recording").wait_for()
    assert states(page) == ["ended"]


def test_leaving_the_page_stops_and_erases(opened: Any, listening: Browser) -> None:
    page = opened(listening)
    drawer(page).get_by_role("button", name="Record yourself").click()
    page.locator(".take-words").get_by_text("Recording").wait_for()
    page.wait_for_timeout(300)
    page.evaluate(
        """() => {
            Object.defineProperty(document, "hidden", { value: true, configurable: true });
            document.dispatchEvent(new Event("visibilitychange"));
        }"""
    )
    page.locator(".take-words").get_by_text("Your recording").wait_for()
    assert states(page) == ["ended"]
    page.evaluate("dispatchEvent(new Event('pagehide'))")
    assert not page.locator(".take").is_visible()


def test_what_was_played_along_with_is_heard_at_the_same_place(opened: Any, listening: Browser) -> None:
    page = opened(listening, before=LOOP)
    controls = drawer(page)
    controls.get_by_label("Bars of count-in").fill("0")
    controls.get_by_label("With the drone").select_option("never")
    controls.get_by_role("button", name="Record yourself").click()
    page.locator(".take-words").get_by_text("Recording").wait_for()
    page.wait_for_timeout(400)
    page.locator("button[data-play-button]").first.click()
    page.wait_for_timeout(1500)
    stop(page)
    page.locator("button[data-play-button]").first.click()
    # What is chosen afterwards is not what was recorded.
    controls = drawer(page)
    controls.get_by_label("Bars of count-in").fill("2")
    controls.get_by_label("Quarters per minute").fill("90")
    page.get_by_label("with the music").check()
    page.get_by_role("button", name="Hear it").click()
    page.wait_for_function("window.heard.length === 1")
    [heard], begun = page.evaluate("[window.heard, window.begun]")
    music = begun[-1]
    assert (music["tempo"], music["countIn"]) == (200, 0)
    # The loop is as long as the way through the browser; a player's is as long as it reports.
    assert heard["when"] + heard["first"] == pytest.approx(music["begin"], abs=0.12)
    page.get_by_role("button", name="Stop all sound").click()
    assert page.get_by_role("button", name="Hear it").is_visible()


def test_other_music_begins_with_the_first_tone(opened: Any, listening: Browser) -> None:
    page = opened(listening, before=LOOP.replace("window.microphone =", "window.nothing ="))
    record(page, 1500)
    page.get_by_label("with the music").check()
    page.get_by_role("button", name="Hear it").click()
    page.wait_for_function("window.heard.length === 1")
    [heard], [music] = page.evaluate("[window.heard, window.begun]")
    assert heard["when"] + (heard["first"] or 0) == pytest.approx(music["begin"], abs=1e-6)
    assert music["countIn"] == 0
    page.locator(".sound-words").get_by_text("Playing through, drone on").wait_for()


# -- the pitch -----------------------------------------------------------------------------------------------


def words(page: Page) -> Any:
    """What is said of the pitch."""
    return page.locator(".pitch-words")


def test_the_pitch_is_shown_said_once_and_hidden(opened: Any, listening: Browser) -> None:
    page = opened(listening)
    drawer(page).get_by_role("button", name="Show your pitch").click()
    words(page).get_by_text("12 cents above A4").wait_for()
    said = page.locator(".pitch [role=status]")
    said.get_by_text("12 cents above A4").wait_for(state="attached")
    assert page.locator(".pitch-trace").get_attribute("d")
    # Its own A4, as the book or the player has it.
    drawer(page).get_by_label("A4, in hertz").fill("443")
    words(page).get_by_text("within 2 cents").wait_for()
    page.get_by_role("button", name="Hide your pitch").last.click()
    assert not page.locator(".pitch").is_visible()
    assert states(page) == ["ended"]
    assert page.evaluate("window.sent") == []


def test_over_a_drone_only_with_headphones(opened: Any, listening: Browser) -> None:
    page = opened(listening)
    controls = drawer(page)
    controls.get_by_role("button", name="Show your pitch").click()
    page.locator("[data-bar=drone]").click()
    words(page).get_by_text("only with headphones").wait_for()
    drawer(page).get_by_label("I wear headphones").check()
    # The exercise writes a drone, so its intervals are just: a fifth is 2 cents wider than a tempered one.
    words(page).get_by_text("a fifth above the drone, 10 cents high").wait_for()
    controls.get_by_label("Intervals").select_option("tempered")
    words(page).get_by_text("a fifth above the drone, 12 cents high").wait_for()
    controls.get_by_label("Note", exact=True).select_option("B")
    words(page).get_by_text("below the drone, 12 cents high").wait_for()


def test_the_drone_in_the_microphone_is_no_player(opened: Any, listening: Browser) -> None:
    page = opened(listening, before=LOOP)
    controls = drawer(page)
    controls.get_by_label("I wear headphones").check()
    controls.get_by_role("button", name="Show your pitch").click()
    page.locator("[data-bar=drone]").click()
    words(page).get_by_text("The microphone hears the drone").wait_for()
    page.wait_for_timeout(600)
    assert words(page).inner_text().startswith("The microphone hears the drone")


WORDS = """() => {
    const all = {}, template = document.querySelector("[data-own-words]").content;
    for (const { dataset, textContent } of template.querySelectorAll("[data-word]")) all[dataset.word] = textContent;
    const word = (name, values = {}) => all[name].replace(/\\{(\\w+)\\}/g, (_, key) => values[key]);
    const over = { hertz: 220, just: true }, note = (midi) => `note ${midi}`;
    const describe = (semitones, cents, drone) =>
        stavewrightSound.describePitch(word, 220 * 2 ** ((semitones + cents / 100) / 12), drone, 440, note).words;
    const places = Array.from({ length: 73 }, (_, place) => place - 24);
    return [
        places.flatMap((semitones) => [-30, 0, 30].map((cents) => describe(semitones, cents, over))),
        [-24, -5, 0, 7, 12, 19, 31, 36].map((semitones) => describe(semitones, 30, over)),
        [-30, 0, 2, 30].map((cents) => describe(3, cents, null)),
    ];
}"""


def test_every_pitch_has_words(opened: Any, listening: Browser) -> None:
    every, some, notes = opened(listening).evaluate(WORDS)
    assert len(every) == 219
    assert not [words for words in every if "undefined" in words or "{" in words]
    assert some == [
        "two octaves below the drone, 30 cents high",
        "a fourth below the drone, 28 cents high",
        "the drone\u2019s own note, 30 cents high",
        "a fifth above the drone, 28 cents high",
        "an octave above the drone, 30 cents high",
        "a twelfth above the drone, 28 cents high",
        "a fifth and 2 octaves above the drone, 28 cents high",
        "3 octaves above the drone, 30 cents high",
    ]
    assert notes == [
        "30 cents below note 60",
        "note 60, within 2 cents",
        "note 60, within 2 cents",
        "30 cents above note 60",
    ]


def test_nothing_moves_for_a_reader_who_wants_no_motion(opened: Any, listening: Browser) -> None:
    page = opened(listening, reduced_motion="reduce")
    drawer(page).get_by_role("button", name="Show your pitch").click()
    words(page).get_by_text("12 cents above A4").wait_for()
    assert page.locator(".pitch-trace").get_attribute("d") == ""


# -- on the stand, by keyboard, for every reader -------------------------------------------------------------


def test_on_the_stand_both_are_at_hand(opened: Any, listening: Browser) -> None:
    page = opened(listening, viewport={"width": 390, "height": 800})
    page.get_by_role("button", name="Put it on the stand").click()
    drawer(page).get_by_role("button", name="Show your pitch").click()
    words(page).get_by_text("12 cents above A4").wait_for()
    record(page, 300)
    page.keyboard.press("PageDown")
    assert page.locator(".stand .take").is_visible()
    # The music keeps clear of the strips.
    sheet, strips = (page.locator(name).bounding_box() for name in (".stand-sheet", ".own"))
    assert sheet["y"] + sheet["height"] <= strips["y"]


def test_everything_by_keyboard(opened: Any, listening: Browser) -> None:
    page = opened(listening)
    now = "document.activeElement.dataset.ownKey || document.activeElement.id"
    page.locator("details.sound > summary").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.locator("[data-own-key=record]").focus()
    page.keyboard.press("Enter")
    page.locator(".take-words").get_by_text("Recording").wait_for()
    assert page.evaluate(now) == "end"
    page.keyboard.press("Enter")
    page.locator(".take-words").get_by_text("Your recording").wait_for()
    assert page.evaluate(now) == "hear"
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Shift+Tab")
    assert page.evaluate(now) == "erase"
    page.keyboard.press("Enter")
    assert page.evaluate(now) == "sound"


@pytest.mark.parametrize("width", [320, 390, 820])
def test_no_barrier_and_large_targets(opened: Any, listening: Browser, width: int) -> None:
    page = opened(listening, viewport={"width": width, "height": 800})
    drawer(page).get_by_role("button", name="Show your pitch").click()
    words(page).get_by_text("12 cents above A4").wait_for()
    record(page, 300)
    assert page.evaluate("document.documentElement.scrollWidth") == width
    for target in page.locator(".own :is(button, label):visible").all():
        box = target.bounding_box()
        assert min(box["width"], box["height"]) >= 44, target.inner_text()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= width
    drawer(page)
    for look in ("light", "dark") if width == 390 else ():
        page.emulate_media(color_scheme=look)
        found = axe.Axe().run(page, options={"runOnly": WCAG, "resultTypes": ["violations"]})
        assert found.violations_count == 0, (look, found.generate_report())


# -- refusals ------------------------------------------------------------------------------------------------


def fails(name: str) -> str:
    return f'window.microphone = async () => {{ throw new DOMException("no", "{name}"); }};'


@pytest.mark.parametrize(
    ("before", "button", "reason"),
    [
        (fails("NotAllowedError"), "Record yourself", "does not let this page use the microphone"),
        (fails("NotAllowedError"), "Show your pitch", "does not let this page use the microphone"),
        (fails("NotFoundError"), "Record yourself", "has no microphone"),
        (fails("NotReadableError"), "Show your pitch", "Another program uses the microphone"),
        (fails("TypeError"), "Show your pitch", "does not let a page use a microphone"),
        ("delete window.MediaRecorder;", "Record yourself", "cannot record sound for a page"),
    ],
)
def test_a_refusal_is_said_and_all_else_works(
    opened: Any, listening: Browser, before: str, button: str, reason: str
) -> None:
    page = opened(listening, before=before)
    controls = drawer(page)
    controls.get_by_role("button", name=button).click()
    said = page.locator("[data-refusal]:visible")
    said.get_by_text(reason).wait_for()
    assert said.count() == 1
    assert not page.locator(".take, .pitch").first.is_visible()
    controls.get_by_role("button", name="Start the drone").click()
    page.locator(".sound-words").get_by_text("Drone on D4").wait_for()


@pytest.mark.parametrize(
    ("before", "reason"),
    [
        ('Object.defineProperty(window, "isSecureContext", { value: false });', "over https"),
        (
            'Object.defineProperty(navigator, "mediaDevices", { value: undefined });',
            "does not let a page use",
        ),
        ("navigator.mediaDevices.enumerateDevices = async () => [];", "has no microphone"),
    ],
)
def test_where_there_is_none_nothing_is_offered(
    opened: Any, listening: Browser, before: str, reason: str
) -> None:
    page = opened(listening, before=before)
    controls = drawer(page)
    page.locator("[data-refusal]:visible").get_by_text(reason).wait_for()
    assert not controls.get_by_role("button", name="Record yourself").is_visible()
    assert not controls.get_by_role("button", name="Show your pitch").is_visible()
    assert not controls.get_by_label("I wear headphones").is_visible()


def test_a_machine_without_a_microphone(opened: Any, chromium: Browser) -> None:
    """The browser of the other tests has none, without any switch or stub."""
    page = opened(chromium)
    assert page.evaluate("navigator.mediaDevices.enumerateDevices().then((all) => all.length)") == 0
    drawer(page)
    page.locator("[data-refusal=none]").wait_for()


def test_a_host_that_forbids_it_is_obeyed(listening: Browser) -> None:
    for address in hosted(Closed):
        # The browser itself complains here.
        page = listening.new_page(service_workers="block")
        page.goto(address)
        drawer(page).get_by_role("button", name="Record yourself").click()
        page.locator("[data-refusal=refused]").wait_for()
        page.close()


def test_from_a_folder(opened: Any, listening: Browser) -> None:
    page = opened(listening, at=(Path(site()) / "exercises/slope/d/index.html").as_uri())
    record(page, 300)
