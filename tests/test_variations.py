"""Each variation does what it says, changes nothing that it does not name, or says why it is left out.

The syllables of tonguing (tu ku, tu tu ku, ku tu), the words senza and con vibrato, and the ranges of a
choir's voices are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction as F
from itertools import pairwise
from random import Random

import pytest
from conftest import examples
from hypothesis import assume, given
from hypothesis import strategies as st
from made_scores import made_score
from small_scores import events, levels, pitches, refused, score_of, slurs, varied

from stavewright.language.read import read
from stavewright.music.event import LEVELS, SLUR, Event, Value, tuplet
from stavewright.music.pitch import Pitch
from stavewright.music.score import Meter, Score
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import INSTRUMENTS
from stavewright.variations import Unsuitable, apply, find, meaning, variations

ATTACKS = {"staccato", "tenuto", "portato", "accent", "marcato"}


# -- what a variation leaves alone ----------------------------------------------------------------------

Aspect = Callable[[Event], object]
ASPECTS: dict[str, Aspect] = {
    "pitches": lambda event: (event.pitch, event.graces),
    "values": lambda event: event.value,
    "ties": lambda event: event.tie,
    "slurs": lambda event: (SLUR in event.opens, SLUR in event.closes),
    "other spans": lambda event: (
        [span for span in event.opens if span != SLUR],
        [span for span in event.closes if span != SLUR],
    ),
    "attacks": lambda event: [mark for mark in event.marks if mark in ATTACKS],
    "other marks": lambda event: [mark for mark in event.marks if mark not in ATTACKS],
    "dynamics": lambda event: event.dynamic_marks,
    "vibrato": lambda event: event.vibrato,
    "words above": lambda event: event.above,
    "words below": lambda event: event.below,
    "syllables": lambda event: event.syllable,
    "clefs": lambda event: event.clef,
}

CHANGES: dict[str, set[str]] = {
    "slurred": {"slurs", "attacks"},
    "slurred in 3 and 1": {"slurs", "attacks"},
    "slurred in 2": {"slurs", "attacks"},
    "soft-tongued": {"slurs", "attacks"},
    "detached": {"slurs", "attacks"},
    "swell up": {"dynamics"},
    "swell down": {"dynamics"},
    "swell from p to ff": {"dynamics"},
    "swell each note from pp to f to pp": {"dynamics"},
    "from silence": {"dynamics"},
    "to silence": {"dynamics"},
    "level pp": {"dynamics"},
    "terraces p mf f": {"dynamics"},
    "without vibrato": {"vibrato", "words above"},
    "with vibrato": {"vibrato", "words above"},
    "vibrato from the start": {"vibrato"},
    "vibrato late": {"vibrato"},
    "vibrato fading": {"vibrato"},
    "vibrato measured 4": {"vibrato", "words above"},
    "register jump": {"pitches"},
    "dotted": {"values"},
    "reverse dotted": {"values"},
    "figured": {"syllables"},
    "singing alto": set(),
    "singing bass held": set(),
}
"""What each may change in the player's events; those that make new bars have tests of their own below."""

NEW_BARS = {
    "eight levels",
    "upper octave first",
    "falling octave first",
    "lower octave first",
    "doubled",
    "tonguing",
}

made = st.integers(0, 10_000).map(lambda seed: made_score(Random(seed)))


def test_every_variation_is_tested_here() -> None:
    tested = {find(wish)[0].name for wish in CHANGES} | NEW_BARS
    missing = ", ".join(sorted(set(variations()) - tested))
    assert not missing, (
        "add to CHANGES in tests/test_variations.py a row that says what each of these changes (or to "
        f"NEW_BARS, with a test of its own, if it makes new bars): {missing}"
    )
    assert tested == set(variations())


