"""Travel: which keys, in what order, spelled how, in which octave, and what the page says about it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F
from itertools import pairwise

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch

from stavewright.language.read import read
from stavewright.music.event import Event, Tempo, Value
from stavewright.music.exercise import FALLING, RISING, Exercise, Form, KeySequence
from stavewright.music.keys import MODES, Key, spellings
from stavewright.music.pitch import Interval, Pitch
from stavewright.music.score import Bar, Meter
from stavewright.music.settings.transpositions import Setting, in_keys, interval_to, plain, settings_of
from stavewright.music.winds.instrument import Instrument
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS

QUARTER = Value(F(1, 4))


PLAYER = replace(FLUTE, compass=replace(FLUTE.compass, easy_high=Pitch.parse("A6")))


def exercise(music: str = "w D5", home: str = "D5 in D major", **fields: str) -> Exercise:
    """An exercise from its text."""
    rows = {"title": "T", "home": home, **fields}
    if music:
        rows["music"] = music
    source = "".join(f"{name.replace('_', ' ')}: {value}\n" for name, value in rows.items())
    reading = read("t.warmup", source.encode())
    assert reading.exercise is not None, reading.faults
    return reading.exercise


def notes(setting: Setting) -> list[str]:
    """A setting's pitches in order, by name."""
    return [str(event.pitch) for bar in setting.bars for event in bar.events if event.pitch]


def by_key(found: tuple[Setting, ...]) -> dict[str, Setting]:
    """Settings by the name of their key."""
    return {setting.key.tonic: setting for setting in found}


def starts(found: tuple[Setting, ...]) -> list[str]:
    """Where each setting starts."""
    return [str(setting.start) for setting in found]


# -- the order of travel --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("travel", "tonics"),
    [
        ("twelve keys, semitones down", "D,D flat,C,B,B flat,A,A flat,G,F sharp,F,E,E flat"),
        ("twelve keys, semitones up", "D,E flat,E,F,F sharp,G,A flat,A,B flat,B,C,D flat"),
        # The circle of fifths as any theory primer draws it, from D onward and back.
        ("twelve keys, fifths up", "D,A,E,B,F sharp,D flat,A flat,E flat,B flat,F,C,G"),
        ("twelve keys, fifths down", "D,G,C,F,B flat,E flat,A flat,D flat,F sharp,B,E,A"),
        ("twelve keys, fourths up", "D,G,C,F,B flat,E flat,A flat,D flat,F sharp,B,E,A"),
    ],
)
def test_twelve_keys_each_once_in_order(travel: str, tonics: str) -> None:
    found = settings_of(exercise(travel=travel), PLAYER)
    assert [setting.key.tonic for setting in found] == tonics.split(",")
    assert {setting.direction for setting in found} == {""}


@pytest.mark.parametrize(
    ("travel", "way"),
    [
        ("twelve keys, semitones down", -1),
        ("twelve keys, fifths down", -1),
        ("twelve keys, fourths up", 1),
        ("twelve keys, fifths up", 1),
    ],
)
def test_a_circle_keeps_within_an_octave_of_home_on_its_side(travel: str, way: int) -> None:
    for setting in settings_of(exercise(travel=travel), PLAYER):
        distance = setting.start.octaves(-setting.shift).midi - Pitch.parse("D5").midi
        assert 0 <= way * distance < 12


def test_from_pitch_to_pitch() -> None:
    down = settings_of(exercise(travel="semitones down from D6 to D4"), PLAYER)
    assert [setting.start.midi for setting in down] == list(range(86, 61, -1))
    up = settings_of(exercise(travel="semitones up from D4 to D6"), PLAYER)
    assert starts(up) == list(reversed(starts(down)))


def test_a_circle_from_pitch_to_pitch_begins_where_it_says() -> None:
    assert starts(settings_of(exercise(travel="fifths down from D6 to D4"), PLAYER)) == [
        "D6",
        "G5",
        "C5",
        "F4",
    ]
    assert starts(settings_of(exercise(travel="fifths up from D4 to D6"), PLAYER)) == ["D4", "A4", "E5", "B5"]


