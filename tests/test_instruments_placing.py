"""Where an exercise stands for each instrument, and a book in concert pitch, checked by music21."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from conftest import examples, sweep
from hypothesis import given
from hypothesis import strategies as st
from independent import KNOWN
from music21 import instrument as m21
from music21 import note as m21_note
from music21 import stream as m21_stream

from stavewright.book.pieces import instrument_book_of
from stavewright.book.read import open_book
from stavewright.language.read import read
from stavewright.music.exercise import Exercise
from stavewright.music.pitch import LETTERS, Pitch
from stavewright.music.score import pitch_range
from stavewright.music.settings.transpositions import first_setting, in_keys, settings_of
from stavewright.music.winds.instrument import LEVELS
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS

DEMO = [each for each in open_book(Path(__file__).parent.parent).exercises if each.slug in KNOWN]
EVERY = pytest.mark.parametrize("slug", INSTRUMENTS)


def exercise(
    music: str = "h G4 A4 | w G4",
    home: str = "G4 in G major",
    travel: str = "twelve keys, semitones up",
    more: str = "",
) -> Exercise:
    text = f"title: Test\nhome: {home}\nmeter: 4/4\ntravel: {travel}\n{more}music:\n  {music}\n"
    reading = read("test.warmup", text.encode())
    assert reading.exercise is not None, [str(fault) for fault in reading.faults]
    return reading.exercise


@EVERY
@sweep("level", LEVELS, every_day=1)
def test_every_setting_of_the_demo_book_fits_or_says_why_not(slug: str, level: str) -> None:
    player = INSTRUMENTS[slug].at_level(level)
    for chosen in (player, replace(player, concert=True)):
        for each in DEMO:
            found = settings_of(each, chosen)
            assert len(in_keys(found)) == 12
            for setting in found:
                low, high = pitch_range(setting.bars)
                assert setting.fits == chosen.compass.holds(low, high)
                said = [remark for remark in setting.remarks if remark.startswith("Cannot be played here")]
                assert len(said) == (not setting.fits)
                beyond = [remark for remark in setting.remarks if "beyond the preferred range" in remark]
                assert len(beyond) == (setting.fits and not chosen.compass.prefers(low, high))


@EVERY
def test_most_of_the_demo_book_lies_well_for_every_instrument(slug: str) -> None:
    found = [setting for each in DEMO for setting in settings_of(each, INSTRUMENTS[slug])]
    well = [s for s in found if s.fits and s.instrument.compass.prefers(*pitch_range(s.bars))]
    assert len(well) >= 0.6 * len(found)


@pytest.mark.parametrize("slug", ["bassoon", "trombone", "euphonium", "tuba"])
def test_the_text_in_the_treble_clef_is_carried_down_as_a_whole(slug: str) -> None:
    for each in DEMO:
        found = settings_of(each, INSTRUMENTS[slug])
        assert all(setting.shift < 0 for setting in found if setting.exercise.slug != "new-britain")
        assert {setting.score().line.clef for setting in found} <= {"bass", "tenor"}
    tide = next(each for each in DEMO if each.slug == "slow-tide")
    assert len({setting.shift for setting in settings_of(tide, INSTRUMENTS[slug])}) == 1


def test_what_an_instrument_s_own_teacher_wrote_stays_where_it_is() -> None:
    for_bassoon = exercise("h G2 A2 | w G2", "G2 in G major")
    shifts = {setting.shift for setting in settings_of(for_bassoon, INSTRUMENTS["bassoon"])}
    assert shifts == {0}


def test_a_travel_from_pitch_to_pitch_stays_where_the_compass_holds_it() -> None:
    high = exercise("h C7 B6 | w C7", "C7 in C major", "semitones down from D7 to A6")
    found = settings_of(high, FLUTE)
    assert [str(setting.start) for setting in found] == ["D7", "Db7", "C7", "B6", "Bb6", "A6"]
    assert {setting.shift for setting in found} == {0}


def test_levels_move_music_to_where_the_player_is() -> None:
    wide = exercise("h D5 E5 | w D5", "D5 in D major")
    beginning = settings_of(wide, INSTRUMENTS["horn"].at_level("beginning"))
    advanced = settings_of(wide, INSTRUMENTS["horn"].at_level("advanced"))
    assert all(pitch_range(setting.bars)[1].midi <= Pitch.parse("D5").midi for setting in beginning)
    assert max(pitch_range(setting.bars)[1].midi for setting in advanced) > Pitch.parse("G5").midi


def as_music21_hears(slug: str, pitch: Pitch) -> int:
    """The sound of a written pitch by music21's own transposing instruments."""
    part = m21_stream.Part()
    sign = {-2: "--", -1: "-", 0: "", 1: "#", 2: "##"}[pitch.alter]
    part.append(M21[slug]())
    part.append(m21_note.Note(f"{LETTERS[pitch.letter]}{sign}{pitch.octave}"))
    part.atSoundingPitch = False
    return int(part.toSoundingPitch().recurse().notes.first().pitch.midi)