@pytest.mark.parametrize("wish", CHANGES)
@examples(20)
@given(made)
def test_nothing_changes_but_what_is_named(wish: str, score: Score) -> None:
    try:
        after = apply(score, (wish,))
    except Unsuitable as reason:
        assert str(reason)
        return
    for name, aspect in ASPECTS.items():
        if name not in CHANGES[wish]:
            assert [aspect(e) for e in events(after)] == [aspect(e) for e in events(score)], name
    assert [replace(bar, events=()) for bar in after.line.bars] == [
        replace(bar, events=()) for bar in score.line.bars
    ]
    assert [bar.length for bar in after.line.bars] == [bar.length for bar in score.line.bars]
    assert replace(after, lines=()) == replace(score, lines=())
    others = [line for line in after.lines[1:] if line.label != "sing"]
    assert others == list(score.lines[1:])


@pytest.mark.parametrize(
    "wish", [*CHANGES, "eight levels", "upper octave first", "doubled", "tonguing double"]
)
@examples(12)
@given(made)
def test_every_bar_stays_full_and_every_sign_stands_on_a_note(wish: str, score: Score) -> None:
    try:
        after = apply(score, (wish,))
    except Unsuitable:
        return
    meter = after.meter
    for line in after.lines:
        assert len(line.bars) == len(after.line.bars)
        meter = after.meter
        for bar in line.bars:
            meter = bar.meter or meter
            assert bar.length in (meter.length, after.pickup)
    found = events(after)
    assert all(0 <= shade.at <= 1 for event in found for shade in (*event.dynamic_marks, *event.vibrato))
    assert sum(SLUR in e.opens for e in found) == sum(SLUR in e.closes for e in found)
    for event, following in zip(found, [*found[1:], None], strict=True):
        if event.tie:
            assert following is not None and following.pitch == event.pitch


@given(made, st.lists(st.sampled_from(list(CHANGES)), min_size=2, max_size=3, unique=True))
@examples(60)
def test_variations_that_touch_different_things_join_in_any_order(score: Score, wishes: list[str]) -> None:
    touched = [CHANGES[wish] for wish in wishes]
    if sum(map(len, touched)) != len(set().union(*touched)) or any("values" in each for each in touched):
        wishes = ["slurred", "swell up", "without vibrato"]
    elif {"pitches", "slurs"} <= set().union(*touched):
        # A slur begins anew on a repeated note, and a jump makes or parts two of one name.
        names = [(each.pitch.letter, each.pitch.alter) for each in events(score) if each.pitch is not None]
        assume(all(before != here for before, here in pairwise(names)))
    try:
        forward = apply(score, tuple(wishes))
    except Unsuitable:
        return
    backward = apply(score, tuple(reversed(wishes)))
    singing = [wish for wish in wishes if wish.startswith("singing")]
    if len(singing) < 2:
        assert forward == backward


# -- slurs and attacks ----------------------------------------------------------------------------------


def test_slurred_is_one_slur_a_breath() -> None:
    found = varied("q D5 staccato E5 slur( F#5 G5 ) , | h A5 rest | q G5 F#5 h E5 marcato", "slurred")
    assert slurs(found) == "(abcd)ef(ghi)"
    assert not any(ATTACKS & set(event.marks) for event in found)


def test_slurred_begins_anew_on_a_repeated_note_but_not_on_a_tie() -> None:
    assert slurs(varied("q D5 E5 E5 F#5 | h F#5 tie q F#5 G5", "slurred")) == "(ab)(cd)(efg)"


def test_slurred_keeps_breaths_and_holds() -> None:
    found = varied("h D5 trill E5 accent , | w D5 fermata ,", "slurred")
    assert [event.marks for event in found] == [("trill",), ("breath",), ("fermata", "breath")]


