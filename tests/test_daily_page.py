"""The page of daily sets in a browser, from a folder and from a server; today on the home page; coverage."""

from __future__ import annotations

import gzip
import json
import re
from collections.abc import Iterator
from datetime import date, timedelta
from functools import cache
from html import unescape
from itertools import pairwise
from pathlib import Path
from typing import Any

import made_site
import pytest
from conftest import sweep
from test_browser_site import AWAKE, NO_STORAGE, WCAG, serve

from stavewright.book.addresses import piece_anchor, setting_address
from stavewright.book.pieces import InstrumentBook, instrument_books_of
from stavewright.book.read import open_book
from stavewright.daily.blocks import Block
from stavewright.daily.choices import Choice, measured
from stavewright.daily.coverage import coverage
from stavewright.daily.measure import register_order
from stavewright.daily.plan import Plan, Promise
from stavewright.daily.planner import plan
from stavewright.daily.sets import block_how, block_keys, block_title, days
from stavewright.views.daily_data import daily_data
from stavewright.views.daily_page import FEWER_LENGTHS, LEAST_MINUTES, LENGTHS, MANY, MOST_MINUTES, _plans

sync_api = pytest.importorskip("playwright.sync_api")
axe = pytest.importorskip("axe_playwright_python.sync_playwright")

FRIDAY = date(2026, 2, 27)
SET_OF = """([day, minutes]) => {
    const [year, month, number] = day.split("-").map(Number);
    const set = stavewrightDaily.setOf(new Date(year, month - 1, number), minutes);
    return {
        planned: set.planned,
        seconds: set.seconds,
        sittings: set.sittings.map((sitting) => sitting.map((block) => ({
            title: block.title,
            keys: block.keyWords.map(([words]) => words).join(""),
            how: block.how,
            seconds: block.seconds,
            pieces: block.pieces.map((piece) => piece.file + "#" + piece.id),
        }))),
    };
}"""


@pytest.fixture(scope="module")
def site() -> Path:
    return made_site.site()


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    yield from serve(made_site.site(address=made_site.HOST))


@cache
def book_of(site: Path) -> tuple[InstrumentBook, tuple[Choice, ...]]:
    """The only instrument's book of a site, and what it offers."""
    instrument_book = instrument_books_of(open_book(site.parent / "book"))[0]
    return instrument_book, tuple(each.choice for each in measured(instrument_book))


@cache
def plan_of(site: Path, minutes: int) -> Plan:
    """The plan that a site's book has for so many minutes."""
    instrument_book, choices = book_of(site)
    wish = Promise(minutes, 14, round=True)
    return plan(wish, choices, register_order(instrument_book.instrument), quick=True)


def data_of(site: Path) -> dict[str, Any]:
    """The data beside the page."""
    text = (site / "daily/sets.js").read_text(encoding="utf-8")
    read: dict[str, Any] = json.loads(text.removeprefix("window.stavewrightDailySets = ").rstrip(";\n"))
    return read


@pytest.fixture
def page(chromium: Any) -> Iterator[Any]:
    context = chromium.new_context(locale="en-US", timezone_id="America/New_York", accept_downloads=True)
    context.add_init_script(AWAKE)
    page = context.new_page()
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda line: said.append(line.text) if line.type in ("error", "warning") else None)
    yield page
    context.close()
    assert said == []


def opened(page: Any, site: Path, on: date = FRIDAY, hour: int = 12, asked: str = "") -> None:
    """Open the page on a day."""
    # Late in the evening in New York is another day in Greenwich: the wall's calendar counts.
    page.clock.set_fixed_time(f"{on.isoformat()}T{hour:02d}:30:00-05:00")
    # Another address on the same page would not load it again.
    page.goto("about:blank")
    page.goto((site / "daily/index.html").as_uri() + asked)


def shown(page: Any) -> list[tuple[str, str, str]]:
    """The blocks of the day on the page: what, over which keys, and how."""
    rows = page.locator("section.day .block")
    return [
        tuple(row.locator(part).inner_text() for part in ("h3", ".over", ".how"))
        for row in (rows.nth(number) for number in range(rows.count()))
    ]


