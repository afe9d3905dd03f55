"""The site as a player uses it: in a browser, from a server and from a folder, with scripts and without."""

from __future__ import annotations

import functools
import http.server
import shutil
import tempfile
import threading
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from string import ascii_letters
from typing import Any

import made_site
import pytest
from conftest import sweep
from fontTools.ttLib import TTFont
from pypdf import PdfReader

from stavewright.engrave.faces import face_files

sync_api = pytest.importorskip("playwright.sync_api")
axe = pytest.importorskip("axe_playwright_python.sync_playwright")
Browser, Page = sync_api.Browser, sync_api.Page

PAGES = {
    "home": "index.html",
    "exercise": "exercises/cell/index.html",
    "in key": "exercises/cell/d/index.html",
    "in key, long": "exercises/long-road/e/index.html",
    "key": "keys/d/index.html",
    "find": "find/index.html",
    "print": "print/index.html",
    "daily": "daily/index.html",
    "coverage": "coverage/index.html",
    "language": "language/index.html",
    "missing": "404.html",
}
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
NO_STORAGE = """
Object.defineProperty(window, "localStorage", { get() { throw new DOMException("no", "SecurityError"); } });
"""
AWAKE = """
window.locks = [];
Object.defineProperty(navigator, "wakeLock", { value: { request: async (kind) => {
    const lock = { kind, released: false, release: async () => { lock.released = true; } };
    window.locks.push(lock);
    return lock;
} } });
"""


class Quiet(http.server.SimpleHTTPRequestHandler):
    """A static host that keeps no log."""

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing."""


class Host(http.server.ThreadingHTTPServer):
    """Serves a folder below a sub-path, as many hosts do."""

    daemon_threads = True


def serve(folder: Path) -> Iterator[str]:
    """The address of a folder served below /practice/."""
    root = Path(tempfile.mkdtemp())
    (root / "practice").symlink_to(folder)
    host = Host(("127.0.0.1", 0), functools.partial(Quiet, directory=root))
    threading.Thread(target=host.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{host.server_port}/practice/"
    host.shutdown()
    host.server_close()
    shutil.rmtree(root)


@pytest.fixture(scope="module")
def folder() -> Path:
    return made_site.site()


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    yield from serve(made_site.site(address=made_site.HOST))


@pytest.fixture
def opened(chromium: Browser) -> Iterator[Any]:
    """Opens pages, each in a browser's profile of its own; no page may complain or ask another host."""
    contexts, said = [], []

    def start(address: str, before: str = "", **options: Any) -> Page:
        context = chromium.new_context(**options)
        contexts.append(context)
        if before:
            context.add_init_script(before)
        page = context.new_page()
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("console", lambda line: said.append(line.text) if line.type in ("error", "warning") else None)
        here = address.split("/")[2]
        page.on("request", lambda asked: said.append(asked.url) if asked.url.split("/")[2] != here else None)
        page.goto(address)
        return page

    yield start
    for context in contexts:
        context.close()
    assert said == []


def size(width: int) -> dict[str, Any]:
    """A window."""
    return {"viewport": {"width": width, "height": 800}}


@sweep("kind", PAGES, every_day=3)
def test_no_barrier(opened: Any, address: str, kind: str) -> None:
    page = opened(address + PAGES[kind], color_scheme="light", **size(820))
    # The second look differs by its colours alone.
    for look, asked in (("light", WCAG), ("dark", {"type": "rule", "values": ["color-contrast"]})):
        page.emulate_media(color_scheme=look)
        assert page.evaluate("getComputedStyle(document.documentElement).colorScheme") == look
        found = axe.Axe().run(page, options={"runOnly": asked, "resultTypes": ["violations"]})
        assert found.violations_count == 0, (look, found.generate_report())


@sweep("look", ["light", "dark"], every_day=1)
def test_no_barrier_on_the_stand(opened: Any, address: str, look: str) -> None:
    page = opened(address + PAGES["in key"], color_scheme=look, **size(820))
    page.get_by_role("button", name="Put it on the stand").click()
    page.locator(".stand[open]").wait_for()
    found = axe.Axe().run(page, options={"runOnly": WCAG, "resultTypes": ["violations"]})
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.exhaustive
def test_no_page_is_wider_than_its_window(opened: Any, address: str) -> None:
    page = opened(address)
    for kind, place in PAGES.items():
        page.goto(address + place)
        for width in (360, 390, 820, 1280):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (kind, width)


