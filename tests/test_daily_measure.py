"""Lengths, levels, attacks, grades and coverage: by hand, by law, and against music21."""

from __future__ import annotations

import runpy
from dataclasses import replace
from fractions import Fraction
from math import ceil
from pathlib import Path

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stavewright.book.durations import duration_in_units
from stavewright.book.pieces import instrument_books_of
from stavewright.book.read import open_book
from stavewright.daily.cautions import hours_allowed, noise_table
from stavewright.daily.choices import Measured, measured, rest_after
from stavewright.daily.coverage import coverage, coverage_text
from stavewright.daily.grades import music_grade, width
from stavewright.daily.measure import (
    SLURRED,
    SOFT,
    SYLLABLES,
    TONGUED,
    longest_breath,
    main_register,
    moments,
    register_order,
    registers_passed,
)
from stavewright.language.read import read
from stavewright.music.event import LEVELS, SLUR, DynamicMark, Event, Tempo, Value
from stavewright.music.keys import Key
from stavewright.music.pitch import Interval, Pitch
from stavewright.music.score import Bar, Meter, Score, Staff
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.sounding.timing import timing
from stavewright.music.winds.instruments import INSTRUMENTS

BOOK = Path(__file__).parent.parent
FLUTE = INSTRUMENTS["flute"]
QUARTER = Value(Fraction(1, 4))


def note(name: str, **changes: object) -> Event:
    return replace(Event(Pitch.parse(name), QUARTER), **changes)  # type: ignore[arg-type]


def level(mark: str, at: int = 0) -> DynamicMark:
    return DynamicMark(Fraction(at), mark)


def score(*events: Event) -> Score:
    """One bar at sixty quarter notes a minute: a quarter note is a second."""
    line = Staff((Bar(events),))
    return Score(Key(0, 0), Meter(len(events), 4), Tempo(QUARTER, 60, 60), (line,), FLUTE.compass)


def test_ties_are_one_note_and_rests_part_neighbours() -> None:
    rest = Event(None, QUARTER)
    found = moments(score(note("D5", tie=True), note("D5"), note("E5"), rest, note("C5")))
    assert [(str(each.pitch), each.seconds) for each in found] == [("D5", 2), ("E5", 1), ("C5", 1)]
    assert [each.step for each in found] == [None, Interval(1, 2), None]


def test_a_breath_parts_neighbours_and_ends_the_longest_breath() -> None:
    found = moments(score(note("D5"), note("E5", marks=("breath",)), note("D5"), note("E5"), note("F5")))
    assert [each.step is None for each in found] == [True, False, True, False, False]
    assert longest_breath(found) == 3


def test_attacks() -> None:
    found = moments(
        score(
            note("D5", opens=(SLUR,)),
            note("E5"),
            note("F5", marks=("tenuto",)),
            note("G5", marks=("staccato",), closes=(SLUR,)),
            note("D5", marks=("staccato",)),
            note("D5", syllable="doo"),
            note("D5"),
        )
    )
    attacks = [each.attack for each in found]
    assert attacks == [TONGUED, SLURRED, SOFT, "portato", "detached", SYLLABLES, TONGUED]


def test_levels_hold_until_the_next_and_hairpins_pass_through_those_between() -> None:
    found = moments(
        score(
            note("D5"),
            note("D5", dynamic_marks=(level("p"),)),
            note("D5", dynamic_marks=(level("<"),)),
            note("D5"),
            note("D5", dynamic_marks=(level("!"), level("f"))),
        )
    )
    assert found[0].levels == ()
    assert found[1].levels == ((LEVELS.index("p"), 1.0),)
    # From p to f in two seconds: three levels further, a third of it in half a level's time at either end.
    growing = dict.fromkeys(LEVELS, 0.0)
    for each in found[2:4]:
        for place, seconds in each.levels:
            growing[LEVELS[place]] += seconds
    assert {mark: round(seconds, 6) for mark, seconds in growing.items() if seconds} == {
        "p": round(1 / 3, 6),
        "mp": round(2 / 3, 6),
        "mf": round(2 / 3, 6),
        "f": round(1 / 3, 6),
    }
    assert found[4].levels == ((LEVELS.index("f"), 1.0),)


def test_a_hairpin_to_silence_ends_at_the_softest_level() -> None:
    (only,) = moments(score(note("D5", dynamic_marks=(level("mf"), level(">o"), level("!", 1)))))
    assert [LEVELS[place] for place, _ in only.levels] == ["ppp", "pp", "p", "mp", "mf"]
    assert sum(seconds for _, seconds in only.levels) == pytest.approx(1)