M21 = {
    "piccolo": m21.Piccolo,
    "english-horn": m21.EnglishHorn,
    "clarinet-b-flat": m21.Clarinet,
    "clarinet-a": lambda: m21.fromString("Clarinet in A"),
    "bass-clarinet": m21.BassClarinet,
    "alto-saxophone": m21.AltoSaxophone,
    "tenor-saxophone": m21.TenorSaxophone,
    "baritone-saxophone": m21.BaritoneSaxophone,
    "horn": m21.Horn,
    "trumpet": m21.Trumpet,
}


@pytest.mark.parametrize("slug", M21)
def test_in_concert_pitch_all_sound_together(slug: str) -> None:
    melody = exercise("h G4 A4 | q Bb4 F#4 h G4", "G4 in G minor", more="drone: G3\n")
    player = replace(INSTRUMENTS[slug], concert=True)
    flute = settings_of(melody, replace(FLUTE, concert=True))
    found = settings_of(melody, player)
    assert [setting.called.page for setting in found] == [setting.key.page for setting in flute]
    for setting, other in zip(found, flute, strict=True):
        octaves = 12 * (setting.shift - other.shift)
        heard = [as_music21_hears(slug, e.pitch) for bar in setting.bars for e in bar.events if e.pitch]
        assert heard == [e.pitch.midi + octaves for bar in other.bars for e in bar.events if e.pitch]
        assert setting.sounding_drone is not None and other.drone is not None and setting.drone is not None
        assert setting.sounding_drone.midi == other.drone.midi + octaves
        assert as_music21_hears(slug, setting.drone) == setting.sounding_drone.midi


@EVERY
def test_in_concert_pitch_the_page_has_the_key_that_sounds_and_names_the_written_one(slug: str) -> None:
    player = replace(INSTRUMENTS[slug], concert=True)
    for setting in settings_of(exercise(), player):
        assert setting.concert is not None
        assert (setting.key.pitch_class + player.sounds - setting.concert.pitch_class) % 12 == 0
        assert setting.key.mode == setting.concert.mode == "major"
        said = [remark for remark in setting.remarks if remark.startswith("Written in")]
        if setting.key == setting.concert:
            assert said == []
        else:
            written, sounding = setting.key.name, setting.concert.name
            assert said == [f"Written in {written} for the {player.said}, so that it sounds in {sounding}."]


def test_each_page_of_a_concert_book_is_called_by_the_sounding_key() -> None:
    clarinet = replace(INSTRUMENTS["clarinet-b-flat"], concert=True)
    (_, pages), *_ = instrument_book_of((exercise(home="C5 in C major", music="w C5"),), clarinet).exercises
    first = pages[0]
    assert (first.key, first.name) == ("c", "C major")
    (placed,) = first.placed
    assert placed.setting.key.name == "D major"
    assert str(placed.setting.start) == "D5"


def test_without_concert_pitch_every_instrument_reads_the_same() -> None:
    melody = exercise(home="D5 in D major", music="h D5 E5 | w D5")
    for slug in ("clarinet-b-flat", "oboe", "alto-saxophone", "trumpet"):
        for setting, other in zip(
            settings_of(melody, INSTRUMENTS[slug]), settings_of(melody, FLUTE), strict=True
        ):
            assert setting.key == other.key
            assert setting.concert is None
            assert (setting.start.midi - other.start.midi) % 12 == 0


def test_a_whole_range_is_the_instrument_s_in_concert_pitch_too() -> None:
    scale = exercise("w D5", "D5 in D major", "semitones up through the range")
    player = replace(INSTRUMENTS["alto-saxophone"], concert=True)
    starts = [setting.start.midi for setting in settings_of(scale, player)]
    assert starts == list(range(player.compass.easy_low.midi, player.compass.easy_high.midi + 1))


def test_an_author_s_clefs_hold_only_in_the_octave_they_were_written_in() -> None:
    low = exercise("h C4 clef( bass ) C3 | w G3", "C4 in C major")
    bassoon = settings_of(low, INSTRUMENTS["bassoon"])
    assert [e.clef for e in bassoon[0].bars[0].events] == ["", "bass"]
    assert bassoon[0].score().line.clef == "bass"
    flute = [setting for setting in settings_of(low, FLUTE) if setting.fits]
    assert flute and all(not e.clef for setting in flute for bar in setting.bars for e in bar.events)


