"""The book kept on a device: several books on one host, publishes that come bit by bit, hosts of other makes.

What a browser must do is in W3C, Service Workers, and in WHATWG, Storage: caches belong to an origin, so to
every book on a host. The tests stop the server itself.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from conftest import TWO_KEYS, sweep, write_book
from made_host import TIMES, Host, edition, publish
from made_site import built_once

from stavewright.site.files.service_worker import LISTING, WORKER

sync_api = pytest.importorskip("playwright.sync_api")
Browser, BrowserContext, Page = sync_api.Browser, sync_api.BrowserContext, sync_api.Page

KEY = "keys/g/index.html"
LATER = "keys/a/index.html"
EDITION = (LISTING, WORKER)
UPDATE = """async () => {
    const registration = await navigator.serviceWorker.getRegistration();
    await registration.update().catch(() => {});
    while (registration.installing || registration.waiting) await new Promise((done) => setTimeout(done, 20));
}"""


@pytest.fixture(scope="module")
def built() -> Path:
    """The site of a very small book."""
    exercises: dict[str, str | bytes] = {"tiny": TWO_KEYS.format(title="Tiny")}
    return built_once("tiny", lambda folder: write_book(folder, exercises))


@pytest.fixture
def host(tmp_path: Path) -> Iterator[Host]:
    """A host with nothing on it."""
    (tmp_path / "www").mkdir()
    host = Host(tmp_path / "www")
    yield host
    if host.thread.is_alive():
        host.stop()


@pytest.fixture
def device(chromium: Browser) -> Iterator[BrowserContext]:
    """A browser with nothing kept."""
    context = chromium.new_context()
    yield context
    context.close()


def said(page: Page) -> str:
    """What the page says of what is kept, once it says it."""
    page.locator(".keep [role=status]").get_by_text("Version").wait_for()
    return page.locator(".keep [role=status]").inner_text()


def says_whole(page: Page) -> bool:
    """Whether the page says that the whole book is kept; then and only then there is no button to keep it."""
    whole = "The whole book is kept here" in said(page)
    assert page.get_by_role("button", name="Keep the whole book").is_visible() != whole
    return whole


def keep(page: Page) -> None:
    """Keep the whole book, by the button."""
    said(page)
    page.get_by_role("button", name="Keep the whole book").click()
    page.get_by_text("The whole book is kept here").wait_for()


def page_of_kept_book(host: Host, device: BrowserContext, built: Path) -> Page:
    """A page of the book, which is published in the host's folder `book` and kept whole."""
    publish(built, host.folder / "book")
    page = device.new_page()
    page.goto(f"{host.origin}/book/")
    keep(page)
    return page


def heading(page: Page, address: str) -> str:
    """The heading of a page, opened."""
    page.goto(address)
    return page.locator("h1").inner_text()


def is_kept(page: Page, address: str) -> bool:
    """Whether a page opens where there is no network."""
    page.goto(address)
    return "is not kept on this device" not in page.locator("body").inner_text()


@pytest.mark.exhaustive
@sweep("one, other", [("/a/", "/b/"), ("/", "/b/"), ("/a/b/", "/a/")], every_day=1)
def test_two_books_on_one_host_never_meet(
    host: Host, device: BrowserContext, built: Path, tmp_path: Path, one: str, other: str
) -> None:
    publish(built, host.folder / one[1:])
    publish(edition(built, tmp_path / "other", "of the other"), host.folder / other[1:])
    first, second = host.origin + one, host.origin + other
    page = device.new_page()
    page.goto(first)
    keep(page)
    page.get_by_label("dark", exact=True).check()
    of_first = said(page)
    assert heading(page, second).endswith("of the other")
    assert not says_whole(page)
    of_second = said(page)
    assert of_second.split(",")[0] != of_first.split(",")[0]
    assert not page.get_by_text("A new version").is_visible()
    assert page.evaluate("document.documentElement.dataset.look") == "device"
    page.goto(first)
    assert says_whole(page)
    assert said(page) == of_first
    host.stop()
    assert heading(page, first + KEY) == "G"
    assert says_whole(page)
    assert page.evaluate("document.documentElement.dataset.look") == "dark"
    # Of the other book what was opened is kept, and no more.
    assert heading(page, second).endswith("of the other")
    assert not says_whole(page)
    assert not is_kept(page, second + KEY)