def test_the_order_of_registers() -> None:
    assert register_order(FLUTE) == ("middle", "low", "high")
    assert register_order(INSTRUMENTS["clarinet-b-flat"])[0] == "chalumeau"
    for instrument in INSTRUMENTS.values():
        names = register_order(instrument)
        if len(instrument.registers) == 3:
            assert names == tuple(instrument.registers[place].name for place in (1, 0, 2))
        assert set(names) == {register.name for register in instrument.registers}


def test_the_register_is_that_of_most_of_the_time() -> None:
    assert main_register(moments(score(note("D4"), note("D5"), note("E5"))), FLUTE) == "middle"
    assert main_register(moments(score(note("D4"), note("D5"))), FLUTE) == "low"


def test_an_instrument_without_registers_has_one() -> None:
    whistle = replace(FLUTE, registers=())
    notes = moments(score(note("D5")))
    assert register_order(whistle) == (main_register(notes, whistle),) == ("whole range",)
    assert (
        sum(coverage([notes], whistle).levels[0].seconds) + coverage([notes], whistle).levels[0].unknown == 1
    )


names = st.sampled_from(("D5", "E5", "F#5", "G5", "A5", "B5"))
tunes = st.lists(names, min_size=2, max_size=8).map(lambda tune: score(*map(note, tune)))


@given(tunes)
def test_music_of_small_steps_has_the_first_grade_and_wide_intervals_have_a_higher(tune: Score) -> None:
    notes = moments(tune)
    steps = [abs(note.step.semitones) for note in notes if note.step is not None]
    wide = sum(steps) / len(steps) > 3 if steps else False
    assert music_grade(notes) == 1 + wide
    assert width(notes) == round(10 * sum(steps) / len(steps))


def test_grades_by_range_breath_and_speed() -> None:
    def grade(*names: str, beats: int = 60) -> int:
        music = replace(score(*map(note, names)), tempo=Tempo(QUARTER, beats, beats))
        return music_grade(moments(music))

    assert grade("D5", "E5", "D5") == 1
    # A leap of an octave; and a range of two octaves.
    assert grade("D5", "D6") == 2
    assert grade("D4", "D5", "D6") == 3
    # More than twelve seconds in a breath.
    assert grade(*["D5", "E5"] * 6) == 1
    assert grade(*["D5", "E5"] * 7) == 2
    # Notes shorter than 0.35 seconds.
    assert grade("D5", "E5", beats=180) == 2


@pytest.mark.exhaustive
def test_a_piece_has_the_grade_of_its_music_or_of_its_way(book: list[Measured]) -> None:
    grades = {(each.choice.exercise, each.choice.variation): each.choice.grade for each in book}
    assert grades["slow-tide", "as written"] <= 2
    assert grades["slow-tide", "swell up"] == 2
    assert grades["slow-tide", "eight levels"] == 3
    assert grades["slow-tide", "tonguing double in sixteenths"] == 4
    assert grades["new-britain", "singing alto"] == 4


def test_beginners_get_no_double_tonguing_and_nobody_gets_more_than_suits(book: list[Measured]) -> None:
    for level, most in (("beginning", 2), ("developing", 4), ("advanced", 5)):
        suited = [each for each in book if each.suits(FLUTE, level)]
        assert suited
        assert max(each.choice.grade for each in suited) <= most
        reach = FLUTE.at_level(level).compass
        assert all(reach.easy_low.midi <= each.lowest.midi for each in suited)
        assert all(each.highest.midi <= reach.easy_high.midi for each in suited)
    assert not any("tonguing" in each.choice.variation for each in book if each.suits(FLUTE, "beginning"))


@pytest.fixture(scope="module")
def book() -> list[Measured]:
    return list(measured(instrument_books_of(open_book(BOOK))[0]))


@pytest.mark.exhaustive
def test_the_plans_in_the_documentation_are_those_of_the_program(book: list[Measured]) -> None:
    said = (BOOK / "docs" / "daily-sets.md").read_text(encoding="utf-8")
    made = runpy.run_path(str(BOOK / "benchmarks" / "daily_plans.py"))["rows"](book, FLUTE)
    assert "\n".join(made).rstrip() in said, "run python benchmarks/daily_plans.py"


