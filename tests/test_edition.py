"""What the book prints of an exercise: each way of playing once, and every key in the order of travel."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from stavewright.book.durations import BookTimes
from stavewright.book.edition import ExerciseEdition, edition_of
from stavewright.book.pieces import InstrumentBook, instrument_book_of
from stavewright.book.read import open_book
from stavewright.engrave.piece import STAND, Failure
from stavewright.language.read import read
from stavewright.music.event import Place
from stavewright.music.exercise import VariationRequest
from stavewright.music.winds.instruments import INSTRUMENTS
from stavewright.paper import text as words
from stavewright.paper.page_format import BOUND_WIDTH
from stavewright.prints.edition_layouts import columns, layouts_of, letters_for, pieces_of
from stavewright.prints.edition_rows import edition_rows
from stavewright.prints.exercise_rows import RowBuilder
from stavewright.variations import apply, find, variations
from stavewright.variations.equal_names import plain_name
from stavewright.variations.models import changes_notes, model_of
from stavewright.variations.printed_names import _NAMES, _TONGUES, printed_name

BOOK = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def plan() -> InstrumentBook:
    book = open_book(BOOK)
    return instrument_book_of(book.exercises, book.instruments[0])


@pytest.fixture(scope="module")
def editions(plan: InstrumentBook) -> dict[str, ExerciseEdition]:
    return {exercise.slug: edition_of(exercise, pages) for exercise, pages in plan.exercises}


def test_every_variation_has_a_printed_name() -> None:
    assert set(_NAMES) == set(variations())


@pytest.mark.parametrize("name", [name for name in _NAMES if name not in ("level", "tonguing")])
def test_what_a_book_prints_may_be_written(name: str) -> None:
    printed = _NAMES[name].rstrip(",")
    assert plain_name(printed) == name


@pytest.mark.parametrize("printed", _TONGUES)
def test_tongues_may_be_written_as_they_are_printed(printed: str) -> None:
    wish = plain_name(printed)
    assert find(wish)[0].name == "tonguing"
    assert printed_name(VariationRequest((wish,), Place(1, 1))) == printed.capitalize()


@pytest.mark.parametrize(
    ("slug", "names"),
    [
        (
            "far-shore",
            [
                "Slurred, growing",
                "Slurred, from nothing",
                "Slurred, to nothing",
                "Detached",
                "Falling octave first",
            ],
        ),
        (
            "slow-tide",
            ["Growing", "Fading", "Long swell", "Eight dynamic levels", "Double tongue in sixteenths"],
        ),
    ],
)
def test_ways_have_the_names_that_players_use(
    editions: dict[str, ExerciseEdition], slug: str, names: list[str]
) -> None:
    edition = editions[slug]
    assert [way.name for way in edition.ways] == names
    assert [way.number for way in edition.ways] == list(range(1, len(names) + 1))
    assert [printed_name(each) for each in edition.exercise.wanted] == names


def test_the_keys_stand_in_the_order_of_travel(editions: dict[str, ExerciseEdition]) -> None:
    """Slow tide is carried by semitones from D6 down to D4, then up again: neighbors are a semitone apart."""
    starts = [step.setting.start.midi for step in editions["slow-tide"].steps]
    down = list(range(86, 61, -1))
    assert starts == [*down, *reversed(down)]


def test_what_changes_notes_is_written_out_and_what_does_not_is_a_model(
    plan: InstrumentBook, editions: dict[str, ExerciseEdition]
) -> None:
    for exercise, pages in plan.exercises:
        for way in editions[exercise.slug].ways:
            parts = [part for placed in pages[0].placed for part in placed.parts]
            label = exercise.wanted[way.number - 1].label
            part = next(each for each in parts if each.label == label)
            assert part.score is not None and parts[0].score is not None
            assert way.whole == changes_notes(parts[0].score, part.score)
            assert way.shown.score is not None
            if not way.whole:
                # A few bars at most, and one staff.
                assert len(way.shown.score.lines) == 1
                assert len(way.shown.score.line.bars) <= 5


def test_a_model_shows_the_first_phrase_that_differs(plan: InstrumentBook) -> None:
    """Late light's second phrase alone has a note for vibrato on the last long note."""
    [(_, pages)] = [pair for pair in plan.exercises if pair[0].slug == "late-light"]
    plain = pages[0].placed[0].parts[0].score
    assert plain is not None
    first = model_of(plain, apply(plain, ("vibrato late",)))
    last = model_of(plain, apply(plain, ("vibrato late on last long note",)))
    assert first.line.bars[0].events[0].pitch == plain.line.bars[0].events[0].pitch
    assert last.line.bars[0].events[0].pitch == plain.line.bars[4].events[0].pitch
    assert any(event.vibrato for event in last.line.events())