@pytest.mark.exhaustive
@sweep("late", [EDITION, (LATER,), (WORKER,), (LISTING,)], every_day=1)
def test_a_publish_that_arrives_bit_by_bit_ends_in_the_new_edition(
    host: Host, device: BrowserContext, built: Path, tmp_path: Path, late: tuple[str, ...]
) -> None:
    place, address = host.folder / "book", f"{host.origin}/book/"
    page = page_of_kept_book(host, device, built)
    before = said(page)
    fresh = edition(built, tmp_path / "fresh", "anew", (KEY, LATER))
    publish(fresh, place, but=late)
    if WORKER in late:
        # A copying program may have written half of it.
        text = (fresh / WORKER).read_text(encoding="utf-8")
        (place / WORKER).write_text(text[: text.rindex("self.addEventListener")], encoding="utf-8")
        os.utime(place / WORKER, (now := next(TIMES), now))
    for _ in range(3):
        page.goto(address)
        page.evaluate(UPDATE)
    # Until all is there the edition before is whole, with a server and without.
    host.stop()
    for there in (KEY, LATER):
        assert heading(page, address + there) in ("A", "G")
        assert says_whole(page)
        assert said(page) == before
    host = host.start_again()
    publish(fresh, place)
    page.goto(address)
    page.evaluate(UPDATE)
    host.stop()
    for there in (KEY, LATER):
        assert heading(page, address + there).endswith("anew")
        assert says_whole(page)
        assert said(page).split(",")[0] != before.split(",")[0]


@pytest.mark.exhaustive
@sweep("late", [EDITION, (KEY,)], every_day=1)
def test_a_page_of_another_edition_is_shown_and_not_kept(
    host: Host, device: BrowserContext, built: Path, tmp_path: Path, late: tuple[str, ...]
) -> None:
    place, address = host.folder / "book", f"{host.origin}/book/"
    publish(built, place)
    page = device.new_page()
    page.goto(address)
    before = said(page)
    fresh = edition(built, tmp_path / "fresh", "anew", (KEY, LATER))
    # The pages come first, and the edition's listing later; or the listing first, and a page later.
    publish(fresh, place, but=late)
    page.goto(address)
    page.evaluate(UPDATE)
    now = "G" if KEY in late else "G anew"
    assert heading(page, address + KEY) == now
    assert heading(page, address + KEY) == now
    host.stop()
    assert not is_kept(page, address + KEY)
    page.goto(address)
    assert said(page).split(".")[1] == before.split(".")[1]
    host = host.start_again()
    publish(fresh, place)
    page.goto(address)
    page.evaluate(UPDATE)
    assert heading(page, address + KEY) == "G anew"
    host.stop()
    assert heading(page, address + KEY) == "G anew"


@pytest.mark.exhaustive
def test_half_a_first_publish_promises_nothing(host: Host, device: BrowserContext, built: Path) -> None:
    place, address = host.folder / "book", f"{host.origin}/book/"
    publish(built, place, but=("assets/sound.js", KEY))
    page = device.new_page()
    page.goto(address)
    page.evaluate(
        """() => new Promise(async (resolve) => {
            const found = await navigator.serviceWorker.register("sw.js", { updateViaCache: "none" });
            const worker = found.installing;
            const failed = () => worker.state === "redundant" && resolve();
            if (!worker) return resolve();
            worker.addEventListener("statechange", failed);
            failed();
        })"""
    )
    assert not page.locator(".keep").is_visible()
    publish(built, place, but=(KEY,))
    page.goto(address)
    assert not says_whole(page)
    page.get_by_role("button", name="Keep the whole book").click()
    page.get_by_text("The host does not yet have every file of this version").wait_for()
    assert not says_whole(page)
    publish(built, place)
    keep(page)
    host.stop()
    assert heading(page, address + KEY) == "G"


