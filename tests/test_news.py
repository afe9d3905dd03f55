"""The feed, the days of pages and the word to search engines, by their own rules.

The schema is that of RFC 4287, appendix B, in the XML form of RELAX NG and without what a feed of a book
never has (contributors, generators, icons, sources and content). RFC 9309 has the rules of robots.txt, which
the standard library's reader knows.
"""

from __future__ import annotations

import urllib.robotparser
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import pytest
from lxml import etree

from stavewright.book.options import read_options
from stavewright.language.faults import Fault
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.music.exercise import Exercise
from stavewright.music.winds.instrument import Instrument
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS
from stavewright.site.files.news import MOST, feed, has_news, page_days, robots
from stavewright.views.page_views import BookView, ExerciseView, InstrumentBookView

SITE = "https://studio.example/warm-ups/"
ATOM = "{http://www.w3.org/2005/Atom}"
SCHEMA = """\
<grammar xmlns="http://relaxng.org/ns/structure/1.0" ns="http://www.w3.org/2005/Atom"
         datatypeLibrary="http://www.w3.org/2001/XMLSchema-datatypes">
 <start><element name="feed"><ref name="common"/><interleave>
  <oneOrMore><element name="author">
   <ref name="common"/><element name="name"><text/></element>
  </element></oneOrMore>
  <ref name="id"/><oneOrMore><ref name="link"/></oneOrMore><ref name="title"/><ref name="updated"/>
  <zeroOrMore><element name="entry"><ref name="common"/><interleave>
   <zeroOrMore><element name="category">
    <ref name="common"/><attribute name="term"/><empty/>
   </element></zeroOrMore>
   <ref name="id"/><zeroOrMore><ref name="link"/></zeroOrMore>
   <optional><element name="published"><ref name="date"/></element></optional>
   <optional><element name="rights"><ref name="words"/></element></optional>
   <optional><element name="summary"><ref name="words"/></element></optional>
   <ref name="title"/><ref name="updated"/>
  </interleave></element></zeroOrMore>
 </interleave></element></start>
 <define name="common"><optional>
  <attribute name="lang" ns="http://www.w3.org/XML/1998/namespace"><data type="language"/></attribute>
 </optional></define>
 <define name="words">
  <ref name="common"/>
  <optional><attribute name="type">
   <choice><value>text</value><value>html</value></choice>
  </attribute></optional>
  <text/>
 </define>
 <define name="date">
  <ref name="common"/>
  <data type="dateTime"><param name="pattern">.+T.+(Z|[+\\-]\\d\\d:\\d\\d)</param></data>
 </define>
 <define name="id"><element name="id">
  <ref name="common"/><data type="anyURI"><param name="minLength">1</param></data>
 </element></define>
 <define name="title"><element name="title"><ref name="words"/></element></define>
 <define name="updated"><element name="updated"><ref name="date"/></element></define>
 <define name="link"><element name="link">
  <ref name="common"/><attribute name="href"><data type="anyURI"/></attribute>
  <optional><attribute name="rel"/></optional>
  <optional><attribute name="type">
   <data type="string"><param name="pattern">.+/.+</param></data>
  </attribute></optional>
  <empty/>
 </element></define>
</grammar>
"""
TEXT = "title: {title}\nrights: mine & yours\nhome: D5 in D major\n{more}music: w D5\n"


def exercise(title: str, more: str = "") -> Exercise:
    slug = title.lower().replace(" ", "-")
    found = read(f"{slug}.warmup", TEXT.format(title=title, more=more).encode()).exercise
    assert found is not None
    return found


def fault(more: str) -> Fault:
    (only,) = read("one.warmup", TEXT.format(title="One", more=more).encode()).faults
    return only


def book(exercises: Sequence[Exercise], instruments: Sequence[Instrument] = (FLUTE,)) -> BookView:
    """A site's pages of exercises, without their music."""
    books = []
    for instrument in instruments:
        root = f"{instrument.slug}/" if len(instruments) > 1 else ""
        views = (
            ExerciseView(each, instrument, f"{root}exercises/{each.slug}/", "", 0, (), lambda: None)
            for each in exercises
        )
        books.append(InstrumentBookView(instrument, root, tuple(views), (), ()))
    return BookView("Slow & steady", tuple(books))


def parsed(view: BookView) -> etree._Element:
    made = feed(view, SITE, "Anna <Berg>")
    assert made.address == "feed.xml"
    tree = etree.fromstring(made.data)
    schema = etree.RelaxNG(etree.fromstring(SCHEMA))
    assert schema.validate(tree), schema.error_log
    return tree


OLD = exercise("Old", "added: 2026-01-31\npurpose: To <b>join</b> & part.\nkind: cell\n")
NEW = exercise("New", "added: 2026-11-01\n")
CHANGED = exercise("Changed", "added: 2026-02-01, changed 2027-01-10\n")
UNDATED = exercise("Undated")


