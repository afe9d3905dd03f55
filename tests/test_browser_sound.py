"""The sound of a page, used as a player would, in pages opened from a folder without a server."""

from __future__ import annotations

import json
from collections.abc import Iterator
from random import Random
from typing import Any
from urllib.parse import urlsplit

import pytest
from conftest import sweep
from made_scores import made_score
from sound_bench import EVERYTHING, RATE, Browser, Page, decibels, open_page, piece, playing, render, site

from stavewright.music.winds.instruments import FLUTE
from stavewright.views.playback import play_through, play_through_json
from stavewright.views.short_play import shorten_play


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """The exercise's page, with what it may move kept still."""
    page = open_page(chromium, site() / "exercises/slope/d/index.html", reduced_motion="reduce")
    yield page
    assert page.errors == []
    page.close()


def status(page: Page) -> Any:
    """The line that says what sounds."""
    return page.locator(".sound-words[role=status]")


def server(page: Page) -> Any:
    """The drawer of controls, opened."""
    page.locator("details.sound > summary").click()
    return page.locator("form.sound-desk")


KEEP_TUNINGS = """() => {
    const hertz = stavewrightSound.hertz;
    window.tunings = [];
    stavewrightSound.hertz = (midi, tuning, cents) => {
        window.tunings.push(tuning);
        return hertz(midi, tuning, cents);
    };
}"""
"""A script that keeps each tuning in which a note is asked for."""


def stored(what: str, text: str) -> str:
    """A script that keeps something on the device as the book itself does: under the book's own root."""
    name = f"stavewright {urlsplit(site().as_uri()).path}/ {what}"
    return f"localStorage.setItem({json.dumps(name)}, {json.dumps(text)});"


