"""The stand and the bar of sound, as a player with an instrument in the hands uses them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import made_site
import pytest
from conftest import sweep
from test_browser_site import AWAKE, Page, opened, serve, size

__all__ = ["opened"]

CELL = "exercises/cell/d/index.html"
ROAD = "exercises/long-road/e-flat/index.html"


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    yield from serve(made_site.site(address=made_site.HOST))


def put_on_stand(page: Page) -> None:
    """Open the stand by its button."""
    page.get_by_role("button", name="Put it on the stand").click()
    page.locator(".stand-piece").first.wait_for()


def shown_pieces(page: Page) -> list[str]:
    """The names of the pieces on the stand's page."""
    return [name.lower() for name in page.locator(".stand-piece").all_inner_texts()]


def wait_for_title(page: Page, words: str) -> None:
    """Wait until the stand shows something under a title with these words."""
    page.locator(".stand-title").get_by_text(words).wait_for()


def test_blocks_of_several_pages_stand_in_order(opened: Any, address: str) -> None:
    page = opened(address + CELL, before=AWAKE, **size(820))
    page.evaluate(
        """() => {
            window.heard = [];
            const piece = "../../long-road/e-flat/index.html";
            window.shown = stavewrightStand.putOnStand([
                { address: "index.html", ids: ["d-6-swell-up"], title: "First", note: "1 of 2" },
                { address: piece, ids: ["e-flat-5-swell-down", "e-flat-5-slurred"], note: "2 of 2" },
            ], {
                onBlock: (number, block) => window.heard.push([number, block.note]),
                onEnd: () => window.heard.push("end"),
                onClose: () => window.heard.push("closed"),
            });
        }"""
    )
    wait_for_title(page, "First")
    assert shown_pieces(page) == ["growing"]
    assert page.locator(".stand-under").inner_text() == "1 of 2 · quarter = 54 to 66"
    page.evaluate("window.shown.say('9 minutes left')")
    assert page.locator(".stand-under").inner_text().startswith("9 minutes left")
    page.keyboard.press("PageDown")
    wait_for_title(page, "Long road in E flat major")
    pieces = shown_pieces(page)
    for _ in range(int((page.locator(".stand-place").inner_text() or "1").split()[-1])):
        page.keyboard.press("PageDown")
        pieces += [name for name in shown_pieces(page) if name not in pieces]
    assert pieces == ["fading", "slurred"]
    page.get_by_text("That was all.").first.wait_for()
    page.keyboard.press("PageUp")
    page.locator(".stand-piece").first.wait_for()
    page.get_by_role("button", name="Close").click()
    page.wait_for_function("window.heard.at(-1) === 'closed'")
    assert page.evaluate("window.heard") == [[0, "1 of 2"], [1, "2 of 2"], "end", "closed"]
    assert page.url.split("#")[0] == address + CELL


def test_a_pedal_turns_after_a_choice(opened: Any, address: str) -> None:
    page = opened(address + ROAD, **size(820))
    put_on_stand(page)
    page.locator(".stand-panel > summary").click()
    page.get_by_label("Show").select_option("growing")
    assert shown_pieces(page) == ["growing"]
    page.keyboard.press("ArrowUp")
    wait_for_title(page, "in D major")
    assert shown_pieces(page) == ["growing"]
    # Even if a control has the focus.
    page.locator(".stand-panel > summary").click()
    page.get_by_label("Show").focus()
    page.keyboard.press("PageDown")
    wait_for_title(page, "in E flat major")
    assert page.get_by_label("Show").input_value() == "growing"


@pytest.mark.exhaustive
def test_a_page_key_may_play_and_stop(opened: Any, address: str) -> None:
    page = opened(address + CELL, **size(820))
    put_on_stand(page)
    page.locator(".stand-panel > summary").click()
    page.get_by_label("Page keys").select_option("back")
    page.keyboard.press("PageUp")
    page.locator(".sound-words").get_by_text("Playing through").wait_for()
    page.locator(".stand .sound-mark.shown").wait_for(state="attached")
    page.keyboard.press("PageUp")
    page.wait_for_function("document.querySelector('.sound-words').textContent === ''")
    assert "in D major" in page.locator(".stand-title").inner_text()


