"""Beams by the meter's groups, alike on paper and in MusicXML; the usual groups compared with music21's."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from fractions import Fraction as F

import pytest
from music21 import meter as m21_meter
from music21 import note as m21_note
from music21 import stream as m21_stream
from small_scores import score_of

from stavewright.engrave.notation import notation
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.music.beams import beams
from stavewright.music.event import Event, Value
from stavewright.music.score import Bar, Meter
from stavewright.music.winds.instruments import FLUTE


def groups_of(meter: Meter, *values: Value) -> str:
    """Notes of some values in a bar as letters, each beam in brackets."""
    score = score_of("w D5")
    pitch = next(score.line.notes()).pitch
    bar = Bar(tuple(Event(pitch, value) for value in values))
    rows = []
    for number, at in enumerate(beams(bar, meter)):
        words = dict(at)
        letter = chr(ord("a") + number)
        rows.append({"begin": f"({letter}", "end": f"{letter})"}.get(words.get(1, ""), letter))
    return "".join(rows)


EIGHTH = Value(F(1, 8))
SIXTEENTH = Value(F(1, 16))


@pytest.mark.parametrize(
    ("meter", "expected"),
    [
        (Meter(3, 4), "(ab)(cd)(ef)"),
        (Meter(4, 4), "(abcd)(efgh)"),
        (Meter(2, 2), "(abcd)(efgh)"),
        (Meter(6, 8), "(abc)(def)"),
        (Meter(9, 8), "(abc)(def)(ghi)"),
        (Meter(5, 8), "(abc)(de)"),
        (Meter(7, 8), "(ab)(cd)(efg)"),
        (Meter(7, 8, (3, 2, 2)), "(abc)(de)(fg)"),
        (Meter(4, 4, (1, 1, 1, 1)), "(ab)(cd)(ef)(gh)"),
        (Meter(5, 4), "(ab)(cd)(ef)(gh)(ij)"),
        (Meter(3, 8), "(abc)"),
    ],
)
def test_eighths_are_joined_by_the_groups_of_the_meter(meter: Meter, expected: str) -> None:
    """Compare E. Gould, Behind Bars (2011), on beaming by the beat, from memory."""
    assert groups_of(meter, *[EIGHTH] * int(meter.length * 8)) == expected


def test_common_time_joins_only_plain_eighths_over_the_beat() -> None:
    mixed = [EIGHTH, EIGHTH, SIXTEENTH, SIXTEENTH, EIGHTH, *[EIGHTH] * 4]
    assert groups_of(Meter(4, 4), *mixed) == "(ab)(cde)(fghi)"


@pytest.mark.parametrize("name", ["2/4", "6/8", "9/8", "12/8", "3/8"])
def test_usual_groups_are_those_of_music21(name: str) -> None:
    """music21's TimeSignature.getBeams, where its usual groups are ours: not in 3/4, which it beams whole."""
    meter = Meter(*map(int, name.split("/")))
    measure = m21_stream.Measure()
    measure.timeSignature = m21_meter.TimeSignature(name)
    for _ in range(int(meter.length * 8)):
        measure.append(m21_note.Note("D5", quarterLength=0.5))
    measure.makeBeams(inPlace=True)
    theirs = []
    for number, each in enumerate(measure.notes):
        kinds = each.beams.getTypes()
        letter = chr(ord("a") + number)
        theirs.append({"start": f"({letter}", "stop": f"{letter})"}.get(kinds[0] if kinds else "", letter))
    assert groups_of(meter, *[EIGHTH] * int(meter.length * 8)) == "".join(theirs)


def test_paper_and_file_have_the_same_beams() -> None:
    score = score_of("e D5 E5 F#5 G5 A5 G5 F#5", meter="7/8 = 3+2+2")
    text = notation(score)
    assert len(re.findall(r"\[", text)) == len(re.findall(r"\]", text)) == 3
    root = ET.fromstring(musicxml(score, WorkInfo("T"), FLUTE))
    assert [beam.text for beam in root.iter("beam")].count("begin") == 3
    assert [beam.text for beam in root.iter("beam")].index("end") == 2


def test_the_groups_of_a_meter_are_read_and_written() -> None:
    notes = "e D5 D5 D5 D5 D5 D5 D5 | meter( 5/8 = 2+3 ) e D5 D5 D5 D5 D5"
    text = f"title: T\nhome: D5 in D major\nmeter: 7/8 = 2+2+3\nmusic:\n  {notes}\n"
    found = read("t.warmup", text.encode())
    assert found.exercise is not None, found.faults
    assert found.exercise.meter == Meter(7, 8, (2, 2, 3))
    assert found.exercise.forms[0].bars[1].meter == Meter(5, 8, (2, 3))
    assert "meter: 7/8 = 2+2+3" in write(found.exercise)
    assert "meter( 5/8 = 2+3 )" in write(found.exercise)


@pytest.mark.parametrize("meter", ["7/8 = 2+2+2", "4/4 = 4+0", "7/8 = 2+"])
def test_groups_that_do_not_make_the_bar_are_a_fault(meter: str) -> None:
    text = f"title: T\nhome: D5 in D major\nmeter: {meter}\nmusic:\n  w D5\n"
    assert any(fault.line == 3 for fault in read("t.warmup", text.encode()).faults)