def test_lengths_agree_with_music21(book: list[Measured]) -> None:
    """Each piece's seconds from music21's own durations and metronome; fermatas by the stated rule."""
    scores = {
        part.name: part.score
        for _, pages in instrument_books_of(open_book(BOOK))[0].exercises
        for page in pages[:2]
        for placed in page.placed[:1]
        for part in placed.parts
        if part.score is not None
    }
    for each in book:
        # A ladder's rungs are no part of what is printed; tests/test_performance.py counts them.
        if each.choice.name not in scores or scores[each.choice.name].line.ladder:
            continue
        found = scores[each.choice.name]
        if found.meter.is_free or any(bar.opens_repeat for bar in found.line.bars):
            # tests/test_free_time.py reckons breaths, tests/test_signs.py repeats.
            continue
        part = music21.stream.Part()
        part.append(
            music21.tempo.MetronomeMark(number=found.tempo.low, referent=float(found.tempo.beat.length * 4))
        )
        held = 0.0
        for event in found.line.events():
            length = music21.duration.Duration(Fraction(event.length * 4))
            sound = music21.note.Note(event.pitch.midi) if event.pitch else music21.note.Rest()
            sound.duration = length
            if "fermata" in event.marks:
                held += float(event.length / found.tempo.beat.length) * 60 / found.tempo.low / 2
            part.append(sound)
        seconds = max(row["endTimeSeconds"] for row in part.secondsMap) + held
        assert each.choice.seconds == ceil(seconds - 1e-9), each.choice.name
        assert each.choice.rest == 5 + ceil(each.choice.seconds / 4) == rest_after(each.choice.seconds)


@pytest.mark.exhaustive
def test_every_note_is_in_the_measure(book: list[Measured]) -> None:
    scores = {
        part.name: part.score
        for _, pages in instrument_books_of(open_book(BOOK))[0].exercises
        for page in pages
        for placed in page.placed
        for part in placed.parts
        if part.score is not None
    }
    for each in book:
        found = scores[each.choice.name]
        rests = any(event.pitch is None for event in found.line.events())
        seconds = sum(moment.seconds for moment in each.notes)
        if not rests:
            assert seconds == pytest.approx(float(timing(found).seconds))
        assert longest_breath(each.notes) == pytest.approx(float(timing(found).breath))
        for moment in each.notes:
            assert sum(share for _, share in moment.levels) <= moment.seconds + 1e-6


def test_coverage_adds_up(book: list[Measured]) -> None:
    found = coverage((each.notes for each in book), FLUTE)
    notes = [moment for each in book for moment in each.notes]
    assert found.pieces == len(book)
    assert sum(row.tally.count for row in found.notes) == len(notes)
    assert sum(row.tally.seconds for row in found.notes) == pytest.approx(found.seconds)
    assert sum(row.tally.count for row in found.attacks) == len(notes)
    steps = sum(row.up.count + row.down.count for row in found.steps)
    assert steps == sum(moment.step is not None for moment in notes)
    levels = sum(sum(row.seconds) + row.unknown for row in found.levels)
    assert levels == pytest.approx(found.seconds)


def test_holes_are_named() -> None:
    piece = moments(score(note("D5", dynamic_marks=(level("p"),)), note("E5"), note("G5")))
    holes = coverage([piece], FLUTE).holes
    assert "Never played: C4 to C sharp 5, E flat 5, F5 to F sharp 5, G sharp 5 to A6." in holes
    assert "Never downward: major second, minor third." in holes
    assert "In the middle register never ppp, pp, mp, mf, f, ff, fff." in holes
    assert "In the low register no dynamic is written." in holes
    assert any(hole.startswith("No note begins like this: marcato") for hole in holes)
    text = coverage_text(coverage([piece], FLUTE), "Flute")
    assert all(hole in text for hole in holes)


def test_seldom_played_notes_are_named() -> None:
    often = [moments(score(note("D5"), note("E5"), note("D5")))] * 30
    holes = coverage([*often, moments(score(note("A5"), note("E5")))], FLUTE).holes
    assert "Seldom played, less than a tenth of the usual time: A5." in holes


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.2, "0 s"), (59.4, "59 s"), (60, "1 min"), (200, "3 min 20 s"), (4320, "1 h 12 min")],
)
def test_durations_in_words(seconds: float, words: str) -> None:
    assert duration_in_units(seconds) == words


def test_the_recommended_limit_for_loud_sound() -> None:
    """NIOSH publication 98-126 (1998), table 1-1, from memory: level in dBA and minutes a day."""
    for dba, minutes in {85: 480, 88: 240, 91: 120, 94: 60, 97: 30, 100: 15}.items():
        assert hours_allowed(dba) * 60 == pytest.approx(minutes)
    assert dict(noise_table())[94] == "1 hour"
    assert dict(noise_table())[103] == "7 and a half minutes"


def test_a_scale_over_the_range_passes_through_every_register() -> None:
    text = "title: Up\nhome: D4 in D major\nmusic:\n  w D4 | {} | w D4 | w D4\n"
    for higher, registers in (("h E4 F#4", ("low",)), ("h D5 D6", ("low", "middle", "high"))):
        exercise = read("up.warmup", text.format(higher).encode()).exercise
        assert exercise is not None
        home = settings_of(exercise, FLUTE)[:1]
        assert home[0].fits
        # Most of its time lies in the low register.
        assert main_register(moments(home[0].score()), FLUTE) == "low"
        assert registers_passed(home) == registers
    assert registers_passed(()) == ()
