"""How much an exercise may hold, and that reading costs no more than its text."""

from __future__ import annotations

import sys
from types import FrameType
from typing import Any

import pytest

from stavewright.language.faults import MOST_FAULTS
from stavewright.language.field_words import FIELDS
from stavewright.language.notes.bounds import DEEPEST, MOST_BARS, MOST_NOTES, MOST_SIGNS, MOST_WORDS
from stavewright.language.read import Reading, read
from stavewright.language.selecting.read_selection import read_selection
from stavewright.language.selecting.selection import Known
from stavewright.music.figures import FIGURES
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import MOST_EVENTS, Unsuitable, apply

HEAD = "title: T\nhome: D5 in D major\n"
SHORTER = "; divide it into several exercises"


def reading(music: str, fields: str = "") -> Reading:
    return read("e.warmup", f"{HEAD}{fields}music: {music}\n".encode())


def faults(music: str, fields: str = "") -> list[str]:
    return [str(fault).removeprefix("e.warmup:") for fault in reading(music, fields).faults]


def test_the_language_page_says_the_bounds() -> None:
    said = FIELDS["music"].means
    assert f"{MOST_NOTES:,} notes" in said and f"{MOST_BARS} bars" in said


def test_as_many_notes_as_are_allowed() -> None:
    music = " | ".join(["q D5 E5 D5 E5"] * (MOST_NOTES // 4))
    assert faults(music) == []
    assert faults(f"{music} | w D5") == [
        f"3:{len(music) + 13}: the exercise has more than 1,000 notes and rests{SHORTER}"
    ]


def test_as_many_bars_as_are_allowed() -> None:
    bars = " | ".join(["w D5"] * MOST_BARS)
    assert faults(f"|: {bars} :|") == []
    assert faults(f"{bars} | w D5") == [f"3:{len(bars) + 13}: the exercise has more than 400 bars{SHORTER}"]


def test_both_forms_count_together() -> None:
    bars = " | ".join(["w D5"] * (MOST_BARS // 2 + 1))
    found = read("e.warmup", f"{HEAD}music rising: {bars}\nmusic falling: {bars}\n".encode()).faults
    assert [fault.line for fault in found] == [4]
    assert "more than 400 bars" in found[0].what


@pytest.mark.parametrize(
    ("music", "what"),
    [
        (f"grace( {'C5 ' * MOST_NOTES}) w D5", "more than 1,000 notes"),
        (f"w D5 {'| w rest ' * MOST_BARS}", "more than 400 bars"),
        (f"w D5 {'slur( ' * (MOST_WORDS - 1)}", "more than 10,000 words"),
        ("opened-octave( q ) " * 2000, "more than 1,000 notes"),
        ("scale( w ) " * 60, "more than 400 bars"),
        ("w rest | " + "scale( h ) " * 50, "more than 400 bars"),  # the last bar alone is one too many
        (f"w D5 {'p ' * (MOST_SIGNS + 5)}", f"more than {MOST_SIGNS} marks"),
        (f"{'slur( ' * (DEEPEST + 1)}w D5{' )' * (DEEPEST + 1)}", f"more than {DEEPEST} groups"),
    ],
)
def test_what_is_beyond_a_bound_is_one_fault(music: str, what: str) -> None:
    (found,) = faults(music)
    assert what in found


def test_groups_as_deep_as_is_allowed() -> None:
    assert faults(f"{'slur( ' * DEEPEST}h D5 E5{' )' * DEEPEST}") == []


def test_words_in_quotes_are_no_notes() -> None:
    assert faults(f'w D5 above "{"D5 | " * 12}"') == []


@pytest.mark.parametrize("music", ["w D5 | " * 5000, "$ " * 29_000, "w D5 | " * 9000])
def test_a_bound_is_looked_at_before_anything_is_read(music: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: Any) -> None:
        raise AssertionError("it was read")

    monkeypatch.setattr("stavewright.language.notes.music.parse", never)
    assert len(faults(music)) == 1


def test_no_generator_is_made_for_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    made = 0
    plain = FIGURES["scale"].make

    def counted(*given: Any) -> Any:
        nonlocal made
        made += 1
        return plain(*given)

    monkeypatch.setitem(FIGURES, "scale", type(FIGURES["scale"])("scale", "", "", counted))
    assert "more than 1,000 notes" in faults("scale( e ) " * 2500)[0]
    assert made <= MOST_NOTES / 8


def test_a_field_that_is_too_long_is_read_no_further() -> None:
    (found,) = faults("w D5", f"variations: {'slurred, ' * 25_000}\n")
    assert found == "3:12: 'variations' is 224,999 characters long, and 300 is the most; shorten it"


def test_of_a_hundred_thousand_hidden_characters_the_first_are_told() -> None:
    assert len(read("e.warmup", f"{HEAD}{chr(7)}\n".encode() + b"\x07\n" * 100_000).faults) == MOST_FAULTS + 1
    _, found = read_selection("a.set", b"\x07\n" * 1000, Known({}, {"flute": []}, lambda *_: {}))
    assert len(found) == MOST_FAULTS + 1


def test_a_variation_does_not_grow_without_bound() -> None:
    exercise = reading(" | ".join(["w D5"] * MOST_BARS)).exercise
    assert exercise is not None
    score = settings_of(exercise, FLUTE)[0].score()
    assert len(apply(score, ("doubled",)).line.bars) == 2 * MOST_BARS
    with pytest.raises(Unsuitable, match=f"more than {MOST_EVENTS:,} notes"):
        apply(score, ("doubled",) * 4)


# -- what reading costs ---------------------------------------------------------------------------------


def calls(data: bytes) -> int:
    """How many functions are called, and generators resumed, while a text is read."""
    count = 0

    def counted(frame: FrameType, event: str, arg: Any) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(counted)
    try:
        read("e.warmup", data)
    finally:
        sys.setprofile(before)
    return count


@pytest.mark.parametrize(
    "music",
    [
        lambda count: "w D5" + " | D5" * count,
        lambda count: "q D5 p tie D5 slur( D5 tie D5 ) | " * count,
        lambda count: "vibrato( " * 8 + "w D5" + " | D5" * count + " )" * 8,
        lambda count: "meter( 32/1 ) t " + "D5 staccato " * count * 3,
        lambda count: "louder( w D5 | w E5 ) | " * count,
        lambda count: "w D5 zzzzzzzz | " * count,
        lambda count: "w D5 " + ", " * count * 8,
    ],
    ids=["bars", "ties", "nested", "one-bar", "hairpins", "words", "signs"],
)
def test_twice_the_text_costs_twice_as_much(music: Any) -> None:
    small, large = (f"{HEAD}music: {music(count)}\n".encode() for count in (90, 180))
    calls(small)
    assert calls(large) < 2.3 * calls(small)
