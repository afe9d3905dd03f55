"""Where lines end: phrases, keys alike, nothing crowded; in the plan and in what the engraver makes of it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from conftest import sweep
from hypothesis import given
from hypothesis import strategies as st
from small_scores import score_of

from stavewright.book.pieces import AS_WRITTEN, instrument_book_of, renditions_of
from stavewright.book.read import open_book
from stavewright.engrave.breaks import CROWDED, event_width, is_calm, lines
from stavewright.engrave.notation import notation
from stavewright.engrave.piece import STAND, Engraved, Layout, Piece
from stavewright.engrave.processes.scheduler import engrave_list
from stavewright.music.event import Event, Tempo, Value
from stavewright.music.keys import Key
from stavewright.music.pitch import Interval, Pitch
from stavewright.music.score import Bar, Meter, Score, Staff, transposed
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.settings.whole_range import whole_range_figures
from stavewright.music.winds.instruments import FLUTE
from stavewright.paper.page_format import PageFormat
from stavewright.variations import apply

BOOK = Path(__file__).parent.parent
QUARTER = Value(Fraction(1, 4))
NARROW = Layout(90, 20)

values = st.sampled_from([Value(Fraction(1, n)) for n in (1, 2, 4, 8)] + [Value(Fraction(1, 4), 1)])


@st.composite
def bars(draw: st.DrawFn) -> Bar:
    events = []
    for _ in range(draw(st.integers(1, 6))):
        marks = ("breath",) if draw(st.booleans()) else ()
        pitch = Pitch.parse(draw(st.sampled_from(["C5", "G5", "F#4"]))) if draw(st.integers(0, 5)) else None
        events.append(Event(pitch, draw(values), marks=marks))
    return Bar(tuple(events))


def score(found: list[Bar], key: Key | None = None) -> Score:
    line = Staff((*found[:-1], Bar(found[-1].events, end="|.")))
    return Score(key or Key(0, 0), Meter(4, 4), Tempo(QUARTER, 60, 60), (line,), FLUTE.compass)


scores = st.lists(bars(), min_size=1, max_size=30).map(score)


def rows(found: Score, room: float) -> list[list[Event]]:
    """The events of each line."""
    ends = {(end.bar, end.event) for end in lines(found, room).ends}
    made: list[list[Event]] = [[]]
    for number, bar in enumerate(found.line.bars):
        for place, event in enumerate(bar.events):
            made[-1].append(event)
            if (number, place) in ends:
                made.append([])
    return made


@given(scores)
def test_no_line_is_crowded(found: Score) -> None:
    for row in rows(found, STAND.room):
        # A clef and six signs take 12.8 staff spaces at least; bar lines come on top.
        natural = 12.8 + sum(map(event_width, row))
        assert row
        assert natural * CROWDED <= STAND.room or len(row) == 1


@given(scores, st.sampled_from(["A4", "m2", "M3", "m7"]))
def test_lines_are_the_same_in_every_key(found: Score, step: str) -> None:
    up = Interval.parse(step)
    tonic = Pitch(found.key.letter, found.key.alter, 4).up(up)
    moved = replace(found.line, bars=transposed(found.line.bars, up))
    sharp = replace(found, key=Key(tonic.letter, tonic.alter), lines=(moved,))
    assert lines(found, STAND.room) == lines(sharp, STAND.room)


@given(scores)
def test_it_is_known_where_the_player_has_time(found: Score) -> None:
    for end in lines(found, STAND.room).ends:
        event = found.line.bars[end.bar].events[end.event]
        following = [*found.line.bars[end.bar].events[end.event + 1 :], *_after(found, end.bar)][0]
        assert end.calm == (event.pitch is None or "breath" in event.marks or following.pitch is None)


def _after(found: Score, bar: int) -> list[Event]:
    return [event for later in found.line.bars[bar + 1 :] for event in later.events]


def test_a_line_ends_where_the_phrase_does() -> None:
    # Ten bars of half notes: two lines. The only breath is after the fourth bar, the middle after the fifth.
    half = Value(Fraction(1, 2))
    plain = Bar((Event(Pitch.parse("C5"), half), Event(Pitch.parse("D5"), half)))
    breath = Bar((plain.events[0], plain.events[1].marked("breath")))
    found = score([plain] * 3 + [breath] + [plain] * 6)
    assert [end.bar for end in lines(found, STAND.room).ends] == [3]
    without = score([plain] * 10)
    assert [end.bar for end in lines(without, STAND.room).ends] == [4]


@pytest.mark.parametrize("layout", [NARROW, PageFormat(staff=12).layout])
def test_a_phrase_longer_than_a_line_does_not_share_its_lines_with_the_next(layout: Layout) -> None:
    phrase = "slur( h D5 E5 | F#5 G5 | A5 G5 | F#5 E5 )"
    ends = lines(score_of(f"{phrase} , | {phrase} , | {phrase}"), layout.room).ends
    assert [end.bar + 1 for end in ends if end.calm] == [4, 8]


def test_a_tune_with_a_pick_up_has_a_phrase_to_a_line_in_every_variation_that_keeps_its_notes() -> None:
    exercise = next(each for each in open_book(BOOK).exercises if each.slug == "new-britain")
    [(_, pages)] = instrument_book_of((exercise,), FLUTE).exercises
    found = {part.label: part.score for part in pages[0].placed[0].parts if part.score is not None}
    # Each phrase is four bars from an upbeat to a breath: a line ends after the half note with the breath.
    ends = lines(found[AS_WRITTEN], STAND.room).ends
    assert [(end.bar, end.event, end.mid_bar, end.number) for end in ends] == [
        (4, 0, True, 5),
        (8, 0, True, 9),
        (12, 0, True, 13),
    ]
    for label in ("figured", "slurred", "without vibrato", "with vibrato", "singing alto"):
        assert lines(found[label], STAND.room).ends == ends, label
    # The second statement begins a line, and its bars are counted on.
    twice = lines(found["upper octave first"], STAND.room).ends
    assert [(end.bar, end.number) for end in twice[3:5]] == [(16, 17), (21, 21)]
    text = notation(found[AS_WRITTEN], STAND)
    assert [text.count(f"\\lineNumber {number}\n") for number in (1, 5, 9, 13)] == [0, 1, 1, 1]


def test_signs_take_no_room_in_the_reckoning() -> None:
    half = Value(Fraction(1, 2))
    plain = score([Bar((Event(Pitch.parse("C5"), half), Event(Pitch.parse("D5"), half)))] * 12)
    for wishes in ("vibrato late", "swell up", "slurred", "level pp"):
        assert lines(apply(plain, (wishes,)), STAND.room) == lines(plain, STAND.room)


def test_a_bar_longer_than_a_line_is_broken_at_a_beat() -> None:
    sixteenth = Value(Fraction(1, 16))
    found = score([Bar(tuple(Event(Pitch.parse("C5"), sixteenth) for _ in range(64)))])
    ends = lines(found, STAND.room).ends
    assert ends
    assert all(end.mid_bar and (end.event + 1) % 4 == 0 for end in ends)


@pytest.mark.slow
@sweep("layout", [STAND, NARROW], ids=["stand", "phone"], every_day=1)
def test_the_engraver_keeps_to_the_lines(layout: Layout) -> None:
    """Every exercise of the book as written, in its first and its most crowded keys."""
    wanted = []
    for exercise in open_book(BOOK).exercises:
        found = settings_of(exercise, FLUTE)
        keys = sorted(found, key=lambda each: abs(each.key.fifths))
        for setting in (keys[0], keys[-1]):
            plain = renditions_of(setting)[0]
            assert plain.label == AS_WRITTEN
            assert plain.score is not None
            wanted.append(plain.score)
    engravings = engrave_list([Piece("a piece", each, layout) for each in wanted])
    for found, made in zip(wanted, engravings, strict=True):
        assert isinstance(made, Engraved)
        planned = lines(found, layout.room)
        assert len(made.systems) == len(planned.ends) + 1
        for system in made.systems:
            # Nothing sticks out of the paper, but bar lines by a hair; a justified line reaches its end.
            assert system.right <= layout.width + 1.2
            assert not planned.justified or system.right >= layout.width - 0.5


def test_all_keys_of_an_exercise_have_the_same_lines() -> None:
    for exercise in open_book(BOOK).exercises:
        if any(map(whole_range_figures, exercise.forms)):
            # It has other bars in each key.
            continue
        [(_, pages)] = instrument_book_of((exercise,), FLUTE).exercises
        by_label: dict[tuple[str, str], set[object]] = {}
        for page in pages:
            for placed in page.placed:
                for part in placed.parts:
                    if part.score is not None:
                        kind = part.label, placed.setting.direction
                        by_label.setdefault(kind, set()).add(lines(part.score, STAND.room))
        assert all(len(found) == 1 for found in by_label.values()), exercise.slug


def test_calm_is_a_rest_a_breath_a_fermata_or_a_section() -> None:
    note, rest = Event(Pitch.parse("C5"), QUARTER), Event(None, QUARTER)
    row = (note, rest, note, note.marked("breath"), note, note.marked("fermata"), note, note)
    line = Staff((Bar(row, end="||"), Bar((rest,)), Bar((note,)), Bar((rest,))))
    calm = [is_calm(line, 0, place) for place in range(len(row))]
    # Before a rest there is time as well.
    assert calm == [True, True, False, True, False, True, False, True]
    assert [is_calm(line, bar, 0) for bar in (1, 2)] == [True, True]
