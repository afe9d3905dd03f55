"""The octave before the first note, and that no variation leaves the preferred range."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F

import pytest
from small_scores import events, levels, refused, score_of, slurs

from stavewright.music.pitch import Pitch
from stavewright.music.score import Score
from stavewright.variations import Unsuitable, apply

# -- an octave before the first note --------------------------------------------------------------------


def falling(music: str, **fields: str) -> Score:
    return apply(score_of(music, **fields), ("falling octave first",))


def test_a_falling_octave_is_a_pick_up_as_long_as_the_first_note() -> None:
    score = falling("slur( h D5 mf q C#5 D5 ) | w E5")
    assert score.pickup == F(1, 2)
    assert [str(event.pitch) for event in events(score)] == ["D6", "D5", "C#5", "D5", "E5"]
    assert slurs(events(score)) == "(abcd)e"
    assert levels(events(score)) == ["mf", "", "", "", ""]
    assert [bar.length for bar in score.line.bars] == [F(1, 2), 1, 1]


def test_a_falling_octave_before_a_full_bar_is_a_bar() -> None:
    score = falling("w D5 | w E5")
    assert score.pickup == 0
    assert [bar.length for bar in score.line.bars] == [1, 1, 1]
    assert slurs(events(score)) == "(ab)c"


def test_a_falling_octave_joins_a_pick_up() -> None:
    score = falling("q D5 | h F#5 q G5 | h A5", meter="3/4", pickup="quarter")
    assert score.pickup == F(1, 2)
    assert [bar.length for bar in score.line.bars] == [F(1, 2), F(3, 4), F(1, 2)]
    filled = falling("h D5 | h F#5 q G5 | q A5", meter="3/4", pickup="half")
    assert filled.pickup == 0
    assert [bar.length for bar in filled.line.bars] == [F(3, 4), F(3, 4), F(1, 4)]


def test_a_falling_octave_leaves_nothing_of_the_first_note_twice() -> None:
    score = falling('h D5 tenuto above "still" louder( E5 ) | w F#5 fermata')
    first, second, *_ = events(score)
    assert (first.above, second.above) == ("still", "")
    assert (first.marks, second.marks) == ((), ("tenuto",))


def test_a_falling_octave_needs_a_note_and_room() -> None:
    assert refused("h rest D5 | w E5", "falling octave first") == "it begins with a rest"
    assert refused("w D6 | D6", "falling octave first", home="D6 in D major").endswith("above A6")


# -- the preferred range binds variations ---------------------------------------------------------------


@pytest.mark.parametrize("wish", ["upper octave first", "register jump", "falling octave first"])
def test_no_variation_goes_beyond_the_highest_note_to_prefer(wish: str) -> None:
    score = score_of("w B5 | B5", home="B5 in B minor")
    top = replace(score.compass, easy_high=Pitch.parse("A6"))
    with pytest.raises(Unsuitable, match="above A6"):
        apply(replace(score, compass=top), (wish,))


def test_what_the_music_reaches_itself_a_variation_may_reach() -> None:
    score = score_of("w B4 | B5", home="B4 in B minor")
    narrow = replace(score.compass, easy_high=Pitch.parse("G5"))
    assert apply(replace(score, compass=narrow), ("falling octave first",)).line.bars[0].events[
        0
    ].pitch == Pitch.parse("B5")


# -- vibrato on one note --------------------------------------------------------------------------------


def test_vibrato_on_the_first_and_the_last_long_note() -> None:
    music = "h D5 q E5 F#5 | w G5 | w A5"
    found = events(
        apply(score_of(music), ("vibrato late on first long note", "vibrato fading on last long note"))
    )
    assert [[(shade.at, shade.mark) for shade in event.vibrato] for event in found] == [
        [(0, "-"), (F(1, 2), "~<"), (1, "!")],
        [],
        [],
        [],
        [(0, "~>"), (F(1, 2), "-"), (1, "!")],
    ]