SWIPE = """([from, to]) => {
    const place = document.elementFromPoint(from, 300);
    const options = { bubbles: true, isPrimary: true, pointerType: "touch", clientY: 300 };
    place.dispatchEvent(new PointerEvent("pointerdown", { ...options, clientX: from }));
    place.dispatchEvent(new PointerEvent("pointerup", { ...options, clientX: to }));
    place.dispatchEvent(new MouseEvent("click", { bubbles: true, clientX: to, clientY: 300 }));
}"""


def test_a_swipe_turns_and_stays_in_the_book(opened: Any, address: str) -> None:
    page = opened(address, has_touch=True, **size(390))
    page.goto(address + CELL)
    put_on_stand(page)
    place = page.locator(".stand-place")
    pages = place.inner_text().split()[-1]
    page.evaluate(SWIPE, [300, 100])
    assert place.inner_text() == f"2 of {pages}"
    page.evaluate(SWIPE, [100, 300])
    assert place.inner_text() == f"1 of {pages}"
    # A browser's own swipe back begins with a pan, which these do not allow.
    for found in (".stand-sheet", ".stand-back", ".stand-on"):
        style = page.locator(found).evaluate(
            "(it) => [getComputedStyle(it).touchAction, getComputedStyle(it).overscrollBehaviorX]"
        )
        assert style == ["pinch-zoom", "none"], found
    # This is the first key: there is nothing before it.
    page.evaluate(SWIPE, [100, 300])
    assert page.locator(".stand[open]").count() == 1
    assert page.url.split("#")[0] == address + CELL


COVERED = """() => {
    const faults = [], all = (names) => [...document.querySelectorAll(names)];
    const box = (node) => node.getBoundingClientRect();
    const rows = [".stand-head", ".stand-sheet", ".stand-foot", ".bar"].map((name) => box(all(name)[0]));
    const sheet = rows[1];
    rows.forEach(({ bottom }, place) => {
        if (bottom > (rows[place + 1] ? rows[place + 1].top : innerHeight) + 1) faults.push(["row", place]);
    });
    for (const node of all(".stand-sheet svg.ink, .stand-label, .stand-attend")) {
        const it = box(node), over = [it.bottom - sheet.bottom, it.right - sheet.right, -it.left];
        if (it.height && Math.max(...over) > 1) faults.push([String(node.className), over]);
    }
    const keys = ".bar-keys button, .sound-now button, .bar summary, .stand-head button, .stand-head summary";
    for (const node of all(keys)) {
        const it = box(node);
        if (it.width < 43.9 || it.height < 43.9 || it.right > innerWidth + 1 || it.left < -1)
            faults.push([node.textContent, it.width, it.height, it.left, it.right]);
    }
    return faults;
}"""


@sweep("width, height", [(320, 640), (390, 844), (768, 1024), (1366, 768)], every_day=1)
def test_nothing_is_cut_or_covered_on_the_stand(opened: Any, address: str, width: int, height: int) -> None:
    page = opened(address + ROAD, viewport={"width": width, "height": height})
    page.locator("[data-bar=drone]").click()
    page.locator(".sound-words").get_by_text("Drone on").wait_for()
    put_on_stand(page)
    for chosen in ("fit", "largest", "small"):
        page.locator(".stand-panel > summary").click()
        page.get_by_label("Size of the music").select_option(chosen)
        page.keyboard.press("Escape")
        for _ in range(int((page.locator(".stand-place").inner_text() or "1").split()[-1])):
            assert page.evaluate(COVERED) == [], chosen
            page.keyboard.press("PageDown")
        while not page.locator(".stand-title").get_by_text("E flat").count():
            page.keyboard.press("PageUp")