@pytest.mark.exhaustive
def test_the_page_says_that_a_newer_edition_is_not_all_there(
    host: Host, device: BrowserContext, built: Path, tmp_path: Path
) -> None:
    place = host.folder / "book"
    page = page_of_kept_book(host, device, built)
    fresh = edition(built, tmp_path / "fresh", "anew")
    publish(fresh, place, only=EDITION)
    page.evaluate(UPDATE)
    page.get_by_text("it could not be downloaded completely yet").wait_for()
    assert not page.get_by_role("button", name="Reload").is_visible()
    publish(fresh, place)
    page.evaluate(UPDATE)
    page.get_by_role("button", name="Reload").click()
    page.get_by_role("heading", name="anew").wait_for()
    assert says_whole(page)
    assert "not all of it" not in said(page)


@pytest.mark.exhaustive
def test_a_book_whose_files_are_gone_is_not_said_to_be_whole(
    host: Host, device: BrowserContext, built: Path
) -> None:
    page = page_of_kept_book(host, device, built)
    page.evaluate("caches.keys().then((all) => Promise.all(all.map((one) => caches.delete(one))))")
    page.reload()
    assert not says_whole(page)
    keep(page)
    host.stop()
    assert heading(page, f"{host.origin}/book/{KEY}") == "G"


@pytest.mark.exhaustive
def test_one_file_that_is_lost_makes_the_book_less_than_whole(
    host: Host, device: BrowserContext, built: Path
) -> None:
    page = page_of_kept_book(host, device, built)
    gone = """async () => {
        for (const name of await caches.keys()) {
            const shelf = await caches.open(name);
            for (const one of await shelf.keys()) if (one.url.includes("mark.svg")) await shelf.delete(one);
        }
    }"""
    page.evaluate(gone)
    # A page of the book asks for the mark, which puts it back: so the worker is asked from another file.
    page.goto(f"{host.origin}/book/{LISTING}")
    page.evaluate(gone)
    state = """() => new Promise((done) => {
        navigator.serviceWorker.onmessage = ({ data }) => done(data);
        navigator.serviceWorker.startMessages();
        navigator.serviceWorker.controller.postMessage("state");
    })"""
    found = page.evaluate(state)
    assert found["kept"] == found["all"] > 0
    assert found["whole"] is False


@pytest.mark.exhaustive
def test_a_host_that_redirects_packs_and_keeps(
    host: Host, device: BrowserContext, built: Path, tmp_path: Path
) -> None:
    place, address = host.folder / "book", f"{host.origin}/book/"
    host.another_make = True
    publish(built, place)
    page = device.new_page()
    # The browser's own store has this page for an hour from now on.
    assert heading(page, address + KEY) == "G"
    said(page)
    keep(page)
    publish(edition(built, tmp_path / "fresh", "anew", (KEY,)), place)
    page.evaluate(UPDATE)
    assert heading(page, address + KEY) == "G anew"
    assert says_whole(page)
    host.stop()
    for there in (KEY, KEY.removesuffix("index.html")):
        assert heading(page, address + there) == "G anew"


@pytest.mark.exhaustive
def test_a_copy_that_a_host_says_is_unchanged_is_asked_for_anew(
    host: Host, device: BrowserContext, built: Path, tmp_path: Path
) -> None:
    place, address = host.folder / "book", f"{host.origin}/book/"
    page = page_of_kept_book(host, device, built)
    # A host knows changes by the second: a page changed within it counts as unchanged.
    time = (place / KEY).stat().st_mtime_ns
    publish(edition(built, tmp_path / "fresh", "anew", (KEY,)), place)
    os.utime(place / KEY, ns=(time, time))
    page.evaluate(UPDATE)
    assert heading(page, address + KEY) == "G anew"
    assert says_whole(page)


def room(page: Page, origin: str, size: int = -1) -> None:
    """Give an origin so many bytes on the device; as many as there are where none are named."""
    asked = {"origin": origin} | ({"quotaSize": size} if size >= 0 else {})
    page.context.new_cdp_session(page).send("Storage.overrideQuotaForOrigin", asked)


