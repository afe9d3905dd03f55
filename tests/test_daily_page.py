"""The page of daily sets in a browser, from a folder without a server; and the page of coverage."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import date, timedelta
from html import unescape
from itertools import pairwise
from pathlib import Path
from typing import Any

import made_site
import pytest

from stavewright.book.pieces import instrument_books_of
from stavewright.book.read import open_book
from stavewright.daily.choices import measured
from stavewright.daily.coverage import coverage
from stavewright.daily.measure import register_order
from stavewright.daily.plan import Promise
from stavewright.daily.planner import plan

sync_api = pytest.importorskip("playwright.sync_api")

NO_STORAGE = """
Object.defineProperty(window, "localStorage", { get() { throw new DOMException("no", "SecurityError"); } });
"""


@pytest.fixture(scope="module")
def site() -> Path:
    return made_site.site()


def data_of(site: Path) -> dict[str, Any]:
    text = (site / "daily/index.html").read_text(encoding="utf-8")
    found = re.search(r'<script type="application/json" id="daily-data">(.*?)</script>', text, re.DOTALL)
    assert found
    read: dict[str, Any] = json.loads(found[1])
    return read


@pytest.fixture
def page(chromium: Any, site: Path) -> Iterator[Any]:
    context = chromium.new_context(locale="en-US", timezone_id="America/New_York")
    page = context.new_page()
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda line: said.append(line.text) if line.type in ("error", "warning") else None)
    yield page
    context.close()
    assert said == []


def opened(page: Any, site: Path, on: date, hour: int = 12) -> None:
    # Late in the evening in New York is another day in Greenwich: the wall's calendar counts.
    page.clock.set_fixed_time(f"{on.isoformat()}T{hour:02d}:30:00-05:00")
    page.goto((site / "daily/index.html").as_uri())


def shown(page: Any) -> list[tuple[str, str]]:
    """Today's items: what and how."""
    rows = page.locator("section.day .set li:not(.pause)")
    return [
        (row.locator("a").inner_text(), row.locator(".how").inner_text())
        for row in (rows.nth(number) for number in range(rows.count()))
    ]


def planned(data: dict[str, Any], minutes: str, on: date) -> list[tuple[str, str]]:
    """What the data says for a date."""
    days = data["plans"][minutes]
    day = days[(on - date(1970, 1, 1)).days % data["days"]]
    return [
        (data["items"][item][1], data["items"][item][2])
        for _, items in day["sets"]
        for item in items
        if item >= 0
    ]


@pytest.mark.parametrize("hour", [0, 12, 23])
def test_the_set_of_today(page: Any, site: Path, hour: int) -> None:
    on = date(2026, 2, 27)
    opened(page, site, on, hour)
    assert page.locator("section.day h2").inner_text().startswith("Today, Friday 27 February")
    assert shown(page) == planned(data_of(site), "15", on)
    assert page.locator("details.day summary").first.inner_text().startswith("Tomorrow, Saturday 28 February")


def test_the_round_begins_again_and_no_day_repeats_the_one_before(page: Any, site: Path) -> None:
    seen = []
    on = date(2026, 2, 20)
    for number in (0, 1, 2, 14):
        opened(page, site, on + timedelta(days=number))
        seen.append(shown(page))
    assert seen[0] == seen[3]
    for one, other in pairwise(seen[:3]):
        assert not {what for what, _ in one} & {what for what, _ in other}


def test_every_item_leads_to_its_music(page: Any, site: Path) -> None:
    opened(page, site, date(2026, 2, 27))
    links = page.locator("[data-days] a")
    assert links.count() > 20
    for number in range(links.count()):
        address = links.nth(number).evaluate("link => link.href")
        path, _, anchor = address.removeprefix("file://").partition("#")
        assert f'id="{anchor}"' in Path(path).read_text(encoding="utf-8")
    links.first.click()
    page.wait_for_url("**/exercises/**")
    assert page.locator("h1").is_visible()


def test_another_length_is_kept_for_the_next_time(page: Any, site: Path) -> None:
    on = date(2026, 2, 27)
    opened(page, site, on)
    page.get_by_label("Time today").select_option("5")
    assert shown(page) == planned(data_of(site), "5", on)
    page.reload()
    assert page.get_by_label("Time today").input_value() == "5"
    assert shown(page) == planned(data_of(site), "5", on)


def test_ticks_hold_for_today(page: Any, site: Path) -> None:
    opened(page, site, date(2026, 2, 27))
    first = page.locator("section.day input").first
    first.check()
    page.reload()
    assert page.locator("section.day input").first.is_checked()
    assert page.locator("section.day input:checked").count() == 1
    opened(page, site, date(2026, 3, 13))
    assert page.locator("section.day input:checked").count() == 0


def test_it_works_where_nothing_can_be_kept(page: Any, site: Path) -> None:
    page.add_init_script(NO_STORAGE)
    on = date(2026, 2, 27)
    opened(page, site, on)
    assert shown(page) == planned(data_of(site), "15", on)
    page.locator("section.day input").first.check()
    assert "is not saving data" in page.locator("section.day > .quiet").inner_text()


def test_a_plain_week_stands_there_without_a_script(chromium: Any, site: Path) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((site / "daily/index.html").as_uri())
    headings = page.locator("section.day h2")
    for number in range(7):
        assert headings.nth(number).inner_text().split()[:2] == ["Day", str(number + 1)]
    assert headings.count() == 7
    assert page.get_by_label("Time today").count() == 0 or not page.get_by_label("Time today").is_visible()
    page.locator("section.day a").first.click()
    assert "/exercises/" in page.url
    context.close()


@pytest.mark.parametrize("width", [360, 820, 1280])
def test_nothing_is_wider_than_the_window(page: Any, site: Path, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    for address in ("daily/index.html", "coverage/index.html"):
        page.goto((site / address).as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_page_plans_as_the_program_does(site: Path) -> None:
    instrument_book = instrument_books_of(open_book(site.parent / "book"))[0]
    choices = [each.choice for each in measured(instrument_book)]
    data = data_of(site)
    assert data["plans"].keys() >= {"5", "15"}
    for minutes, days in data["plans"].items():
        made = plan(
            Promise(int(minutes), data["days"], round=True),
            choices,
            register_order(instrument_book.instrument),
        )
        assert [day["seconds"] <= 60 * int(minutes) for day in days] == [True] * data["days"]
        said = [
            [data["items"][item][1] for _, items in day["sets"] for item in items if item >= 0]
            for day in days
        ]
        assert said == [[f"{item.title}, {item.key_name}" for item in day] for day in made.days]


def test_coverage_in_pictures_and_tables(site: Path) -> None:
    instrument_book = instrument_books_of(open_book(site.parent / "book"))[0]
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


def test_each_instrument_has_its_own(tmp_path: Path) -> None:
    site = made_site.site("flute, clarinet-b-flat")
    text = (site / "daily/index.html").read_text(encoding="utf-8")
    assert 'href="../flute/daily/index.html"' in text
    assert 'href="../clarinet-b-flat/daily/index.html"' in text
    clarinet = (site / "clarinet-b-flat/daily/index.html").read_text(encoding="utf-8")
    assert "clarinet-b-flat/exercises/" in clarinet
    assert (site / "clarinet-b-flat/coverage/index.html").is_file()
