"""The stand and the bar of sound, as a player with an instrument in the hands uses them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import made_site
import pytest
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
                { address: piece, ids: ["e-flat-5-swell-down", "e-flat-5-slurred"], title: "", note: "2 of 2" },
            ], {
                onBlock: (number, block) => window.heard.push([number, block.note]),
                onEnd: () => window.heard.push("end"),
                onClose: () => window.heard.push("closed"),
            });
        }"""
    )
    wait_for_title(page, "First")
    assert shown_pieces(page) == ["swell up"]
    assert page.locator(".stand-under").inner_text() == "1 of 2 · quarter = 54 to 66"
    page.evaluate("window.shown.say('9 minutes left')")
    assert page.locator(".stand-under").inner_text().startswith("9 minutes left")
    page.keyboard.press("PageDown")
    wait_for_title(page, "Long road in E flat major")
    pieces = shown_pieces(page)
    for _ in range(int((page.locator(".stand-place").inner_text() or "1").split()[-1])):
        page.keyboard.press("PageDown")
        pieces += [name for name in shown_pieces(page) if name not in pieces]
    assert pieces == ["swell down", "slurred"]
    page.get_by_text("That was all.").first.wait_for()
    page.keyboard.press("PageUp")
    page.locator(".stand-piece").first.wait_for()
    page.get_by_role("button", name="Close").click()
    page.wait_for_function("window.heard.at(-1) === 'closed'")
    assert page.evaluate("window.heard") == [[0, "1 of 2"], [1, "2 of 2"], "end", "closed"]
    assert page.url.split("#")[0] == address + CELL