def test_a_player_sounds_the_drone_and_stops_it(page: Page) -> None:
    form = server(page)
    form.get_by_role("button", name="Start the drone").click()
    status(page).get_by_text("Drone on D4, 293.7 hertz").wait_for()
    form.get_by_label("Octave").fill("3")
    status(page).get_by_text("Drone on D3, 146.8 hertz").wait_for()
    form.get_by_label("A4, in hertz").fill("415")
    status(page).get_by_text("Drone on D3, 138.5 hertz").wait_for()
    form.get_by_label("Note").select_option("A")
    # The exercise writes a drone, so it is just: a fifth above D3 (415 * 2 ** (-19 / 12) hertz), 3/2.
    status(page).get_by_text("Drone on A3, 207.7 hertz").wait_for()
    form.get_by_label("Intervals").select_option("tempered")
    status(page).get_by_text("Drone on A3, 207.5 hertz").wait_for()
    form.get_by_label("Add to it").select_option("both")
    status(page).get_by_text("Drone on A3 with fifth and octave, 207.5 hertz").wait_for()
    page.get_by_role("button", name="Stop all sound").click()
    form.get_by_role("button", name="Start the drone").wait_for()
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
            .filter((item) => item.name && item.tagName !== "FIELDSET" && !item.closest("[hidden]"))
            .map((item) => item.name)"""
    )
    assert set(every) - {"drone"} <= set(names)
    # The stop comes last in the page; from it the keyboard goes back to what began the sound.
    page.get_by_role("button", name="Stop all sound").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.name") == "drone"


def test_every_control_has_a_name(page: Page) -> None:
    server(page)
    bare = page.evaluate(
        """() => [...document.querySelectorAll("form.sound-desk input, form.sound-desk select")]
            .filter((control) => !control.labels.length || !control.labels[0].textContent.trim()).length"""
    )
    assert bare == 0


def test_the_pulse_is_counted_on_the_page(page: Page) -> None:
    form = server(page)
    assert form.get_by_label("Quarters per minute").input_value() == "200"
    assert form.get_by_label("Beats in a bar").input_value() == "3"
    form.get_by_role("button", name="Start the metronome").click()
    page.locator(".sound-now").get_by_text("Counting in").wait_for()
    page.locator(".sound-now").get_by_text("bar 2").wait_for()
    form.get_by_role("button", name="Stop the metronome").click()
    assert not page.get_by_role("button", name="Stop all sound").is_visible()


MIDDLES = """() => {
    const drawings = [...document.querySelectorAll("figure.part svg.ink")];
    const svg = drawings.find((one) => one.getClientRects().length);
    const mark = svg.querySelector(".sound-mark");
    const middle = (node) => {
        const box = node.getBoundingClientRect();
        return [box.x + box.width / 2, box.y + box.height / 2];
    };
    const [head, ...others] = svg.querySelectorAll(".sounding");
    return {head: mark.dataset.head, mark: middle(mark), note: middle(head), sounding: !others.length};
}"""


@pytest.mark.exhaustive
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


def test_the_mark_goes_along_the_narrow_drawing_on_a_phone(chromium: Browser) -> None:
    page = open_page(
        chromium,
        site() / "exercises/slope/d/index.html",
        viewport={"width": 390, "height": 800},
        reduced_motion="reduce",
    )
    page.get_by_role("button", name="Play as written").click()
    page.wait_for_function("document.querySelector('.sound-mark.shown')")
    found = page.evaluate(MIDDLES)
    assert found["mark"] == pytest.approx(found["note"], abs=0.6)
    assert page.errors == []
    page.close()


def test_the_mark_glides_only_where_motion_is_welcome(chromium: Browser) -> None:
    for motion, moves in (("reduce", False), ("no-preference", True)):
        page = open_page(chromium, site() / "exercises/slope/d/index.html", reduced_motion=motion)
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


def test_an_exercise_that_writes_a_drone_sounds_it_and_just(page: Page) -> None:
    page.evaluate(KEEP_TUNINGS)
    page.get_by_role("button", name="Play as written").click()
    status(page).get_by_text("Playing through, drone on D4, 293.7 hertz").wait_for()
    # The drone's, and those of the first tones.
    page.wait_for_function("window.tunings.length > 2")
    page.get_by_role("button", name="Stop as written").click()
    page.wait_for_function("document.querySelector('.sound-words').textContent === ''")
    assert page.evaluate("window.tunings.every(({ just }) => just)")


def test_the_player_may_choose_otherwise(page: Page) -> None:
    form = server(page)
    form.get_by_label("With the drone").select_option("never")
    form.get_by_label("Intervals").select_option("tempered")
    page.evaluate(KEEP_TUNINGS)
    page.get_by_role("button", name="Play as written").click()
    status(page).get_by_text("Playing through", exact=True).wait_for()
    page.wait_for_function("window.tunings.length > 1")
    page.get_by_role("button", name="Stop as written").click()
    assert page.evaluate("window.tunings.every(({ just }) => !just)")


@pytest.mark.exhaustive
def test_an_exercise_without_a_drone_sounds_tempered_and_alone(chromium: Browser) -> None:
    page = open_page(chromium, site() / "exercises/plain/g/index.html")
    page.evaluate(KEEP_TUNINGS)
    page.get_by_role("button", name="Play as written").click()
    status(page).get_by_text("Playing through", exact=True).wait_for()
    page.wait_for_function("window.tunings.length > 1")
    page.get_by_role("button", name="Stop as written").click()
    assert page.evaluate("window.tunings.every(({ just }) => !just)")
    form = server(page)
    form.get_by_label("With the drone").select_option("always")
    # The drawer lies over the page.
    page.keyboard.press("Escape")
    page.get_by_role("button", name="Play as written").click()
    status(page).get_by_text("Playing through, drone on G3, 196.0 hertz").wait_for()
    assert page.errors == []
    page.close()


def test_on_a_keys_page_a_piece_brings_its_own_drone(chromium: Browser) -> None:
    page = open_page(chromium, site() / "keys/d/index.html")
    page.get_by_role("button", name="Play Slope, From D5, middle register").click()
    status(page).get_by_text("Playing through, drone on D4, 293.7 hertz").wait_for()
    assert page.errors == []
    page.close()


def test_choices_are_remembered_on_the_device(chromium: Browser) -> None:
    context = chromium.new_context()
    address = (site() / "exercises/slope/d/index.html").as_uri()
    page = context.new_page()
    page.goto(address)
    form = server(page)
    form.get_by_label("A4, in hertz").fill("442.5")
    form.get_by_label("Quarters per minute").fill("210")
    form.get_by_label("with the metronome").check()
    page.goto((site() / "exercises/plain/g/index.html").as_uri())
    form = page.locator("form.sound-desk")
    assert form.get_by_label("A4, in hertz").input_value() == "442.5"
    assert form.get_by_label("with the metronome").is_checked()
    # The tempo is this exercise's own.
    assert form.get_by_label("Quarters per minute").input_value() == "60"
    page.goto(address)
    assert page.get_by_label("Quarters per minute").input_value() == "210"
    context.close()


def test_a_number_out_of_bounds_goes_back_to_the_last_good_one(page: Page) -> None:
    form = server(page)
    form.get_by_role("button", name="Start the drone").click()
    a4 = form.get_by_label("A4, in hertz")
    a4.fill("9000")
    page.keyboard.press("Tab")
    assert a4.input_value() == "440"
    assert "293.7" in status(page).inner_text()


@sweep("kept", ["nonsense", "[]", "null", '{"a4": "x", "droneLevel": 99, "pitch": "H"}', "1"], every_day=1)
def test_what_another_version_kept_does_no_harm(chromium: Browser, kept: str) -> None:
    before = stored("sound", kept) + stored("tempos", kept)
    page = open_page(chromium, site() / "exercises/slope/d/index.html", before)
    form = server(page)
    assert form.get_by_label("A4, in hertz").input_value() == "440"
    assert 0 <= int(form.locator("[name=droneLevel]").input_value()) <= 10
    form.get_by_role("button", name="Start the drone").click()
    status(page).get_by_text("Drone on").wait_for()
    assert page.errors == []
    page.close()


def test_blocked_storage_is_said_and_does_no_harm(chromium: Browser) -> None:
    before = "Object.defineProperty(window, 'localStorage', {get() { throw new DOMException('blocked'); }})"
    page = open_page(chromium, site() / "exercises/slope/d/index.html", before)
    form = server(page)
    form.locator("[name=droneLevel]").fill("3")
    page.get_by_text("This browser is not saving data").first.wait_for()
    form.get_by_role("button", name="Start the drone").click()
    status(page).get_by_text("Drone on").wait_for()
    assert page.errors == []
    page.close()


def test_a_browser_without_sound_says_so(chromium: Browser) -> None:
    page = open_page(
        chromium,
        site() / "exercises/slope/d/index.html",
        "delete window.AudioContext; delete window.webkitAudioContext",
    )
    page.get_by_text("This browser cannot make sound for a page.").wait_for()
    assert not page.locator("form.sound-desk").count()
    assert not page.locator("[data-play-button]").first.is_visible()
    assert page.locator("figure.part .piece").first.is_visible()
    assert page.errors == []
    page.close()


def test_sound_that_is_not_allowed_is_said(chromium: Browser) -> None:
    before = """
        AudioContext.prototype.resume = () => Promise.reject(new DOMException("no", "NotAllowedError"));
        Object.defineProperty(AudioContext.prototype, "state", {get: () => "suspended"});"""
    page = open_page(chromium, site() / "exercises/slope/d/index.html", before)
    page.get_by_role("button", name="Play as written").click()
    page.get_by_role("alert").get_by_text("does not let this page make sound").wait_for()
    assert page.get_by_role("button", name="Play as written").is_visible()
    assert status(page).inner_text() == ""
    assert page.errors == []
    page.close()


def test_without_scripts_the_music_stands_alone(chromium: Browser) -> None:
    page = open_page(chromium, site() / "exercises/slope/d/index.html", java_script_enabled=False)
    assert page.locator("figure.part .piece").first.is_visible()
    assert not page.locator(".sound").is_visible()
    assert not page.locator("[data-play-button]").first.is_visible()
    page.close()


def test_the_caution_about_loud_sound_stands_with_the_controls(page: Page) -> None:
    server(page)
    assert "harm hearing" in page.locator(".sound-caution").inner_text()
    assert page.locator(".sound-caution").is_visible()


@pytest.mark.exhaustive
def test_on_a_keys_page_each_exercise_plays_at_its_own_tempo(chromium: Browser) -> None:
    before = stored("tempos", '{"plain": 66}')
    page = open_page(chromium, site() / "keys/d/index.html", before)
    page.get_by_role("button", name="Play Slope, From D5, middle register").click()
    page.locator(".sound-now").get_by_text("quarter = 200").wait_for()
    page.locator(".sound-mark.shown").first.wait_for(state="attached")
    form = server(page)
    assert form.get_by_label("Note").locator("option").first.inner_text() == "the keynote, D"
    page.goto((site() / "keys/g/index.html").as_uri())
    page.get_by_role("button", name="Play Plain, From G4, low register").click()
    page.locator(".sound-now").get_by_text("quarter = 66").wait_for()
    assert page.errors == []
    page.close()


def test_on_the_stand_all_sound_can_be_stopped(chromium: Browser) -> None:
    page = open_page(chromium, site() / "exercises/slope/d/index.html")
    server(page).get_by_role("button", name="Start the drone").click()
    page.get_by_role("button", name="Put it on the stand").click()
    page.locator("dialog[open]").get_by_role("button", name="Stop all sound").click()
    page.wait_for_function("document.querySelector('.sound-words').textContent === ''")
    page.get_by_role("button", name="Close").click()
    assert not page.locator("dialog[open]").count()
    page.get_by_role("button", name="Drone", pressed=False).wait_for()
    assert page.errors == []
    page.close()


@pytest.mark.exhaustive
def test_every_page_has_a_drone_and_a_pulse(chromium: Browser) -> None:
    for address in ("index.html", "keys/d/index.html", "exercises/slope/index.html", "language/index.html"):
        page = open_page(chromium, site() / address)
        form = server(page)
        form.get_by_role("button", name="Start the drone").click()
        status(page).get_by_text("Drone on").wait_for()
        form.get_by_role("button", name="Start the metronome").click()
        status(page).get_by_text("metronome").wait_for()
        assert page.errors == [], address
        page.close()


def test_a_transposing_instrument_reads_its_own_names_and_hears_the_sound(chromium: Browser) -> None:
    page = open_page(chromium, site("clarinet-b-flat") / "exercises/plain/g/index.html")
    form = server(page)
    labels = form.get_by_label("Note").locator("option").all_inner_texts()
    assert labels[0] == "the keynote, G"
    assert "G (sounds F)" in labels
    form.get_by_role("button", name="Start the drone").click()
    # Written G, heard as F3 in the octave that the drone begins in: 440 * 2 ** ((53 - 69) / 12).
    status(page).get_by_text("Drone on G3 (sounds F3), 174.6 hertz").wait_for()
    read = "(found) => stavewrightSound.readPlay(found.dataset.play).tones"
    tones = page.locator("[data-play]").first.evaluate(read)
    assert [row[2] % 12 for row in tones] == [5, 7, 9]  # F G A
    assert page.errors == []
    page.close()


TWO_PLAYERS = """\
title: Two
home: D5 in D major
chords: D . . G | |
music:
  |: h D5 F#5 | w E5 fermata :|