@pytest.mark.parametrize(
    ("wish", "expected"),
    [
        ("slurred in 2", "(ab)(cd)(ef)(gh)"),
        ("slurred in 3 and 1", "(abc)d(efg)h"),
        ("slurred in 1 and 3", "a(bcd)e(fgh)"),
        ("slurred in 5", "(abcde)(fgh)"),
        ("slurred in 3", "(abc)d(efg)h"),
    ],
)
def test_slurs_of_so_many_notes(wish: str, expected: str) -> None:
    assert slurs(varied("q D5 E5 F#5 G5 | A5 G5 F#5 E5", wish)) == expected


def test_slurs_of_so_many_count_tied_notes_as_one() -> None:
    assert slurs(varied("q D5 E5 h F#5 tie | q F#5 G5 A5 G5", "slurred in 3")) == "(abcd)(efg)"


def test_slurs_of_so_many_begin_anew_after_a_pick_up_and_in_each_bar() -> None:
    found = varied(
        "e D5 | E5 F#5 G5 A5 G5 F#5 | E5 D5 E5 F#5 G5", "slurred in 2 and 1", meter="6/8", pickup="eighth"
    )
    assert slurs(found) == "a(bc)d(ef)g(hi)j(kl)"


def test_slurs_of_so_many_go_on_over_bars_that_hold_too_few() -> None:
    assert slurs(varied("h D5 E5 | F#5 G5 | w A5", "slurred in 4")) == "(abcd)e"


def test_slurs_of_so_many_never_join_equal_pitches() -> None:
    assert slurs(varied("q D5 D5 E5 E5 | F#5 G5 G5 A5", "slurred in 2")) == "abcd(ef)(gh)"
    assert slurs(varied("q D5 E5 E5 F#5 | w F#5", "slurred in 4")) == "(ab)(cd)e"


def test_soft_tongued_has_a_line_on_every_note_that_is_begun() -> None:
    found = varied("q D5 D5 h E5 tie | w E5", "soft-tongued")
    assert slurs(found) == "(abcd)"
    assert [event.marks for event in found] == [("tenuto",), ("tenuto",), ("tenuto",), ()]


def test_detached_parts_notes_without_a_slur() -> None:
    """A dot on short notes, line and dot on long ones, and nothing under a fermata."""
    found = varied("slur( q D5 accent E5 ) rest F#5 tie | h F#5 G5 | w G5 fermata", "detached")
    assert slurs(found) == "abcdefg"
    marks = [event.marks for event in found]
    assert marks == [("staccato",), ("staccato",), (), ("staccato",), (), ("portato",), ("fermata",)]


# -- dynamics -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wish", "expected"),
    [
        ("swell up", ["p <", "", "", "!@1 f@1"]),
        ("swell down", ["f >", "", "", "!@1 p@1"]),
        ("swell from pp to ff", ["pp <", "", "", "!@1 ff@1"]),
        ("swell from p to f to p", ["p <", "", "! f >", "!@1 p@1"]),
        ("from silence", ["o<", "", "", "!@1 mf@1"]),
        ("to silence", ["mf >o", "", "", "!@1"]),
        ("swell up by last note", ["p <", "", "", "! f"]),
        ("swell from p to f to p by last note", ["p <", "! f >", "", "! p"]),
        ("level ff", ["ff", "", "", ""]),
    ],
)
def test_swells_over_a_breath(wish: str, expected: list[str]) -> None:
    assert levels(varied("q D5 mf E5 louder( F#5 G5 )", wish)) == expected


def test_a_swell_on_each_breath() -> None:
    assert levels(varied("q D5 E5 , F#5 G5", "swell up")) == ["p <", "!@1 f@1", "p <", "!@1 f@1"]


def test_a_swell_lasts_to_the_end_of_its_breath() -> None:
    assert levels(varied("w D5", "swell up")) == ["p < !@1 f@1"]
    assert levels(varied("w D5 tie | w D5", "swell up")) == ["p <", "!@1 f@1"]
    assert levels(varied("h D5 E5 tie | w E5 fermata", "to silence")) == ["mf >o", "", "!@1"]