def shown_staff(page: Page, kind: str) -> float:
    """Pixels to a point of the first such drawing, 0 where it does not show."""
    return page.evaluate(
        """(kind) => {
            const drawing = document.querySelector(kind);
            return drawing.getBoundingClientRect().width / Number(drawing.getAttribute("width"));
        }""",
        kind,
    )


def test_music_keeps_its_size_on_a_phone(opened: Any, address: str) -> None:
    wide, narrow = "svg.ink.wide", "svg.ink.narrow"
    phone = opened(address + PAGES["in key, long"], **size(390))
    # A staff is 20 points high: 25 pixels and more on a phone, nothing to be moved sideways.
    assert shown_staff(phone, wide) == 0
    assert shown_staff(phone, narrow) * 20 >= 25
    server = opened(address + PAGES["in key, long"], **size(1280))
    assert shown_staff(server, narrow) == 0
    assert shown_staff(server, wide) * 20 >= 34
    server.emulate_media(media="print")
    assert shown_staff(server, narrow) == 0
    # On paper a point is a point, and a CSS inch is 96 pixels.
    assert shown_staff(server, wide) == pytest.approx(96 / 72, rel=0.01)


PARTS = """(kind) => [...document.querySelectorAll("main svg.ink" + kind)]
    .map((drawing) => drawing.querySelectorAll("path, use").length)"""


SHIFTS = """() => new Promise((done) => {
    let sum = 0;
    new PerformanceObserver((list) => list.getEntries().forEach((shift) => { sum += shift.value; }))
        .observe({ type: "layout-shift", buffered: true });
    setTimeout(() => done(sum), 200);
})"""


def test_a_phone_holds_one_form_at_a_time(opened: Any, address: str) -> None:
    page = opened(address + PAGES["in key, long"], **size(390))
    page.wait_for_function(f"({PARTS})('.narrow').every(Boolean)")
    page.wait_for_function(f"!({PARTS})('.wide').some(Boolean)")
    # The music has not moved, for its room was there before; what scripts show may move a line of text.
    assert page.evaluate(SHIFTS) < 0.01
    narrow = page.evaluate(PARTS, ".narrow")
    page.emulate_media(media="print")
    page.wait_for_function(f"({PARTS})('.wide').every(Boolean)")
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 1280, "height": 800})
    page.wait_for_function(f"({PARTS})('.wide').every(Boolean)")
    assert page.evaluate(PARTS, ".narrow") == narrow


@pytest.mark.exhaustive
def test_where_nothing_is_unpacked_a_phone_shows_the_wide_form(opened: Any, address: str) -> None:
    page = opened(address + PAGES["in key, long"], before="delete self.DecompressionStream", **size(390))
    page.wait_for_function("!document.querySelector('svg.ink.narrow')")
    assert page.evaluate("[...document.querySelectorAll('main svg.ink')].every((it) => it.clientWidth > 300)")
    page.get_by_role("button", name="Put it on the stand").click()
    page.locator(".stand svg.ink path").first.wait_for(state="attached")


def test_without_scripts_a_phone_shows_the_wide_form(opened: Any, address: str) -> None:
    page = opened(address + PAGES["in key, long"], java_script_enabled=False, **size(390))
    assert page.locator("svg.ink.wide").first.bounding_box()["width"] > 300
    assert not page.locator("svg.ink.narrow").first.is_visible()


def test_printing_leaves_the_ways_out(opened: Any, address: str) -> None:
    page = opened(address + PAGES["in key"])
    page.emulate_media(media="print")
    for gone in (".running", ".turn", ".colophon", "main > .keys", ".to-stand", ".sound"):
        assert all(not found.is_visible() for found in page.locator(gone).all()), gone
    assert page.locator(".part svg.ink").first.is_visible()
    assert page.evaluate("getComputedStyle(document.querySelector('.part')).breakInside") == "avoid"


_SHIFTS = """
window.shifts = [];
const note = (list) => list.getEntries().forEach((each) => window.shifts.push([each.startTime, each.value]));
new PerformanceObserver(note).observe({ type: "layout-shift", buffered: true });
"""
_LOADED = """
(style) => [...document.fonts].some((each) => each.status === "loaded" && each.style === style
  && each.family.includes("Stavewright Serif"))
"""