def test_a_form_for_each_way_goes_both_ways() -> None:
    both = exercise(
        "",
        travel="semitones down from D6 to D4, then up",
        music_falling="h D5 C#5",
        music_rising="h D5 E5",
    )
    found = settings_of(both, PLAYER)
    assert [setting.direction for setting in found] == [FALLING] * 25 + [RISING] * 25
    assert [setting.start.midi for setting in found] == [*range(86, 61, -1), *range(62, 87)]
    assert notes(found[0]) == ["D6", "C#6"] and notes(found[-1]) == ["D6", "E6"]


def test_a_second_form_is_not_lost_where_travel_names_one_way_only() -> None:
    both = exercise("", travel="twelve keys, semitones up", music_falling="w D5", music_rising="w E5")
    assert [setting.direction for setting in settings_of(both, PLAYER)] == [RISING] * 12 + [FALLING] * 12


def test_one_form_serves_both_ways_once() -> None:
    found = settings_of(exercise(travel="semitones down from D5 to D4, then up"), PLAYER)
    assert len(found) == 13 and {setting.direction for setting in found} == {""}


def test_a_form_for_one_way_only_goes_that_way() -> None:
    only = exercise("", travel="twelve keys, semitones down", music_falling="w D5")
    assert [setting.direction for setting in settings_of(only, PLAYER)] == [FALLING] * 12


def test_through_the_whole_range() -> None:
    found = settings_of(exercise("h D5 A5", travel="semitones up through the range"), PLAYER)
    low, high = PLAYER.compass.easy_low.midi, PLAYER.compass.easy_high.midi
    assert [setting.start.midi for setting in found] == list(range(low, high - 7 + 1))
    assert all(setting.fits and not setting.remarks for setting in found)


def test_music_wider_than_the_preferred_range_uses_all_the_range() -> None:
    wide = exercise("h C4 B6", home="C4 in C major", travel="semitones up through the range")
    found = settings_of(wide, PLAYER)
    assert [setting.start.midi for setting in found] == [60, 61, 62, 63]
    assert all(setting.fits for setting in found)
    assert all("beyond the preferred range" in setting.remarks[-1] for setting in found)


def test_music_wider_than_the_instrument_is_said_to_be_so() -> None:
    wide = exercise("h C3 C7", home="C3 in C major", travel="semitones up through the range")
    (only,) = settings_of(wide, PLAYER)
    assert not only.fits
    assert only.remarks[-1].startswith("Cannot be played here: it would go from ")


# -- keys and spelling ----------------------------------------------------------------------------------


def test_the_signature_with_the_fewest_accidentals() -> None:
    for mode in MODES:
        for setting in settings_of(exercise(home=f"D5 in D {mode}"), PLAYER):
            alternatives = spellings(setting.key.pitch_class, mode)
            assert abs(setting.key.fifths) == min(abs(key.fifths) for key in alternatives)


def test_six_sharps_and_six_flats_tie_and_the_sharps_win() -> None:
    assert "F sharp" in by_key(settings_of(exercise(), PLAYER))


@pytest.mark.parametrize(("wish", "tonic"), [("flats", "G flat"), ("sharps", "F sharp")])
def test_an_exercise_may_turn_the_tie(wish: str, tonic: str) -> None:
    found = by_key(settings_of(exercise(spelling=wish), PLAYER))
    assert tonic in found
    assert len(found) == 12


def test_a_wish_turns_nothing_but_ties() -> None:
    ours = {setting.key.tonic for setting in settings_of(exercise(spelling="sharps"), PLAYER)}
    assert {"D flat", "E flat", "A flat", "B flat"} <= ours


def test_a_tie_goes_to_the_key_with_fewer_double_accidentals() -> None:
    # A raised second is G double sharp in F sharp major, and A in G flat major.
    raised = by_key(settings_of(exercise("h D5 E#5"), PLAYER))
    assert "G flat" in raised and notes(raised["G flat"]) == ["Gb4", "A4"]
    lowered = by_key(settings_of(exercise("h D5 Eb5"), PLAYER))
    assert "F sharp" in lowered and notes(lowered["F sharp"]) == ["F#4", "G4"]