def test_a_swell_turns_where_a_note_is_begun_and_not_on_a_tie() -> None:
    assert levels(varied("q D5 h. E5 tie | w E5", "swell from p to f to p"))[1:] == ["! f >", "!@1 p@1"]


def test_a_swell_leaves_the_author_s_own_steps_alone() -> None:
    """A tail that may be left out, and notes that each have a level, keep what was written."""
    tail = "q D5 mf E5 F#5 G5 , | optional( q D5 ppp rest D5 p rest )"
    assert levels(varied(tail, "swell up")) == ["p <", "", "", "!@1 f@1", "ppp", "", "p", ""]
    # The passage is spared without a breath before it too, and where each note is swelled.
    at_once = "q D5 mf E5 F#5 G5 | optional( q D5 ppp rest D5 p rest )"
    assert levels(varied(at_once, "swell up")) == ["p <", "", "", "!@1 f@1", "ppp", "", "p", ""]
    assert levels(varied(at_once, "swell each note from p to f"))[4:] == ["ppp", "", "p", ""]
    steps = "q D5 E5 h F#5 , | q D5 ppp rest D5 p rest | D5 f rest E5 rest"
    found = levels(varied(steps, "swell down"))
    assert found[:3] == ["f >", "", "!@1 p@1"]
    assert [sign for sign in found[3:] if sign] == ["ppp", "p", "f", "f > !@1 p@1"]
    assert refused("q D5 ppp E5 p F#5 f G5 fff", "swell up") == "its author wrote all its dynamics"


def test_two_levels_in_a_breath_give_way_to_a_swell() -> None:
    assert levels(varied("q D5 mf E5 F#5 p G5", "swell up")) == ["p <", "", "", "!@1 f@1"]


def test_a_swell_on_each_note() -> None:
    found = varied("h D5 E5", "swell each note from p to f to p")
    assert [sorted(sign.split("@")[0] for sign in row.split()) for row in levels(found)] == [
        ["!", "!", "<", ">", "f", "p"],
        # The last note of the phrase has no next one to say where it has come to.
        ["!", "!", "<", ">", "f", "p", "p"],
    ]


@pytest.mark.parametrize(
    ("wish", "reason"),
    [
        ("swell from p to p", "a swell goes from one dynamic to another"),
        ("swell from p to silence to p", "uses silence only at its ends"),
    ],
)
def test_swells_that_make_no_sense(wish: str, reason: str) -> None:
    assert reason in refused("w D5", wish)


def test_terraces_give_each_phrase_its_level() -> None:
    assert levels(varied("q D5 , E5 , F#5 , G5", "terraces p mf f")) == ["p", "mf", "f", "p"]


def test_terraces_go_by_bars_where_there_is_one_phrase() -> None:
    assert levels(varied("h D5 p E5 | w F#5", "terraces p f")) == ["p", "", "f"]
    assert refused("w D5", "terraces p f") == ("there is only one phrase of one bar, and terraces need two")


def test_eight_levels_on_every_new_pitch() -> None:
    after = apply(score_of("h D5 q C#5 D5 | h D5 tie D5", meter="4/4"), ("eight levels",))
    found = events(after)
    assert pitches(found) == ["D5"] * 8 + ["C#5"] * 8 + ["D5"] * 8
    assert levels(found) == list(LEVELS) * 3
    assert {event.value for event in found} == {Value(F(1, 4))}
    assert [event.marks for event in found] == ([()] * 7 + [("breath",)]) * 3
    assert (after.meter, after.pickup, len(after.line.bars)) == (Meter(4, 4), 0, 6)
    assert after.line.bars[-1].end == "|."


def test_eight_levels_on_the_last_note() -> None:
    found = varied("h. D5 | h. E5", "eight levels on last note", meter="3/4", drone="D4")
    assert pitches(found) == ["E5"] * 8


def test_eight_levels_hold_a_drone_to_their_length() -> None:
    after = apply(score_of("h. D5", meter="3/4", drone="D4"), ("eight levels",))
    assert [bar.length for bar in after.lines[1].bars] == [F(1), F(1)]