@pytest.mark.parametrize("kind", ["home", "exercise", "in key", "language"])
def test_words_have_the_letters_of_the_prints(opened: Any, address: str, kind: str) -> None:
    page = opened(address + PAGES[kind])
    for style in ("normal", "italic"):
        page.wait_for_function(_LOADED, arg=style)
    for media in ("screen", "print"):
        page.emulate_media(media=media)
        family = page.evaluate("getComputedStyle(document.querySelector('h1')).fontFamily")
        assert family.startswith('"Stavewright Serif",')


def test_a_letter_is_as_wide_on_screen_as_on_paper(opened: Any, address: str) -> None:
    page = opened(address + PAGES["home"])
    page.evaluate("document.fonts.ready.then(() => true)")
    for path, style in zip(face_files(), ("normal", "italic", "bold"), strict=True):
        font = TTFont(path)
        letters = [letter for letter in ascii_letters + "äéßŁőř0♭♯" if ord(letter) in font.getBestCmap()]
        shown = page.evaluate(
            """async ([letters, style]) => {
                const font = style + " 1000px 'Stavewright Serif'";
                await document.fonts.load(font);
                const context = document.createElement("canvas").getContext("2d");
                context.font = font;
                return letters.map((letter) => context.measureText(letter).width);
            }""",
            [letters, style],
        )
        printed = [font["hmtx"][font.getBestCmap()[ord(letter)]][0] for letter in letters]
        assert len(letters) == 61 and shown == pytest.approx(printed, abs=1)


@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_jumps_when_the_letters_come(chromium: Browser, address: str, width: int) -> None:
    """They come late here; what a page's scripts move at its beginning is not theirs."""
    page = chromium.new_page(**size(width))
    held: list[Any] = []
    page.route("**/*.woff2", lambda route: held.append(route))
    page.add_init_script(_SHIFTS)
    page.goto(address + PAGES["in key"], wait_until="domcontentloaded")
    page.wait_for_timeout(1000)
    begun = page.evaluate("performance.now()")
    assert len(held) == 2
    for route in held:
        route.continue_()
    page.wait_for_function(_LOADED, arg="italic")
    page.wait_for_timeout(300)
    moved = [value for time, value in page.evaluate("window.shifts") if time > begun]
    page.close()
    # A sentence may break otherwise. Up to 0.1 is good: https://web.dev/articles/cls
    assert sum(moved) < 0.1


def test_the_letters_are_printed_and_are_there_without_a_server(chromium: Browser, folder: Path) -> None:
    page = chromium.new_page()
    page.goto((folder / PAGES["in key"]).as_uri())
    page.evaluate("document.fonts.ready.then(() => true)")
    printed = PdfReader(BytesIO(page.pdf()))
    page.close()
    fonts = [font["/FontDescriptor"] for font in printed.pages[0]["/Resources"]["/Font"].values()]
    names = {str(each["/FontName"]).partition("+")[2] for each in fonts}
    assert names == {"StavewrightSerif-Regular", "StavewrightSerif-Italic"}


def test_the_look_is_remembered(opened: Any, address: str) -> None:
    page = opened(address, color_scheme="light")
    paper = "getComputedStyle(document.documentElement).backgroundColor"
    light = page.evaluate(paper)
    page.get_by_label("dark", exact=True).check()
    dark = page.evaluate(paper)
    assert dark != light
    page.goto(address + PAGES["key"])
    assert page.evaluate(paper) == dark
    page.get_by_label("as the device").check()
    assert page.evaluate(paper) == light


@pytest.mark.exhaustive
def test_the_checklist_is_for_today(opened: Any, address: str) -> None:
    page = opened(address + "find/index.html")
    page.clock.set_fixed_time("2031-03-01T20:00:00")
    page.goto(address + PAGES["in key"])
    page.get_by_label("shoulders loose").check()
    page.goto(address + PAGES["exercise"])
    assert page.get_by_label("shoulders loose").is_checked()
    assert not page.get_by_label("the start of each note clean").is_checked()
    page.clock.set_fixed_time("2031-03-02T00:30:00")
    page.reload()
    assert not page.get_by_label("shoulders loose").is_checked()


