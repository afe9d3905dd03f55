"""A short walk through the site in browsers of other engines: Firefox, and WebKit as GTK has it.

All else about browsers is tested in Chromium. These tests watch what engines do differently: where an address
lands, the letters, keys on the stand, sound, and the copy without a network. An engine that is missing is
skipped, and the reason names the package that brings it.
"""

from __future__ import annotations

from collections.abc import Iterator

import made_site
import pytest
from made_host import Host, publish
from web_driver import EngineMissing, Session, firefox, webkit

pytestmark = [pytest.mark.browser, pytest.mark.exhaustive]

KEY = "book/exercises/long-road/e-flat/index.html"
NEXT = "book/exercises/long-road/d/index.html"
NEAR = 60
"""Pixels between the top of the window and the music that an address names."""

ON_STAND = "document.querySelector('.stand[open] .stand-cell svg.ink')"
TITLE = "document.querySelector('.stand-title').textContent"
PLACE = "document.querySelector('.stand-place').textContent"
WORDS = "document.querySelector('.sound-words').textContent"
FAULT = "(document.querySelector('.sound-fault:not([hidden])') || { textContent: '' }).textContent"
KEPT = "document.querySelector('.keep [role=status]').textContent"
DRONE = "[data-bar=drone]"


@pytest.fixture(scope="module", params=[firefox, webkit], ids=["firefox", "webkit"])
def session(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Session]:
    """An engine's browser, the size of a tablet."""
    try:
        with request.param(tmp_path_factory.mktemp("profile")) as started:
            started.send("SetWindowRect", {"x": 0, "y": 0, "width": 820, "height": 1000})
            yield started
    except EngineMissing as missing:
        pytest.skip(str(missing))


@pytest.fixture(scope="module")
def host(session: Session, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Host]:
    """A host with the book in a folder of it; each browser has its own, for one test stops it."""
    started = Host(tmp_path_factory.mktemp("host"))
    publish(made_site.site(address=made_site.HOST), started.folder / "book")
    yield started
    if started.thread.is_alive():
        started.stop()


def put_on_stand(session: Session) -> None:
    """Open the stand by its button."""
    session.click(".to-stand button")
    session.wait(ON_STAND + " !== null")


@pytest.mark.parametrize("anchor", ["e-flat-5-as-written", "e-flat-5-with-vibrato", "e-flat-5-eight-levels"])
def test_an_address_lands_on_its_music(session: Session, host: Host, anchor: str) -> None:
    # A page of its own each time: a change of the anchor alone does not load it.
    session.goto(f"{host.origin}/book/index.html")
    session.goto(f"{host.origin}/{KEY}#{anchor}")
    piece = f"document.getElementById('{anchor}')"
    top = f"{piece}.getBoundingClientRect().top"
    # The last music of a page can stand no higher than the page's end lets it.
    end = "document.documentElement.scrollHeight - innerHeight - scrollY < 1"
    # WebKit goes to the address a moment after the page is loaded.
    session.wait(f"{piece} && {top} > -1 && ({top} < {NEAR} || {end} && {top} < innerHeight)")


def test_the_letters_come_from_a_host_and_from_a_disk(session: Session, host: Host) -> None:
    for address in (f"{host.origin}/{KEY}", (host.folder / KEY).as_uri()):
        session.goto(address)
        faces = "[...document.fonts].filter((each) => each.family.includes('Stavewright Serif')"
        session.wait(f"{faces} && each.status === 'loaded').length >= 2")


def test_keys_turn_the_stand_and_go_on(session: Session, host: Host) -> None:
    session.goto(f"{host.origin}/{KEY}")
    put_on_stand(session)
    title = session.value(TITLE)
    count = int(session.value(PLACE).split(" of ")[1])
    assert count > 2
    session.press("PageDown")
    session.wait(f"{PLACE} === '2 of {count}'")
    session.press("ArrowRight")
    session.wait(f"{PLACE} === '3 of {count}'")
    session.press("ArrowLeft")
    session.wait(f"{PLACE} === '2 of {count}'")
    for number in range(3, count + 1):
        session.press("PageDown")
        session.wait(f"{PLACE} === '{number} of {count}'")
    assert session.value(TITLE) == title
    session.press("PageDown")
    session.wait(f"{TITLE} !== {title!r} && {ON_STAND} !== null")
    session.press("PageUp")
    session.wait(f"{TITLE} === {title!r} && {PLACE} === '{count} of {count}'")


def test_the_drone_follows_the_key(session: Session, host: Host) -> None:
    session.goto(f"{host.origin}/{KEY}")
    put_on_stand(session)
    session.click(f".stand {DRONE}")
    session.wait(f"{WORDS} || {FAULT}")
    if fault := session.value(FAULT):
        # Without a way to sound, the page says so, and does not pretend.
        assert "does not let this page make sound" in fault
        assert session.value(f"document.querySelector('{DRONE}').getAttribute('aria-pressed')") == "false"
        pytest.skip(f"this browser makes no sound on this machine: {fault}")
    before, title = session.value(WORDS), session.value(TITLE)
    assert before.startswith("Drone on E flat")
    while session.value(TITLE) == title:
        place = session.value(PLACE)
        session.press("PageDown")
        session.wait(f"{PLACE} !== {place!r} || {TITLE} !== {title!r}")
    session.wait(f"{WORDS} !== {before!r}")
    session.click(f".stand {DRONE}")
    session.wait(f"{WORDS} === ''")


def test_playing_begins(session: Session, host: Host) -> None:
    session.goto(f"{host.origin}/{KEY}")
    session.click("[data-play-button]")
    session.wait(f"{WORDS} || {FAULT}")
    if fault := session.value(FAULT):
        assert "does not let this page make sound" in fault
        pytest.skip(f"this browser makes no sound on this machine: {fault}")
    assert session.value(WORDS).startswith("Playing through")
    # The mark moves by the clock of the sound: it stands on a head only where that clock runs.
    session.wait("document.querySelector('.sound-mark.shown') !== null")
    first = session.value("document.querySelector('.sound-mark.shown').dataset.head")
    session.wait(f"document.querySelector('.sound-mark.shown').dataset.head !== {first!r}")
    session.click("[data-bar=stop]")
    session.wait(f"{WORDS} === ''")


def test_the_book_is_kept_without_a_network(session: Session, host: Host) -> None:
    session.goto(f"{host.origin}/book/index.html")
    if not session.value("'serviceWorker' in navigator"):
        assert session.value("document.querySelector('.keep').hidden")
        pytest.skip("this browser lets no page keep a copy")
    session.wait(f"{KEPT}.includes('Version')")
    session.click(".keep button")
    session.wait(f"{KEPT}.includes('The whole book is kept here')")
    host.stop()
    session.goto(f"{host.origin}/{NEXT}")
    assert "Long road" in session.value("document.querySelector('h1').textContent")
    put_on_stand(session)