def test_eight_levels_are_for_short_cells() -> None:
    assert refused("q D5 E5 F#5 G5 | A5 G5 F#5 E5", "eight levels") == (
        "it is for cells of at most 6 notes, and this has 8"
    )


# -- octaves --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("wish", "first"), [("upper octave first", "6"), ("lower octave first", "4")])
def test_an_octave_first_and_then_as_written(wish: str, first: str) -> None:
    score = score_of("slur( h D5 p E5 ) | w rest")
    after = apply(score, (wish,))
    assert pitches(events(after)) == [f"D{first}", f"E{first}", "-", "D5", "E5", "-"]
    assert after.line.bars[2:] == score.line.bars
    assert [bar.end for bar in after.line.bars] == ["|", "||", "|", "|."]
    assert levels(events(after)) == levels(events(score)) * 2


def test_an_octave_that_the_instrument_has_not() -> None:
    assert refused("h D5 E6", "upper octave first") == "the upper octave would reach E7, above D7"
    assert refused("h D5 B4", "lower octave first") == "the lower octave would go down to B3, below C4"


def test_an_octave_first_says_its_first_meter_again() -> None:
    after = apply(score_of("w D5 | meter( 3/4 ) h. E5"), ("upper octave first",))
    assert [bar.meter for bar in after.line.bars] == [None, Meter(3, 4), Meter(4, 4), Meter(3, 4)]


def test_a_register_jump_lifts_every_second_note() -> None:
    found = varied("q D5 E5 tie E5 grace( C#5 ) F#5 , | q D5 E5 rest G5", "register jump")
    assert pitches(found) == ["D5", "E6", "E6", "F#5", "D5", "E6", "-", "G5"]
    assert refused("w D5", "register jump") == "no phrase of it has two notes"
    assert refused("h D5 A6", "register jump") == "a note would reach A7, above D7"


# -- rhythm ---------------------------------------------------------------------------------------------


def test_dotted_and_reversed() -> None:
    music = "q D5 E5 F#5 G5 | h D5 q E5 rest"
    assert [event.length for event in varied(music, "dotted")][:4] == [F(3, 8), F(1, 8)] * 2
    assert [event.length for event in varied(music, "reverse dotted")][:4] == [F(1, 8), F(3, 8)] * 2
    assert [event.length for event in varied(music, "dotted")][4:] == [F(1, 2), F(1, 4), F(1, 4)]
    assert refused("h D5 E5 tie | w E5", "dotted").startswith("no two")


def test_doubled_keeps_the_meter_and_ties_over_new_bar_lines() -> None:
    score = score_of("h. D5 q E5 p | w F#5")
    after = apply(score, ("doubled",))
    found = events(after)
    assert pitches(found) == ["D5", "D5", "E5", "F#5", "F#5"]
    assert [event.length for event in found] == [F(1), F(1, 2), F(1, 2), F(1), F(1)]
    assert [event.tie for event in found] == [True, False, False, True, False]
    assert after.meter == score.meter and len(after.line.bars) == 4
    assert [bar.end for bar in after.line.bars] == ["|", "|", "|", "|."]


@examples(60)
@given(made)
def test_doubled_is_the_same_line_in_twice_the_time(score: Score) -> None:
    try:
        after = apply(score, ("doubled",))
    except Unsuitable as reason:
        assert "tuplets" in str(reason) or "pick-up" in str(reason)
        return
    assert after.length == score.length * 2
    assert after.pickup == score.pickup * 2

    def sounding(music: Score) -> list[tuple[object, F]]:
        """Each sound and each silence once, however many signs it is written with, and its length."""
        found: list[tuple[object, F]] = []
        held = False
        for event in events(music):
            rests = bool(found) and event.pitch is None is found[-1][0]
            if held or rests:
                found[-1] = (found[-1][0], found[-1][1] + event.length)
            else:
                found.append((event.pitch, event.length))
            held = event.tie
        return found

    assert sounding(after) == [(pitch, length * 2) for pitch, length in sounding(score)]