@pytest.mark.exhaustive
def test_storage_blocked(opened: Any, address: str) -> None:
    page = opened(address + PAGES["in key"], before=NO_STORAGE)
    page.get_by_label("shoulders loose").check()
    assert "is not saving data" in page.locator(".attend .today").inner_text()
    page.get_by_label("dark", exact=True).check()
    assert page.evaluate("document.documentElement.dataset.look") == "dark"
    assert page.locator(".part svg.ink").first.is_visible()


def test_without_scripts_the_music_is_there(opened: Any, address: str) -> None:
    page = opened(address + PAGES["in key"], java_script_enabled=False)
    assert page.locator(".part svg.ink").first.is_visible()
    assert page.locator(".attend li").first.inner_text() == "shoulders loose"
    assert not page.get_by_role("button", name="Put it on the stand").is_visible()
    page.get_by_role("link", name="Next key").first.click()
    assert "in D flat major" in page.locator("h1").inner_text()
    page.goto(address + "find/index.html")
    assert "search needs JavaScript" in page.locator("main").inner_text()


@sweep("way", ["server", "folder"], every_day=1)
def test_finding(opened: Any, address: str, folder: Path, way: str) -> None:
    root = address if way == "server" else folder.as_uri() + "/"
    page = opened(root + "find/index.html")
    status = page.get_by_role("status").first
    assert status.inner_text() == "3 exercises, 27 keys"
    words = page.get_by_label("Words, or a key")
    for asked in ("Db", "D flat", "d♭", "D-flat"):
        words.fill(asked)
        assert status.inner_text() == "2 exercises, 2 keys", asked
    words.fill("lantern c#")
    assert status.inner_text() == "1 exercise, 1 key"
    words.fill("lantern road")
    assert status.inner_text() == "No exercise matches. Remove a word or a choice."
    # Variations, instruments, and the other name of a key.
    words.fill("swell")
    assert status.inner_text().startswith("2 exercises")
    words.fill("eight levels flute")
    assert status.inner_text().startswith("1 exercise,")
    words.fill("long road D#")
    assert status.inner_text() == "1 exercise, 1 key"
    words.fill("beating E")
    assert status.inner_text() == "1 exercise, 1 key"
    page.get_by_role("link", name="E", exact=True).click()
    assert "in E major" in page.locator("h1").inner_text()
    page.go_back()
    assert page.get_by_label("Words, or a key").input_value() == "beating E"
    assert page.get_by_role("status").first.inner_text() == "1 exercise, 1 key"


def test_choices_narrow_what_is_found(opened: Any, address: str) -> None:
    page = opened(address + "find/index.html")
    form = page.locator(".finder")
    found = page.locator(".found h2:visible")
    form.get_by_label("Kind").select_option("phrase in minor")
    assert found.all_inner_texts() == ["Low lantern"]
    form.get_by_label("Kind").select_option("")
    form.get_by_label("Beats per minute").select_option(label="80 and above")
    assert found.all_inner_texts() == ["Low lantern"]
    form.get_by_label("Beats per minute").select_option("")
    form.get_by_label("Register").select_option("high")
    assert made_site.HOSTILE in found.all_inner_texts()
    assert page.locator(".found .keys a:visible").all_inner_texts()[:1] == ["D"]
    form.get_by_label("Register").select_option("")
    form.get_by_label("Each key takes").select_option(label="30 to 60 seconds")
    assert found.all_inner_texts() == ["Long road"]


def test_all_by_keyboard(opened: Any, address: str) -> None:
    page = opened(address + PAGES["in key"], **size(1280))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the music"
    assert page.locator(".skip").first.bounding_box()["x"] >= 0
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('main') !== null")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"


