"""The book as one plays from it, on its pages.

What stands there is read back with PDFium, which the project does not use for writing.
"""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path

import pypdfium2
import pytest
from pypdf import PdfReader

from stavewright.book.read import open_book
from stavewright.paper.page_format import INSIDE, PAPERS, PageFormat
from stavewright.prints.choice import NothingToPrint, PrintChoice
from stavewright.prints.documents import form_of, print_choice

BOOK = Path(__file__).parent.parent
POINTS = 72 / 25.4


class Read:
    """A print of one exercise, as PDFium and pypdf see it."""

    def __init__(self, choice: PrintChoice, form: PageFormat) -> None:
        printed = print_choice(open_book(BOOK), "", choice, form)
        assert not printed.problems
        self.form = form_of(choice, form)
        self.document = pypdfium2.PdfDocument(printed.data)
        self.reader = PdfReader(BytesIO(printed.data))
        self.texts = [" ".join(page.get_textpage().get_text_range().split()) for page in self.document]


@pytest.fixture(scope="module")
def slow_tide() -> Read:
    return Read(PrintChoice("flute", exercises=("slow-tide",)), PageFormat())


def test_an_exercise_is_played_through_on_few_pages(slow_tide: Read) -> None:
    assert len(slow_tide.texts) <= 5
    said = " ".join(slow_tide.texts)
    for words in ("Ways of playing", "1 Growing", "5 Double tongue in sixteenths", "Going down", "Going up"):
        assert words in said
    # Fifty keys with their letters, and no word between two of them.
    names = re.findall(r"\b([A-G]) ?[^\w\s]? ?([456])\b", said)
    assert len(names) == 50
    assert "From D" not in said


def test_pages_have_room_for_a_binding(slow_tide: Read) -> None:
    form = slow_tide.form
    for number, page in enumerate(slow_tide.document, start=1):
        ink = page.render(scale=2, grayscale=True).to_numpy().reshape(-1, round(page.get_width() * 2))
        columns_of_ink = (ink < 128).any(axis=0).nonzero()[0] / 2 / POINTS
        if number % 2:
            assert columns_of_ink.min() >= INSIDE - 1.5
        else:
            assert columns_of_ink.max() <= form.paper.width - INSIDE + 1.5


def test_the_outline_leads_to_each_key(slow_tide: Read) -> None:
    titles = [str(entry.title) for entry in slow_tide.reader.outline]  # type: ignore[union-attr]
    assert len(titles) == 12 and titles[0] == "D major" and "F sharp major" in titles


def test_only_the_ways_asked_for() -> None:
    found = Read(PrintChoice("flute", exercises=("slow-tide",), variations=("swell down",)), PageFormat())
    said = " ".join(found.texts)
    assert "1 Fading" in said and "Growing" not in said
    with pytest.raises(NothingToPrint):
        Read(PrintChoice("flute", exercises=("slow-tide",), variations=("singing alto",)), PageFormat())


def test_letter_holds_the_same_lines() -> None:
    found = Read(PrintChoice("flute", exercises=("slow-tide",)), PageFormat(PAPERS["letter"]))
    assert len(found.texts) <= 6
    assert found.document[0].get_width() / POINTS == pytest.approx(215.9, abs=0.1)