def test_doubled_refuses_what_cannot_be_divided() -> None:
    assert "tuplets" in refused("triplet( q D5 E5 F#5 ) h D5", "doubled")
    assert "pick-up" in refused("h D5 | w E5", "doubled", pickup="half")


# -- tonguing, singing, vibrato -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wish", "syllables"),
    [
        ("tonguing double in eighths", "tu ku tu ku tu ku tu"),
        ("tonguing reverse double in eighths", "ku tu ku tu ku tu ku"),
        ("tonguing triple in eighths", "tu tu ku tu tu ku tu"),
        ("tonguing back in eighths", "ku ku ku ku ku ku ku"),
        ("tonguing single in eighths", "tu tu tu tu tu tu tu"),
    ],
)
def test_tonguing_the_last_note(wish: str, syllables: str) -> None:
    found = varied("h D5 E5 | w F#5 fermata ,", wish, tempo="quarter = 60 to 72")
    assert [event.syllable for event in found[2:]] == syllables.split()
    assert pitches(found) == ["D5", "E5"] + ["F#5"] * 7
    assert [event.length for event in found[2:]] == [F(1, 8)] * 6 + [F(1, 4)]
    assert found[2].above == "quarter = 60, 66, 72"
    assert found[-1].marks == ("fermata", "breath") and not any(event.marks for event in found[2:-1])


def test_tonguing_in_triplets_and_with_a_ladder_of_its_own() -> None:
    found = varied("h D5 E5", "tonguing triple ladder 60 to 96 by 12")
    repeated = found[1:]
    assert [event.syllable for event in repeated] == ["tu", "tu", "ku", "tu"]
    assert {event.value.scale for event in repeated[:3]} == {F(2, 3)}
    assert repeated[0].opens == repeated[2].closes == (tuplet(3, 2),)
    assert repeated[0].above == "quarter = 60, 72, 84, 96"


def test_a_slur_into_the_last_note_ends_before_it() -> None:
    assert slurs(varied("slur( q D5 E5 h F#5 )", "tonguing double in eighths")) == "(ab)cde"
    assert slurs(varied("slur( h D5 E5 )", "tonguing double in eighths")) == "abcd"


def test_tonguing_refuses_what_does_not_divide() -> None:
    assert "does not divide" in refused("h. D5 e E5 s E5 F#5", "tonguing double in eighths")
    assert "no rungs" in refused("h D5 E5", "tonguing double ladder 96 to 60 by 12")


@pytest.mark.parametrize(
    ("voice", "low", "high"),
    # The ranges of a choir's voices: common practice, no source.
    [("soprano", "C4", "A5"), ("alto", "F3", "E5"), ("tenor", "C3", "A4"), ("bass", "E2", "E4")],
)
@pytest.mark.parametrize("instrument", ["flute", "clarinet-b-flat", "baritone-saxophone"])
def test_singing_lies_in_the_voice_as_it_sounds(voice: str, low: str, high: str, instrument: str) -> None:
    reading = read(
        "t.warmup", b'title: T\nhome: D5 in D major\nmusic: slur( h D5 p F#5 say "tu" ) | w A5 ,\n'
    )
    assert reading.exercise is not None
    player = INSTRUMENTS[instrument]
    for setting in settings_of(reading.exercise, player):
        score = setting.score()
        after = apply(score, (f"singing {voice}",))
        assert after.lines[0] == score.lines[0]
        sung = list(after.lines[1].events())
        assert after.lines[1].label == "sing"
        for note, played in zip(sung, events(score), strict=True):
            assert note.pitch is not None and played.pitch is not None
            assert Pitch.parse(low).midi <= note.pitch.midi + player.sounds <= Pitch.parse(high).midi
            assert (note.pitch.midi - played.pitch.midi) % 12 == 0
            assert note.length == played.length
            assert not (note.opens or note.dynamic_marks or note.syllable or note.marks)