def test_the_latest_exercise_comes_first_and_one_without_a_day_is_left_out() -> None:
    tree = parsed(book([OLD, UNDATED, NEW, CHANGED]))
    assert [each.text for each in tree.findall(f"{ATOM}entry/{ATOM}title")] == ["Changed", "New", "Old"]
    assert tree.findtext(f"{ATOM}updated") == "2027-01-10T00:00:00Z"
    first, _, last = tree.findall(f"{ATOM}entry")
    assert first.findtext(f"{ATOM}published") == "2026-02-01T00:00:00Z"
    assert first.findtext(f"{ATOM}updated") == "2027-01-10T00:00:00Z"
    assert last.findtext(f"{ATOM}published") == last.findtext(f"{ATOM}updated") == "2026-01-31T00:00:00Z"
    assert last.findtext(f"{ATOM}summary") == "To <b>join</b> & part."
    assert last.findtext(f"{ATOM}rights") == "mine & yours"
    assert tree.findtext(f"{ATOM}title") == "Slow & steady"
    assert tree.findtext(f"{ATOM}author/{ATOM}name") == "Anna <Berg>"


def test_every_id_is_an_address_of_its_own() -> None:
    tree = parsed(book([OLD, NEW], [FLUTE, INSTRUMENTS["oboe"]]))
    ids = [each.text for each in tree.iter(f"{ATOM}id")]
    # One entry an exercise, however many play it.
    assert ids == [f"{SITE}feed.xml", f"{SITE}flute/exercises/new/", f"{SITE}flute/exercises/old/"]
    links = [(each.get("rel"), each.get("href")) for each in tree.findall(f"{ATOM}link")]
    assert links == [("self", f"{SITE}feed.xml"), ("alternate", SITE)]


def test_a_feed_is_bounded_and_the_same_for_the_same_book() -> None:
    many = [replace(NEW, slug=f"n{number}", title=f"N {number:03}") for number in range(MOST + 5)]
    assert len(parsed(book(many)).findall(f"{ATOM}entry")) == MOST
    assert feed(book(many), SITE, "x") == feed(book(many[::-1]), SITE, "x")


def test_a_book_without_days_has_no_news() -> None:
    assert not has_news(book([UNDATED])) and page_days(book([UNDATED])) == {}
    assert has_news(book([UNDATED, OLD]))
    days = page_days(book([UNDATED, OLD, CHANGED]))
    assert days == {
        "index.md": "2027-01-10",
        "exercises/old/index.md": "2026-01-31",
        "exercises/changed/index.md": "2027-01-10",
    }


def test_robots_may_read_all_and_find_the_list_of_pages() -> None:
    reader = urllib.robotparser.RobotFileParser()
    reader.parse(robots(SITE).data.decode().splitlines())
    assert reader.can_fetch("anybody", f"{SITE}exercises/old/")
    assert reader.site_maps() == [f"{SITE}sitemap.xml"]


# -- the field -------------------------------------------------------------------------------------------


def test_a_day_is_read_and_written_back() -> None:
    assert (CHANGED.added, CHANGED.changed) == (date(2026, 2, 1), date(2027, 1, 10))
    assert (NEW.added, NEW.changed) == (date(2026, 11, 1), None)
    for each in (CHANGED, NEW, UNDATED):
        again = read(f"{each.slug}.warmup", write(each).encode()).exercise
        assert again is not None and (again.added, again.changed) == (each.added, each.changed)


@pytest.mark.parametrize(
    "said",
    [
        *("1.11.2026", "2026-13-01", "2026-02-30", "20261101", "26-11-01", "yesterday", "２０２６-11-01"),
        *("2026-11-01, 2027-01-10", "2026-11-01,", "2026-11-01, changed", "2026-11-01 changed 2027-01-10"),
    ],
)
def test_what_is_no_day_is_told_with_an_example(said: str) -> None:
    found = fault(f"added: {said}\n")
    assert (found.line, found.column) == (4, 7)
    assert found.what.startswith("'added' cannot be ") and "`2026-11-01`" in found.mend


def test_nothing_is_changed_before_it_is_added() -> None:
    assert fault("added: 2026-11-02, changed 2026-11-01\n").what == "it was changed before it was added"


def test_a_date_is_called_by_its_field() -> None:
    assert "`added: 2026-11-01`" in fault("date: 2026-11-01\n").mend


# -- search engines --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("said", "wanted"), [(True, True), (False, False), (None, True)])
def test_search_engines_may_be_kept_out(said: object, wanted: bool) -> None:
    options, problems = read_options({"search_engines": said}, INSTRUMENTS)
    assert options.search_engines is wanted and not problems


def test_a_word_is_no_wish() -> None:
    options, (problem,) = read_options({"search_engines": "none"}, INSTRUMENTS)
    assert options.search_engines and problem.mend == "write true or false"
