"""Time and breath against music21's own durations, and the rules of the module by example."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from made_scores import in_music21, made_score, without_ladder

from stavewright.book.pieces import instrument_books_of, scores
from stavewright.book.read import open_book
from stavewright.language.read import read
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import settings_of as all_settings
from stavewright.music.signs import FERMATAS
from stavewright.music.sounding.timing import (
    BREATH_SECONDS,
    FASTEST,
    SLOWEST,
    clock,
    length,
    long_breath,
    timing,
    total,
    unfold,
)
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import apply

if TYPE_CHECKING:
    from music21.stream import Part

BOOK = Path(__file__).parent.parent


def written(music: str, fields: str = "tempo: quarter = 60\n") -> Score:
    """The score of a few words of music at a quarter a second."""
    reading = read(
        "example.warmup", f"title: Example\nhome: D5 in D major\n{fields}music:\n  {music}\n".encode()
    )
    assert reading.exercise is not None, reading.faults
    return all_settings(reading.exercise, FLUTE)[0].score()


@pytest.mark.parametrize(
    ("music", "seconds"),
    [
        ("w D5 | w E5", 8),
        ("h. D5 q rest", 4),
        ("triplet( q D5 E5 F#5 ) h D5", 4),
        ("w D5 fermata", 6),
        ("h D5 E5 fermata", 5),
        ("w D5 , | w E5", 8),
        ("w D5 | |: w E5 :| w D5", 16),
        ("w D5 :| w E5", 12),
        ("|: w D5 | first-time( w E5 :| ) second-time( h D5 E5 )", 16),
        ("grace( C#5 ) w D5 | w E5 trill", 8),
        ("w D5 | meter( 3/4 ) h. E5 | meter( 4/4 ) w D5", 11),
        ("w D5 | tempo( half = 60 ) w E5 | w D5", 8),
        ("|: w D5 | tempo( half = 60 ) w E5 :| w D5", 14),
    ],
)
def test_the_length_of_music_at_a_quarter_a_second(music: str, seconds: int) -> None:
    """Counted by hand, by the rules in the module's docstring."""
    assert timing(written(music)).seconds == seconds


@pytest.mark.parametrize(
    ("music", "seconds", "bar"),
    [
        ("w D5 | w E5", 8, 1),
        ("h D5 , E5 | w E5", 6, 1),
        ("w D5 , | w E5 | w D5", 8, 2),
        ("h. D5 q rest | w E5", 4, 2),
        ("h rest D5 | h E5 rest", 4, 1),
        ("w D5 , | h E5 fermata D5 ,", 5, 2),
        ("|: h D5 , E5 :| w D5 , | h D5 E5", 6, 1),
        ("w D5 | |: h D5 E5 :| h D5 , E5", 14, 1),
    ],
)
def test_the_longest_span_without_a_breath(music: str, seconds: int, bar: int) -> None:
    """Counted by hand; a breath mark and a rest end a span, a repeat does not."""
    found = timing(written(music))
    assert (found.breath, found.breath_bar) == (seconds, bar)


def test_the_range_of_tempo_gives_a_range_of_lengths() -> None:
    score = written("w D5 | w E5", "tempo: half = 40 to 60\n")
    assert length(score).longest == Fraction(6)
    assert length(score).shortest == Fraction(4)
    assert total([score, score]).longest == 12
    assert total([]).longest == 0


def test_a_ladder_after_a_repeat_is_climbed() -> None:
    plain = written("|: w D5 :| w E5", "tempo: quarter = 60\n")
    climbed = apply(plain, ("tonguing double ladder 60 to 120 by 60",))
    assert clock(climbed).length == clock(plain).length + 2


def test_a_drone_waits_and_does_not_breathe() -> None:
    plain = written("w D5 , | w E5 fermata ,")
    droned = written("w D5 , | w E5 fermata ,", "tempo: quarter = 60\ndrone: D4\n")
    assert len(droned.lines) == 2
    assert timing(droned) == timing(plain)
    assert clock(droned).seconds(unfold(droned.lines[1])[-1].end) == 10