def test_a_model_ends_what_reaches_beyond_it(plan: InstrumentBook) -> None:
    for _, pages in plan.exercises:
        for placed in pages[0].placed:
            plain = placed.parts[0].score
            assert plain is not None
            for part in placed.parts:
                if part.score is None or changes_notes(plain, part.score):
                    continue
                events = list(model_of(plain, part.score).line.events())
                opened = sum(len(event.opens) for event in events)
                assert opened == sum(len(event.closes) for event in events)
                assert not events[-1].tie


def test_keys_that_leave_something_out_are_named_once(editions: dict[str, ExerciseEdition]) -> None:
    ways = {way.name: way.remark for way in editions["new-britain"].ways}
    assert ways["Upper octave first"].startswith("Not in E and E flat: in E the upper octave would reach B6")
    assert ways["Slurred"] == ""
    [moved] = [remark for remark in editions["new-britain"].remarks if "octave higher" in remark]
    assert moved.endswith(": E, E flat, D, D flat, C, B, B flat, A and A flat.")


def test_short_lines_stand_side_by_side(editions: dict[str, ExerciseEdition]) -> None:
    assert layouts_of(editions["slow-tide"], 20).step_columns == columns(2)
    assert layouts_of(editions["new-britain"], 20).step_columns == columns(1)
    for count in (1, 2, 3):
        grid = columns(count)
        last = grid.left_of(count - 1) + grid.lane + grid.width
        assert last == pytest.approx(BOUND_WIDTH, abs=0.05)


def test_the_drone_is_a_staff_only_where_it_is_not_what_it_was(
    editions: dict[str, ExerciseEdition],
) -> None:
    for piece in pieces_of(editions["new-britain"]):
        assert not isinstance(piece.music, str)
        assert [line.label for line in piece.music.lines[1:]] in ([], ["sing"])


def test_a_key_that_fails_keeps_its_place_in_the_index(editions: dict[str, ExerciseEdition]) -> None:
    def fails(name: str) -> Failure:
        return Failure(name, "it would not")

    for edition in editions.values():
        layouts = layouts_of(edition, STAND.staff)
        rows = list(
            edition_rows(
                RowBuilder(fails, BOUND_WIDTH, lambda part: True), edition, layouts, lambda step: step.key, {}
            )
        )
        marks = [mark for row in rows for mark in row.marks]
        assert marks == list(dict.fromkeys(step.key for step in edition.steps))
        said = " ".join(text.words for row in rows for text in row.texts)
        assert said.count("The engraver could not write this out: it would not") >= len(edition.steps)


def test_words_grow_with_the_staff_and_leave_it_room() -> None:
    assert [letters_for(staff) for staff in (17, 20, 24, 40)] == [1.0, 1.0, 1.2, 1.4]
    assert words.STAND_TEXT.scaled(1.2).size == pytest.approx(17.4)
    for count in (1, 2, 3):
        grid, larger = columns(count), columns(count, 1.2)
        assert larger.lane == pytest.approx(1.2 * grid.lane, abs=0.01)
        assert larger.lane + larger.width == pytest.approx(grid.lane + grid.width, abs=0.02)


def test_what_is_read_at_the_stand_is_large_enough() -> None:
    """14 points and more: 16 minutes of arc and more for capitals at 80 cm (common practice, no source)."""
    for style in (words.STAND_TEXT, words.SECTION, words.KEY_LETTER, words.SMALL_KEY_LETTER, words.PURPOSE):
        assert style.size >= 14
        assert math.degrees(math.atan(style.capital / 800)) * 60 >= 15


def test_a_long_breath_is_named_at_the_opening(plan: InstrumentBook) -> None:
    [(exercise, pages)] = [pair for pair in plan.exercises if pair[0].slug == "far-shore"]
    for limit, named in ((16.0, True), (30.0, False)):
        edition = edition_of(exercise, pages, cautions=BookTimes(limit).cautions)
        assert any("without a breath" in remark for remark in edition.remarks) == named


def test_a_transposing_instrument_s_keys_are_told_once() -> None:
    text = (
        "title: Two notes\nhome: D5 in D major\ntravel: semitones down from D5 to B4\n"
        "variations: upper octave first\nmusic:\n  h D5 E5 ,\n"
    )
    exercise = read("two.warmup", text.encode()).exercise
    assert exercise is not None
    clarinet = replace(INSTRUMENTS["clarinet-b-flat"], concert=True)
    [(_, pages)] = instrument_book_of((exercise,), clarinet).exercises
    edition = edition_of(exercise, pages)
    assert edition.home is not None and edition.home.setting.called == exercise.key
    told = "Written in E major for the clarinet in B flat, so that it sounds in D major"
    assert [remark for remark in edition.remarks if "sounds" in remark] == [
        f"{told}; the other keys likewise."
    ]
