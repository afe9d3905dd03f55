"""Repeats of so many times, da capo, dal segno, fine and coda: read, heard, in ink, in files.

The orders of bars are written out by hand; some are compared with music21's own.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from small_scores import refused, score_of, varied

from stavewright.engrave.notation import notation
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.format import formatted
from stavewright.language.read import read
from stavewright.music.description import describe_score
from stavewright.music.sounding.repeats import playback_order
from stavewright.music.sounding.timing import clock
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import apply

ORDERS = [
    ("|: w D5 | w E5 :| 3 times w F#5", "1 2 1 2 1 2 3"),
    ("w D5 :| 2 times w E5", "1 1 2"),
    ("|: w D5 | first-time( w E5 :| 3 times ) second-time( w F#5 ) w G5", "1 2 1 2 1 3 4"),
    ("w D5 | w E5 fine | w F#5 da-capo |", "1 2 3 1 2"),
    ("w D5 | w E5 | w F#5 da-capo |", "1 2 3 1 2 3"),
    ("w D5 | segno w E5 fine | w F#5 dal-segno |", "1 2 3 2"),
    ("w D5 | w E5 to-coda | w F#5 da-capo || coda w G5 | w A5", "1 2 3 1 2 4 5"),
    ("w D5 | segno w E5 | w F#5 to-coda | w G5 dal-segno || coda |: w A5 :|", "1 2 3 4 2 3 5 5"),
    # Nothing is repeated on the way back, and the second ending is taken.
    ("|: w D5 :| w E5 fine | w F#5 da-capo |", "1 1 2 3 1 2"),
    (
        "|: w D5 | first-time( w E5 :| ) second-time( w F#5 ) w G5 da-capo |",
        "1 2 1 3 4 1 3 4",
    ),
]


def faults(music: str) -> list[str]:
    found = read("e.warmup", f"title: T\nhome: D5 in D major\nmusic: {music}\n".encode())
    return [str(fault).removeprefix("e.warmup:") for fault in found.faults]


def order(music: str) -> str:
    return " ".join(str(number + 1) for number in playback_order(score_of(music).line.bars))


@pytest.mark.parametrize(("music", "expected"), ORDERS)
def test_the_order_of_hearing(music: str, expected: str) -> None:
    assert order(music) == expected
    heard = len(expected.split())
    assert clock(score_of(music, tempo="quarter = 60")).length == 4 * heard


@pytest.mark.parametrize(("music", "expected"), [pair for pair in ORDERS if "first-time" not in pair[0]])
def test_music21_hears_the_same_order(music: str, expected: str) -> None:
    from music21 import converter

    data = musicxml(score_of(music), WorkInfo("T"), FLUTE).decode()
    part = converter.parseData(data, format="musicxml").parts[0]
    found = [note.name for note in part.expandRepeats().recurse().notes]
    names = [event.pitch.name for event in score_of(music).line.notes() if event.pitch]
    assert found == [names[int(number) - 1] for number in expected.split()]


FAULTS = {
    "w D5 | 3 times w E5": "3:15: '3 times' follows no repeat; write it after `:|`, as in `:| 3 times`",
    "|: w D5 :| 1 times": "3:19: a passage cannot be repeated 1 times; write a number from 2 to 16",
    "h D5 segno E5": "3:13: 'segno' stands inside a bar; put it after a bar line",
    "h D5 fine E5 | w D5 da-capo": ("3:13: 'fine' stands inside a bar; put it before or after its bar line"),
    "fine w D5": "3:8: 'fine' comes before the first bar; put it at the end of a bar",
    "w D5 fine | w E5": (
        "3:10: 'fine' is there, but no way back leads to it; "
        "write `da-capo` or `dal-segno` at the end of a bar"
    ),
    "w D5 | w E5 dal-segno": (
        "3:17: 'dal-segno' has no segno before it; write `segno` at the beginning of a bar"
    ),
    "w D5 da-capo | w E5": (
        "3:10: after 'da-capo' there are bars that nobody plays; let it be the last bar, or the last before "
        "`coda`"
    ),
    "w D5 to-coda | w E5 da-capo": (
        "3:10: 'to-coda' and 'coda' belong together; write `to-coda` at the end of a bar and `coda` at the "
        "beginning of a later one"
    ),
    "w D5 fine | w E5 fine | w F#5 da-capo": ("3:22: 'fine' stands there a second time; keep one of them"),
    "w D5 fine | segno w E5 | w F#5 dal-segno": (
        "3:10: 'fine' stands before the segno, and the music never comes back to it; put it after the segno"
    ),
    "w D5 fine da-capo | w E5": ("3:18: 'fine' stands at the end of this bar already; take one of them out"),
}


@pytest.mark.parametrize(("music", "said"), FAULTS.items())
def test_ways_that_lead_nowhere_are_told(music: str, said: str) -> None:
    assert faults(music)[0] == said


def test_words_and_signs_are_drawn_once_with_a_drone_below() -> None:
    score = score_of("w D5 | segno w E5 fine | |: w F#5 :| 3 times dal-segno", drone="D4")
    text = notation(score)
    assert text.count(r"\segnoSign") == 1 and text.count(r"\barEndWords") == 2
    assert r'\barEndWords "3 times, D.S. al Fine"' in text and r'\barEndWords "Fine"' in text
    assert "bar 2: segno, E5 whole, Fine;" in describe_score(score)


def test_what_stands_in_musicxml() -> None:
    score = score_of("w D5 | segno w E5 to-coda | |: w F#5 :| 3 times dal-segno coda w G5", drone="D4")
    root = ET.fromstring(musicxml(score, WorkInfo("T"), FLUTE))
    sounds = [each.attrib for each in root.iter("sound") if "tempo" not in each.attrib]
    assert sounds == [{"segno": "segno"}, {"tocoda": "coda"}, {"dalsegno": "segno"}, {"coda": "coda"}]
    assert [each.get("times") for each in root.iter("repeat")] == [None, "3", None, "3"]


def test_the_formatter_keeps_the_words_with_their_bars() -> None:
    music = "|: w D5 | w E5 :|   4 times\n  segno w D5|fine w E5|dal-segno\n"
    text = f"title: T\nhome: D5 in D major\nmusic:\n  {music}"
    found = formatted("e.warmup", text.encode())
    assert isinstance(found, str)
    assert ":| 4 times\n" in found
    assert "| fine" in found and "| dal-segno" in found


def test_variations_with_a_way_back() -> None:
    music = "w D5 | segno w E5 fine | w F#5 dal-segno"
    for wish in ("upper octave first", "falling octave first", "tonguing double"):
        assert "goes back by da capo or dal segno" in refused(music, wish)
    assert len(varied(music, "slurred")) == 3
    doubled = apply(score_of(music), ("doubled",)).line.bars
    assert [(bar.sign, bar.jump) for bar in doubled] == [
        ("", ""), ("", ""), ("segno", ""), ("", "fine"), ("", ""), ("", "dal-segno"),
    ]  # fmt: skip


def test_two_ways_of_playing_have_no_way_back() -> None:
    text = (
        "title: T\nhome: D5 in D major\nfirst time: without vibrato\nsecond time: with vibrato\n"
        "music: w D5 fine | w E5 da-capo\n"
    )
    assert "'first time' and repeat signs" in str(read("e.warmup", text.encode()).faults[0])