@pytest.mark.exhaustive
def test_a_device_without_room(host: Host, device: BrowserContext, built: Path, tmp_path: Path) -> None:
    place, address = host.folder / "book", f"{host.origin}/book/"
    publish(built, place)
    page = device.new_page()
    page.goto(address)
    said(page)
    room(page, host.origin, 1000)
    page.get_by_role("button", name="Keep the whole book").click()
    page.get_by_text("There is no more room on this device").wait_for()
    assert not says_whole(page)
    room(page, host.origin)
    keep(page)
    # An edition that finds no room leaves the one before whole.
    publish(edition(built, tmp_path / "fresh", "anew"), place)
    room(page, host.origin, 1000)
    page.evaluate(UPDATE)
    page.reload()
    assert says_whole(page)
    room(page, host.origin)
    page.evaluate(UPDATE)
    assert heading(page, address).endswith("anew")
    assert says_whole(page)


@pytest.mark.exhaustive
def test_an_edition_without_room_beside_the_one_before_keeps_fewer_pages(
    host: Host, device: BrowserContext, built: Path, tmp_path: Path
) -> None:
    place, address = host.folder / "book", f"{host.origin}/book/"
    page = page_of_kept_book(host, device, built)
    fresh = edition(built, tmp_path / "fresh", "anew")
    needed = sum(
        (fresh / name).stat().st_size for name in (LISTING, "index.html", "find/index.html", KEY, LATER)
    )
    publish(fresh, place)
    room(
        page, host.origin, page.evaluate("navigator.storage.estimate().then((found) => found.usage)") + needed
    )
    page.evaluate(UPDATE)
    room(page, host.origin)
    page.reload()
    assert page.locator("h1").inner_text().endswith("anew")
    assert not says_whole(page)
    host.stop()
    assert heading(page, address).endswith("anew")
    kept = [is_kept(page, f"{address}keys/{key}/index.html") for key in ("c", "d", "e", "f", "g", "a", "b")]
    assert not all(kept)


@pytest.mark.exhaustive
def test_only_what_is_surely_its_own_is_removed_of_the_first_form(
    host: Host, device: BrowserContext, built: Path
) -> None:
    publish(built, host.folder / "a")
    (host.folder / "plain.html").write_text("<!doctype html><title>Plain</title>")
    page = device.new_page()
    page.goto(f"{host.origin}/plain.html")
    held = {
        "stavewright-00000000aa": ["/a/book-files.json", "/a/" + KEY],
        "stavewright-00000000bb": ["/b/book-files.json", "/b/index.html"],
        "stavewright-00000000ab": ["/a/book-files.json", "/b/book-files.json"],
        "stavewright-00000000cc": ["/a/index.html"],
        "stavewright /b/ files": ["/b/index.html?0123456789"],
        "another's": ["/a/book-files.json"],
    }
    page.evaluate(
        """async (held) => {
            for (const [name, paths] of Object.entries(held)) {
                const shelf = await caches.open(name);
                for (const path of paths) await shelf.put(path, new Response("{}"));
            }
            localStorage.setItem("stavewright.look", "dark");
        }""",
        held,
    )
    page.goto(f"{host.origin}/a/")
    said(page)
    left = page.evaluate("caches.keys()")
    assert set(left) == {*held, "stavewright /a/ files"} - {"stavewright-00000000aa"}
    assert page.evaluate("localStorage.getItem('stavewright.look')") == "dark"
    # What was kept of the first form is kept of this edition.
    host.stop()
    assert heading(page, f"{host.origin}/a/{KEY}") == "G"


def test_two_books_in_folders_of_a_disk(device: BrowserContext, built: Path, tmp_path: Path) -> None:
    for name in ("one book", "one"):
        shutil.copytree(built, tmp_path / name)
    page = device.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto((tmp_path / "one book/index.html").as_uri())
    page.get_by_label("dark", exact=True).check()
    page.goto((tmp_path / "one book" / KEY).as_uri())
    assert page.evaluate("document.documentElement.dataset.look") == "dark"
    assert not page.locator(".keep").is_visible()
    page.goto((tmp_path / "one" / KEY).as_uri())
    assert page.evaluate("document.documentElement.dataset.look") == "device"
    assert faults == []


