"""A site under the strictest content security policy: the same picture, and nothing that a browser refuses.

The policy and its events are those of CSP level 3 (https://www.w3.org/TR/CSP3/).
"""

from __future__ import annotations

import functools
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import made_site
import pytest
from conftest import sweep
from pictures import difference, difference_of_pages, settled
from test_browser_site import PAGES, Browser, Host, Page, Quiet, size

POLICY = "default-src 'self'"
WATCHED = """
window.refused = [];
addEventListener("securitypolicyviolation", (event) => window.refused.push(event.violatedDirective));
new MutationObserver(() => {
    if (document.body && window.lookAtBody === undefined)
        window.lookAtBody = document.documentElement.dataset.look || "none";
}).observe(document, { childList: true, subtree: true });
"""
MOTIONLESS = {"reduced_motion": "reduce", "service_workers": "block"}


class Strict(Quiet):
    """A static host that sends the policy with everything."""

    def end_headers(self) -> None:
        """Add the policy."""
        self.send_header("Content-Security-Policy", POLICY)
        super().end_headers()


def hosted(root: Path, kind: type[Quiet]) -> Iterator[str]:
    """The address of the folder /practice/ of a host."""
    host = Host(("127.0.0.1", 0), functools.partial(kind, directory=root))
    threading.Thread(target=host.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{host.server_port}/practice/"
    host.shutdown()
    host.server_close()


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What a host serves: the book in a folder."""
    root = tmp_path_factory.mktemp("www")
    (root / "practice").symlink_to(made_site.site(address=made_site.HOST))
    return root


@pytest.fixture(scope="module")
def free(root: Path) -> Iterator[str]:
    yield from hosted(root, Quiet)


@pytest.fixture(scope="module")
def strict(root: Path) -> Iterator[str]:
    yield from hosted(root, Strict)


@pytest.fixture
def opened(chromium: Browser) -> Iterator[Any]:
    """Opens pages, each in a profile of its own; at the end, no browser may have refused anything."""
    pages: list[Page] = []
    said: list[str] = []

    def start(address: str, **options: Any) -> Page:
        page = chromium.new_context(**options).new_page()
        page.add_init_script(WATCHED)
        page.on("console", lambda line: said.append(line.text) if line.type == "error" else None)
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto(address)
        pages.append(page)
        return page

    yield start
    refused = [page.evaluate("window.refused") for page in pages]
    for page in pages:
        page.context.close()
    assert [said, *refused] == [[]] + [[] for _ in pages]


@pytest.fixture(scope="module")
def windows(chromium: Browser) -> Iterator[list[tuple[Page, list[str]]]]:
    """Two windows that go from page to page, each in a profile of its own, and what went wrong in each."""
    found = []
    for _ in range(2):
        page = chromium.new_context(**MOTIONLESS).new_page()
        page.add_init_script(WATCHED)
        said: list[str] = []
        page.on("console", lambda line, said=said: said.append(line.text) if line.type == "error" else None)
        page.on("pageerror", lambda error, said=said: said.append(str(error)))
        found.append((page, said))
    yield found
    for page, _ in found:
        page.context.close()


@sweep("kind", PAGES, every_day=1)
def test_the_same_picture(windows: list[tuple[Page, list[str]]], free: str, strict: str, kind: str) -> None:
    pages = [page for page, _ in windows]
    for _, said in windows:
        said.clear()
    for width, look in ((390, "light"), (820, "dark")):
        for page, host in zip(pages, (free, strict), strict=True):
            page.set_viewport_size(size(width)["viewport"])
            page.emulate_media(color_scheme=look)
            page.goto(host + PAGES[kind])
            # What is off the screen is laid out only when it comes there.
            page.evaluate("document.querySelectorAll('.part').forEach((part) => part.scrollIntoView())")
            page.evaluate("scrollTo(0, 0)")
        assert difference_of_pages(*pages, full_page=True) == "", (kind, width)
        assert [page.evaluate("window.refused") for page in pages] == [[], []], (kind, width)
    assert [said for _, said in windows] == [[], []]


@pytest.mark.exhaustive
def test_the_same_stand_over_a_drone(opened: Any, free: str, strict: str) -> None:
    pages = [
        opened(host + "exercises/long-road/d/index.html", **size(820), **MOTIONLESS)
        for host in (free, strict)
    ]
    for page in pages:
        page.locator("details.sound > summary").click()
        page.get_by_role("button", name="Start the drone").click()
        page.locator(".sound-words").get_by_text("Drone on").wait_for()
        page.locator("button[data-play-button]").first.click()
        page.locator(".sound-mark.shown").first.wait_for()
        page.get_by_role("button", name="Stop all sound").click()
        page.get_by_role("button", name="Put it on the stand").click()
        page.locator(".stand[open]").wait_for()
    assert difference_of_pages(*pages) == ""
    for page in pages:
        for _ in range(int(page.locator(".stand-place").inner_text().split()[-1])):
            page.keyboard.press("PageDown")
        # The next key is fetched and put there.
        page.locator(".stand-title").get_by_text("in E flat major").wait_for()
    assert difference_of_pages(*pages) == ""


def test_pictures_that_differ_are_told_apart(opened: Any, strict: str) -> None:
    """The comparison above sees a word, and a look; it does not see a shade."""
    page = opened(strict + PAGES["home"], **size(390), **MOTIONLESS)
    before = settled(page)
    assert difference(before, before) == ""
    page.locator("h1").evaluate("(heading) => { heading.style.opacity = 0.97; }")
    assert difference(before, settled(page)) == ""
    page.locator("h1").evaluate("(heading) => { heading.style.visibility = 'hidden'; }")
    assert "pixels differ by more than 24 of 255" in difference(before, settled(page))
    page.set_viewport_size({"width": 400, "height": 800})
    assert "390 by 800 pixels, and 400 by 800" in difference(before, settled(page))


def test_a_look_that_was_chosen_is_there_before_the_page(opened: Any, strict: str) -> None:
    page = opened(strict + PAGES["key"], color_scheme="light", **MOTIONLESS)
    page.get_by_label("dark", exact=True).check()
    for kind in ("key", "missing"):
        page.goto(strict + PAGES[kind])
        assert page.evaluate("window.lookAtBody") == "dark", kind
        assert page.evaluate("getComputedStyle(document.documentElement).colorScheme") == "dark"


def test_what_can_be_found_and_planned(opened: Any, strict: str) -> None:
    page = opened(strict + PAGES["find"], **MOTIONLESS)
    page.get_by_label("Words, or a key").fill("lantern c#")
    assert page.get_by_role("status").first.inner_text() == "1 exercise, 1 key"
    page = opened(strict + PAGES["daily"], **MOTIONLESS)
    page.get_by_role("button", name="More minutes").click()
    assert page.get_by_label("Minutes a day").input_value() == "16"
    assert page.locator("[data-days] .set li").count() > 0


def test_the_book_is_kept_without_a_network(opened: Any, strict: str) -> None:
    page = opened(strict + PAGES["exercise"])
    page.get_by_role("button", name="Keep the whole book").click()
    page.get_by_text("The whole book is kept here").wait_for()
    page.context.set_offline(True)
    page.goto(strict + PAGES["key"])
    assert page.locator(".part svg.ink").first.is_visible()
