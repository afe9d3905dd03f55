"""Text, read, written and read again: the same exercise, places in the file apart."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st

from stavewright.language.notes.figure_words import FIGURE_WORDS
from stavewright.language.read import read
from stavewright.language.words import WORDS
from stavewright.language.write import write
from stavewright.music.event import Place
from stavewright.music.exercise import Exercise
from stavewright.music.figures import FIGURES
from stavewright.music.score import each_event
from stavewright.views.language_page import example_text

RHYTHMS = (("w",), ("h", "h"), ("q", "q", "h"), ("h.", "q"), ("q.", "e", "h"), ("q", "q", "q", "q"))
WORDS_IN_PLACES = (
    *('fingering "T 1 2 3"', 'in B-flat above "long"', 'in low say "doo"', 'in F-sharp fingering "1"'),
    'in D below "open" in high above "support"',
)
SIGNS = ("", "p", "ff", ",", "tenuto", "accent staccato", "fermata", 'above "still"', 'say "doo"')
PLAYER_SIGNS = (
    *(
        "flutter",
        "air-tone",
        "whistle-tone",
        "tongue-ram",
        "key-click",
        "mordent",
        "inverted-mordent",
        "turn",
    ),
    *("timbral-trill", "trill", "short-fermata", "long-fermata", "bend-up", "bend-down", "harmonic"),
    "harmonic( -P8 )",
)
GROUPS = ("", "slur(", "louder(", "optional(", "vibrato(", "late-vibrato(", "tenuto(")
NOWHERE = Place(1, 1)
BOOK = sorted((Path(__file__).parent.parent / "exercises").glob("*.warmup"))
EXAMPLES = [entry.example for entry in (*WORDS, *FIGURES.values(), *FIGURE_WORDS.values())] + [
    'slur( louder( h D5 p E5 ) | softer( D5 f C#5 ) ) | optional( q D5 say "tu" rest E5 tie e E5 D5 ) ,',
    "|: slur( vibrato( w D5 | E5 ) ) | late-vibrato( h D5 E5 ) :| fading-vibrato( w D5 )",
    'triplet( e D5 E5 F#5 ) tuplet( 3:2 q G5 A5 tenuto B5 ) D5 | w D5 above "x" below "y" fermata |',
]


def exercise(text: str, name: str = "example.warmup") -> Exercise:
    """The exercise of a text, with every place the same, and its figures as if written out."""
    reading = read(name, text.encode())
    assert not reading.faults, reading.faults
    assert reading.exercise is not None
    forms = tuple(
        replace(form, bars=each_event(form.bars, lambda event: replace(event, place=NOWHERE)), made=())
        for form in reading.exercise.forms
    )
    wanted = tuple(replace(wish, place=NOWHERE) for wish in reading.exercise.wanted)
    return replace(reading.exercise, forms=forms, wanted=wanted)


@pytest.mark.parametrize("music", EXAMPLES)
def test_examples_come_back(music: str) -> None:
    """Every word, every generator, and groups within groups."""
    first = exercise(example_text(music))
    text = write(first)
    assert exercise(text) == first
    assert write(exercise(text)) == text


@pytest.mark.parametrize("path", BOOK, ids=lambda path: path.stem)
def test_the_demo_book_comes_back(path: Path) -> None:
    """Every field that the demo book uses."""
    first = exercise(path.read_text(encoding="utf-8"), path.name)
    assert exercise(write(first), path.name) == first


@st.composite
def phrases(draw: st.DrawFn) -> str:
    """A phrase in free time, of long notes and counted ones, sometimes within a group."""
    words = []
    for value in draw(st.lists(st.sampled_from(("long", "long", "h", "q", "e.")), min_size=1, max_size=5)):
        pitch = draw(st.sampled_from(("D5", "C#5", "Bb4", "+m3")))
        words.append(f"{value} {pitch} {draw(st.sampled_from(SIGNS))}")
    group = draw(st.sampled_from(GROUPS))
    return f"{group} {' '.join(words)} {')' if group else ''}"


@examples(100)
@given(st.lists(phrases(), min_size=1, max_size=4), st.tuples(st.integers(2, 20), st.integers(20, 60)))
def test_any_free_time_comes_back(music: list[str], breath: tuple[int, int]) -> None:
    """Phrases in free time in any order: read, written and read again they are the same."""
    fields = f"breath: {breath[0]} to {breath[1]} seconds\n"
    first = exercise(fields + example_text(" | ".join(["long D5", *music])))
    assert first.breath == breath
    text = write(first)
    assert exercise(text) == first
    assert write(exercise(text)) == text


@examples(100)
@given(
    st.lists(
        st.tuples(st.sampled_from(PLAYER_SIGNS), st.sampled_from((*SIGNS, *WORDS_IN_PLACES))),
        min_size=1,
        max_size=6,
    )
)
def test_any_sign_of_a_player_comes_back(signs: list[tuple[str, str]]) -> None:
    """A sign of a player and one of another kind on each note: read, written and read again the same."""
    signs = [(sign, "" if "fermata" in sign and other == "fermata" else other) for sign, other in signs]
    notes = [
        f"w {pitch} {' '.join(pair)}" for pitch, pair in zip(("D5", "A5", "D6") * 2, signs, strict=False)
    ]
    first = exercise(example_text(" | ".join([*notes, "h D5 glissando F#5"])))
    text = write(first)
    assert exercise(text) == first
    assert write(exercise(text)) == text


REPEATS = (
    "|: {} | {} :| {} times",
    "|: {} | first-time( {} :| {} times ) second-time( {} )",
    "{} | {} fine | {} da-capo |",
    "{} | segno {} fine | {} dal-segno |",
    "{} to-coda | {} da-capo || coda {}",
)


@examples(50)
@given(
    st.sampled_from(REPEATS), st.integers(2, 16), st.lists(st.sampled_from(RHYTHMS), min_size=4, max_size=4)
)
def test_any_repeat_comes_back(form: str, times: int, rhythms: list[tuple[str, ...]]) -> None:
    notes = [" ".join(f"{value} D5" for value in rhythm) for rhythm in rhythms]
    places = iter(notes)
    parts = form.replace("{} times", f"{times} times").split("{}")
    music = "".join(part + next(places, "") for part in parts[:-1]) + parts[-1]
    first = exercise(example_text(music))
    assert exercise(write(first)) == first


@st.composite
def bars(draw: st.DrawFn) -> str:
    """A bar of 4/4 in words, sometimes within a group."""
    words = []
    for value in draw(st.sampled_from(RHYTHMS)):
        pitch = draw(st.sampled_from(("D5", "C#5", "Bb4", "F#6", "rest", "E##5", "+m3")))
        signs = draw(st.sampled_from(SIGNS)) if pitch != "rest" else ""
        words.append(f"{value} {pitch} {signs}")
    group = draw(st.sampled_from(GROUPS))
    return f"{group} {' '.join(words)} {')' if group else ''}"


@examples(100)
@given(st.lists(bars(), min_size=1, max_size=6))
def test_any_music_comes_back(music: list[str]) -> None:
    """Bars of the language in any order: read, written and read again they are the same."""
    first = exercise(example_text(" | ".join(["w D5", *music])))
    text = write(first)
    assert exercise(text) == first
    assert write(exercise(text)) == text