def test_an_augmented_second_stays_one_where_doubles_are_kept() -> None:
    kept = exercise("h F4 G#4", home="A4 in A minor", doubles="keep")
    for setting in settings_of(kept, PLAYER):
        low, high = (m21_pitch.Pitch(name.replace("b", "-")) for name in notes(setting))
        assert m21_interval.Interval(low, high).name == "A2"
    # G sharp minor's raised seventh is F double sharp, as any theory primer of the minor scales has it.
    assert notes(by_key(settings_of(kept, PLAYER))["G sharp"])[-1] in ("F##4", "F##5")


def test_no_double_accidental_but_a_leading_note_s_where_the_home_key_has_none() -> None:
    # A lowered sixth reached and left by leap, and the raised seventh of minor.
    lowered = exercise("q Bb4 F#4 Bb4 D5", spelling="flats")
    found = by_key(settings_of(lowered, PLAYER))
    assert [name.rstrip("0123456789") for name in notes(found["G flat"])] == ["D", "Bb", "D", "Gb"]
    assert not any("##" in name or "bb" in name for each in found.values() for name in notes(each))
    minor = exercise("h F4 G#4", home="A4 in A minor")
    found = by_key(settings_of(minor, PLAYER))
    assert [name.rstrip("0123456789") for name in notes(found["G sharp"])] == ["E", "F##"]
    for tonic, setting in found.items():
        assert any("##" in name for name in notes(setting)) == (tonic == "G sharp")
        first, second = (Pitch.parse(name).midi for name in notes(setting))
        assert second - first == 3


def test_double_accidentals_of_the_home_key_stay() -> None:
    found = by_key(settings_of(exercise("h G#5 F##5", home="G#4 in G# minor", spelling="sharps"), PLAYER))
    assert [name[:-1] for name in notes(found["A"])] == ["A", "G#"]
    assert [name[:-1] for name in notes(found["D sharp"])] == ["D#", "C##"]


@pytest.mark.parametrize("music", ["h C##5 D#5", "h F##5 Bbb4", "h G##4 A#4"])
def test_a_triple_accidental_is_never_printed(music: str) -> None:
    for setting in settings_of(exercise(music, home="C5 in C major"), PLAYER):
        assert all(abs(Pitch.parse(name).alter) <= 2 for name in notes(setting))
        first, second = (Pitch.parse(name).midi for name in notes(setting))
        original = [Pitch.parse(name).midi for name in music.split()[1:]]
        assert second - first == original[1] - original[0]


@pytest.mark.parametrize(
    ("music", "way"),
    [("q C5 C#5 D5 D#5 | E5 F5 F#5 G5", 1), ("q G5 Gb5 F5 E5 | Eb5 D5 Db5 C5", -1)],
)
def test_a_chromatic_run_does_not_come_to_mix_sharps_and_flats(music: str, way: int) -> None:
    for setting in settings_of(exercise(music, home="C5 in C major"), PLAYER):
        line = [Pitch.parse(name) for name in notes(setting)]
        assert [there.midi - here.midi for here, there in pairwise(line)] == [way] * 7
        changes = [pitch.alter - setting.key.alteration(pitch.letter) for pitch in line]
        if min(pitch.alter for pitch in line) < 0 < max(pitch.alter for pitch in line):
            # Of the two signs one is the key's own; what the key has not goes with the direction.
            assert all(change * way >= 0 for change in changes)


def test_grace_notes_travel_with_their_note() -> None:
    for setting in settings_of(exercise("grace( C#5 ) w D5"), PLAYER):
        (event,) = setting.bars[0].events
        assert event.pitch is not None
        assert event.pitch.midi - event.graces[0].midi == 1


def test_a_drone_travels_with_the_key() -> None:
    for setting in settings_of(exercise(drone="D4"), PLAYER):
        assert setting.drone is not None
        assert setting.start.midi - setting.drone.midi == 12
        small = setting.score().lines[1]
        assert small.small and {event.pitch for event in small.events()} == {setting.drone}