music second:
  |: q A4 rest B4 rest | w C#5 fermata :|
"""


def test_a_page_reads_the_play_through_that_was_shortened(page: Page) -> None:
    scores = [made_score(Random(number)) for number in range(40)]
    scores += [piece()[0], piece(TWO_PLAYERS)[0]]
    whole = [play_through_json(play_through(score, FLUTE)) for score in scores]
    short = [shorten_play(rows) for rows in whole]
    assert "second" in whole[-1] and "chords" in whole[-1]
    assert sum(map(len, short)) < sum(map(len, whole)) * 0.7
    read = page.evaluate("(texts) => texts.map(stavewrightSound.readPlay)", short)
    assert read == [json.loads(rows) for rows in whole]


def test_levels_are_modest_at_first_and_bounded_at_most(page: Page) -> None:
    _, rows = piece()
    chosen = page.evaluate(
        """() => ["droneLevel", "toneLevel", "pulseLevel"]
            .map((name) => Number(document.querySelector("form.sound-desk").elements[name].value))"""
    )
    first = decibels(render(page, EVERYTHING, 6, playing(rows, tuple(chosen))))
    most = decibels(render(page, EVERYTHING, 6, playing(rows, (10, 10, 10))))
    assert first < -9
    assert most < -3
    alone = decibels(render(page, EVERYTHING, 6, playing(rows, (chosen[0], 0, 0)))[RATE:])
    assert -27 < alone < -21