def test_the_stand_turns_from_key_to_key(opened: Any, address: str) -> None:
    page = opened(address + PAGES["in key"], before=AWAKE, **size(820))
    page.get_by_role("button", name="Put it on the stand").click()
    title = page.locator(".stand-title")
    assert "in D major" in title.inner_text()
    page.wait_for_function("window.locks.length === 1")
    pages = int(page.locator(".stand-place").inner_text().split()[-1])
    assert pages > 1
    for number, key in zip(
        range(2, pages + 1), ("ArrowRight", "PageDown", "ArrowDown") * pages, strict=False
    ):
        page.keyboard.press(key)
        assert page.locator(".stand-place").inner_text() == f"{number} of {pages}"
    page.keyboard.press("PageDown")
    page.wait_for_function("document.querySelector('.stand-title').textContent.includes('D flat major')")
    page.keyboard.press("PageUp")
    page.wait_for_function("document.querySelector('.stand-title').textContent.includes('D major')")
    page.get_by_role("button", name="On", exact=True).or_(
        page.get_by_role("button", name="To D flat")
    ).click()
    page.wait_for_function("document.querySelector('.stand-title').textContent.includes('D flat major')")
    page.keyboard.press("Escape")
    page.wait_for_url("**/cell/d-flat/index.html")
    assert "in D flat major" in page.locator("h1").inner_text()


def test_the_drone_follows_the_key_on_the_stand(opened: Any, address: str) -> None:
    page = opened(address + "exercises/long-road/e-flat/index.html", **size(820))
    page.locator("details.sound > summary").click()
    page.locator("form.sound-desk").get_by_role("button", name="Start the drone").click()
    words = page.locator(".sound-words")
    words.get_by_text("Drone on E flat 4, 311.1 hertz").wait_for()
    page.get_by_role("button", name="Put it on the stand").click()
    page.locator(".stand[open]").wait_for()
    page.keyboard.press("PageUp")
    page.wait_for_function("document.querySelector('.stand-title').textContent.includes('D major')")
    words.get_by_text("Drone on D4, 293.7 hertz").wait_for()
    page.keyboard.press("PageDown")
    words.get_by_text("Drone on E flat 4, 311.1 hertz").wait_for()


@pytest.mark.exhaustive
def test_a_drone_that_the_player_chose_stays_on_the_stand(opened: Any, address: str) -> None:
    page = opened(address + "exercises/cell/d-flat/index.html", **size(820))
    page.locator("details.sound > summary").click()
    form = page.locator("form.sound-desk")
    form.get_by_label("Note").select_option("A")
    form.get_by_label("Octave").fill("3")
    form.get_by_role("button", name="Start the drone").click()
    words = page.locator(".sound-words")
    words.get_by_text("Drone on A3, 220.0 hertz").wait_for()
    page.get_by_role("button", name="Put it on the stand").click()
    page.locator(".stand[open]").wait_for()
    page.keyboard.press("PageUp")
    page.wait_for_function("document.querySelector('.stand-title').textContent.includes('D major')")
    assert words.inner_text() == "Drone on A3, 220.0 hertz"


def test_closing_the_stand_lets_the_screen_sleep(opened: Any, address: str) -> None:
    page = opened(address + PAGES["in key"], before=AWAKE)
    page.get_by_role("button", name="Put it on the stand").click()
    page.wait_for_function("window.locks.length === 1")
    page.get_by_role("button", name="Close").click()
    page.wait_for_function("window.locks[0].released")
    assert page.url.split("#")[0].endswith(PAGES["in key"])


@pytest.mark.exhaustive
def test_everything_on_the_stand_fits(opened: Any, address: str) -> None:
    for width, height in ((390, 780), (820, 1180), (1180, 820), (844, 390)):
        options = {"viewport": {"width": width, "height": height}}
        page = opened(address + PAGES["in key, long"], **options)
        page.get_by_role("button", name="Put it on the stand").click()
        sheet = page.locator(".stand-sheet")
        pages = int(page.locator(".stand-place").inner_text().split()[-1])
        seen = 0
        for number in range(pages):
            assert page.locator(".stand-place").inner_text() == f"{number + 1} of {pages}"
            over = sheet.evaluate(
                "(it) => [it.scrollHeight - it.clientHeight, it.scrollWidth - it.clientWidth]"
            )
            assert max(over) <= 1, (width, height, number)
            seen += page.locator(".stand-sheet svg").count()
            if number + 1 < pages:
                page.keyboard.press("ArrowRight")
        kind = "narrow" if width == 390 else "wide"
        lines = page.evaluate(
            """(kind) => [...document.querySelectorAll("main .part svg.ink." + kind)]
                .reduce((sum, drawing) => sum + drawing.dataset.systems.split(" ").length / 2, 0)""",
            kind,
        )
        assert seen == lines, (width, height)
        page.close()