def test_interval_between_keys() -> None:
    assert interval_to(Key(1, 0), Key(2, -1), 1) == Interval.parse("m2")
    assert interval_to(Key(1, 0), Key(1, -1), -1) == Interval.parse("-A1")
    assert interval_to(Key(0, 0), Key(0, 0), 24) == Interval(14, 24)
    with pytest.raises(ValueError, match="C major to D major is not 3 semitones"):
        interval_to(Key(0, 0), Key(1, 0), 3)


@pytest.mark.parametrize(
    ("pitch", "name"), [("F##5", "G5"), ("Bbb4", "A4"), ("E##4", "F#4"), ("Cbb5", "Bb4"), ("F#5", "F#5")]
)
def test_plain_names(pitch: str, name: str) -> None:
    assert str(plain(Pitch.parse(pitch))) == name


# -- octaves, and what the page says --------------------------------------------------------------------


def test_it_stays_where_the_author_wrote_it_if_it_can() -> None:
    found = settings_of(exercise("h D5 A5", travel="twelve keys, semitones up"), PLAYER)
    assert {setting.shift for setting in found} == {0}
    assert all(setting.fits and not setting.remarks for setting in found)


def test_a_key_too_low_is_written_an_octave_higher_and_says_so() -> None:
    found = settings_of(exercise("h D4 A4", home="D4 in D major"), PLAYER)
    assert [setting.shift for setting in found] == [0, 0, 0, *[1] * 9]
    assert found[3].remarks == (
        "Written an octave higher than the exercise asks, to stay between C4 and A6.",
    )
    assert notes(found[3]) == ["B4", "F#5"]


def test_a_key_too_high_is_written_an_octave_lower() -> None:
    high = exercise("h D6 A6", home="D6 in D major", travel="twelve keys, semitones up")
    found = settings_of(high, PLAYER)
    assert [setting.shift for setting in found] == [0, *[-1] * 11]
    assert "an octave lower" in found[1].remarks[0]


def test_beyond_the_preferred_range_only_where_no_octave_is_within() -> None:
    wide = exercise("h C4 B6", home="C4 in C major", travel="twelve keys, semitones up")
    found = settings_of(wide, PLAYER)
    assert [setting.fits for setting in found] == [True] * 4 + [False] * 8
    assert found[0].remarks == ("Goes to B6, beyond the preferred range.",)
    assert found[4].remarks == (
        "Cannot be played here: it would go from E3 to D sharp 6, and the flute is written from C4 to D7.",
    )


def test_a_move_into_the_compass_alone_names_the_compass() -> None:
    wide = exercise("h C4 B6", home="C4 in C major", travel="twelve keys, semitones down")
    found = settings_of(wide, PLAYER)
    moved = [setting for setting in found if setting.shift and setting.fits]
    assert moved
    for setting in moved:
        assert setting.remarks[0].endswith("than the exercise asks, to stay between C4 and D7.")


def test_a_line_of_travel_out_of_range_moves_as_a_whole() -> None:
    found = settings_of(exercise(travel="semitones down from B3 to A3"), PLAYER)
    assert starts(found) == ["B5", "Bb5", "A5"]
    assert {setting.remarks for setting in found} == {
        ("Written 2 octaves higher than the exercise asks, to stay between C4 and A6.",)
    }


def test_a_line_of_travel_wider_than_the_instrument_declares_what_lies_outside() -> None:
    found = settings_of(exercise(travel="semitones down from E7 to A3"), PLAYER)
    assert len(found) == 44
    for setting in found:
        assert setting.fits == (60 <= setting.start.midi <= 98)
        assert setting.fits or "Cannot be played here: it would go from" in setting.remarks[-1]
    assert {setting.fits for setting in found} == {True, False}


