"""The site's pages as files: addresses, links, words, weight. No browser is needed here."""

from __future__ import annotations

import base64
import gzip
import json
import re
import struct
import xml.etree.ElementTree as ET
import zlib
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

import html5lib
import made_site
import pytest

from stavewright.book.addresses import RESERVED, piece_anchor
from stavewright.book.durations import lasts_words
from stavewright.engrave.allowed import check_ink
from stavewright.language.read import read as read_exercise
from stavewright.music.keys import KEY_SLUGS
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE
from stavewright.site.files.service_worker import LISTING, WORKER, write_service_worker
from stavewright.views.incipits import opening
from stavewright.views.page import script_json
from stavewright.views.page_views import key_sign

KINDS = {
    "home": "index.html",
    "exercise": "exercises/cell/index.html",
    "in key": "exercises/cell/d-flat/index.html",
    "key": "keys/d-flat/index.html",
    "find": "find/index.html",
    "print": "print/index.html",
    "daily": "daily/index.html",
    "coverage": "coverage/index.html",
    "language": "language/index.html",
    "missing": "404.html",
}
MOST = 150_000
"""Bytes a page may weigh in the first load, compressed."""


class Reader(HTMLParser):
    """What a page links to, what it loads, its ids, its words and its scripts' text."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.links: list[str] = []
        self.loads: list[str] = []
        self.ids: list[str] = []
        self.words = ""
        self.elements: list[tuple[str, dict[str, str]]] = []
        self._inside = ""
        self.feed(path.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {name: value or "" for name, value in attrs}
        self.elements.append((tag, values))
        self._inside = tag
        if "id" in values:
            self.ids.append(values["id"])
        if tag == "a" and "href" in values:
            self.links.append(values["href"])
        if tag == "link" and values.get("rel") in ("stylesheet", "icon"):
            self.loads.append(values["href"])
        if tag in ("script", "img") and "src" in values:
            self.loads.append(values["src"])

    def handle_data(self, data: str) -> None:
        if self._inside not in ("script", "style"):
            self.words += data

    def of(self, tag: str, **wanted: str) -> list[dict[str, str]]:
        """The attributes of every such element."""
        return [
            found
            for name, found in self.elements
            if name == tag and all(found.get(key) == value for key, value in wanted.items())
        ]


@pytest.fixture(scope="module")
def site() -> Path:
    return made_site.site()


@pytest.fixture(scope="module")
def hosted() -> Path:
    return made_site.site(address=made_site.HOST)


@pytest.fixture(scope="module")
def read(site: Path) -> dict[str, Reader]:
    """Every page of the site by its address."""
    return {path.relative_to(site).as_posix(): Reader(path) for path in sorted(site.rglob("*.html"))}


def target(page: str, link: str) -> str:
    """The file that a relative link of a page names."""
    parts = [*page.split("/")[:-1]]
    for step in unquote(urlsplit(link).path).split("/"):
        if step == "..":
            parts.pop()
        elif step not in (".", ""):
            parts.append(step)
    return "/".join(parts) if urlsplit(link).path else page


def test_every_address_of_the_contract(site: Path) -> None:
    wanted = ["index.html", "print/index.html", *(f"keys/{key}/index.html" for key in KEY_SLUGS)]
    wanted += [f"exercises/{slug}/index.html" for slug in made_site.EXERCISES]
    wanted += [f"exercises/low-lantern/{key}/index.html" for key in KEY_SLUGS]
    wanted += [f"exercises/long-road/{key}/index.html" for key in ("d", "e-flat", "e")]
    missing = [address for address in wanted if not (site / address).is_file()]
    assert missing == []


def test_no_instrument_may_have_an_address_of_the_site(hosted: Path) -> None:
    """A book of one instrument that knows its address has every folder that a site may have."""
    assert {path.name for path in hosted.iterdir() if path.is_dir()} == RESERVED


def test_every_link_leads_somewhere(site: Path, read: dict[str, Reader]) -> None:
    faults = []
    for address, page in read.items():
        if address == "404.html":
            continue
        for link in page.links + page.loads:
            split = urlsplit(link)
            if split.scheme or split.netloc:
                faults.append((address, link, "leaves the site"))
                continue
            found = target(address, link)
            if not (site / found).is_file():
                faults.append((address, link, "names no file"))
            elif split.fragment and found in read and split.fragment not in read[found].ids:
                faults.append((address, link, "names no place"))
    assert faults == []


def test_the_missing_page_links_from_the_root(hosted: Path) -> None:
    page = Reader(hosted / "404.html")
    # It may be shown at any depth.
    assert len(page.loads) == 4
    for link in page.links + page.loads:
        assert link.startswith(("/practice/", "#")), link
    for link in page.loads:
        assert (hosted / link.removeprefix("/practice/")).is_file()


def test_nothing_in_a_page_needs_what_a_strict_policy_forbids(site: Path, read: dict[str, Reader]) -> None:
    """CSP level 3: without 'unsafe-inline' no style and no script in a page but data, and no handlers."""
    drawings = {path.name: Reader(path) for path in site.rglob("*.svg")}
    assert drawings
    for address, page in (read | drawings).items():
        assert page.of("style") == [], address
        for script in page.of("script"):
            assert "src" in script or script["type"] == "application/json", address
        for tag, attributes in page.elements:
            forbidden = [name for name in attributes if name == "style" or name.startswith("on")]
            assert forbidden == [], (address, tag)
            assert not attributes.get("href", "").startswith(("data:", "javascript:")), address
    # A column of a studio's own table stands where it was told to.
    assert [cell["align"] for cell in read["index.html"].of("td") if "align" in cell] == ["right"]


def test_any_key_of_any_exercise_within_two_clicks(read: dict[str, Reader]) -> None:
    wanted = {address for address in read if re.fullmatch(r"exercises/[^/]+/[^/]+/index\.html", address)}
    ways = {
        address: {target(address, link) for link in page.links}
        for address, page in read.items()
        if address != "404.html"
    }
    for address, first in ways.items():
        reached = first | {place for step in first for place in ways.get(step, ())} | {address}
        assert wanted <= reached, (address, wanted - reached)


def test_keys_follow_the_order_of_travel(site: Path) -> None:
    # Down by fifths, which is the circle of fifths toward the flats.
    order = ["a", "d", "g", "c", "f", "b-flat", "e-flat", "a-flat", "d-flat", "f-sharp", "b", "e"]
    for number, key in enumerate(order):
        page = Reader(site / f"exercises/low-lantern/{key}/index.html")
        before = {found["href"] for found in page.of("a", rel="prev")}
        after = {found["href"] for found in page.of("a", rel="next")}
        assert before == ({f"../{order[number - 1]}/index.html"} if number else set())
        assert after == ({f"../{order[number + 1]}/index.html"} if number < 11 else set())


def test_registers_and_remarks_are_said(read: dict[str, Reader]) -> None:
    page = " ".join(read["exercises/cell/d/index.html"].words.split())
    assert "From D6, high register" in page
    assert "From D5, middle register" in page
    assert re.search(r"Lies in\s*low, middle and high register", read["exercises/cell/index.html"].words)


def test_every_piece_has_its_notes_in_words(read: dict[str, Reader]) -> None:
    pieces = read["exercises/cell/d/index.html"].of("div", role="img")
    assert len(pieces) == 6
    assert pieces[0]["aria-label"].startswith(
        "D major, 4/4; bar 1: D6 half mf slur begins, C sharp 6 quarter"
    )


@pytest.mark.parametrize("kind", KINDS)
def test_html_is_valid(site: Path, kind: str) -> None:
    # html5lib is a parser of the WHATWG's HTML standard; strict, it raises at the first parse error.
    html5lib.HTMLParser(strict=True).parse((site / KINDS[kind]).read_text(encoding="utf-8"))


def test_no_id_stands_twice_on_a_page(read: dict[str, Reader]) -> None:
    for address, page in read.items():
        twice = {name for name in page.ids if page.ids.count(name) > 1}
        assert not twice, (address, twice)


def test_every_variation_has_an_address(read: dict[str, Reader]) -> None:
    page = read["exercises/cell/d/index.html"]
    wanted = {
        f"{setting}-{variation}"
        for setting in ("d-6", "d-5")
        for variation in ("as-written", "slurred", "swell-up")
    }
    assert wanted <= set(page.ids)
    # And a way to it, from the list beside the music.
    assert {f"#{name}" for name in wanted} <= set(page.links)
    assert piece_anchor("d-6", "Long + swell, twice") == "d-6-long-swell-twice"


def test_a_key_page_leads_to_its_own_print(site: Path, read: dict[str, Reader]) -> None:
    assert "../../print/key-d.pdf" in read["keys/d/index.html"].links
    assert (site / "print/key-d.pdf").is_file()
    assert "This page has each exercise as written." in read["keys/d/index.html"].words


def test_hostile_text_stays_text(read: dict[str, Reader]) -> None:
    for address, page in read.items():
        assert not [text for tag, text in page.elements if tag == "b"], address
        assert all(not found.get("onerror") for _, found in page.elements)
    page = read["exercises/cell/index.html"]
    assert made_site.HOSTILE in page.words
    assert "To join neighbours </script><b>without</b> a seam." in page.words


def test_no_text_ends_the_script_that_holds_it() -> None:
    values = ["</script>", "<!--", "é"]
    said = script_json(values)
    assert "<" not in said
    assert json.loads(said) == values


def test_finding_knows_every_exercise_and_key(site: Path, read: dict[str, Reader]) -> None:
    text = (site / "find/index.html").read_text(encoding="utf-8")
    found = re.search(r'<script type="application/json" id="book-data">(.*?)</script>', text, re.S)
    assert found is not None
    rows = json.loads(found[1])
    assert {row["title"] for row in rows} == {made_site.HOSTILE, "Low lantern", "Long road"}
    for row in rows:
        assert (site / row["address"] / "index.html").is_file()
        for key in row["keys"]:
            assert (site / key["address"] / "index.html").is_file()
            assert key["registers"]
    lantern = next(row for row in rows if row["title"] == "Low lantern")
    # Four bars of three beats at 84 a minute.
    assert lantern["seconds"] == round(12 * 60 / 84)
    assert lantern["tempo"] == [84, 96]
    assert lantern["mode"] == "minor"


def loaded(site: Path, address: str) -> Iterator[bytes]:
    """A page and everything it loads."""
    yield (site / address).read_bytes()
    for name in dict.fromkeys(Reader(site / address).loads):
        yield (site / target(address, name)).read_bytes()


HEAVY = [
    "index.html",
    "exercises/long-road/index.html",
    "exercises/long-road/e/index.html",
    "keys/d/index.html",
]


@pytest.mark.parametrize("address", HEAVY)
def test_no_page_is_heavy(site: Path, address: str) -> None:
    assert sum(len(gzip.compress(part, 9)) for part in loaded(site, address)) < MOST


def test_a_page_carries_each_glyph_once(site: Path) -> None:
    text = (site / "exercises/long-road/e/index.html").read_text(encoding="utf-8")
    used = set(re.findall(r'href="#([gs][0-9a-f]+)"', text))
    given = re.findall(r'<(?:path|g|use) id="([gs][0-9a-f]{10})"', text)
    assert used
    assert used <= set(given)
    assert len(given) == len(set(given))


def test_phones_have_music_of_their_own(read: dict[str, Reader]) -> None:
    drawings = read["exercises/long-road/e/index.html"].of("svg")
    narrow = [found for found in drawings if found.get("class") == "ink narrow w264"]
    wide = [found for found in drawings if found.get("class") == "ink wide w516"]
    assert len(narrow) == len(wide) > 0
    assert all(float(found["width"]) == 264 for found in narrow)
    assert all(len(found["data-systems"].split()) > 2 for found in narrow)


PHONE = re.compile(rb'stavewrightPhone\.take\("([A-Za-z0-9+/=]+)"\);\n')


@pytest.mark.parametrize("page", ["exercises/long-road/e", "keys/e"])
def test_the_music_for_phones_stands_beside_its_page(site: Path, page: str) -> None:
    text = (site / page / "index.html").read_text(encoding="utf-8")
    places = re.findall(r'<svg class="ink narrow[^>]*>(.*?)</svg>', text, re.S)
    assert places
    assert not any(places)
    found = PHONE.fullmatch((site / page / "phone.js").read_bytes())
    assert found is not None
    music = json.loads(gzip.decompress(base64.b64decode(found[1])))
    assert len(music["pieces"]) == len(places)
    # The page and the file together have every glyph once.
    given = re.findall(r' id="([gms][0-9a-f]{10})"', text + music["glyphs"])
    used = re.findall(r"#([gms][0-9a-f]{10})", text + music["glyphs"] + "".join(music["pieces"]))
    assert set(used) <= set(given)
    for part in music["pieces"]:
        check_ink(part, {})


def test_a_page_whose_music_fits_a_phone_has_no_file_for_it(site: Path) -> None:
    without = [
        page.parent for page in site.rglob("index.html") if 'class="ink narrow' not in page.read_text()
    ]
    assert without
    assert not [page for page in without if (page / "phone.js").exists()]


def test_a_page_of_many_pieces_has_few_elements(read: dict[str, Reader]) -> None:
    for address, page in read.items():
        drawings = sum("ink" in (found.get("class") or "").split() for found in page.of("svg"))
        music = sum(tag in ("g", "path", "use") for tag, _ in page.elements)
        assert music <= 30 * max(1, drawings), address


def test_canonical_links_pictures_and_sitemap(hosted: Path) -> None:
    page = Reader(hosted / "exercises/low-lantern/a/index.html")
    assert page.of("link", rel="canonical")[0]["href"] == f"{made_site.HOST}exercises/low-lantern/a/"
    picture = page.of("meta", property="og:image")[0]["content"]
    assert picture.startswith(made_site.HOST)
    data = (hosted / picture.removeprefix(made_site.HOST)).read_bytes()
    # The first chunk of a PNG is its header: width and height (PNG specification, 11.2.2).
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", data[16:24]) == (1200, 630)
    assert ink_in(data) > 2000
    tree = ET.parse(hosted / "sitemap.xml")
    listed = {found.text for found in tree.iter("{http://www.sitemaps.org/schemas/sitemap/0.9}loc")}
    pages = {path.parent.relative_to(hosted).as_posix() for path in hosted.rglob("index.html")}
    assert listed == {made_site.HOST + ("" if page == "." else f"{page}/") for page in pages}


def test_the_pages_of_a_dated_exercise_have_its_day(hosted: Path) -> None:
    place = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
    days = {
        found.findtext(f"{place}loc", "").removeprefix(made_site.HOST): found.findtext(f"{place}lastmod")
        for found in ET.parse(hosted / "sitemap.xml").iter(f"{place}url")
    }
    assert days[""] == days["exercises/long-road/"] == days["exercises/long-road/e-flat/"] == "2026-11-20"
    assert days["exercises/low-lantern/a/"] == "2026-10-02"
    # What is not known is left out.
    assert days["exercises/cell/"] is days["keys/d/"] is days["find/"] is None


def test_a_feed_tells_of_the_dated_exercises_on_every_page(hosted: Path, site: Path) -> None:
    tree = ET.parse(hosted / "feed.xml")
    titles = [found.text for found in tree.iter("{http://www.w3.org/2005/Atom}title")]
    assert titles[1:] == ["Long road", "Low lantern"]
    for address, before in (("index.html", ""), ("exercises/cell/d/index.html", "../../../")):
        page = Reader(hosted / address)
        (link,) = page.of("link", rel="alternate")
        assert (link["href"], link["type"]) == (f"{before}feed.xml", "application/atom+xml")
        assert f"{before}feed.xml" in page.links
    assert f"Sitemap: {made_site.HOST}sitemap.xml\n" in (hosted / "robots.txt").read_text(encoding="utf-8")
    # Without an address of its own a site can have neither.
    assert not (site / "feed.xml").exists() and not (site / "robots.txt").exists()
    assert not Reader(site / "index.html").of("link", rel="alternate")


def ink_in(data: bytes) -> int:
    """Dark pixels of an eight-bit PNG of three or four channels, its rows' filters undone."""
    width, height = struct.unpack(">II", data[16:24])
    channels = {2: 3, 6: 4}[data[25]]
    packed, at = b"", 8
    while at < len(data):
        (size,) = struct.unpack(">I", data[at : at + 4])
        if data[at + 4 : at + 8] == b"IDAT":
            packed += data[at + 8 : at + 8 + size]
        at += size + 12
    rows = zlib.decompress(packed)
    stride = width * channels
    before = bytearray(stride)
    dark = 0
    for line in range(height):
        kind = rows[line * (stride + 1)]
        row = bytearray(rows[line * (stride + 1) + 1 : (line + 1) * (stride + 1)])
        for x in range(stride):
            left = row[x - channels] if x >= channels else 0
            up = before[x]
            corner = before[x - channels] if x >= channels else 0
            if kind == 4:
                guess = left + up - corner
                best = min((abs(guess - v), n) for n, v in enumerate((left, up, corner)))[1]
                row[x] = (row[x] + (left, up, corner)[best]) & 255
            else:
                row[x] = (row[x] + (0, left, up, (left + up) // 2)[kind]) & 255
        dark += sum(row[x] < 80 and row[x + 1] < 80 and row[x + 2] < 80 for x in range(0, stride, channels))
        before = row
    return dark


def test_without_an_address_nothing_claims_one(site: Path) -> None:
    page = Reader(site / "index.html")
    assert page.of("link", rel="canonical") == []
    assert page.of("meta", property="og:image") == []
    assert not (site / "pictures").exists()


def test_two_instruments_have_a_tree_each() -> None:
    site = made_site.site("flute, clarinet-b-flat")
    page = Reader(site / "clarinet-b-flat/exercises/low-lantern/d/index.html")
    assert "../../../../flute/exercises/low-lantern/d/index.html" in page.links
    home = Reader(site / "index.html")
    assert {"flute/index.html", "clarinet-b-flat/index.html"} <= set(home.links)
    for address in (path.relative_to(site).as_posix() for path in site.rglob("*.html")):
        if address != "404.html":
            for link in Reader(site / address).links:
                assert (site / target(address, link)).is_file(), (address, link)


def test_an_edition_is_what_the_site_holds(tmp_path: Path) -> None:
    def made(name: str, words: str) -> tuple[str, Path]:
        folder = tmp_path / name
        (folder / "assets").mkdir(parents=True)
        (folder / "assets/worker.js").write_text('const EDITION = "EDITION-OF-THE-BOOK";')
        (folder / "index.html").write_text(words)
        (folder / "sitemap.xml").write_text(name)
        return write_service_worker(folder), folder

    first, folder = made("first", "one")
    second, _ = made("second", "one")
    third, _ = made("third", "two")
    assert first == second != third
    assert first in (folder / WORKER).read_text()
    assert not (folder / "assets/worker.js").exists()
    listing = json.loads((folder / LISTING).read_text())
    assert listing["edition"] == first
    assert list(listing["files"]) == ["index.html"]


def test_the_site_is_bound(site: Path) -> None:
    listing = json.loads((site / LISTING).read_text(encoding="utf-8"))
    assert f'EDITION = "{listing["edition"]}"' in (site / WORKER).read_text(encoding="utf-8")
    there = {path.relative_to(site).as_posix() for path in site.rglob("*") if path.is_file()}
    apart = {LISTING, WORKER, "404.html", "sitemap.xml", "sitemap.xml.gz"}
    assert set(listing["files"]) == there - apart


def opened(music: str, more: str = "") -> list[int]:
    """How many events each bar of an opening has, for a few words of music in 4/4."""
    text = f"title: Test\nhome: D5 in D major\nmeter: 4/4\n{more}music:\n  {music}\n"
    exercise = read_exercise("test.warmup", text.encode()).exercise
    assert exercise is not None, text
    return [len(bar.events) for bar in opening(settings_of(exercise, FLUTE)[0].score()).line.bars]


def test_an_opening_ends_where_nothing_is_open() -> None:
    assert opened("w D5 | w E5 | w F#5 | w G5 | w A5") == [1, 1, 1, 1]
    assert opened("w D5 | slur( w E5 | w F#5 ) | w G5 | w A5") == [1, 1, 1, 1]
    assert opened("w D5 | w E5 | slur( w F#5 | w G5 | w A5 )") == [1, 1]
    assert opened("w D5 | w E5 tie | w E5 | slur( w G5 | w A5 )") == [1, 1, 1]
    assert opened("w D5 | louder( w E5 p | w F#5 | w G5 ) | w A5 f") == [1, 1, 1, 1]
    # A line's worth of notes at most, where there is a choice.
    assert opened("q D5 E5 D5 E5 | q D5 E5 D5 E5 | q D5 E5 D5 E5") == [4, 4]
    # A pick-up is not counted as a bar.
    assert opened("q A4 | q D5 E5 D5 E5 | q D5 E5 D5 E5 | q D5 E5 D5", "pickup: quarter\n") == [1, 4, 4]


def test_an_opening_with_no_end_is_cut() -> None:
    assert opened("slur( w D5 | w E5 | w F#5 | w G5 | w A5 )") == [1, 1, 1, 1]


def test_keys_in_short() -> None:
    assert [key_sign(name) for name in ("D flat major", "C sharp minor", "A minor")] == ["D♭", "C♯", "A"]


def test_lengths_in_words() -> None:
    said = {0: "", 3: "about 5 seconds", 41: "about 40 seconds", 61: "about 1 minute", 95: "about 1½ minutes"}
    assert {seconds: lasts_words(seconds) for seconds in said} == said
