"""A recording of oneself: made, heard back, erased; by keyboard, on the stand, and where there is none."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from conftest import sweep
from microphone_bench import (
    LOOP,
    Closed,
    address,
    drawer,
    hosted,
    listening,
    opened,
    record,
    states,
    stop,
    words,
)
from sound_bench import Browser, site
from test_browser_site import WCAG, axe

__all__ = ["address", "listening", "opened"]


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


@pytest.mark.exhaustive
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


@pytest.mark.exhaustive
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


# -- on the stand, by keyboard, for every reader -------------------------------------------------------------


@pytest.mark.exhaustive
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
    # A recorder that is stopped at once may have nothing yet.
    page.wait_for_timeout(500)
    page.keyboard.press("Enter")
    page.locator(".take-words").get_by_text("Your recording").wait_for()
    assert page.evaluate(now) == "hear"
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Shift+Tab")
    assert page.evaluate(now) == "erase"
    page.keyboard.press("Enter")
    assert page.evaluate(now) == "sound"


@pytest.mark.exhaustive
@sweep("width", [320, 390, 820], every_day=1)
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


@sweep(
    "before, button, reason",
    [
        (fails("NotAllowedError"), "Record yourself", "does not let this page use the microphone"),
        (fails("NotAllowedError"), "Show your pitch", "does not let this page use the microphone"),
        (fails("NotFoundError"), "Record yourself", "has no microphone"),
        (fails("NotReadableError"), "Show your pitch", "Another program uses the microphone"),
        (fails("TypeError"), "Show your pitch", "does not let a page use a microphone"),
        ("delete window.MediaRecorder;", "Record yourself", "cannot record sound for a page"),
    ],
    every_day=2,
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


@sweep(
    "before, reason",
    [
        ('Object.defineProperty(window, "isSecureContext", { value: false });', "over https"),
        (
            'Object.defineProperty(navigator, "mediaDevices", { value: undefined });',
            "does not let a page use",
        ),
        ("navigator.mediaDevices.enumerateDevices = async () => [];", "has no microphone"),
    ],
    every_day=1,
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
    for closed in hosted(Closed):
        # The browser itself complains here.
        page = listening.new_page(service_workers="block")
        page.goto(closed)
        drawer(page).get_by_role("button", name="Record yourself").click()
        page.locator("[data-refusal=refused]").wait_for()
        page.close()


def test_from_a_folder(opened: Any, listening: Browser) -> None:
    page = opened(listening, at=(Path(site()) / "exercises/slope/d/index.html").as_uri())
    record(page, 300)