def staff_on_stand(page: Page) -> float:
    """The height of a staff on the stand in pixels: a staff is 20 points high.

    It is found and measured at once, for the stand lays out anew when a phone's lines have come.
    """
    return page.evaluate(
        """() => {
            const it = document.querySelector(".stand-sheet svg.ink");
            return 20 * it.getBoundingClientRect().height / it.viewBox.baseVal.height;
        }"""
    )


@pytest.mark.exhaustive
def test_the_size_of_the_music_is_kept(opened: Any, address: str) -> None:
    page = opened(address + CELL, **size(820))
    put_on_stand(page)
    fitted = staff_on_stand(page)
    page.locator(".stand-panel > summary").click()
    page.get_by_label("Size of the music").select_option("large")
    assert staff_on_stand(page) == pytest.approx(36, abs=0.5)
    assert fitted < 36
    page.reload()
    put_on_stand(page)
    assert staff_on_stand(page) == pytest.approx(36, abs=0.5)
    page.locator(".stand-panel > summary").click()
    page.get_by_label("Size of the music").select_option("small")
    # Short pieces stand side by side.
    tops = page.locator(".stand-cell").evaluate_all(
        "(all) => all.map((it) => it.getBoundingClientRect().top)"
    )
    assert len(set(tops)) < len(tops)


@sweep("width", [390, 1280], every_day=1)
def test_an_address_lands_on_its_music(opened: Any, address: str, width: int) -> None:
    page = opened(address + "find/index.html", reduced_motion="reduce", **size(width))
    for place, anchor in ((ROAD, "e-flat-5-swell-down"), (CELL, "d-6-swell-up"), (CELL, "d-5-as-written")):
        page.goto(f"{address}{place}#{anchor}")
        page.wait_for_load_state("networkidle")
        far = "(id) => document.getElementById(id).getBoundingClientRect().top"
        assert -1 < page.evaluate(far, anchor) < 60, anchor


@pytest.mark.parametrize("place", [CELL, "exercises/cell/index.html"])
def test_the_first_line_of_music_is_in_the_first_window(opened: Any, address: str, place: str) -> None:
    page = opened(address + place)
    for width, height in ((390, 844), (768, 1024), (1440, 900)):
        page.set_viewport_size({"width": width, "height": height})
        foot = page.locator(".bar").bounding_box()["y"]
        drawing = page.locator("main svg.ink:visible").first
        system = drawing.evaluate(
            "(it) => it.getBoundingClientRect().top + it.getBoundingClientRect().height"
            " / it.viewBox.baseVal.height * Number(it.dataset.systems.split(' ')[1])"
        )
        assert system <= foot, (width, height)


def test_the_tempo_is_tapped_and_stepped(opened: Any, address: str) -> None:
    page = opened(address + CELL, **size(390))
    # Taps every 750 ms: 80 a minute.
    page.evaluate(
        """() => {
            const tap = document.querySelector("[data-bar=tap]");
            [0, 750, 1500, 2260].forEach((moment) => {
                const touch = new PointerEvent("pointerdown", { bubbles: true });
                Object.defineProperty(touch, "timeStamp", { value: 5000 + moment });
                tap.dispatchEvent(touch);
            });
        }"""
    )
    tempo = page.locator("[data-bar=tap] .sign")
    assert tempo.inner_text() == "80"
    page.locator("[data-bar=faster]").click()
    assert tempo.inner_text() == "81"
    page.locator("[data-bar=slower]").click(click_count=2)
    assert tempo.inner_text() == "79"
    page.reload()
    assert page.locator("[data-bar=tap] .sign").inner_text() == "79"
    page.locator("[data-bar=louder]").click()
    page.locator(".sound-words").get_by_text("Volume 7 of 10").wait_for()


