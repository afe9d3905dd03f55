"""The pitch that a player plays, as the page shows it and says it."""

from __future__ import annotations

from typing import Any

import pytest
from microphone_bench import LOOP, address, drawer, listening, opened, states, words
from sound_bench import Browser

__all__ = ["address", "listening", "opened"]


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


@pytest.mark.exhaustive
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
    for (const span of template.querySelectorAll("[data-word]")) all[span.dataset.word] = span.textContent;
    const word = (name, values = {}) => all[name].replace(/\\{(\\w+)\\}/g, (_, key) => values[key]);
    const over = { hertz: 220, just: true }, note = (midi) => `note ${midi}`;
    const hertz = (semitones, cents) => 220 * 2 ** ((semitones + cents / 100) / 12);
    const describe = (semitones, cents, drone) =>
        stavewrightSound.describePitch(word, hertz(semitones, cents), drone, 440, note).words;
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