@given(
    st.sampled_from(list(INSTRUMENTS)),
    st.sampled_from(LEVELS),
    st.booleans(),
    st.integers(-24, 24),
    st.lists(st.integers(0, 19), min_size=1, max_size=4),
)
@examples(60)
def test_every_setting_is_in_range_or_declared(
    slug: str, level: str, concert: bool, moved: int, steps: list[int]
) -> None:
    from stavewright.music.settings.transpositions import choose_key, interval_to

    base = exercise()
    start = base.home.up(interval_to(base.key, choose_key(base, (base.key.pitch_class + moved) % 12), moved))
    pitches = [start, *(Pitch((start.step + step) % 7, 0, (start.step + step) // 7) for step in steps)]
    bar = base.forms[0].bars[0]
    bars = tuple(replace(bar, events=(replace(bar.events[0], pitch=pitch),)) for pitch in pitches)
    changed = replace(base, forms=(replace(base.forms[0], bars=bars),))
    player = replace(INSTRUMENTS[slug].at_level(level), concert=concert)
    found = settings_of(changed, player)
    assert len(found) == 12
    for setting in found:
        fits = player.compass.holds(*pitch_range(setting.bars))
        assert setting.fits == fits
        assert fits != any(remark.startswith("Cannot be played here") for remark in setting.remarks)
        sounds = player.sounds if concert else 0
        first, written = setting.bars[0].events[0].pitch, pitches[0]
        assert first is not None
        assert (first.midi + sounds - 12 * setting.shift - written.midi) % 12 == (
            setting.called.pitch_class - base.key.pitch_class
        ) % 12


def test_a_chain_stays_where_its_author_wrote_it_and_the_impossible_step_is_left_out() -> None:
    low = exercise("w B4 , | w A#4 ,", "B4 in B major", "semitones down from B4 to C4")
    for slug in ("flute", "trumpet", "oboe"):
        found = settings_of(low, INSTRUMENTS[slug])
        assert {setting.shift for setting in found} == {0}
        assert [setting.start.midi for setting in found] == list(range(71, 59, -1))
        last = INSTRUMENTS[slug].compass.low.midi
        assert [setting.fits for setting in found] == [setting.start.midi > last for setting in found]
        assert all(s.fits or s.remarks[-1].startswith("Cannot be played here") for s in found)
    # No step can be played as it stands, or the player reads another clef: then the whole line moves.
    out_of_reach = exercise("w C3 , | w B2 ,", "C3 in C major", "semitones down from C3 to A2")
    found = settings_of(out_of_reach, FLUTE)
    assert len({setting.shift for setting in found} - {0}) == 1 and all(setting.fits for setting in found)
    assert {setting.shift for setting in settings_of(low, INSTRUMENTS["bassoon"])} == {-1}


def test_what_is_moved_is_said_in_one_line() -> None:
    from stavewright.music.settings.moves import moves_words

    def said(each: Exercise, slug: str) -> str:
        return moves_words(settings_of(each, INSTRUMENTS[slug]))

    chain = exercise("w B4 , | w A#4 ,", "B4 in B major", "semitones down from B4 to A4")
    assert said(chain, "flute") == ""
    assert said(chain, "bassoon") == (
        "for the bassoon, every key stands an octave lower than the exercise asks, to stay in its range"
    )
    high = exercise("h C6 F6 | w C6", "C6 in C major")
    moved = "F, F sharp, G, A flat, A, B flat and B"
    assert ", ".join(s.key.tonic for s in settings_of(high, FLUTE) if s.shift) == moved.replace(" and", ",")
    assert said(high, "flute") == (
        f"for the flute, {moved} stand an octave lower than the exercise asks, to stay in its range"
    )


def test_the_label_names_the_register_of_most_of_the_time() -> None:
    """As daily sets do: a line from C5 that lies above it is in the middle register, not in the low one."""
    from stavewright.daily.choices import measured_pages
    from stavewright.daily.measure import register_of_setting

    rising = exercise("q C5 h. C6 | w A5", "C5 in C major")
    (_, pages), *_ = instrument_book_of((rising,), FLUTE).exercises
    for page, choice in zip(pages, measured_pages(pages), strict=True):
        (placed,) = page.placed
        assert register_of_setting(placed.setting) == choice.choice.register
    first = settings_of(rising, FLUTE)[0]
    assert (FLUTE.register(first.start), register_of_setting(first)) == ("low", "middle")


@pytest.mark.parametrize("slug", ["flute", "clarinet-b-flat"])
def test_the_first_setting_is_the_first_of_all(slug: str) -> None:
    written = exercise(travel="semitones down from D6 to D4, then up")
    assert first_setting(written, INSTRUMENTS[slug]) == settings_of(written, INSTRUMENTS[slug])[0]
