"""What tells others of the book: a feed of its exercises, the days of its pages, a word to search engines.

All of it is for a site that knows its address (`site_url`), and for exercises whose authors state a day: the
time of a file or of a build would make the same book into other bytes.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from urllib.parse import urljoin

from ...book.addresses import SiteFile
from ...music.exercise import Exercise
from ...translation.catalog import ENGLISH
from ...views.page_views import BookView

FEED = "feed.xml"
ROBOTS = "robots.txt"

MOST = 100
"""Entries of a feed: the latest."""

_ATOM = "http://www.w3.org/2005/Atom"


@dataclass(frozen=True, slots=True)
class _News:
    """An exercise, its page's address from the site's root, when it was added and last changed."""

    exercise: Exercise
    address: str
    added: date
    changed: date


def has_news(book: BookView) -> bool:
    """Whether an exercise of the book has a day."""
    return any(True for _ in _news(book))


def page_days(book: BookView) -> Mapping[str, str]:
    """The last day of each page that has one, by its place in the site's sources: `2026-11-01`.

    The pages of an exercise have its own; the book's first page has the latest of all.
    """
    days: dict[str, date] = {}
    for instrument_book in book.instrument_books:
        for view in instrument_book.exercises:
            if day := _last_day(view.exercise):
                addresses = view.address, *(each.address for each in view.keys)
                days |= dict.fromkeys((f"{address}index.md" for address in addresses), day)
    if days:
        days["index.md"] = max(days.values())
    return {place: day.isoformat() for place, day in days.items()}


def feed(book: BookView, site_url: str, author: str, language: str = ENGLISH) -> SiteFile:
    """The exercises that have a day as a feed (RFC 4287), the latest first.

    A day begins at midnight of Greenwich. An exercise that several instruments play has one entry, which
    leads to the first one's page. Each id is an address, which no change of words alters. `language` is
    that of the book's own words.
    """
    news = sorted(_news(book), key=lambda each: each.exercise.title)
    news.sort(key=lambda each: (each.changed, each.added), reverse=True)
    top = ET.Element("feed", {"xmlns": _ATOM, "xml:lang": language})
    _add(top, "id", urljoin(site_url, FEED))
    _add(top, "title", book.name)
    _add(top, "updated", _midnight(max(each.changed for each in news)))
    _add(_add(top, "author"), "name", author)
    ET.SubElement(
        top, "link", {"rel": "self", "type": "application/atom+xml", "href": urljoin(site_url, FEED)}
    )
    ET.SubElement(top, "link", {"rel": "alternate", "type": "text/html", "href": site_url})
    for each in news[:MOST]:
        exercise, address = each.exercise, urljoin(site_url, each.address)
        entry = _add(top, "entry")
        _add(entry, "id", address)
        _add(entry, "title", exercise.title)
        _add(entry, "published", _midnight(each.added))
        _add(entry, "updated", _midnight(each.changed))
        ET.SubElement(entry, "link", {"rel": "alternate", "type": "text/html", "href": address})
        if exercise.kind:
            ET.SubElement(entry, "category", {"term": exercise.kind})
        if said := exercise.purpose or exercise.about:
            _add(entry, "summary", said)
        if exercise.rights:
            _add(entry, "rights", exercise.rights)
    ET.indent(top, " ")
    return SiteFile(FEED, ET.tostring(top, encoding="utf-8", xml_declaration=True) + b"\n")


def robots(site_url: str) -> SiteFile:
    """What programs that collect pages read first (RFC 9309): all may be read, and where its list is."""
    text = f"User-agent: *\nAllow: /\n\nSitemap: {urljoin(site_url, 'sitemap.xml')}\n"
    return SiteFile(ROBOTS, text.encode())


def _news(book: BookView) -> Iterable[_News]:
    seen = set()
    for instrument_book in book.instrument_books:
        for view in instrument_book.exercises:
            exercise = view.exercise
            if exercise.added and exercise.slug not in seen:
                seen.add(exercise.slug)
                yield _News(exercise, view.address, exercise.added, exercise.changed or exercise.added)


def _last_day(exercise: Exercise) -> date | None:
    return exercise.changed or exercise.added


def _midnight(day: date) -> str:
    """A day as RFC 3339 writes its beginning."""
    return f"{day.isoformat()}T00:00:00Z"


def _add(above: ET.Element, name: str, text: str = "") -> ET.Element:
    made = ET.SubElement(above, name)
    made.text = text or None
    return made