def test_names_are_addresses_and_tell_settings_apart() -> None:
    both = exercise(
        "",
        home="F#4 in D major",
        travel="semitones down from F#6 to F#4, then up",
        music_falling="w F#4",
        music_rising="w F#4",
    )
    names = [setting.name for setting in settings_of(both, PLAYER)]
    assert len(set(names)) == len(names) == 50
    assert all(set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-") for name in names)
    assert "d-6-from-f-sharp-6-falling" in names


def test_the_pages_of_the_keys_hold_every_setting_once() -> None:
    found = settings_of(exercise(travel="semitones down from D6 to D4"), PLAYER)
    pages = in_keys(found)
    assert list(pages)[:3] == ["d", "d-flat", "c"]
    assert sorted(setting.name for page in pages.values() for setting in page) == sorted(
        setting.name for setting in found
    )


# -- laws -----------------------------------------------------------------------------------------------

homes = st.builds(
    lambda pitch_class, mode: spellings(pitch_class, mode)[0],
    st.integers(0, 11),
    st.sampled_from(list(MODES)),
)
written = st.builds(Pitch, st.integers(0, 6), st.integers(-1, 1), st.integers(3, 6))
melodies = st.lists(st.one_of(written, st.none()), min_size=1, max_size=8).filter(any)
travels = st.one_of(
    st.builds(KeySequence, st.sampled_from([1, 5, 7]), st.sampled_from([(FALLING,), (RISING,)])),
    st.builds(
        KeySequence,
        st.sampled_from([1, 7]),
        st.sampled_from([(FALLING,), (FALLING, RISING)]),
        written,
        written,
    ),
    st.builds(KeySequence, st.sampled_from([1, 5]), st.just((RISING,)), whole_range=st.just(True)),
)
players = st.sampled_from([PLAYER, *INSTRUMENTS.values()])


@st.composite
def exercises(draw: st.DrawFn) -> Exercise:
    """An exercise of a few quarter notes."""
    key = draw(homes)
    melody = draw(melodies)
    return Exercise(
        slug="law",
        title="Law",
        home=Pitch(key.letter, key.alter, draw(st.integers(4, 5))),
        key=key,
        meter=Meter(4, 4),
        tempo=Tempo(QUARTER, 60, 60),
        forms=(Form("", (Bar(tuple(Event(pitch, QUARTER) for pitch in melody)),)),),
        travel=draw(travels),
        drone=draw(st.one_of(st.none(), written)),
        prefer=draw(st.sampled_from(["", "flats", "sharps"])),
        keep_doubles=draw(st.booleans()),
    )


@examples(50)
@given(exercises(), players)
def test_every_setting_is_in_range_or_says_that_it_is_not(law: Exercise, player: Instrument) -> None:
    found = settings_of(law, player)
    assert found
    for setting in found:
        midis = [Pitch.parse(name).midi for name in notes(setting)]
        inside = player.compass.low.midi <= min(midis) and max(midis) <= player.compass.high.midi
        assert setting.fits == inside
        assert inside or any("Cannot be played here" in remark for remark in setting.remarks)
        easy = player.compass.easy_low.midi <= min(midis) and max(midis) <= player.compass.easy_high.midi
        assert easy or not inside or any("beyond the preferred range" in r for r in setting.remarks)


@examples(50)
@given(exercises(), players)
def test_every_key_is_reached_and_every_interval_sounds_as_written(law: Exercise, player: Instrument) -> None:
    found = settings_of(law, player)
    if not law.travel.by_pitch:
        assert len(found) == 12
        assert {setting.key.pitch_class for setting in found} == set(range(12))
    assert len({setting.name for setting in found}) == len(found)
    original = [event.pitch.midi for event in law.forms[0].bars[0].events if event.pitch]
    for setting in found:
        midis = [Pitch.parse(name).midi for name in notes(setting)]
        assert [midi - midis[0] for midi in midis] == [midi - original[0] for midi in original]
        assert setting.start.midi - midis[0] == law.home.midi - original[0]
        assert (setting.key.pitch_class - law.key.pitch_class) % 12 == (midis[0] - original[0]) % 12
        assert all(abs(Pitch.parse(name).alter) <= 2 for name in notes(setting))
        # Rests, values and bars are as they were.
        assert [event.value for event in setting.bars[0].events] == [
            event.value for event in law.forms[0].bars[0].events
        ]
        if law.drone and setting.drone:
            assert setting.drone.midi - midis[0] == law.drone.midi - original[0]
