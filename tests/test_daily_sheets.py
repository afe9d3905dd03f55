"""The pages of daily sets carry their music, in the order played; other libraries read them back."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from itertools import pairwise
from pathlib import Path

import outloud
import pikepdf
import pypdfium2
import pytest
from conftest import write_book
from pypdf import PdfReader
from structure_reader import ReadPage, read_pages

from stavewright.book.pieces import InstrumentBook, instrument_book_of
from stavewright.book.read import Book, open_book
from stavewright.daily.blocks import Block, Portion
from stavewright.daily.choices import Choice, measured
from stavewright.daily.measure import register_order
from stavewright.daily.plan import Days, Plan, Problem, Promise, Sitting
from stavewright.engrave.engravings import Engravings
from stavewright.engrave.piece import Engraved, Failure
from stavewright.paper.compose import Printed
from stavewright.paper.page_format import PAPERS, PageFormat
from stavewright.prints.choice import NothingToPrint
from stavewright.prints.daily_sheets import StudentPlan, daily_sheets

BELL = """\
title: Bell
rights: written for a test, CC0
attend:
  - shoulders loose
home: D5 in D major
tempo: quarter = 60
travel: semitones down from Eb5 to C5
variations: swell up, upper octave first
music:
  h D5 mf q E5 D5 | w D5 p ,
"""
LAMP = """\
title: Lamp
rights: written for a test, CC0
home: D5 in D major
tempo: quarter = 60
drone: D4
travel: twelve keys, semitones up
variations: detached, without vibrato
music:
  q D5 mf E5 F#5 G5 | A5 G5 F#5 E5 | D5 E5 F#5 G5 | h A5 A5 , | q D5 E5 F#5 G5 | A5 G5 F#5 E5 | w D5 p ,
"""
STUDENT = 'Robin "the \\ bell" #(exit)'
START = date(2026, 2, 27)
A4 = PageFormat(PAPERS["a4"])


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    return open_book(write_book(tmp_path_factory.mktemp("sheets"), {"bell": BELL, "lamp": LAMP}))


@pytest.fixture(scope="module")
def found(book: Book) -> InstrumentBook:
    return instrument_book_of(book.exercises, book.instruments[0])


@pytest.fixture(scope="module")
def choices(found: InstrumentBook) -> tuple[Choice, ...]:
    return tuple(each.choice for each in measured(found))


def block_of(choices: Sequence[Choice], exercise: str, way: str, first: bool = True, keys: int = 9) -> Block:
    """A block over the exercise's first keys in a way, as written before it if `first`."""
    passes = ["as written", way] if first else [way]
    travelled = sorted(choices, key=lambda each: each.number)
    items = [
        item
        for name in dict.fromkeys(passes)
        for item in [each for each in travelled if each.exercise == exercise and each.variation == name][
            :keys
        ]
    ]
    numbers = tuple(dict.fromkeys(item.number for item in items))
    portion = Portion(exercise, 0, items[0].register, items[0].direction, numbers)
    return Block(portion, way, tuple(items))


def plan_of(book: Book, days: Days) -> Plan:
    blocks = tuple(dict.fromkeys(block for day in days for sitting in day for block in sitting))
    asked = Problem(Promise(10, len(days)), blocks, tuple(register_order(book.instruments[0])))
    return Plan(asked, days, 1, 1, "simple")


def student(book: Book, *days: tuple[Sitting, ...], name: str = STUDENT) -> StudentPlan:
    return StudentPlan(plan_of(book, days), book.instruments[0], name)


@pytest.fixture(scope="module")
def wanted(book: Book, choices: tuple[Choice, ...]) -> StudentPlan:
    """Two days: a model, a long piece whose way is in one phrase, a pause, and a way written out."""
    first = (block_of(choices, "bell", "swell up"), block_of(choices, "lamp", "without vibrato", keys=2))
    after = (block_of(choices, "bell", "upper octave first", first=False, keys=2),)
    return student(book, (first, after), ((block_of(choices, "lamp", "detached", keys=2),),))


@pytest.fixture(scope="module")
def printed(book: Book, wanted: StudentPlan) -> Printed:
    return daily_sheets(book, [wanted], START, A4)