def test_singing_one_held_note() -> None:
    after = apply(score_of("h D5 F#5 | w A5"), ("singing tenor held",))
    sung = list(after.lines[1].events())
    assert {str(event.pitch) for event in sung} == {"D4"}
    assert [event.tie for event in sung] == [True, False]


def test_singing_is_refused_where_no_octave_lies_in_the_voice() -> None:
    assert refused("h C4 D6", "singing alto") == "no octave of it lies within the voice called alto"


def test_singing_comes_after_everything_else() -> None:
    score = score_of("q D5 E5 F#5 G5")
    both = apply(score, ("singing alto", "dotted"))
    assert [event.length for event in both.lines[1].events()] == [F(3, 8), F(1, 8)] * 2


@pytest.mark.parametrize(("wish", "words"), [("without vibrato", "senza"), ("with vibrato", "con")])
def test_vibrato_directions(wish: str, words: str) -> None:
    found = varied('vibrato( h D5 above "still" ) E5', wish)
    assert [event.above for event in found] == [f"{words} vibrato; still", ""]
    assert not any(event.vibrato for event in found)


def test_vibrato_on_each_note_says_that_it_replaces_what_is_written() -> None:
    music = "late-vibrato( h D5 ) E5"
    assert any(event.vibrato for event in score_of(music).line.events())
    assert not any(event.vibrato for event in varied(music, "with vibrato"))
    assert "in place of any that is written" in find("with vibrato")[0].means


@pytest.mark.parametrize(
    ("wish", "signs"),
    [
        ("vibrato from the start", {F(0): "~", F(1): "!"}),
        ("vibrato late", {F(0): "-", F(1, 2): "~<", F(1): "!"}),
        ("vibrato fading", {F(0): "~>", F(1, 2): "-", F(1): "!"}),
        # A half has two beats and a whole has four.
        ("vibrato measured 4", {F(0): "~8", F(1): "!"}),
    ],
)
def test_vibrato_on_long_notes(wish: str, signs: dict[F, str]) -> None:
    found = varied("h D5 q E5 F#5 | w G5", wish)
    assert {shade.at: shade.mark for shade in found[0].vibrato} == signs
    whole = {at: {"~8": "~16"}.get(mark, mark) for at, mark in signs.items()}
    assert {shade.at: shade.mark for shade in found[3].vibrato} == whole
    assert found[1].vibrato == found[2].vibrato == ()
    assert refused("q D5 E5 F#5 G5", wish) == "it has no note of a half or longer"


# -- finding and naming ---------------------------------------------------------------------------------


def test_every_variation_says_what_it_means_and_takes_its_own_example() -> None:
    for name, variation in variations().items():
        assert variation.name == name and variation.means.endswith((".", "!"))
        assert find(f"{name} {variation.takes}".strip()) == (variation, variation.takes)


def test_the_longest_name_is_meant() -> None:
    assert find("slurred in 2")[0].name == "slurred in"
    assert find("slurred")[0].name == "slurred"
    assert find("swell up") == (variations()["swell up"], "")


@pytest.mark.parametrize("wish", ["", "slured", "swellup", "up", "Slurred"])
def test_what_is_no_variation(wish: str) -> None:
    with pytest.raises(KeyError):
        find(wish)


@pytest.mark.parametrize(
    "wish", ["slurred in", "slurred loudly", "swell from p", "level loud", "tonguing fast"]
)
def test_words_that_say_nothing(wish: str) -> None:
    with pytest.raises(ValueError, match="is written `"):
        find(wish)


def test_names_given_by_a_book_or_an_exercise() -> None:
    named = {"evening": ("slurred", "swell up")}
    assert meaning(["evening", "detached"], named) == ("slurred", "swell up", "detached")
