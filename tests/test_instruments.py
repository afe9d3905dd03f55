"""Instruments: transpositions, ranges, registers, clefs and levels, against sources outside the project."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import instrument as m21
from music21 import interval as m21_interval

from stavewright.music.pitch import Pitch
from stavewright.music.winds.instrument import CLEFS, LEVEL, LEVELS, Instrument, ends, ledger_lines, register
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS

NAMED = [
    "piccolo",
    "flute",
    "alto-flute",
    "oboe",
    "english-horn",
    "clarinet-b-flat",
    "clarinet-a",
    "bass-clarinet",
    "bassoon",
    "soprano-saxophone",
    "alto-saxophone",
    "tenor-saxophone",
    "baritone-saxophone",
    "horn",
    "trumpet",
    "trombone",
    "euphonium",
    "tuba",
]

MUSIC21: dict[str, m21.Instrument] = {
    "piccolo": m21.Piccolo(),
    "flute": m21.Flute(),
    "oboe": m21.Oboe(),
    "english-horn": m21.EnglishHorn(),
    "clarinet-b-flat": m21.Clarinet(),
    "clarinet-a": m21.fromString("Clarinet in A"),
    "bass-clarinet": m21.BassClarinet(),
    "bassoon": m21.Bassoon(),
    "soprano-saxophone": m21.SopranoSaxophone(),
    "alto-saxophone": m21.AltoSaxophone(),
    "tenor-saxophone": m21.TenorSaxophone(),
    "baritone-saxophone": m21.BaritoneSaxophone(),
    "horn": m21.Horn(),
    "trumpet": m21.Trumpet(),
    "trombone": m21.Trombone(),
    "tuba": m21.Tuba(),
}
"""music21's own instruments, as an independent reference. It has no euphonium, and its alto flute says
nothing of transposition."""

# Compasses printed in texts in the public domain, written pitches; Wikisource's transcriptions were read.
# GROVE: A Dictionary of Music and Musicians (1879-1889); JOHNSTONE: Instruments of the Modern Symphony
# Orchestra (1917).
PRINTED = [
    ("flute", "C4", "C7", "Grove, vol. 1, p. 537: from C to C three octaves higher"),
    ("piccolo", "D4", "Bb6", "Johnstone, p. 20"),
    (
        "oboe",
        "Bb3",
        "F6",
        "Grove, vol. 2, p. 487: the practical limit; Johnstone, p. 24, by the English horn",
    ),
    ("oboe", "Bb3", "A6", "Grove, vol. 2, p. 487: extreme"),
    ("bassoon", "Bb1", "Ab4", "Grove, vol. 1, p. 152"),
    ("bassoon", "Bb1", "F5", "Grove, vol. 1, p. 152: modern instruments"),
    ("soprano-saxophone", "B3", "F6", "Grove, vol. 3, p. 233"),
    ("alto-saxophone", "B3", "F6", "Grove, vol. 3, p. 233"),
    ("tenor-saxophone", "B3", "F6", "Grove, vol. 3, p. 233"),
    ("baritone-saxophone", "B3", "F6", "Grove, vol. 3, p. 233"),
    ("trumpet", "F#3", "E6", "Johnstone, p. 40"),
    ("trombone", "E2", "Bb4", "Johnstone, p. 44"),
    ("tuba", "F1", "F4", "Johnstone, p. 46"),
]

# What sounds when C5 is on the page. In print: Grove, vol. 1, p. 362 (clarinets); Johnstone, pp. 20
# (piccolo), 24 (English horn), 38 (horn), 40 (trumpet), and 32, 44, 46 (bassoon, trombone, tuba: as written);
# Encyclopaedia Britannica of 1911, Bass clarinet (a major ninth lower). The others from memory.
C5_SOUNDS = {
    "piccolo": "C6",
    "flute": "C5",
    "alto-flute": "G4",
    "oboe": "C5",
    "english-horn": "F4",
    "clarinet-b-flat": "Bb4",
    "clarinet-a": "A4",
    "bass-clarinet": "Bb3",
    "bassoon": "C5",
    "soprano-saxophone": "Bb4",
    "alto-saxophone": "Eb4",
    "tenor-saxophone": "Bb3",
    "baritone-saxophone": "Eb3",
    "horn": "F4",
    "trumpet": "Bb4",
    "trombone": "C5",
    "euphonium": "C5",
    "tuba": "C5",
}

EVERY = pytest.mark.parametrize("player", INSTRUMENTS.values(), ids=INSTRUMENTS)


def test_every_promised_instrument_is_there() -> None:
    assert list(INSTRUMENTS) == NAMED


@pytest.mark.parametrize("slug", MUSIC21)
def test_transpositions_are_those_of_music21(slug: str) -> None:
    theirs = MUSIC21[slug].transposition or m21_interval.Interval("P1")
    ours = INSTRUMENTS[slug].transposition
    assert ours.semitones == theirs.semitones
    assert ours.steps == theirs.generic.staffDistance


@EVERY
def test_a_written_c_sounds_as_printed(player: Instrument) -> None:
    assert str(player.sounding(Pitch.parse("C5"))) == C5_SOUNDS[player.slug]


@pytest.mark.parametrize(("slug", "low", "high", "source"), PRINTED)
def test_a_printed_compass_is_within_ours(slug: str, low: str, high: str, source: str) -> None:
    compass = INSTRUMENTS[slug].compass
    assert compass.holds(Pitch.parse(low), Pitch.parse(high)), source


@pytest.mark.parametrize("slug", [s for s, low, _, source in PRINTED if "saxophone" not in s])
def test_the_lowest_note_is_the_printed_one(slug: str) -> None:
    printed = {row[1] for row in PRINTED if row[0] == slug}
    assert {str(INSTRUMENTS[slug].compass.low)} == printed


@pytest.mark.parametrize("slug", ["english-horn", "bass-clarinet", "clarinet-b-flat", "flute", "trombone"])
def test_the_lowest_note_is_music21_s(slug: str) -> None:
    assert INSTRUMENTS[slug].compass.low.midi == MUSIC21[slug].lowestNote.midi


@EVERY
def test_registers_fill_the_range_without_gap_or_overlap(player: Instrument) -> None:
    assert player.registers[0].low == player.compass.low
    assert player.registers[-1].high == player.compass.high
    for below, above in zip(player.registers, player.registers[1:], strict=False):
        assert above.low.midi == below.high.midi + 1
    for midi in range(player.compass.low.midi, player.compass.high.midi + 1):
        holding = [r.name for r in player.registers if r.low.midi <= midi <= r.high.midi]
        pitch = next(
            p for p in (Pitch(step % 7, a, step // 7) for step in range(70) for a in (0, 1)) if p.midi == midi
        )
        assert holding == [player.register(pitch)]
    outside = player.compass.high.octaves(1)
    assert player.register(outside) == ""


def test_the_clarinet_s_registers_have_the_names_of_the_trade() -> None:
    clarinet = INSTRUMENTS["clarinet-b-flat"]
    # From memory, as any clarinet tutor divides it: the break lies between written B flat 4 and B4.
    by_note = {"E3": "chalumeau", "F#4": "chalumeau", "G4": "throat", "Bb4": "throat"}
    by_note |= {"B4": "clarion", "C6": "clarion", "C#6": "altissimo"}
    assert {note: clarinet.register(Pitch.parse(note)) for note in by_note} == by_note


@EVERY
def test_levels_widen_and_stay_within_the_instrument(player: Instrument) -> None:
    compass = player.compass
    for reach in player.reaches:
        assert compass.holds(reach.low, reach.high)
        assert reach.high.midi - reach.low.midi >= 12
    for narrow, wide in zip(player.reaches, player.reaches[1:], strict=False):
        assert wide.low.midi <= narrow.low.midi < narrow.high.midi <= wide.high.midi


@EVERY
def test_a_level_sets_the_preferred_part_and_nothing_else(player: Instrument) -> None:
    assert player.level == LEVEL
    for level, reach in zip(LEVELS, player.reaches, strict=True):
        chosen = player.at_level(level)
        assert (chosen.compass.easy_low, chosen.compass.easy_high) == (reach.low, reach.high)
        assert (chosen.compass.low, chosen.compass.high) == (player.compass.low, player.compass.high)
        assert chosen.at_level(LEVEL) == player
    with pytest.raises(KeyError):
        player.at_level("expert")


@EVERY
def test_every_number_has_its_source(player: Instrument) -> None:
    sources = player.sources
    said = (sources.low, sources.high, sources.levels, sources.registers, sources.sounds)
    for source in said:
        assert "memory" in source or any(
            name in source for name in ("Grove", "Johnstone", "Britannica", "Fitz")
        )


@given(st.sampled_from(list(INSTRUMENTS.values())), st.integers(0, 6), st.integers(-1, 1), st.integers(1, 7))
def test_what_is_written_for_a_sound_sounds_so(
    player: Instrument, letter: int, alter: int, octave: int
) -> None:
    pitch = Pitch(letter, alter, octave)
    assert player.sounding(player.written(pitch)) == pitch == player.written(player.sounding(pitch))
    assert player.sounding(pitch).midi == pitch.midi + player.sounds


# Bottom and top line of each clef, as any primer has them: G on the treble clef's second line, F on the bass
# clef's fourth, middle C on the alto clef's third and the tenor clef's fourth line.
LINES = {"treble": ("E4", "F5"), "bass": ("G2", "A3"), "alto": ("F3", "G4"), "tenor": ("D3", "E4")}


@pytest.mark.parametrize("clef", CLEFS)
def test_ledger_lines(clef: str) -> None:
    bottom, top = (Pitch.parse(text).step for text in LINES[clef])
    assert [ledger_lines(bottom - down, clef) for down in range(6)] == [0, 0, 1, 1, 2, 2]
    assert [ledger_lines(top + up, clef) for up in range(6)] == [0, 0, 1, 1, 2, 2]


@pytest.mark.parametrize(
    ("slug", "notes", "clef"),
    [
        ("bassoon", "C3 D3 E3", "bass"),
        ("bassoon", "C4 D4 C4", "bass"),
        ("bassoon", "E4 F4 G4", "tenor"),
        ("bassoon", "G4", "tenor"),
        ("trombone", "F4 G4 A4", "tenor"),
        ("horn", "C4 G4 C5", "treble"),
        ("horn", "C3 D3 E3", "bass"),
        ("horn", "Bb3 C4 D4", "treble"),
        ("tuba", "F4", "bass"),
        ("flute", "C4", "treble"),
        ("euphonium", "Bb4", "bass"),
    ],
)
def test_the_clef_spares_ledger_lines_where_the_player_reads_another(
    slug: str, notes: str, clef: str
) -> None:
    assert INSTRUMENTS[slug].clef_for(map(Pitch.parse, notes.split())) == clef


def test_a_beginner_reads_the_usual_clef_and_so_does_an_empty_line() -> None:
    bassoon = INSTRUMENTS["bassoon"]
    high = [Pitch.parse("A4")]
    assert bassoon.at_level("beginning").clef_for(high) == "bass"
    assert bassoon.at_level("advanced").clef_for(high) == "tenor"
    assert bassoon.clef_for([]) == "bass"


def test_names_within_a_sentence() -> None:
    said = {player.said for player in INSTRUMENTS.values()}
    assert {"flute", "English horn", "clarinet in B flat", "horn in F", "alto saxophone"} <= said


def test_words_for_ranges_and_registers() -> None:
    assert ends("C4 to A6") == (Pitch.parse("C4"), Pitch.parse("A6"))
    found = register("throat tones G4 to Bb4")
    assert (found.name, str(found.low), str(found.high)) == ("throat tones", "G4", "Bb4")
    for wrong in ("C4", "C4-A6", "A6 to C4", "H4 to A6"):
        with pytest.raises(ValueError, match=r"not a range|downward|not a pitch"):
            ends(wrong)
    for wrong in ("C4 to A6", "low C4", "low A6 to C4"):
        with pytest.raises(ValueError, match=r"not a register|downward"):
            register(wrong)


def test_the_flute_is_as_the_book_began_with_it() -> None:
    compass = FLUTE.compass
    assert [str(p) for p in (compass.low, compass.high, compass.easy_low, compass.easy_high)] == [
        "C4",
        "D7",
        "C4",
        "A6",
    ]
    assert replace(FLUTE, concert=True).sounding(Pitch.parse("C5")) == Pitch.parse("C5")


@EVERY
def test_the_documentation_has_the_same_numbers(player: Instrument) -> None:
    text = (Path(__file__).parent.parent / "docs" / "instruments.md").read_text(encoding="utf-8")
    interval, compass = player.transposition, player.compass
    way = "lower" if interval.steps < 0 else "higher"
    cells = [
        player.name,
        f"`{player.slug}`",
        f"{interval.name} {way}" if interval.steps else "as written",
        ", ".join(player.clefs),
        f"{compass.low} to {compass.high}",
        *map(str, player.reaches),
    ]
    assert f"| {' | '.join(cells)} |" in text
    registers = ", ".join(f"{one.name} {one.low} to {one.high}" for one in player.registers)
    assert f"| {player.name} | {registers} |" in text
    sources = player.sources
    assert f"Lowest note: {sources.low}. Highest note: {sources.high}." in text
    assert f"Registers: {sources.registers}. Sounds: {sources.sounds}." in text