def test_the_book_can_be_installed_from_a_folder_of_a_host(
    host: Host, device: BrowserContext, built: Path
) -> None:
    publish(built, host.folder / "book")
    page = device.new_page()
    page.goto(f"{host.origin}/book/{KEY}")
    said(page)
    talk = page.context.new_cdp_session(page)
    found = talk.send("Page.getAppManifest")
    assert found["errors"] == []
    assert found["url"] == f"{host.origin}/book/book.webmanifest"
    manifest = json.loads(found["data"])
    assert manifest["name"] == "A test's book"
    for icon in manifest["icons"]:
        answer = page.request.get(f"{host.origin}/book/{icon['src']}")
        assert answer.headers["content-type"] == "image/png"
    # A profile without a name of its own can install nothing; nothing else may stand in the way.
    faults = [each["errorId"] for each in talk.send("Page.getInstallabilityErrors")["installabilityErrors"]]
    assert set(faults) <= {"in-incognito"}


def test_sheets_for_printing_are_kept_on_wish(
    host: Host, device: BrowserContext, built: Path, tmp_path: Path
) -> None:
    place = host.folder / "book"
    publish(built, place)
    page = device.new_page()
    page.goto(f"{host.origin}/book/")
    said(page)
    # The test's book is small.
    assert page.get_by_role("button", name="Keep the whole book").inner_text().endswith("(less than 1 MB)")
    keep(page)
    assert "PDFs and downloads still need one" in said(page)
    page.get_by_role("button", name="Keep the PDFs too").click()
    page.get_by_text("The whole book is kept here, its PDFs too").wait_for()
    assert "downloads still need one" in said(page)
    assert not page.get_by_role("button", name="Keep the PDFs too").is_visible()
    sheet = next(built.rglob("*.pdf")).relative_to(built).as_posix()
    fetched = "async (address) => (await (await fetch(address)).arrayBuffer()).byteLength"
    # A new edition keeps what was kept.
    publish(edition(built, tmp_path / "fresh", "anew"), place)
    page.evaluate(UPDATE)
    assert heading(page, f"{host.origin}/book/").endswith("anew")
    host.stop()
    assert page.evaluate(fetched, f"{host.origin}/book/{sheet}") == (built / sheet).stat().st_size


@sweep(
    "lasts, words",
    [("true", "will not remove it by itself"), ("false", "may remove it if the device")],
    every_day=1,
)
def test_the_page_says_whether_the_browser_may_remove_the_book(
    host: Host, device: BrowserContext, built: Path, lasts: str, words: str
) -> None:
    publish(built, host.folder / "book")
    page = device.new_page()
    page.add_init_script(
        f"""window.asked = 0;
        navigator.storage.persisted = async () => window.asked > 0 && {lasts};
        navigator.storage.persist = async () => {{ window.asked += 1; return {lasts}; }};"""
    )
    page.goto(f"{host.origin}/book/")
    said(page)
    assert page.evaluate("window.asked") == 0
    keep(page)
    page.get_by_text(words).wait_for()
    assert page.evaluate("window.asked") == 1


def test_an_opened_exercise_is_kept_in_all_its_keys(host: Host, device: BrowserContext, built: Path) -> None:
    publish(built, host.folder / "book")
    page = device.new_page()
    page.goto(f"{host.origin}/book/exercises/tiny/d/index.html")
    # The contents, Find, the exercise's page and its two keys.
    page.get_by_text("5 of ").wait_for()
    host.stop()
    for place in ("", "d/", "e-flat/"):
        assert is_kept(page, f"{host.origin}/book/exercises/tiny/{place}index.html")
    assert not is_kept(page, f"{host.origin}/book/{KEY}")


def test_a_browser_that_keeps_nothing_is_told_of(host: Host, device: BrowserContext, built: Path) -> None:
    publish(built, host.folder / "book")
    page = device.new_page()
    page.add_init_script(
        "navigator.serviceWorker.register = async () => { throw new DOMException('no', 'SecurityError'); };"
    )
    page.goto(f"{host.origin}/book/")
    page.get_by_text("This browser does not let the book be kept").wait_for()
    assert not page.get_by_role("button", name="Keep the whole book").is_visible()