def test_a_long_breath_says_from_which_tempo_it_fits() -> None:
    score = written("w D5 | w E5 | w D5 ,", "tempo: quarter = 40 to 60\n")
    found = long_breath(score, 12)
    assert found is not None
    assert (found.seconds, found.bar, found.fits_from, found.fits) == (18, 1, 60, True)
    tighter = long_breath(score, 10)
    assert tighter is not None
    assert (tighter.fits_from, tighter.fits) == (72, False)
    assert long_breath(score, 18) is None
    assert BREATH_SECONDS == 16


def test_a_long_breath_fits_indeed_from_that_tempo() -> None:
    score = written("h. D5 q E5 | w E5 | w D5 fermata ,", "tempo: quarter = 41\n")
    found = long_breath(score, 13.5)
    assert found is not None
    for tempo, fits in ((found.fits_from, True), (found.fits_from - 1, False)):
        again = written("h. D5 q E5 | w E5 | w D5 fermata ,", f"tempo: quarter = {tempo}\n")
        assert (long_breath(again, 13.5) is None) == fits


def lasts(part: Part) -> list[tuple[float, float, object]]:
    """Each event of a part in music21's seconds: start, length with the fermata's share, and the event."""
    found = []
    later = 0.0
    for row in part.flatten().secondsMap:
        element = row["element"]
        if "GeneralNote" not in element.classes:
            continue
        held = any("Fermata" in sign.classes for sign in element.expressions)
        seconds = row["durationSeconds"] * (float(FERMATAS["fermata"]) if held else 1)
        found.append((row["offsetSeconds"] + later, seconds, element))
        later += seconds - row["durationSeconds"]
    return found


def longest_breath(rows: list[tuple[float, float, object]]) -> float:
    """The longest run of notes with no rest and no breath mark, in seconds."""
    longest, begun = 0.0, None
    for start, seconds, element in rows:
        if element.isRest:  # type: ignore[attr-defined]
            begun = None
            continue
        begun = start if begun is None else begun
        longest = max(longest, start + seconds - begun)
        if any("BreathMark" in sign.classes for sign in element.articulations):  # type: ignore[attr-defined]
            begun = None
    return longest


def compare(score: Score) -> None:
    """The project's seconds and music21's, event by event, at both ends of the range of tempo."""
    for pace, fastest in ((SLOWEST, False), (FASTEST, True)):
        rows = lasts(in_music21(score, fastest))
        time = clock(score, pace)
        ours = unfold(score.line)
        assert len(rows) == len(ours)
        for (start, seconds, _), item in zip(rows, ours, strict=True):
            assert float(time.seconds(item.start)) == pytest.approx(start, abs=1e-6)
            assert float(time.seconds(item.end) - time.seconds(item.start)) == pytest.approx(
                seconds, abs=1e-6
            )
        found = timing(score, pace)
        assert float(found.seconds) == pytest.approx(rows[-1][0] + rows[-1][1], abs=1e-6)
        assert float(found.breath) == pytest.approx(longest_breath(rows), abs=1e-6)


@examples(30)
@given(st.integers(0, 10**9))
def test_made_scores_last_as_long_as_music21_says(seed: int) -> None:
    compare(made_score(Random(seed)))


@pytest.mark.exhaustive
def test_the_demo_book_lasts_as_long_as_music21_says() -> None:
    """One setting of each exercise, direction and variation: a key changes no length."""
    seen = set()
    for name, score in scores(instrument_books_of(open_book(BOOK))).items():
        if score.meter.is_free:
            # A breath lasts as the book says; tests/test_free_time.py reckons it.
            continue
        shape = tuple((event.value, event.marks, event.pitch is None) for event in score.line.events())
        if shape not in seen:
            seen.add(shape)
            compare(without_ladder(score))
            assert timing(score).seconds > 0, name
    assert len(seen) >= 5


@given(st.integers(0, 10**9))
def test_time_moves_forward_and_both_ends_meet(seed: int) -> None:
    score = made_score(Random(seed))
    items = unfold(score.line)
    assert all(before.end == after.start for before, after in pairwise(items))
    time = clock(score, Fraction(1, 3))
    moments = [time.seconds(item.start) for item in items]
    assert moments == sorted(set(moments))
    assert time.seconds(items[-1].end) == time.length
    assert length(score).shortest <= time.length <= length(score).longest