@pytest.fixture(scope="module")
def said(printed: Printed) -> list[str]:
    """Each page's words."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(printed.data)).pages]


@pytest.fixture(scope="module")
def pages(printed: Printed) -> list[ReadPage]:
    return read_pages(printed.data)


def boxes(data: bytes) -> list[tuple[int, str, tuple[float, ...]]]:
    """The page, the key and the place (left, bottom, right, top) of each piece, in the order of reading."""
    found = []
    with pikepdf.open(io.BytesIO(data)) as document:
        numbers = {page.obj.objgen: number for number, page in enumerate(document.pages)}
        waiting = [document.Root.StructTreeRoot.K]
        while waiting:
            element = waiting.pop()
            if isinstance(element, pikepdf.Array):
                waiting += reversed(list(element))
            elif isinstance(element, pikepdf.Dictionary) and "/S" in element:
                if element.S == "/Figure":
                    page = numbers[element.Pg.objgen]
                    place = tuple(float(edge) for edge in element.A.BBox)
                    found.append((page, str(element.Alt).split(", ")[0], place))
                elif "/K" in element:
                    waiting.append(element.K)
    return found


def test_each_day_has_its_head_and_its_blocks_in_their_order(said: list[str], printed: Printed) -> None:
    assert printed.problems == ()
    overview, day, *_ = said
    for part in ("Daily sets: 10 minutes for 2 days", f"For {STUDENT}. Flute.", "Bell", "Lamp", "page"):
        assert part in overview
    assert day.count(STUDENT) == 1
    order = (
        "Day 1, Friday 27 February",
        "1 Bell, middle register",
        "Focus: shoulders loose.",
        "as written",
        "growing",
        "Each key like this:",
        "2 Lamp",
        "Drone: D4, then E flat 4",
        "without vibrato",
        "Pause: 5 minutes away from the instrument.",
        "3 Bell, middle register",
        "upper octave first",
    )
    everything = " ".join(said[1:])
    places = [everything.index(part) for part in order]
    assert places == sorted(places)
    # The same exercise again the same day does not tell its points again.
    assert everything.count("Focus:") == 1
    assert any(f"{STUDENT}. Flute. A test's book" in page and "Day 2, Saturday" in page for page in said[2:])
    assert everything.count("clinician") == 2
    assert "points" not in everything


BELL_KEYS = ["E flat major", "D major", "D flat major", "C major"]
LAMP_KEYS = ["D major", "E flat major"]


def test_the_music_stands_in_the_order_played(printed: Printed) -> None:
    music = boxes(printed.data)
    assert [key for _, key, _ in music] == [
        # As written, and a model for all keys.
        *(*BELL_KEYS, BELL_KEYS[0]),
        # Long keys, and a model that has all of a way which is in one phrase.
        *(*LAMP_KEYS, LAMP_KEYS[0]),
        # A way that changes the notes.
        *BELL_KEYS[:2],
        # A way all along two long keys.
        *(*LAMP_KEYS, *LAMP_KEYS),
    ]
    # Four short keys stand two by two, from left to right and then below.
    first, second, third, fourth = (place for _, _, place in music[:4])
    for left, right in ((first, second), (third, fourth)):
        assert left[2] < right[0]
        assert abs(left[1] + left[3] - right[1] - right[3]) < 30
    assert third[3] < first[1]
    assert third[0] == pytest.approx(first[0], abs=3)
    # What is played later stands below, or on a later page.
    for (page, _, place), (after, _, other) in pairwise(music):
        assert (page, -place[1]) < (after, -other[1]) or (page == after and place[2] < other[0])


def test_each_key_has_its_letter_and_its_drone(pages: list[ReadPage]) -> None:
    said = [each.said for page in pages for each in page if each.role.startswith("H")]
    letters = [each for each in said if each in ("E flat 5", "D 5", "D flat 5", "C 5")]
    assert letters == ["E flat 5", "D 5", "D flat 5", "C 5", "E flat 5", "E flat 5", "D 5"]
    everything = [each.said for page in pages for each in page if each.role == "P"]
    assert everything.count("drone D 4") + everything.count("drone D4") == 4


def test_every_way_has_a_box_to_tick(printed: Printed, wanted: StudentPlan) -> None:
    squares = 0
    for page in pypdfium2.PdfDocument(printed.data):
        for thing in page.get_objects([pypdfium2.raw.FPDF_PAGEOBJ_PATH]):
            left, bottom, right, top = thing.get_bounds()
            squares += 4 < right - left < 12 and abs((right - left) - (top - bottom)) < 0.6
    blocks = [block for day in wanted.plan.days for sitting in day for block in sitting]
    # One for each block in the overview, and one for each time through its keys.
    assert squares == len(blocks) + sum(1 + block.plain_first for block in blocks)


def test_the_outline_has_days_and_blocks(printed: Printed) -> None:
    reader = PdfReader(io.BytesIO(printed.data))
    first, inner, second, last = reader.outline
    assert (first.title, second.title) == ("Day 1, Friday 27 February", "Day 2, Saturday 28 February")
    assert [each.title for each in inner] == [
        "1. Bell, middle register",
        "2. Lamp",
        "3. Bell, middle register",
    ]
    assert [each.title for each in last] == ["1. Lamp"]
    assert reader.page_labels == [str(number + 1) for number in range(len(reader.pages))]
    assert reader.get_destination_page_number(first) == 1


def test_the_same_sheets_give_the_same_bytes(book: Book, wanted: StudentPlan, printed: Printed) -> None:
    assert daily_sheets(book, [wanted], START, A4).data == printed.data


def test_sheets_are_tagged(book: Book, wanted: StudentPlan, printed: Printed, tmp_path: Path) -> None:
    file = tmp_path / "sheets.pdf"
    # A long name makes a page's head so long that the checker takes it for prose.
    file.write_bytes(daily_sheets(book, [replace(wanted, student="Robin")], START, A4).data)
    result = outloud.check(str(file))
    # As in test_print_accessible.py: the signs of music, staves taken for tables, systems for heads.
    assert {each.rule for each in result.findings} <= {"TXT-004", "TBL-014", "PAG-001"}
    assert not any(page.unmarked for page in read_pages(printed.data))


def test_no_leaf_is_turned_within_a_block(book: Book, choices: tuple[Choice, ...]) -> None:
    short, long = block_of(choices, "bell", "swell up"), block_of(choices, "lamp", "detached", keys=2)
    day = ((short, long, short, long), (long, short, long, short))
    one = student(book, day, (day[1],), day)
    for form in (A4, PageFormat(PAPERS["letter"]), replace(A4, single_sided=True)):
        music = boxes(daily_sheets(book, [one], START, form).data)
        blocks = [block for each in one.plan.days for sitting in each for block in sitting]
        at = 0
        for block in blocks:
            count = 5 if block is short else 4
            over = sorted({page + 1 for page, _, _ in music[at : at + count]})
            at += count
            assert len(over) == 1 or (block is long and len(over) == 2), over
            # The left of two pages that face each other has an even number.
            assert form.single_sided or len(over) == 1 or over[0] % 2 == 0
        assert at == len(music)


def test_several_students_have_leaves_of_their_own(book: Book, choices: tuple[Choice, ...]) -> None:
    bell = block_of(choices, "bell", "swell up", keys=1)
    plans = [student(book, ((bell,),), name="Robin"), student(book, ((bell,), (bell,)), name="Kim")]
    reader = PdfReader(io.BytesIO(daily_sheets(book, plans, START, A4).data))
    said = [" ".join(page.extract_text().split()) for page in reader.pages]
    begins = [number for number, label in enumerate(reader.page_labels) if label == "1"]
    assert len(begins) == 2
    assert begins[1] % 2 == 0
    assert "For Robin" in said[0]
    assert "For Kim" in said[begins[1]]
    robin, days, kim, _ = reader.outline
    assert (robin.title, kim.title) == (
        "Daily sets: 10 minutes for 1 day, Robin",
        "Daily sets: 10 minutes for 1 day, Kim",
    )
    assert [each.title for each in days if not isinstance(each, list)] == ["Day 1, Friday 27 February"]


def test_music_that_fails_is_named(
    book: Book, choices: tuple[Choice, ...], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    # What is kept of a piece needs no engraver.
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path))
    get = Engravings.__getitem__

    def spoiled(self: Engravings[str], name: str) -> Engraved | Failure:
        bad = isinstance(name, str) and name.startswith("bell, flute, D major")
        return Failure(name, "it would not") if bad else get(self, name)

    monkeypatch.setattr(Engravings, "__getitem__", spoiled)
    made = daily_sheets(book, [student(book, ((block_of(choices, "bell", "as written"),),))], START, A4)
    assert [problem.partition(": ")[2] for problem in made.problems] == ["the engraver failed: it would not"]
    assert made.problems[0].startswith("bell, flute, D major")
    said = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(made.data)).pages)
    assert "D5: The engraver could not write this out: it would not" in " ".join(said.split())
    assert len(boxes(made.data)) == 3


def test_a_print_holds_so_much_and_no_more(book: Book, choices: tuple[Choice, ...]) -> None:
    bell = block_of(choices, "bell", "swell up")
    with pytest.raises(NothingToPrint, match=r"ask for 1,008 pieces of music, and a print holds 1,000"):
        daily_sheets(book, [student(book, *[((bell,),)] * 126)], START, A4)
