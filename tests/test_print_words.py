"""Words on paper: broken where they must be, shown in full, and said where no font has them.

Which signs begin no line is by the Japanese rules of composition (JIS X 4051), from memory.
"""

from __future__ import annotations

from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from stavewright.cache.store import CacheStore
from stavewright.engrave.engraved_book import engrave_scores
from stavewright.language.read import read
from stavewright.music.score import Score
from stavewright.paper import text as words
from stavewright.paper.compose import flow_rows, paged
from stavewright.paper.page import DocumentInfo
from stavewright.paper.page_format import PageFormat
from stavewright.paper.text import BODY, HEAD, TITLE, Text, broken, missing, numeral, shortened, text
from stavewright.paper.typesetter import Typesetter
from stavewright.prints.exercise_rows import RowBuilder
from stavewright.prints.front_matter import imprint, word_to_the_player

WIDTH = 120.0


@pytest.fixture(scope="module")
def typesetter() -> Typesetter:
    nothing: dict[str, Score | str] = {}
    return Typesetter(engrave_scores(nothing), PageFormat(), CacheStore())


@given(st.text(max_size=200), st.floats(20, 180))
def test_lines_are_never_wider_than_they_may_be(said: str, width: float) -> None:
    plain = " ".join(said.split())
    lines = broken(plain, BODY, width)
    assert lines
    assert "".join(lines).replace(" ", "") == plain.replace(" ", "")
    for line in lines:
        # What may not begin a line stays with the sign before it, however many there are.
        assert words.width_of(line, BODY) <= width or len(line) == 1 or set(line[1:]) <= set(words._NOT_FIRST)


def test_japanese_is_broken_between_signs_and_not_before_a_comma() -> None:
    lines = broken("息を長く、静かに、長く、静かに保つ", BODY, 24)
    assert len(lines) > 1
    assert not any(line[0] in "、。" for line in lines)


@given(st.text(min_size=1, max_size=300))
def test_a_running_head_fits_on_its_line(said: str) -> None:
    short = shortened(said, HEAD, 100)
    assert words.width_of(short, HEAD) <= 100
    assert short == said or short.endswith("…")


def test_a_shown_line_is_as_wide_as_its_words(typesetter: Typesetter) -> None:
    said = (
        "To carry one sound through three registers and back, by the open intervals of the overtone series."
    )
    found = text(BODY, said, WIDTH)
    strip = typesetter.engrave_texts([found])[found]
    assert len(strip.lines) > 1
    assert all(0 < line.right <= WIDTH for line in strip.lines)
    # The engraver's own measure is never wider than the one reckoned without it.
    whole = text(TITLE, "A word to the player", 500)
    assert typesetter.engrave_texts([whole])[whole].lines[0].right <= words.width_of(whole.words, TITLE)


def test_numbers_come_in_blocks_and_each_is_its_own(typesetter: Typesetter) -> None:
    for number in (1, 49, 50, 51, 1234):
        block, place = numeral(words.NUMBER, number)
        strip = typesetter.engrave_texts([block])[block]
        run = next(part for part in strip.lines[place].drawn if isinstance(part, tuple))
        digits = [strip.glyphs[part].text for part in run if isinstance(part, str)]
        assert "".join(digits).strip() == str(number)
    assert numeral(words.NUMBER, 1)[0] == numeral(words.NUMBER, 50)[0] != numeral(words.NUMBER, 51)[0]


@pytest.mark.parametrize(
    "said",
    [
        "naïve façade, čeština, ½ €",
        "Άσκηση ἀσκήσεως",
        "Долгий звук",
        'a "quoted" \\ #(ly:exit 3) % {x} $y^2$',
    ],
)
def test_scripts_of_europe_need_no_other_font(typesetter: Typesetter, said: str) -> None:
    found = text(BODY, said, WIDTH)
    strip = typesetter.engrave_texts([found])[found]
    assert missing(found.words, (strip.shown,)) == ""
    assert not typesetter.problems
    # Words are parted by spaces, as a search for them expects; the last from what stands beside the line.
    line = strip.lines[0]
    shown = "".join(
        strip.glyphs[part].text
        for run in line.drawn
        if isinstance(run, tuple)
        for part in run
        if isinstance(part, str)
    )
    assert shown == found.words + " "


def test_a_sign_without_a_font_is_named() -> None:
    nothing: dict[str, Score | str] = {}
    shop = Typesetter(engrave_scores(nothing), PageFormat(), CacheStore())
    found = text(BODY, "a sign \U00050000 of no script", WIDTH)
    shop.engrave_texts([found])
    # The sign belongs to no plane in use, so that it is left out before it reaches the engraver's fonts.
    [problem] = shop.problems
    assert "U+50000" in problem
    assert "install a font" in problem


def test_what_steers_a_terminal_is_left_out() -> None:
    assert text(BODY, "one\x1b[31m\u202etwo\ntwo", WIDTH).words == "one [31m two two"


def test_words_of_nothing_take_a_line(typesetter: Typesetter) -> None:
    found = Text(BODY, "", '""')
    assert len(typesetter.engrave_texts([found])[found].lines) <= 1


def test_the_rights_of_a_hundred_exercises_go_on_over_pages_without_a_head() -> None:
    nothing: dict[str, Score | str] = {}
    typesetter = Typesetter(engrave_scores(nothing), PageFormat(), CacheStore())
    exercise = read("a.warmup", b"title: A tide\nrights: CC0\nhome: D5 in D major\nmusic:\n  w D5\n").exercise
    assert exercise is not None
    form = typesetter.form
    row_builder = RowBuilder(typesetter.shape, form.width, lambda part: True)
    rows = [*imprint(row_builder, [exercise] * 150), *word_to_the_player(row_builder)]
    about = DocumentInfo("A book", "A book")
    printed = paged(flow_rows(rows, typesetter), about, "The book's title", (), typesetter)
    assert printed.problems == ()
    pages = [page.extract_text() for page in PdfReader(BytesIO(printed.data)).pages]
    rights = [page for page in pages if "A tide: CC0" in page]
    assert len(rights) >= 3
    assert not any("The book's title" in page for page in rights)
    assert any("A word to the player" in page for page in pages)


@pytest.mark.parametrize("said", ["", " ", "\u200b", "\u202e\u202c", "\x00"])
def test_words_of_which_nothing_is_seen_take_a_line_and_no_engraver(said: str) -> None:
    nothing: dict[str, Score | str] = {}
    typesetter = Typesetter(engrave_scores(nothing), PageFormat(), CacheStore())
    found = text(BODY, said, WIDTH)
    [line] = typesetter.engrave_texts([found])[found].lines
    assert (line.height, line.right) == (BODY.leading, 0.0)
    assert not typesetter.problems