def planned(site: Path, minutes: int, on: date) -> list[tuple[str, str, str]]:
    """What the program plans for a date."""
    made = plan_of(site, minutes).days
    day = made[(on - date(1970, 1, 1)).days % len(made)]
    return [(block_title(block), block_keys(block), block_how(block)) for sitting in day for block in sitting]


@pytest.mark.parametrize("hour", [0, 12, 23])
def test_the_set_of_today(page: Any, site: Path, hour: int) -> None:
    opened(page, site, hour=hour)
    assert page.locator("section.day h2").inner_text().startswith("Today, Friday 27 February")
    assert shown(page) == planned(site, 15, FRIDAY)
    assert page.locator("details.day summary").first.inner_text().startswith("Tomorrow, Saturday 28 February")


@pytest.mark.exhaustive
def test_the_round_begins_again_and_days_differ(page: Any, site: Path) -> None:
    seen = []
    for number in (0, 1, 2, 14):
        opened(page, site, FRIDAY + timedelta(days=number))
        seen.append(shown(page))
    assert seen[0] == seen[3]
    for one, other in pairwise(seen[:3]):
        assert one != other


def test_the_page_plans_as_the_program_does(page: Any, site: Path) -> None:
    opened(page, site)
    lengths = sorted(map(int, data_of(site)["plans"]))
    assert lengths == list(LENGTHS)
    for minutes in (lengths[0], 10, 15, 20, 30, 60, MOST_MINUTES):
        for number, day in enumerate(days(plan_of(site, minutes))):
            on = date(1970, 1, 1) + timedelta(days=14 * 1400 + number)
            found = page.evaluate(SET_OF, [on.isoformat(), minutes])
            assert (found["planned"], found["seconds"]) == (minutes, day.seconds)
            assert found["sittings"] == [
                [
                    {
                        "title": block_title(block),
                        "keys": block_keys(block),
                        "how": block_how(block),
                        "seconds": block.seconds,
                        "pieces": [
                            f"{setting_address('', item.exercise, item.key)}index.html"
                            f"#{piece_anchor(item.anchor, item.variation)}"
                            for item in block.items
                        ],
                    }
                    for block in sitting
                ]
                for sitting in day.sittings
            ]


def test_any_number_of_minutes_is_answered_by_the_longest_plan_below_it(page: Any, site: Path) -> None:
    opened(page, site)
    lengths = sorted(map(int, data_of(site)["plans"]))
    for minutes in range(LEAST_MINUTES, MOST_MINUTES + 1):
        found = page.evaluate(SET_OF, [FRIDAY.isoformat(), minutes])
        assert found["planned"] == max((one for one in lengths if one <= minutes), default=lengths[0])
        assert found["seconds"] <= 60 * found["planned"]