def test_the_stand_shows_one_variation_through_the_keys(opened: Any, address: str) -> None:
    page = opened(address + PAGES["in key, long"], **size(820))
    page.get_by_role("button", name="Put it on the stand").click()
    page.locator(".stand-panel > summary").click()
    page.get_by_label("Show").select_option("growing")
    names = page.locator(".stand-piece")
    assert [name.lower() for name in names.all_inner_texts()] == ["growing"]
    # The choice does not keep the keys: the next one turns.
    page.keyboard.press("ArrowLeft")
    page.wait_for_function("document.querySelector('.stand-title').textContent.includes('E flat major')")
    assert [name.lower() for name in names.all_inner_texts()] == ["growing"]


def test_the_stand_from_a_folder(chromium: Browser, folder: Path) -> None:
    # A browser fetches nothing from a folder: the stand goes to the next page and opens again there.
    page = chromium.new_page(viewport={"width": 820, "height": 1180})
    page.goto((folder / "exercises/low-lantern/a/index.html").as_uri())
    page.get_by_role("button", name="Put it on the stand").click()
    page.locator(".stand[open]").wait_for()
    page.keyboard.press("PageDown")
    page.wait_for_url("**/low-lantern/d/index.html#stand")
    page.locator(".stand[open]").wait_for()
    assert "in D minor" in page.locator(".stand-title").inner_text()
    page.close()


@pytest.mark.exhaustive
def test_the_book_without_a_network(chromium: Browser, folder: Path, tmp_path: Path) -> None:
    # A site of its own: this test changes it.
    shutil.copytree(folder, tmp_path / "site")
    for address in serve(tmp_path / "site"):
        context = chromium.new_context()
        page = context.new_page()
        page.goto(address + PAGES["exercise"])
        kept = page.locator(".keep [role=status]")
        kept.wait_for()
        assert "Version" in kept.inner_text()
        page.get_by_role("button", name="Keep the whole book").click()
        page.get_by_text("The whole book is kept here").wait_for()
        context.set_offline(True)
        for place in ("", "exercises/low-lantern/b/index.html", "keys/g/", "find/index.html"):
            page.goto(address + place)
            assert page.locator("h1").inner_text()
            assert page.evaluate("getComputedStyle(document.body).maxWidth") != "none"
        page.goto(address + "nowhere/")
        assert "is not kept on this device" in page.locator("body").inner_text()
        context.set_offline(False)
        new_edition(tmp_path / "site")
        page.goto(address)
        page.get_by_role("button", name="Reload").click()
        page.get_by_text("A newer word").wait_for()
        context.set_offline(True)
        # What had been kept is kept of the new edition too.
        page.goto(address + "keys/g/index.html")
        assert page.locator("h1").inner_text() == "G"
        context.close()


def new_edition(site: Path) -> None:
    """Publish the site again with a changed contents page."""
    from stavewright.site.files.service_worker import WORKER, write_service_worker

    home = site / "index.html"
    home.write_text(home.read_text(encoding="utf-8").replace("What this book is.", "A newer word."))
    worker = (site / WORKER).read_text(encoding="utf-8")
    start = worker.index('EDITION = "') + len('EDITION = "')
    (site / "assets/worker.js").write_text(
        worker[:start] + "EDITION-OF-THE-BOOK" + worker[worker.index('"', start) :]
    )
    write_service_worker(site)


@pytest.mark.exhaustive
def test_the_instrument_is_remembered(opened: Any) -> None:
    for address in serve(made_site.site("flute, clarinet-b-flat")):
        page = opened(address)
        page.get_by_role("link", name="Clarinet in B flat").click()
        page.get_by_role("link", name="Contents").click()
        page.goto(address + "print/index.html")
        page.get_by_role("link", name="Contents").click()
        assert page.url.split("#")[0] == address + "clarinet-b-flat/index.html"
        page.goto(address)
        assert page.locator(".instruments li").first.inner_text() == "Clarinet in B flat where you were"
        page.goto(address + "clarinet-b-flat/exercises/low-lantern/d/index.html")
        page.get_by_role("link", name="Flute", exact=True).click()
        assert page.url == address + "flute/exercises/low-lantern/d/index.html"