PLACES = """() => {
    const drawing = document.querySelector("main svg.ink:not(.narrow)");
    const { headsIn, middleOf } = stavewrightSound;
    return [...headsIn(drawing).keys()].sort((one, other) => one - other).map((head) => {
        const { x, y } = middleOf(drawing, head);
        const place = new DOMPoint(x, y).matrixTransform(drawing.getScreenCTM());
        return [place.x, place.y];
    });
}"""
KEEP_PARTS = """() => {
    const made = stavewrightSound.playThrough;
    window.parts = [];
    stavewrightSound.playThrough = (...given) => {
        window.parts.push(given[6]);
        return made(...given);
    };
}"""


def test_music_begins_at_a_tapped_note(opened: Any, address: str) -> None:
    page = opened(address + CELL, reduced_motion="reduce", **size(1280))
    page.evaluate(KEEP_PARTS)
    x, y = page.evaluate(PLACES)[3]
    page.mouse.click(x, y)
    page.locator(".sound-words").get_by_text("Playing through").wait_for()
    page.wait_for_function("document.querySelector('.sound-mark.shown')?.dataset.head === '3'")
    tones = page.locator("[data-play]").first.evaluate(
        "(it) => stavewrightSound.readPlay(it.dataset.play).tones"
    )
    assert page.evaluate("window.parts") == [{"from": tones[3][0]}]


@pytest.mark.exhaustive
def test_bars_are_repeated_between_two_taps(opened: Any, address: str) -> None:
    page = opened(address + CELL, reduced_motion="reduce", **size(1280))
    page.evaluate(KEEP_PARTS)
    places = page.evaluate(PLACES)
    page.locator("details.sound > summary").click()
    page.get_by_role("button", name="Tap bars to repeat").click()
    words = page.locator(".sound-words")
    assert words.inner_text() == "Tap the first bar to repeat."
    page.mouse.click(*places[4])
    assert words.inner_text() == "From bar 2. Tap the last bar to repeat."
    page.mouse.click(*places[1])
    words.get_by_text("Playing through bars 1 to 2, again and again").wait_for()
    part = page.evaluate("window.parts[0]")
    assert (part["from"], part["lastBar"], part["again"]) == (0, 1, True)
    page.locator(".repeated").first.wait_for(state="attached")
    assert page.locator("svg.ink:not(.narrow) .repeated").count() == 5


@pytest.mark.exhaustive
def test_the_page_stays_where_the_hand_put_it(opened: Any, address: str) -> None:
    page = opened(address + ROAD, reduced_motion="reduce", viewport={"width": 390, "height": 600})
    page.get_by_role("button", name="Play as written").click()
    page.locator(".sound-mark.shown").first.wait_for(state="attached")
    page.mouse.move(200, 200)
    page.mouse.wheel(0, 1500)
    page.wait_for_function("scrollY > 1000")
    before = page.evaluate("scrollY")
    head = page.locator(".sound-mark.shown").first.get_attribute("data-head")
    page.wait_for_function(
        "(head) => document.querySelector('.sound-mark.shown')?.dataset.head !== head", arg=head
    )
    assert page.evaluate("scrollY") == before


@pytest.mark.exhaustive
def test_pages_turn_in_time(opened: Any, address: str) -> None:
    page = opened(address + CELL, viewport={"width": 390, "height": 600})
    page.locator("details.sound > summary").click()
    page.get_by_label("Quarters per minute").fill("300")
    page.get_by_label("Bars of count-in").fill("0")
    page.keyboard.press("Escape")
    put_on_stand(page)
    page.locator(".stand-panel > summary").click()
    page.get_by_label("Pages turn").select_option("time")
    page.keyboard.press("Escape")
    page.locator(".stand [data-bar=play]").click()
    page.locator(".sound-words").get_by_text("in silence").wait_for()
    page.wait_for_function(
        "document.querySelector('.stand-place').textContent.startsWith('3 of')", timeout=60_000
    )