def test_a_large_book_has_fewer_plans(site: Path) -> None:
    instrument_book, choices = book_of(site)
    many = choices * (MANY // len(choices) + 1)
    plans, problem = _plans(many, register_order(instrument_book.instrument))
    assert set(plans) <= set(FEWER_LENGTHS)
    assert len(plans) > 5
    assert problem == ()


def test_the_data_is_small(site: Path) -> None:
    assert len(gzip.compress((site / "daily/sets.js").read_bytes())) < 6000
    _, choices = book_of(site)
    row = daily_data({15: plan_of(site, 15)}, choices, "")["blocks"]
    assert len(row) == len({tuple(block) for block in row})


@pytest.mark.exhaustive
def test_every_piece_and_every_key_leads_to_music(page: Any, site: Path) -> None:
    opened(page, site)
    links = page.locator("[data-days] .block a")
    assert links.count() > 20
    addresses = {links.nth(number).evaluate("link => link.href") for number in range(links.count())}
    for minutes in (5, 15, 40):
        found = page.evaluate(SET_OF, [FRIDAY.isoformat(), minutes])
        pieces = (piece for sitting in found["sittings"] for block in sitting for piece in block["pieces"])
        addresses.update(f"{site.as_uri()}/{piece}" for piece in pieces)
    for each in addresses:
        path, _, anchor = each.removeprefix("file://").partition("#")
        assert f'id="{anchor}"' in Path(path).read_text(encoding="utf-8")
    links.first.click()
    page.wait_for_url("**/exercises/**")
    assert page.locator("h1").is_visible()


def test_minutes_are_chosen_without_a_new_build_and_kept(page: Any, site: Path) -> None:
    opened(page, site)
    minutes = page.get_by_label("Minutes a day")
    assert minutes.input_value() == "15"
    page.get_by_role("button", name="More minutes").click()
    page.get_by_role("button", name="More minutes").click()
    assert minutes.input_value() == "17"
    assert shown(page) == planned(site, 17, FRIDAY)
    page.get_by_role("button", name="Fewer minutes").click()
    assert shown(page) == planned(site, 16, FRIDAY)
    page.reload()
    assert minutes.input_value() == "16"
    for typed, held in (("33", 33), ("1", LEAST_MINUTES), ("1000", MOST_MINUTES)):
        minutes.fill(typed)
        minutes.press("Enter")
        assert minutes.input_value() == str(held)
        seconds = page.evaluate(SET_OF, [FRIDAY.isoformat(), held])["seconds"]
        assert f"{seconds // 60}:{seconds % 60:02d}" in page.locator("[data-lasts]").inner_text()
    # Several sittings in an hour and a half.
    assert page.locator("section.day .pause").count() >= 1


def minutes_of(blocks: list[Block]) -> str:
    """The minutes of some blocks, rounded as a browser does."""
    return str(int(sum(block.seconds for block in blocks) / 60 + 0.5))


def test_ticks_hold_for_the_day_and_make_a_history(page: Any, site: Path, tmp_path: Path) -> None:
    opened(page, site)
    assert page.get_by_text("Nothing is ticked yet").is_visible()
    blocks = [block for sitting in plan_of(site, 15).days[20511 % 14] for block in sitting]
    page.locator("section.day .tick").first.click()
    page.locator("section.day .tick").nth(1).click()
    page.reload()
    assert page.locator("section.day input:checked").count() == 2
    opened(page, site, FRIDAY + timedelta(days=14))
    assert page.locator("section.day input:checked").count() == 0
    page.locator("section.day .tick").first.click()
    rows = page.locator(".history tbody tr")
    assert [row.split("\t") for row in rows.all_inner_texts()] == [
        ["9 March", "1", "1", minutes_of(blocks[:1])],
        ["23 February", "1", "2", minutes_of(blocks[:2])],
    ]
    waiting = page.locator("[data-waiting=exercises] li").all_inner_texts()
    assert f"{blocks[1].items[0].title} 14 days ago" in [" ".join(row.split()) for row in waiting]
    assert all(blocks[0].items[0].title not in row for row in waiting)
    assert any(row.endswith("not yet") for row in page.locator("[data-waiting=keys] li").all_inner_texts())
    with page.expect_download() as waited:
        page.get_by_role("button", name="Save as a file").click()
    waited.value.save_as(tmp_path / "history.json")
    saved = json.loads((tmp_path / "history.json").read_text(encoding="utf-8"))
    assert waited.value.suggested_filename == "daily-history-2026-03-13.json"
    assert {day: len(rows) for day, rows in saved["days"].items()} == {"2026-02-27": 2, "2026-03-13": 1}
    assert saved["days"]["2026-03-13"][0]["exercise"] == blocks[0].exercise
    page.get_by_role("button", name="Erase the history").click()
    page.get_by_role("button", name="Keep it").click()
    assert rows.count() == 2
    page.get_by_role("button", name="Erase the history").click()
    page.get_by_role("button", name="Erase it").click()
    assert page.get_by_text("The history is erased.").is_visible()
    assert page.locator("section.day input:checked").count() == 0
    page.reload()
    assert page.get_by_text("Nothing is ticked yet").is_visible()


@sweep("kept", ["", "{", "[1]", '{"2026-02-27": [{"id": 3}, null], "x": 1}', "null"], every_day=1)
def test_a_damaged_history_is_no_obstacle(page: Any, site: Path, kept: str) -> None:
    opened(page, site)
    page.evaluate("kept => stavewrightStorage.write('daily.history ', kept)", kept)
    page.reload()
    assert shown(page) == planned(site, 15, FRIDAY)
    page.locator("section.day .tick").first.click()
    page.reload()
    assert page.locator("section.day input:checked").count() == 1


def test_it_works_where_nothing_can_be_kept(page: Any, site: Path) -> None:
    page.add_init_script(NO_STORAGE)
    opened(page, site)
    assert shown(page) == planned(site, 15, FRIDAY)
    page.locator("section.day .tick").first.click()
    assert page.get_by_text("This browser is not saving data: your ticks are lost").is_visible()
    assert page.locator(".history tbody tr").count() == 1
    page.get_by_role("button", name="More minutes").click()
    assert shown(page) == planned(site, 16, FRIDAY)
    assert page.locator("section.day input:checked").count() <= 1
    assert page.get_by_text("This browser is not saving data").is_visible()


@pytest.mark.exhaustive
def test_a_shared_address_shows_its_day_to_everybody(page: Any, site: Path) -> None:
    opened(page, site)
    page.get_by_role("link", name="Address of this set").click()
    assert page.url.endswith("#day=2026-02-27&minutes=15")
    later = FRIDAY + timedelta(days=3)
    opened(page, site, later, asked="#day=2026-02-27&minutes=8")
    assert page.locator("section.day h2").inner_text().startswith("Friday 27 February")
    assert shown(page) == planned(site, 8, FRIDAY)
    assert page.get_by_text("The set of a shared address.").is_visible()
    page.get_by_role("link", name="Today’s set").click()
    assert page.locator("section.day h2").inner_text().startswith("Today, Monday 2 March")
    # The length of an address is not the player's own.
    assert shown(page) == planned(site, 15, later)


@sweep(
    "asked, said",
    [
        ("#day=2026-02-30&minutes=15", "“2026-02-30”, which is no date"),
        ("#day=yesterday", "“yesterday”, which is no date"),
        ("#minutes=2", "“2” minutes"),
        ("#day=2026-02-27&minutes=91", "“91” minutes"),
        ("#minutes=%3Cb%3E", "“<b>” minutes"),
        ("#day=" + "9" * 4000, "“99999999999999999999…”"),
    ],
    every_day=1,
)
def test_a_damaged_address_falls_back_with_a_word(page: Any, site: Path, asked: str, said: str) -> None:
    opened(page, site, asked=asked)
    assert shown(page) == planned(site, 15, FRIDAY)
    assert said in page.locator(".today .remark").inner_text()


@sweep("asked", ["#music", "#sound", "#%", "#=&=", "#today"], every_day=1)
def test_another_place_on_the_page_is_no_fault(page: Any, site: Path, asked: str) -> None:
    opened(page, site, asked=asked)
    assert shown(page) == planned(site, 15, FRIDAY)
    assert page.locator(".today .remark").count() == 0


def on_stand(page: Any) -> tuple[str, str]:
    """The title on the stand, and the words below it."""
    return page.locator(".stand-title").inner_text(), page.locator(".stand-under").inner_text()


def wait_for_note(page: Any, words: str) -> None:
    """Wait until the words below the title have these among them."""
    page.locator(".stand-under").get_by_text(words).wait_for()


def test_from_home_to_the_next_block_with_its_drone(page: Any, address: str) -> None:
    page.clock.set_fixed_time("2026-02-27T12:30:00-05:00")
    page.goto(address + "index.html")
    assert page.locator("#today").inner_text() == "Today, Friday 27 February"
    made = planned(made_site.site(), 15, FRIDAY)
    assert page.locator(".set-today li").all_inner_texts() == [f"{title} {how}" for title, _, how in made]
    page.get_by_role("link", name="Play today’s set").click()
    wait_for_note(page, "Block 1 of ")
    plays = [item for sitting in plan_of(made_site.site(), 15).days[20511 % 14] for item in sitting]
    first = plays[0].items[0]
    assert on_stand(page)[0] == f"{first.title} in {first.key_name}"
    assert on_stand(page)[1].startswith(f"Block 1 of {len(plays)}, {first.variation} · ")
    page.locator("[data-bar=drone]").click()
    page.locator(".sound-words").get_by_text("Drone on").wait_for()
    drones = [page.locator(".sound-words").inner_text()]
    titles = []
    for _ in range(60):
        titles.append(on_stand(page)[0])
        if "Block 2 of " in on_stand(page)[1]:
            break
        page.keyboard.press("PageDown")
        page.wait_for_timeout(60)
    wait_for_note(page, "Block 2 of ")
    drones.append(page.locator(".sound-words").inner_text())
    tonics = [block.items[0].key_name.split()[0] for block in plays[:2]]
    assert [words.removeprefix("Drone on ")[0] for words in drones] == [tonic[0] for tonic in tonics]
    assert list(dict.fromkeys(titles))[: len(plays[0].keys)] == [
        f"{item.title} in {item.key_name}" for item in plays[0].keys
    ]
    page.get_by_role("button", name="Close").click()
    # What was only turned through is not ticked.
    assert page.locator("section.day input:checked").count() == 0
    assert page.locator("section.day h2").inner_text().startswith("Today")


@pytest.mark.exhaustive
def test_the_clock_of_a_block_and_going_on_by_itself(page: Any, address: str) -> None:
    page.clock.install(time="2026-02-27T12:30:00-05:00")
    page.goto(address + "daily/index.html")
    block = plan_of(made_site.site(), 15).days[20511 % 14][0][0]
    page.get_by_label("The stand goes on when the time is up").check()
    page.get_by_role("button", name="Put today’s set on the stand").click()
    wait_for_note(page, f"{-(-block.seconds // 60)} minutes left")
    page.clock.run_for(block.items[0].whole * 1000 - 3000)
    assert on_stand(page)[0] == f"{block.items[0].title} in {block.items[0].key_name}"
    for _ in range((block.seconds + 60) // 5):
        if "Block 2 of " in on_stand(page)[1]:
            break
        page.clock.run_for(5000)
        page.wait_for_timeout(40)
    wait_for_note(page, "Block 2 of ")
    page.get_by_role("button", name="Close").click()
    assert page.locator("section.day .block").first.locator("input").is_checked()
    assert page.locator("section.day input:checked").count() == 1


@pytest.mark.exhaustive
def test_a_pause_stands_between_sittings(page: Any, address: str) -> None:
    page.clock.set_fixed_time("2026-02-27T12:30:00-05:00")
    page.goto(address + "daily/index.html#minutes=40")
    page.locator("section.day .set").first.locator(".block button").last.click()
    page.locator(".stand-piece").first.wait_for()
    page.locator(".stand [data-bar=drone]").click()
    page.locator(".sound-words").get_by_text("Drone on").wait_for()
    for _ in range(60):
        if on_stand(page)[0] == "Pause":
            break
        page.keyboard.press("PageDown")
        page.wait_for_timeout(60)
    assert page.locator(".stand-over").inner_text().startswith("Pause\n\n5 minutes away from the instrument.")
    assert on_stand(page)[1] == "5 minutes left"
    # A drone is silent in the pause, and comes back with the music.
    assert page.locator(".sound-words").inner_text() == ""
    page.keyboard.press("PageDown")
    page.locator(".sound-words").get_by_text("Drone on").wait_for()
    first = plan_of(made_site.site(), 40).days[20511 % 14][0]
    wait_for_note(page, f"Block {len(first) + 1} of ")


def test_the_stand_goes_on_from_a_folder(chromium: Any, site: Path) -> None:
    page = chromium.new_context().new_page()
    page.goto((site / "daily/index.html").as_uri())
    page.get_by_role("button", name="Put today’s set on the stand").click()
    page.wait_for_url("**/exercises/**")
    wait_for_note(page, "Block 1 of ")
    page.get_by_role("button", name="Close").click()
    page.wait_for_url("**/daily/index.html")
    page.context.close()


@pytest.mark.exhaustive
def test_the_pages_of_today_are_kept_by_themselves(page: Any, address: str) -> None:
    page.goto(address + "daily/index.html")
    page.get_by_text("The pages of this set are kept on this device").wait_for()
    files = page.evaluate(
        "stavewrightDaily.filesOf(stavewrightDaily.setOf(new Date(), stavewrightDaily.readMinutes()))"
    )
    assert len(files) > 3
    page.context.set_offline(True)
    for file in files:
        if file.endswith(".html"):
            page.goto(address + file)
            assert page.locator("h1").is_visible(), file
    page.goto(address + "daily/index.html#play")
    wait_for_note(page, "Block 1 of ")


@pytest.mark.parametrize(
    ("refused", "said"),
    [
        ("caches.open = () => Promise.reject(new DOMException('no', 'SecurityError'));", ""),
        (
            "delete Navigator.prototype.serviceWorker;",
            "This browser does not keep pages on the device: this set needs a network.",
        ),
    ],
)
def test_refused_keeping_is_said(page: Any, address: str, refused: str, said: str) -> None:
    page.add_init_script(refused)
    page.goto(address + "daily/index.html")
    if said:
        page.get_by_text(said).wait_for()
    assert page.locator("section.day .block").count() > 2


def test_a_plain_week_stands_there_without_a_script(chromium: Any, site: Path) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((site / "index.html").as_uri())
    page.get_by_role("link", name="Today’s set").click()
    headings = page.locator("section.day h2")
    for number in range(7):
        assert headings.nth(number).inner_text().split()[:2] == ["Day", str(number + 1)]
    assert headings.count() == 7
    week = [
        (block_title(block), block_keys(block), block_how(block))
        for day in plan_of(site, 15).days[:7]
        for sitting in day
        for block in sitting
    ]
    assert shown(page) == week
    for control in ("Minutes a day", "Save as a file", "Played"):
        assert not page.get_by_text(control, exact=True).is_visible()
    page.locator("section.day a").first.click()
    assert "/exercises/" in page.url
    context.close()


@sweep("width", [320, 390, 820, 1440], every_day=1)
def test_nothing_is_wider_than_the_window_or_too_small_for_a_finger(
    page: Any, site: Path, width: int
) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    for place in ("index.html", "coverage/index.html", "daily/index.html"):
        page.goto((site / place).as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.locator("section.day .tick").first.click()
    found = page.locator(".tick, .stepper button, .stepper input, .day button, .history button, .day summary")
    for number in range(found.count()):
        box = found.nth(number).bounding_box()
        assert box is None or min(box["width"], box["height"]) >= 44


@sweep("look", ["light", "dark"], every_day=1)
def test_everyone_can_use_it(chromium: Any, site: Path, look: str) -> None:
    page = chromium.new_page(color_scheme=look)
    opened(page, site, asked="#day=nonsense&minutes=40")
    page.locator("section.day .tick").first.click()
    page.locator("details.day summary").first.click()
    page.get_by_role("button", name="Erase the history").click()
    found = axe.Axe().run(page, options={"runOnly": {"type": "tag", "values": WCAG}})
    assert found.violations_count == 0, found.generate_report()
    page.context.close()


def test_coverage_in_pictures_and_tables(site: Path) -> None:
    instrument_book, _ = book_of(site)
    found = coverage((each.notes for each in measured(instrument_book)), instrument_book.instrument)
    text = unescape((site / "coverage/index.html").read_text(encoding="utf-8"))
    for hole in found.holes:
        assert f"<li>{hole}</li>" in text
    # Every picture has a name of its own and a table behind it.
    pictures = re.findall(r'<svg[^>]*role="img" aria-labelledby="(.*?)"', text)
    assert len(pictures) == text.count("<table>") == 4
    for name in pictures:
        assert re.search(rf'<title id="{name}">[^<]{{40,}}</title>', text)
    for row in found.notes:
        assert f'<th scope="row">{row.pitch.spoken}</th>' in text
        if row.tally.count:
            assert f"<td>{row.tally.count} time{'' if row.tally.count == 1 else 's'}, " in text
    for attack in found.attacks:
        assert f'<th scope="row">{attack.name}</th><td>{attack.tally.count} times' in text
    assert "daily sets</a> of 15 minutes over 14 days: " in text


def test_each_instrument_has_its_own(page: Any) -> None:
    site = made_site.site("flute, clarinet-b-flat")
    text = (site / "daily/index.html").read_text(encoding="utf-8")
    assert 'href="../flute/daily/index.html"' in text
    assert 'href="../clarinet-b-flat/daily/index.html"' in text
    assert "data-today" not in (site / "index.html").read_text(encoding="utf-8")
    clarinet = (site / "clarinet-b-flat/daily/index.html").read_text(encoding="utf-8")
    assert 'href="../exercises/low-lantern/' in clarinet
    assert data_of(site / "clarinet-b-flat")["root"] == "clarinet-b-flat/"
    assert (site / "clarinet-b-flat/coverage/index.html").is_file()
    host = serve(site)
    page.goto(next(host) + "clarinet-b-flat/index.html")
    page.get_by_role("link", name="Play today’s set").click()
    page.wait_for_url("**/clarinet-b-flat/daily/**")
    page.locator(".stand-piece").first.wait_for()
    next(host, None)
